"""What the figures of a person show, as plain tables: for screen magnifiers, and to read off exactly."""

from typing import TYPE_CHECKING, Any

from trainer.desktop import results
from trainer.desktop.desk import Desk
from trainer.desktop.nodes import Column, Label, Line, Stack, Table
from trainer.desktop.results import SittingLine
from trainer.desktop.screens.figures import digits_line
from trainer.desktop.words import say

if TYPE_CHECKING:
    from trainer.scoring.person import PersonScore

MOST_ROWS = 10


def figure_tables(score: "PersonScore", sittings: tuple[SittingLine, ...], desk: Desk) -> list[Any]:
    """Return a table for every figure: bias and spread by sitting, profile by tenth, digits, misreads."""
    return [
        _titled("progress.table.bias", learning_table("bias", sittings, desk)),
        _titled("progress.table.spread", learning_table("spread", sittings, desk)),
        _titled("progress.table.profile", profile_table(score, desk)),
        _titled("progress.table.digits", digits_table(score, desk), digits_line(score, desk)),
        _titled("progress.table.misreads", misreads_table(score)),
    ]


def _titled(title: str, table: Table, under: str = "") -> Stack:
    below = (Label(under, "small", "soft"),) if under else ()
    return Stack((Label(say(title), "heading"), table, *below), gap=6)


def _interval(low: float | None, high: float | None, desk: Desk, sign: bool = True) -> str:
    if low is None or high is None:
        return "\N{EN DASH}"
    return f"{desk.tenths(low, sign)} \N{HORIZONTAL ELLIPSIS} {desk.tenths(high, sign)}"


def learning_table(which: str, sittings: tuple[SittingLine, ...], desk: Desk) -> Table:
    """Return the points of a learning curve, "bias" or "spread", one row a sitting that it opens."""
    lines, signed = [], which == "bias"
    for number, s in enumerate(sittings, 1):
        assert s.score is not None  # only scored sittings are drawn
        value = s.score.bias_tenths if signed else s.score.spread_tenths
        cells = (
            str(number),
            results.day(s.started_at),
            desk.tenths(value.value, signed),
            _interval(value.low, value.high, desk, signed),
            str(s.score.used),
        )
        lines.append(
            Line(str(s.session_id), cells, (number, s.started_at, value.value, value.low, s.score.used))
        )
    columns = (
        Column(say("progress.table.n"), 0.5, "right"),
        Column(say("progress.column.date"), 1.7),
        Column(say(f"progress.column.{which}"), 0.9, "right"),
        Column(say("progress.table.interval"), 1.4, "right"),
        Column(say("progress.table.readings"), 0.9, "right"),
    )
    return _table(f"{which}-table", columns, lines)


def profile_table(score: "PersonScore", desk: Desk) -> Table:
    """Return the bias in each tenth of the division."""
    lines = []
    for row in score.profile:
        cells = (
            str(row.tenth),
            desk.tenths(row.bias_tenths),
            _interval(row.low, row.high, desk),
            str(row.n),
        )
        lines.append(Line(str(row.tenth), cells, (row.tenth, row.bias_tenths, row.low, row.n)))
    columns = (
        Column(say("progress.table.tenth"), 1, "right"),
        Column(say("progress.column.bias"), 1, "right"),
        Column(say("progress.table.interval"), 1.6, "right"),
        Column(say("progress.table.readings"), 1, "right"),
    )
    return _table("profile-table", columns, lines)


def digits_table(score: "PersonScore", desk: Desk) -> Table:
    """Return how often each last digit was answered, and by a smooth reader would have been."""
    habit, lines = score.digit_preference, []
    for digit, count in enumerate(habit.counts or (0,) * 10):
        expected = habit.expected[digit] if digit < len(habit.expected) else None
        much = digit in habit.favoured, digit in habit.shunned
        note = say("progress.table.more") if much[0] else say("progress.table.fewer") if much[1] else ""
        cells = (str(digit), str(count), desk.tenths(expected, sign=False, decimals=1), note)
        lines.append(Line(str(digit), cells, (digit, count, expected, note)))
    columns = (
        Column(say("progress.table.digit"), 1, "right"),
        Column(say("progress.table.used"), 1, "right"),
        Column(say("progress.table.expected"), 1.6, "right"),
        Column(say("progress.table.note"), 1.4),
    )
    return _table("digits-table", columns, lines)


def misreads_table(score: "PersonScore") -> Table:
    """Return the misreads by their kind."""
    found = [(say(f"misread.{kind}"), n) for kind, n in score.misreads.by_kind.items() if n]
    lines = [Line(kind, (kind, str(n)), (kind, n)) for kind, n in found]
    columns = (Column(say("progress.table.kind"), 3), Column(say("progress.table.count"), 1, "right"))
    return _table("misreads-table", columns, lines, say("progress.table.no-misreads"))


def _table(key: str, columns: tuple[Column, ...], lines: list[Line], empty: str = "") -> Table:
    shown = min(MOST_ROWS, max(1, len(lines)))
    return Table(key, columns, tuple(lines), empty, rows_shown=shown, grow=False)
