"""What the result screens show, as values: computed off the main thread from the store's answers.

pandas and the scoring engine are imported inside the functions, after the first picture.
"""

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainer.desktop.limits import Limits, LimitsOf
from trainer.desktop.pools import clear_of, of_readings
from trainer.instrument import catalogue

if TYPE_CHECKING:
    import pandas as pd

    from trainer.desktop.desk import Desk
    from trainer.practice.coaching import Coaching
    from trainer.practice.refreshers import Refresher
    from trainer.scoring.person import PersonScore


PLAIN = {"tenths", "full-reading"}  # what is told of these, the result says in figures


@dataclass(frozen=True, slots=True)
class Reading:
    """One item as it came out. Positions are tenths from the scale's zero; `misread` is its kind or ""."""

    item: int
    truth_tenths: float
    answer_tenths: float | None
    error_tenths: float | None
    outcome: str
    seconds: float
    typed: str
    misread: str = ""
    truth: str = ""  # in words, where it is not simply a position
    right: bool | None = None  # of a judgement, a coincidence, a setting

    @property
    def within_tenths(self) -> float:
        """Where in its division the truth lies, 0 to 10."""
        return self.truth_tenths % 10.0


@dataclass(frozen=True, slots=True)
class SittingResult:
    """A session, scored."""

    session_id: Any
    person: str
    title: str
    drill: str
    instrument: str
    for_record: bool
    started_at: str
    items: int
    ended: str | None
    px_per_mm: float | None
    readings: tuple[Reading, ...]
    score: "PersonScore | None"
    coaching: "Coaching | None" = None
    display: Mapping[str, Any] | None = None  # how the display was set up, where it was

    @property
    def judged(self) -> tuple[int, int]:
        """How many answers that are right or wrong were right, and how many there are."""
        told = [r.right for r in self.readings if r.right is not None]
        return sum(told), len(told)


@dataclass(frozen=True, slots=True)
class SittingLine:
    """A session in a person's history; figures are None where they cannot be had."""

    session_id: Any
    started_at: str
    instrument: str
    drill: str
    for_record: bool
    items: int
    given: int
    ended: str | None
    score: "PersonScore | None"


@dataclass(frozen=True, slots=True)
class History:
    """Everything one person has answered: by sitting, oldest first, and as a whole for each instrument."""

    person: Any
    sittings: tuple[SittingLine, ...]
    scores: tuple["PersonScore", ...]
    limits: Mapping[str, Limits] = field(default_factory=dict)  # by instrument
    due: Mapping[str, "Refresher"] = field(default_factory=dict)  # the next short drill, by instrument
    last_plan: str = ""  # the plan of the last sitting
    coaching: "Coaching | None" = None  # of the last sitting

    def score(self, instrument: str) -> "PersonScore | None":
        """Return the score on one instrument."""
        return next((s for s in self.scores if s.instrument == instrument), None)

    @property
    def instruments(self) -> tuple[str, ...]:
        """The instruments read, the last used first."""
        seen = dict.fromkeys(s.instrument for s in reversed(self.sittings))
        return tuple(seen)


@dataclass(frozen=True, slots=True)
class TeamLine:
    """A person in the team's view, on one instrument."""

    person: str
    instrument: str
    last_at: str
    score: "PersonScore"
    due: "Refresher | None" = None


@dataclass(frozen=True, slots=True)
class Team:
    """Everybody who has taken a sitting, once for each instrument."""

    lines: tuple[TeamLine, ...]

    @property
    def instruments(self) -> tuple[str, ...]:
        """The instruments anybody has read, by how many people have."""
        counts: dict[str, int] = {}
        for line in self.lines:
            counts[line.instrument] = counts.get(line.instrument, 0) + 1
        return tuple(sorted(counts, key=lambda name: -counts[name]))


def warm() -> None:
    """Import what scoring needs, and run it once, so that the first result does not wait for it."""
    import numpy as np

    from trainer.scoring.table import score_readings

    truths = np.arange(20.0) * 10 + np.linspace(0, 9, 20)
    score_readings(truths, np.rint(truths), instrument="metric")


def misread_of(truth_tenths: float, answer_tenths: float, instrument: str) -> str:
    """Return the kind of misread of one reading, "" where it is an estimate."""
    import numpy as np

    from trainer.scoring import errors, misreads

    signature = misreads.signatures(instrument)
    error = errors.error_tenths([answer_tenths], [truth_tenths])
    inside = errors.within_division([truth_tenths])
    if not bool(misreads.is_misread(error, inside, vernier=signature.vernier)[0]):
        return ""
    code = misreads.kinds(np.array([truth_tenths]), np.array([answer_tenths]), signature)[0]
    return misreads.KINDS[int(code)]


def _answered(frame: "pd.DataFrame") -> "pd.DataFrame":
    return frame[frame["outcome"] == "answered"]


def _scores(frame: "pd.DataFrame") -> tuple["PersonScore", ...]:
    """Score a table of answers by person and instrument; nothing answered gives nothing."""
    if _answered(frame).empty:
        return ()
    from trainer.scoring.table import score_people

    return tuple(score_people(frame, by_instrument=True).people)


def of_sitting(store: Any, session_id: Any) -> SittingResult:
    """Return one session, scored; only answers that are positions go into bias and spread."""
    import pandas as pd

    from trainer.desktop.advice import coaching
    from trainer.desktop.sittings import display_noted, sitting_of
    from trainer.practice.results import rows

    stored = store.session(session_id)
    sitting, instrument = sitting_of(stored), stored.header.instrument
    scored = rows(instrument, sitting.items, sitting.answers)
    scores: tuple[PersonScore, ...] = ()
    if scored:
        scores = _scores(pd.DataFrame(scored).assign(person=stored.person.name, session=session_id))
    return SittingResult(
        session_id=session_id,
        person=stored.person.name,
        title=str(stored.plan.get("title", "")),
        drill=stored.header.drill,
        instrument=instrument,
        for_record=bool(stored.header.for_record),
        started_at=str(stored.header.started_at),
        items=len(stored.items),
        ended=getattr(stored, "ended_how", None),
        px_per_mm=stored.header.px_per_mm,
        readings=_readings(sitting, instrument),
        score=scores[0] if scores else None,
        coaching=coaching(sitting, scores[0] if scores else None),
        display=display_noted(stored),
    )


def _readings(sitting: Any, instrument: str) -> tuple[Reading, ...]:
    """Return every answer of a sitting as it came out."""
    from trainer.practice.telling import told_of

    micrometer, items = catalogue.load(instrument), {item.number: item for item in sitting.items}
    found = []
    for a in sitting.answers:
        item, given = items[a.number], a.answer_tenths
        truth = item.position_tenths
        error = None if given is None else given - truth
        told = None if item.asks in PLAIN or item.asks == "verdict" else told_of(item, a, micrometer)
        kind = "" if given is None or told is not None else misread_of(truth, given, instrument)
        words, right = ("", None) if told is None else (told.truth, told.right)
        found.append(
            Reading(a.number, truth, given, error, a.outcome, a.seconds, a.typed, kind, words, right)
        )
    return tuple(found)


def of_person(store: Any, person: Any, limits_of: LimitsOf | None = None) -> History:
    """Return everything one person has answered."""
    frame, sessions = of_readings(store.answers(person=person)), store.sessions(person=person)
    if sessions.empty:
        return History(person, (), ())
    by_session: dict[Any, PersonScore] = {}
    if not _answered(frame).empty:
        # one pass of the engine over all sessions: a session takes the person's place
        renamed = frame.assign(person=frame["session"].map(str), session=frame["session"])
        by_session = {s.person: s for s in _scores(renamed)}
    from trainer.desktop.advice import last_told
    from trainer.desktop.due import refreshers

    clear, lines = clear_of(frame), _lines(sessions, by_session)
    instruments = tuple(dict.fromkeys(line.instrument for line in lines))
    limits = limits_of(store, person, instruments) if limits_of is not None else {}
    due = {instrument: when for (_, instrument), when in refreshers(clear).items()}
    last, told = last_told(store, lines)
    return History(person, lines, _scores(clear), limits, due, last, told)


def _lines(sessions: "pd.DataFrame", scores: dict[Any, "PersonScore"]) -> tuple[SittingLine, ...]:
    rows: Sequence[dict[Any, Any]] = sessions.to_dict("records")
    found = [
        SittingLine(
            session_id=row["session"],
            started_at=str(row["started_at"]),
            instrument=str(row["instrument"]),
            drill=str(row["drill"]),
            for_record=bool(row["for_record"]),
            items=int(row["items"]),
            given=int(row["answers"]),
            ended=row["ended_how"] if isinstance(row["ended_how"], str) and row["ended_how"] else None,
            score=scores.get(str(row["session"])),
        )
        for row in rows
    ]
    return tuple(sorted(found, key=lambda line: line.started_at))


def of_team(store: Any) -> Team:
    """Return everybody who has taken a sitting."""
    sessions = store.sessions()
    if sessions.empty:
        return Team(())
    last = sessions.groupby(["person", "instrument"])["started_at"].max().to_dict()
    from trainer.desktop.due import refreshers

    clear = clear_of(of_readings(store.answers()))
    due: dict[Any, Refresher] = dict(refreshers(clear))
    lines = []
    for s in _scores(clear):
        key = (s.person, s.instrument or "")
        lines.append(TeamLine(*key, str(last.get(key, "")), s, due.get(key)))
    return Team(tuple(lines))


def instrument_title(name: str) -> str:
    """Return an instrument's title, or its name where the catalogue does not know it."""
    return catalogue.load(name).title if name in catalogue.names() else name


def short_titles(names: Sequence[str], desk: "Desk") -> tuple[tuple[str, str], ...]:
    """Return names with titles, each as short as tells it from all others."""
    titles = [desk.sentence(instrument_title(name)) for name in names]
    long = [title.partition(", ")[2] or title for title in titles]  # "0-25 mm, 0.01 mm (1 mm pitch)"
    short = [one.partition(" (")[0] for one in long]
    words = [title.partition(", ")[0].replace(" micrometer", "") for title in titles]
    kinds = [f"{kind}, {one}" for kind, one in zip(words, short, strict=True)]
    told = []
    for at, title in enumerate(titles):
        ways = [some[at] for some in (short, kinds, long) if some.count(some[at]) == 1]
        told.append(ways[0] if ways else title)
    return tuple(zip(names, told if len(set(told)) == len(told) else titles, strict=True))


@functools.lru_cache(maxsize=20_000)  # lists of thousands are made more than once
def day(at: str) -> str:
    """Return the local date and time, to the minute, of an ISO 8601 moment; the text itself if it is none.

    >>> day("soon")
    'soon'
    """
    try:
        moment = datetime.fromisoformat(at)
    except ValueError:
        return at
    return moment.astimezone().strftime("%Y-%m-%d %H:%M")
