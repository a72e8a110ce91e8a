"""The sections of a team's report beside whole readings: who is due, judgements, viewing conditions."""

from collections.abc import Mapping, Sequence
from typing import TypeAlias

from trainer.instrument import catalogue
from trainer.practice.kind import length_words
from trainer.reports.sheet import Column, Sheets
from trainer.reports.skill_tables import small_table
from trainer.reports.skill_values import Judging, Skills, UnderConditions
from trainer.reports.wording import NONE, count, ends, fixed, percent, percents, true_minus
from trainer.scoring.intervals import Interval
from trainer.scoring.person import PersonScore

Due: TypeAlias = tuple[float, str]
"""In how many days somebody is due for a refresher, negative when overdue, and why then."""


def draw(
    sheets: Sheets, people: Sequence[PersonScore], skills: Mapping[str, Skills], due: Mapping[str, Due]
) -> None:
    """Set the sections that have data."""
    _due(sheets, due)
    _judging(sheets, skills)
    _conditions(sheets, people, skills)


def _due(sheets: Sheets, due: Mapping[str, Due]) -> None:
    if not due:
        return
    sheets.heading("Who is due for a short drill", keep_mm=24.0)
    rows = [[name, due_words(days), why] for name, (days, why) in sorted(due.items(), key=lambda one: one[1])]
    widths = (("due", 36.0), ("why", 98.0))
    room = sheets.width_mm - sum(width for _, width in widths)
    columns = [Column("person", room), *(Column(name, width) for name, width in widths)]
    sheets.table(columns, rows, size_pt=7.5)
    sheets.caption("Longest overdue first. By a person's own forgetting where their sittings show it.")


def due_words(days: float) -> str:
    """Return when somebody is due, in words.

    >>> due_words(-3.2), due_words(0.4), due_words(1.6)
    ('overdue by 3 days', 'today', 'in 2 days')
    """
    whole = round(days)
    if whole == 0:
        return "today"
    number = count(abs(whole), "day")
    return f"in {number}" if whole > 0 else f"overdue by {number}"


def _judging(sheets: Sheets, skills: Mapping[str, Skills]) -> None:
    every = [(name, one) for name, found in skills.items() for one in found.judging]
    if not every:
        return
    sheets.heading("Judging overlap: in or out of tolerance", keep_mm=26.0)
    headings = [("tolerance", 18.0), ("items", 13.0), ("false accepts", 37.0), ("false rejects", 36.0)]
    headings += [("threshold", 34.0)]
    rows = [_judged(name, one) for name, one in every]
    small_table(sheets, "person", headings, rows)
    sheets.caption(
        "With 95 % intervals; a false accept passes an item that is outside. Threshold: tenths beyond the "
        "tolerance from which a person says out half the time; above 0, items somewhat outside still pass."
    )


def _judged(name: str, one: Judging) -> list[str]:
    limit = length_words(one.tolerance_tenths, catalogue.load(one.instrument), signed=False)
    at = one.curve.threshold_tenths
    accepts, rejects = (_share(rate) for rate in (one.rates.false_accept, one.rates.false_reject))
    threshold = NONE if at is None else f"{fixed(at.value, sign=True)} ({ends(at, sign=True)})"
    return [name, f"±{limit}", str(one.rates.items), accepts, rejects, threshold]


def _share(rate: Interval | None) -> str:
    return NONE if rate is None else f"{percent(rate.value)} ({percents(rate)})"


def _conditions(sheets: Sheets, people: Sequence[PersonScore], skills: Mapping[str, Skills]) -> None:
    clear = {person.person: person for person in people}
    rows = []
    for name, found in skills.items():
        here = [one for one in found.conditions if one.score is not None]
        if here and name in clear:
            rows.append(_row(f"{name}: clear", clear[name]))
        rows += [_row(f"{name}: {_what(one)}", one.score) for one in here if one.score]
    if not rows:
        return
    sheets.heading("Under viewing conditions", keep_mm=26.0)
    headings = [("readings", 16.0), ("misreads", 16.0), ("bias", 14.0), ("95 % interval", 28.0)]
    headings += [("spread", 14.0), ("95 % interval", 24.0)]
    small_table(sheets, "person: conditions", headings, rows)
    sheets.caption("Tenths; practice and checks. Never pooled with clear readings, nor with each other.")


def _what(one: UnderConditions) -> str:
    conditions = true_minus(one.conditions)
    return conditions if one.drill == "full-reading" else f"{conditions}, {one.drill.replace('-', ' ')}"


def _row(name: str, score: PersonScore) -> list[str]:
    bias, spread = score.bias_tenths, score.spread_tenths
    return [
        name, str(score.readings), str(score.misreads.total), fixed(bias.value, sign=True),
        ends(bias, sign=True), fixed(spread.value), ends(spread),
    ]  # fmt: skip
