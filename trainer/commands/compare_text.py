"""Comparisons as text on the terminal."""

from collections.abc import Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from trainer.commands.score_numbers import NONE, number, with_ends
from trainer.commands.score_text import CAUTION
from trainer.scoring.compare import Comparison
from trainer.scoring.consistency import Screening
from trainer.scoring.intervals import Interval
from trainer.scoring.pairs import PairComparison

MOST_PEOPLE = 60  # rows printed; all of them are in the JSON
WIDEST = 250  # columns: a table is never cut, the terminal may break its lines
KINDS = {
    "repeatability_sd": "within a person (repeatability)",
    "between_sd": "between people",
    "reproducibility_sd": "both together (reproducibility)",
}


def show(result: Comparison | PairComparison, console: Console | None = None) -> None:
    """Print a comparison of everybody or of two."""
    out = console or Console(markup=False, highlight=False, emoji=False, soft_wrap=True, width=WIDEST)
    lines = _pair(result) if isinstance(result, PairComparison) else _everybody(result)
    for line in (*lines, CAUTION):
        out.print(line, crop=False, no_wrap=True, overflow="ignore") if isinstance(
            line, Table
        ) else out.print(line)


def _everybody(result: Comparison) -> Iterator[str | Table]:
    where = f" on {result.instrument}" if result.instrument else ""
    precision = result.precision
    yield (
        f"{precision.people} people, {precision.readings} readings{where}; mean bias "
        f"{number(precision.mean, signed=True)} tenths. [low, high] is a 95 % interval."
    )
    yield _people_table(result)
    if len(result.people) > MOST_PEOPLE:
        yield f"… and {len(result.people) - MOST_PEOPLE} more; --json gives all of them."
    yield "Spread in tenths, as standard deviations (ISO 5725-2):"
    for name, words in KINDS.items():
        interval: Interval | None = getattr(precision, name)
        yield f"  {words:<33}{_ends(interval, signed=False)}{_why(precision.reasons.get(name))}"
    if "intervals" in precision.reasons:
        yield f"  No intervals: {precision.reasons['intervals']}."
    names = [p.person for p in result.people if p.used > 1]
    for screening in result.screenings:
        yield _screening(screening, names)
    for note in (*result.reasons.values(), *precision.notes, *result.notes):
        yield f"Note: {note}."


def _people_table(result: Comparison) -> Table:
    table = _table("person", "used", "misreads", "bias", "spread", "h", "k", "")
    for p in result.people[:MOST_PEOPLE]:
        cells = [
            p.person,
            str(p.used),
            str(p.misreads),
            _ends(p.bias_tenths),
            _ends(p.spread_tenths, signed=False),
        ]
        cells += [number(p.h, signed=True), number(p.k), p.finding]
        table.add_row(*map(Text, cells))
    return table


def _table(*headings: str) -> Table:
    table = Table(box=None, pad_edge=False, show_edge=False, padding=(0, 2, 0, 0))
    for heading in headings:
        table.add_column(heading, justify="left" if heading in ("person", "") else "right", no_wrap=True)
    return table


def _screening(screening: Screening, names: list[str]) -> str:
    ends = ""
    if screening.critical_5 is not None and screening.critical_1 is not None:
        ends = f" (5 %: {screening.critical_5:.3f}, 1 %: {screening.critical_1:.3f})"
    about = f"{screening.name}: {screening.value:.3f}{ends}, {names[screening.which]}"
    return f"{about}: {screening.finding}{_why(screening.reason)}"


def _pair(result: PairComparison) -> Iterator[str | Table]:
    first, second = result.first, result.second
    table = _table("person", "readings", "misreads", "sessions", "bias", "spread")
    for s in (first, second):
        counts = [str(s.used), str(s.misreads), str(s.sessions)]
        table.add_row(*map(Text, (s.name, *counts, number(s.bias, signed=True), number(s.sd))))
    yield table
    yield f"{second.name} less {first.name}, in tenths; [low, high] is a 95 % interval."
    p_value = "" if result.p_value is None else f", p = {result.p_value:.2g}"
    yield (
        f"  bias, in these sessions           {_ends(result.bias_difference_tenths)}{p_value}"
        f"{_why(result.reasons.get('bias_difference_tenths'))}"
    )
    yield (
        f"  bias, across sessions             {_ends(result.across_sessions_tenths)}"
        f"{_why(result.reasons.get('across_sessions_tenths'))}"
    )
    yield (
        f"  spread, as a ratio                {_ends(result.spread_ratio, signed=False)}"
        f"{_why(result.reasons.get('spread_ratio'))}"
    )
    if result.alike_within_tenths is not None:
        within = number(result.alike_within_tenths)
        yield f"  In these sessions the biases agree within {within} tenths (5 % risk)."
    for note in result.notes:
        yield f"Note: {note}."


def _ends(interval: Interval | None, *, signed: bool = True) -> str:
    return NONE if interval is None else with_ends(interval, signed=signed)


def _why(reason: str | None) -> str:
    return f" ({reason})" if reason else ""
