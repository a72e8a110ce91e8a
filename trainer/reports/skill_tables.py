"""Tables of the drills that have no figure of their own: parts of a reading, traps, viewing conditions."""

from collections.abc import Sequence

from trainer.instrument import catalogue
from trainer.reports.sheet import Column, Sheets
from trainer.reports.skill_values import BETWEEN_LINES, Skills
from trainer.reports.wording import NONE, ends, fixed, percent, percents, true_minus
from trainer.scoring.intervals import Interval
from trainer.scoring.person import PersonScore


def title(instrument: str) -> str:
    """Return an instrument's title, or its name where the catalogue does not know it."""
    known = instrument in catalogue.names()
    return catalogue.load(instrument).title if known else instrument


def small_table(
    sheets: Sheets, first: str, headings: Sequence[tuple[str, float]], rows: list[list[str]]
) -> None:
    """Set a table in small letters: a first column as wide as there is room, then figures."""
    columns = [Column(name, width, "right") for name, width in headings]
    room = sheets.width_mm - sum(column.width_mm for column in columns)
    sheets.table([Column(first, room), *columns], rows, size_pt=7.5)


def others(sheets: Sheets, skills: Skills) -> None:
    """Set the drills of parts of a reading, and the slips by a sleeve line."""
    scored = [(f"{o.name}, {o.instrument}", o.score) for o in skills.others]
    scored += [(f"by a sleeve line, {h.instrument}", h.score) for h in skills.half_line]
    if not scored:
        return
    sheets.heading("Drills of parts of a reading, and of its traps", keep_mm=24.0)
    _scored_table(sheets, "drill", scored)
    slips = [
        f"{h.instrument}: a sleeve line counted too early in {_of(h.before)} readings before it, "
        f"overlooked in {_of(h.after)} after it."
        for h in skills.half_line
    ]
    clipped = any(o.name == BETWEEN_LINES for o in skills.others)
    better = ["Answers between two given lines look a little better than whole readings."] if clipped else []
    sheets.caption(" ".join(["Tenths.", *better, *slips]))


def _of(side: tuple[int, Interval]) -> str:
    number, share = side
    if share.value is None:
        return "0 of 0"
    return f"{round(share.value * number)} of {number} ({percents(share)})"


def _scored_table(sheets: Sheets, first: str, scored: Sequence[tuple[str, PersonScore]]) -> None:
    headings = [("answers", 15.0), ("misreads", 17.0), ("bias", 14.0), ("95 % interval", 28.0)]
    headings += [("spread", 15.0), ("95 % interval", 25.0)]
    rows = [[name, *_cells(score)] for name, score in scored]
    small_table(sheets, first, headings, rows)


def _cells(score: PersonScore) -> list[str]:
    return [
        str(score.readings),
        str(score.misreads.total),
        fixed(score.bias_tenths.value, sign=True),
        ends(score.bias_tenths, sign=True),
        fixed(score.spread_tenths.value),
        ends(score.spread_tenths),
    ]


def conditions(sheets: Sheets, skills: Skills, clear: PersonScore | None) -> None:
    """Set a row for each viewing condition, beside the clear readings; never pooled."""
    if not skills.conditions:
        return
    sheets.heading("Under viewing conditions", keep_mm=26.0)
    headings = [("answers", 15.0), ("misreads", 17.0), ("bias", 14.0), ("95 % interval", 28.0)]
    headings += [("spread", 15.0), ("95 % interval", 25.0)]
    rows = [] if clear is None else [[f"clear: whole readings, {clear.instrument or ''}", *_cells(clear)]]
    wrong = []
    for one in skills.conditions:
        under = true_minus(one.conditions)
        name = f"{under}: {one.drill.replace('-', ' ')}, {one.instrument}"
        if one.score is not None:
            rows.append([name, *_cells(one.score)])
        elif one.wrong is not None:
            rows.append([name, str(one.answers), *[NONE] * 5])
            wrong.append(f"Judged wrongly under {under}: {percent(one.wrong.value)} ({percents(one.wrong)}).")
    small_table(sheets, "conditions: drill, instrument", headings, rows)
    sheets.caption(
        " ".join(
            ["Tenths; practice and checks. Never pooled with clear readings, nor with each other.", *wrong]
        )
    )
