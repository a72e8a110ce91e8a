"""What the archive holds about how somebody reads one instrument: the rows to quote from, and their story."""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any

from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal
from trainer.practice.results import set_apart

if TYPE_CHECKING:
    import pandas as pd

    from trainer.records.archive import Archive
    from trainer.reports.readings import Readings
    from trainer.reports.wording import Setting
    from trainer.scoring.person import PersonScore
    from trainer.scoring.reference import ReferenceUncertainty

# Drills whose answers are whole readings estimated by eye; others train something else or clip the answer.
READING_DRILLS = ("full-reading",)
SETTINGS: tuple["Setting", ...] = ("bench", "sheet", "screen")  # the strongest evidence first
ENOUGH = 50  # usable readings for a firm quote; below, weaker evidence is looked for


class NoEvidence(Refusal):
    """The archive holds nothing to quote from; the sentence says what it holds instead."""


@dataclass(frozen=True, eq=False)
class Evidence:
    """One person's readings of one instrument in one setting.

    `elsewhere` counts the answers in other settings, `apart` those under viewing conditions, which say
    nothing of clear sight; `reference` belongs to bench checks.
    """

    person: str
    instrument: str
    setting: "Setting"
    answers: "pd.DataFrame"
    score: "PersonScore"
    readings: "Readings"
    conditions: str
    elsewhere: dict[str, int]
    apart: dict[str, int]
    reference: "ReferenceUncertainty | None" = None


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which readings are asked for.

    Without an `instrument` the only one read is taken; without a `setting` the strongest with enough
    readings: bench before printed sheet before screen. `practice` counts more than checks for the record.
    """

    instrument: str | None = None
    since: str | None = None
    setting: str | None = None
    practice: bool = False
    until: str | None = None

    def __post_init__(self) -> None:
        if self.instrument is not None:
            catalogue.load(self.instrument)
        if self.setting is not None and self.setting not in SETTINGS:
            raise Refusal(f"{self.setting!r} is no setting; name one of {', '.join(SETTINGS)}")


def setting_of(drill: str) -> "Setting | None":
    """Return where a drill of that name is taken, or None for one that gives no whole readings.

    >>> setting_of("full-reading"), setting_of("bench-check"), setting_of("tenths")
    ('screen', 'bench', None)
    """
    if "bench" in drill:
        return "bench"
    if "sheet" in drill:
        return "sheet"
    return "screen" if drill in READING_DRILLS else None


def since_date(text: str | None) -> str | None:
    """Return the date of --since as typed, checked; raise a Refusal for what is none."""
    return typed_date(text, "--since")


def typed_date(text: str | None, option: str) -> str | None:
    """Return a date as typed to an option, checked; raise a Refusal for what is none."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise Refusal(f"{option} is {text!r}; type a date such as 2026-03-31") from None


def gather(archive: "Archive", person: str, wanted: Wanted) -> Evidence:
    """Return what is known of a person; raises NoEvidence, UnknownPerson or a Refusal for what is unclear."""
    one = archive.person(person)
    begun: dict[str, Any] = {"since": wanted.since, "until": wanted.until}
    sessions = archive.sessions(one, **begun)
    answers = archive.answers(one, **begun)
    settings = settings_of(archive, sessions)
    recorded = set(sessions.loc[sessions["for_record"].astype(bool), "session"])
    recorded |= {session for session, where in settings.items() if where == "sheet"}  # read without feedback
    kept = answers if wanted.practice else answers[answers["session"].isin(recorded)]
    kept = kept[kept["session"].isin(settings)]
    kept = kept.assign(setting=kept["session"].map(settings))
    instrument = wanted.instrument
    if instrument is None:
        instrument = _only_instrument(one.name, kept, answers, practice=wanted.practice)
    kept, apart = set_apart(kept[kept["instrument"] == instrument])
    if apart and kept.empty:
        raise NoEvidence(_only_apart(one.name, instrument, apart))
    if kept.empty:
        raise NoEvidence(_nothing(one.name, instrument, answers, practice=wanted.practice))
    if wanted.setting is not None and kept[kept["setting"] == wanted.setting].empty:
        raise NoEvidence(f"{one.name} has no {wanted.setting} readings on {instrument}{_instead(kept)}")
    return _evidence(archive, one.name, instrument, kept, sessions, wanted.setting, apart)


def _only_apart(name: str, instrument: str, apart: dict[str, int]) -> str:
    told = ", ".join(f"{count} with {words}" for words, count in apart.items())
    return (
        f"{name} has no clear readings on {instrument}, only some under viewing conditions ({told}), which "
        "cannot stand for clear sight: take a check without conditions"
    )


def settings_of(archive: "Archive", sessions: "pd.DataFrame") -> "dict[str, Setting]":
    """Return where each session with whole readings was taken, by its id.

    A printed sheet is kept as an ordinary reading drill under a plan of that name, without pixels.
    """
    from trainer.records import sheets

    found: dict[str, Setting] = {}
    printed = sheets.sessions_of(archive) if sessions["px_per_mm"].isna().any() else set()
    for session, drill in zip(sessions["session"], sessions["drill"], strict=True):
        where = setting_of(str(drill))
        if where is not None:
            found[str(session)] = "sheet" if where == "screen" and session in printed else where
    return found


def _only_instrument(name: str, kept: "pd.DataFrame", answers: "pd.DataFrame", *, practice: bool) -> str:
    found = sorted(kept["instrument"].unique())
    if not found:
        raise NoEvidence(_nothing(name, None, answers, practice=practice))
    if len(found) > 1:
        raise Refusal(f"{name} has read several instruments ({', '.join(found)}); name one by --instrument")
    return str(found[0])


def _nothing(name: str, instrument: str | None, answers: "pd.DataFrame", *, practice: bool) -> str:
    from trainer.reports.quote import FEWEST

    on = f" on {instrument}" if instrument else ""
    mine = answers[answers["instrument"] == instrument] if instrument else answers
    held = int((mine["outcome"] == "answered").sum())
    if held and not practice:
        return (
            f"{name} has no readings for the record{on}, so {FEWEST} are needed; {held} of practice do not "
            "count: take a check, or add --practice"
        )
    return f"{name} has no whole readings{on}; a quote needs {FEWEST}: take {FEWEST} in checks for the record"


def _instead(kept: "pd.DataFrame") -> str:
    counts = kept["setting"].value_counts()
    parts = [f"{counts[name]} on {name}" for name in SETTINGS if name in counts]
    return f"; there are {', '.join(parts)}" if parts else ""


def _evidence(
    archive: "Archive",
    name: str,
    instrument: str,
    kept: "pd.DataFrame",
    sessions: "pd.DataFrame",
    setting: str | None,
    apart: dict[str, int],
) -> Evidence:
    from trainer.reports.readings import readings
    from trainer.scoring.table import score_people

    answered = kept[kept["outcome"] == "answered"]["setting"].value_counts()
    counts = {where: int(answered.get(where, 0)) for where in SETTINGS}
    enough = [where for where in SETTINGS if counts[where] >= ENOUGH]
    most = max(SETTINGS, key=lambda where: counts[where])
    chosen: Setting = next((s for s in SETTINGS if s == setting), enough[0] if enough else most)
    rows = kept[kept["setting"] == chosen].drop(columns="setting")
    taken = sessions[sessions["session"].isin(rows["session"])]
    return Evidence(
        person=name,
        instrument=instrument,
        setting=chosen,
        answers=rows,
        score=score_people(rows, instrument=instrument).people[0],
        readings=readings(rows, instrument),
        conditions=_conditions(taken, chosen),
        elsewhere={where: n for where, n in counts.items() if where != chosen and n},
        apart=apart,
        reference=_reference(archive, instrument, list(taken["session"])) if chosen == "bench" else None,
    )


def _conditions(sessions: "pd.DataFrame", setting: str) -> str:
    """Return in words how the sessions were taken."""
    drills = sorted({str(drill).replace("-", " ") for drill in sessions["drill"]})
    sizes = sorted({round(float(px), 2) for px in sessions["px_per_mm"].dropna()})
    size = f"{sizes[0]:g}" if len(sizes) == 1 else f"{sizes[0]:g} to {sizes[-1]:g}" if sizes else ""
    stations = sorted({str(s) for s in sessions["station"] if s})
    parts = [" and ".join(drills), "without feedback" if setting == "sheet" else _standing(sessions)]
    parts += [f"{size} px/mm"] if size else []
    angles = sorted({round(float(angle), 1) for angle in sessions["division_arcmin"].dropna()})
    if angles:
        span = f"{angles[0]:g}" if len(angles) == 1 else f"{angles[0]:g} to {angles[-1]:g}"
        parts.append(f"a division seen under {span} minutes of arc")
    parts += [f"station {', '.join(stations)}"] if 0 < len(stations) <= 3 else []
    return ", ".join(parts)


def _standing(sessions: "pd.DataFrame") -> str:
    """Return whether the sessions were taken for the record."""
    for_record = sessions["for_record"].astype(bool)
    if for_record.all():
        return "for the record"
    return "practice and checks" if for_record.any() else "practice"


def _reference(archive: "Archive", instrument: str, sessions: Sequence[str]) -> "ReferenceUncertainty | None":
    """Return the reference of bench checks; of several, the largest part of each kind."""
    from trainer.scoring.reference import ReferenceUncertainty

    per_unit = catalogue.load(instrument).tenths_per_unit
    steps, accuracies, zeros = [0.0], [0.0], []
    for session in sessions:
        stored = archive.session(session)
        try:
            steps.append(float(Decimal(str(stored.plan.get("step", "0"))) * per_unit))
            accuracies.append(float(Decimal(str(stored.plan.get("accuracy", "0"))) * per_unit))
        except InvalidOperation:
            raise NoEvidence(
                f"session {session}: the step or accuracy of its reference is no number"
            ) from None
        seen = [float(n.detail["tenths"]) for n in stored.notes if n.kind == "zero-observed"]
        if len(seen) > 1:
            zeros.append((statistics.stdev(seen) / len(seen) ** 0.5, len(seen) - 1.0))
    zero_u, zero_df = max(zeros, default=(0.0, None))
    return ReferenceUncertainty(max(steps), max(accuracies), zero_u, zero_df)
