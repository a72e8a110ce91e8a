"""Judgements of everybody as text on the terminal."""

from collections.abc import Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from trainer.commands.compare_text import WIDEST
from trainer.commands.output import counted
from trainer.commands.score_numbers import NONE, number, with_ends
from trainer.commands.score_text import CAUTION
from trainer.scoring.intervals import Interval
from trainer.scoring.judged import JudgedPeople

MOST_PAIRS = 15  # pairs printed; all of them are in the JSON


def show(result: JudgedPeople, console: Console | None = None) -> None:
    """Print everybody's wrong decisions, curve and agreement."""
    out = console or Console(markup=False, highlight=False, emoji=False, soft_wrap=True, width=WIDEST)
    items = sum(p.rates.items for p in result.people)
    out.print(
        f"{counted(len(result.people), 'person', 'people')}, {counted(items, 'judgement')}. "
        "[low, high] is a 95 % interval; threshold and "
        "width are in tenths beyond the tolerance. A false accept passes an item that is outside."
    )
    out.print(_table(result), crop=False, no_wrap=True, overflow="ignore")
    for line in (*_agreement(result), *_missing(result), CAUTION):
        out.print(line)


def _table(result: JudgedPeople) -> Table:
    table = Table(box=None, pad_edge=False, show_edge=False, padding=(0, 2, 0, 0))
    for heading in (
        "person",
        "items",
        "false accept",
        "false reject",
        "threshold",
        "width",
        "kappa with truth",
    ):
        table.add_column(heading, justify="left" if heading == "person" else "right", no_wrap=True)
    for p in result.people:
        curve = p.curve
        cells = [p.person, str(p.rates.items), _percent(p.rates.false_accept), _percent(p.rates.false_reject)]
        cells += [_ends(curve.threshold_tenths, signed=True), _ends(curve.width_tenths)]
        table.add_row(*map(Text, [*cells, with_ends(p.with_truth.kappa)]))
    return table


def _agreement(result: JudgedPeople) -> Iterator[str]:
    if result.between is not None:
        k = result.between
        se = "" if k.se_chance is None else f", standard error under chance {k.se_chance:.3f} (1979)"
        yield f"Agreement between all: Fleiss' kappa {number(k.kappa)} over {k.items} items{se}."
    for first, second in list(result.pairs)[:MOST_PAIRS]:
        yield f"  {first} and {second}: Cohen's kappa {with_ends(result.pairs[first, second].kappa)}"
    if len(result.pairs) > MOST_PAIRS:
        yield f"  … and {len(result.pairs) - MOST_PAIRS} more pairs; --json gives all of them."


def _missing(result: JudgedPeople) -> Iterator[str]:
    for p in result.people:
        reasons = dict.fromkeys((*p.rates.reasons.values(), *p.curve.reasons.values()))
        if reasons:
            yield f"Note: {p.person}: {'; '.join(reasons)}."
    for reason in result.reasons.values():
        yield f"Note: no agreement between people: {reason}."


def _ends(interval: Interval | None, *, signed: bool = False) -> str:
    return NONE if interval is None else with_ends(interval, signed=signed)


def _percent(rate: Interval | None) -> str:
    if rate is None or rate.value is None or rate.low is None or rate.high is None:
        return NONE
    return f"{100 * rate.value:.1f} % [{100 * rate.low:.1f}, {100 * rate.high:.1f}]"
