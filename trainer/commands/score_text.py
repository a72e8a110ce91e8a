"""Scores as text on the terminal: a line a person, what was set apart, and why a value is missing."""

from collections import Counter
from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from trainer.commands.output import counted
from trainer.commands.score_detail import detail_lines
from trainer.commands.score_numbers import NONE, number, probability, with_ends
from trainer.scoring.detail import PersonDetail
from trainer.scoring.person import PersonScore
from trainer.scoring.table import PeopleScores

NARROWEST = 132  # characters; narrower, the table would break every interval over lines
MOST_NOTES = 12  # notes printed before the rest are only counted
CAUTION = (
    "A screen score shows skill on a picture. Confirm it on a real instrument before it supports a release "
    "decision, and follow your laboratory's procedures."
)
FIELD_WORDS = {
    "bias_tenths interval": "bias interval",
    "spread_tenths interval": "spread interval",
    "spread_tenths": "spread",
    "bias_tenths": "bias",
    "bias_over_sessions": "long-run bias",
    "digit_preference": "digit preference",
    "u_reading": "reading uncertainty",
    "tolerance_limits": "tolerance limits",
    "rms_interval": "rms interval",
    "mean_square_split": "split of the mean square",
    "within_one_tenth": "share within one tenth",
    "rms_tenths": "rms",
    "misread_rate": "misread rate",
}


def show(
    scores: PeopleScores, details: Sequence[PersonDetail] = (), *, console: Console | None = None
) -> None:
    """Print the scores; with `details`, each person's curve, profile, digits and sessions too."""
    out = console or Console(markup=False, highlight=False, emoji=False)
    if out.width < NARROWEST:
        out.width = NARROWEST
    people = scores.people
    readings = sum(score.readings for score in people)
    out.print(
        f"{counted(len(people), 'person', 'people')}, {counted(readings, 'reading')}. Errors are answer "
        "minus truth in tenths of a division; [low, high] is a 95 % interval, ≤ its upper end, u the "
        "standard uncertainty of one reading.",
        soft_wrap=True,
    )
    out.print(_table(people), crop=False)
    for line in (*_set_apart(people), *_missing(people)):
        out.print(line, soft_wrap=True)
    for score, detail in zip(people, details, strict=False):
        for line in detail_lines(score, detail):
            out.print(line, soft_wrap=True)
    out.print(CAUTION, soft_wrap=True)


def _percent(share: float | None) -> str:
    return NONE if share is None else f"{100 * share:.1f} %"


def _misreads(score: PersonScore) -> str:
    """Return the number of misreads and the upper end of their rate: an observed 0 is never 0 %."""
    high = score.misread_rate.high
    return NONE if high is None else f"{score.misreads.total} (≤ {_percent(high)})"


def _table(people: tuple[PersonScore, ...]) -> Table:
    table = Table(box=None, pad_edge=False, show_edge=False, padding=(0, 2, 0, 0))
    table.add_column("person", no_wrap=True)
    several = len({score.instrument for score in people}) > 1
    headings = ["used", "misreads", "bias", "spread", "within ±1", "digits p", "drift p", "u", "df"]
    for heading in (["instrument"] if several else []) + headings:
        table.add_column(heading, justify="left" if heading == "instrument" else "right", no_wrap=True)
    for score in people:
        provisional = " *" if score.provisional and score.spread_tenths.value is not None else ""
        cells = [
            f"{score.used}/{score.readings}",
            _misreads(score),
            with_ends(score.bias_tenths, signed=True),
            with_ends(score.spread_tenths) + provisional,
            _percent(score.within_one_tenth.value),
            probability(score.digit_preference.p_value),
            probability(score.drift.p_value),
            number(score.u_reading.tenths),
            number(score.u_reading.df, 0),
        ]
        named = [Text(score.person)] + ([Text(score.instrument or NONE)] if several else [])
        table.add_row(*named, *(Text(cell) for cell in cells))
    return table


def _set_apart(people: tuple[PersonScore, ...]) -> list[str]:
    """Return the lines on readings that are not in bias and spread."""
    lines = []
    kinds: Counter[str] = Counter()
    for score in people:
        kinds.update(score.misreads.by_kind)
    total = sum(kinds.values())
    if total:
        named = ", ".join(f"{count} {kind}" for kind, count in kinds.most_common())
        verb = "is" if total == 1 else "are"
        lines.append(
            f"{counted(total, 'misread')} {verb} counted and set apart from bias and spread: {named}."
        )
    for attribute, words in (
        ("skipped", "without an answer (skipped)"),
        ("timed_out", "without an answer in time"),
        ("unusable", "with a number that is not finite"),
    ):
        count = sum(getattr(score, attribute) for score in people)
        if count:
            lines.append(f"{counted(count, 'reading')} {words}: not scored.")
    repeated = sum(score.repeated for score in people)
    if repeated:
        lines.append(
            f"{counted(repeated, 'row')} {'repeats' if repeated == 1 else 'repeat'} an earlier row exactly; "
            "scored as it stands."
        )
    if any(score.provisional and score.spread_tenths.value is not None for score in people):
        lines.append("* provisional: fewer than 50 readings.")
    single = sum(score.one_session and score.used > 0 for score in people)
    if single:
        who = "" if single == len(people) else f" of {counted(single, 'person', 'people')}"
        lines.append(f"One session: the bias{who} is the bias in this session, not on other days.")
    return lines


def _cautions(people: tuple[PersonScore, ...]) -> list[str]:
    """Return the cautions, the same one of several people once."""
    whose: dict[str, list[str]] = {}
    for score in people:
        for caution in score.cautions:
            whose.setdefault(caution, []).append(score.person)
    return [f"! {_listed(names)}: {caution}." for caution, names in whose.items()]


def _listed(names: list[str]) -> str:
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")


def _missing(people: tuple[PersonScore, ...]) -> list[str]:
    """Return why values are missing, the same reason of several people once."""
    why: dict[str, list[tuple[str, str]]] = {}
    for score in people:
        for field, reason in score.reasons.items():
            if field == "noise_tenths" or (field == "bias_over_sessions" and score.one_session):
                continue  # said already
            why.setdefault(reason, []).append((score.person, FIELD_WORDS.get(field, field)))
    lines = _cautions(people)
    for reason, places in why.items():
        names = list(dict.fromkeys(person for person, _ in places))
        fields = ", ".join(dict.fromkeys(field for _, field in places))
        lines.append(f"{NONE} {_listed(names)}: {fields}: {reason}.")
    if len(lines) > MOST_NOTES:
        lines[MOST_NOTES:] = [f"… and {len(lines) - MOST_NOTES} more reasons; --json gives them all."]
    return lines
