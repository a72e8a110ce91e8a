"""Figures that several screens show, from scores: values in, nodes out."""

from typing import TYPE_CHECKING, Any

from trainer.desktop.desk import Desk
from trainer.desktop.nodes import Band, Label, Row, Series, Stack
from trainer.desktop.nodes import Plot as PlotNode
from trainer.desktop.plots import Point, nice_ticks
from trainer.desktop.results import Reading
from trainer.desktop.screens.feedback import said_text
from trainer.desktop.words import say

if TYPE_CHECKING:
    from trainer.scoring.person import PersonScore

TEN = tuple((float(i), str(i)) for i in range(11))


def signed_ticks(low: float, high: float, desk: Desk, wanted: int = 5) -> tuple[tuple[float, str], ...]:
    """Return ticks with the decimal mark of the settings."""
    return tuple(
        (value, text.replace(".", desk.settings.decimal)) for value, text in nice_ticks(low, high, wanted)
    )


def interval_text(value: Any, why: str, desk: Desk, sign: bool = True) -> str:
    """Return an interval as text, or why there is none."""
    if value.low is None or value.high is None:
        return say("result.interval.none", why=desk.sentence(why) or say("result.why.few"))
    low, high = desk.tenths(value.low, sign), desk.tenths(value.high, sign)
    return say("result.interval", low=low, high=high)


def bands(score: "PersonScore", desk: Desk) -> Row:
    """Return bias and spread with their intervals on scales, and the misreads, side by side."""
    bias, spread = score.bias_tenths, score.spread_tenths
    reach = (
        max(1.0, *(abs(v) for v in (bias.value, bias.low, bias.high) if v is not None))
        if bias.value is not None
        else 1.0
    )
    reach = float(int(reach) + 1) if reach > 1 else 1.0
    top = max((v for v in (spread.value, spread.high) if v is not None), default=1.0)
    top = float(max(1, int(top + 0.999)))
    return Row(
        (
            _column(
                say("result.bias"),
                desk.tenths(bias.value),
                Band(bias.value, bias.low, bias.high, -reach, reach, (0.0,)),
                (_number(-reach, desk), _number(reach, desk)),
                interval_text(bias, score.reasons.get("bias_tenths", ""), desk),
            ),
            _column(
                say("result.spread"),
                desk.tenths(spread.value, sign=False),
                Band(spread.value, spread.low, spread.high, 0.0, top),
                ("0", _number(top, desk)),
                interval_text(spread, score.reasons.get("spread_tenths", ""), desk, sign=False),
            ),
            _misreads(score),
        ),
        (1, 1, 0.8),
        gap=32,
        fold=560,
    )


def _number(value: float, desk: Desk) -> str:
    return desk.number(f"{value:g}")


def _column(title: str, value: str, band: Band, ends: tuple[str, str], under: str) -> Stack:
    head = Row(
        (Label(value, "large", wrap=False), Stack((Label(say("result.unit"), "small", "soft"),), pad=(0, 7))),
        (0, 1),
        align="bottom",
    )
    scale = Row((Label(ends[0], "small", "soft"), Label(ends[1], "small", "soft", "right")), (1, 1))
    return Stack((Label(title, "small", "soft"), head, band, scale, Label(under, "small", "soft")), gap=2)


def _misreads(score: "PersonScore") -> Stack:
    total, of = score.misreads.total, score.readings
    value = say("result.misreads.of", n=total, of=of) if total else say("result.misreads.none", of=of)
    kinds = [f"{say(f'misread.{kind}')}: {n}" for kind, n in score.misreads.by_kind.items() if n]
    if score.skipped:
        kinds.append(say("result.skipped", n=score.skipped))
    if score.timed_out:
        kinds.append(say("result.timed_out", n=score.timed_out))
    under = "\n".join(kinds)
    children = [Label(say("result.misreads"), "small", "soft"), Label(value, "figure", wrap=False)]
    if under:
        children.append(Label(under, "small", "soft"))
    return Stack(tuple(children), gap=2)


def error_plot(readings: tuple[Reading, ...], desk: Desk, height: float = 230) -> PlotNode:
    """Return the error of each reading against where the truth lay between the lines; misreads as crosses."""
    points: list[Point] = []
    slips: list[Point] = []
    shown = [r for r in readings if r.error_tenths is not None]
    used = [abs(r.error_tenths or 0) for r in shown if not r.misread]
    reach = max(2.0, min(5.0, max(used, default=0.0) * 1.15))
    for r in shown:
        text = say(
            "result.plot.point",
            n=r.item,
            truth=desk.tenths(r.within_tenths, sign=False, decimals=1),
            answer=said_text(r.typed, desk),
            error=desk.tenths(r.error_tenths),
        )
        if r.misread:
            text += f" – {say(f'misread.{r.misread}')}"
        held = max(-reach, min(reach, r.error_tenths or 0.0))
        (slips if r.misread else points).append((r.within_tenths, held, text, ""))
    return PlotNode(
        "errors",
        (Series(tuple(points)), Series(tuple(slips), "cross", "brass")),
        say("result.plot.x"),
        say("result.plot.y"),
        (0.0, 10.0),
        (-reach, reach),
        TEN,
        signed_ticks(-reach, reach, desk),
        bands=((-1.0, 1.0),),
        height=height,
        empty=say("result.none"),
    )


def digits_plot(score: "PersonScore", desk: Desk, height: float = 190, title: str = "") -> PlotNode:
    """Return how often each last digit was used, with what a smooth reader would have used."""
    habit = score.digit_preference
    counts = habit.counts or (0,) * 10
    expected = habit.expected or (None,) * 10
    top = float(max([*counts, *(e for e in expected if e is not None), 1])) * 1.15
    columns, marks = [], []
    for digit, count in enumerate(counts):
        wanted = expected[digit] if digit < len(expected) else None
        text = say(
            "result.digits.point", digit=digit, n=count, expected=desk.tenths(wanted, sign=False, decimals=1)
        )
        columns.append((float(digit), float(count), text, ""))
        if wanted is not None:
            marks.append((float(digit), float(wanted), "", ""))
    return PlotNode(
        "digits",
        (Series(tuple(columns), columns=True), Series(tuple(marks), "diamond", "ink")),
        say("result.digits.x"),
        title or say("result.digits.y"),
        (-0.6, 9.6),
        (0.0, top),
        tuple((float(i), str(i)) for i in range(10)),
        signed_ticks(0.0, top, desk, 4),
        height=height,
    )


def digits_line(score: "PersonScore", desk: Desk) -> str:
    """Return what the digits say, or why they say nothing."""
    habit = score.digit_preference
    if habit.p_value is None:
        why = desk.sentence(score.reasons.get("digit_preference", "")) or say("result.why.few")
        return say("result.digits.too_few", why=why)
    if habit.p_value > 0.05 or not (habit.favoured or habit.shunned):
        return say("result.digits.even")
    favoured = ", ".join(map(str, habit.favoured)) or say("none")
    shunned = ", ".join(map(str, habit.shunned)) or say("none")
    return say("result.digits.habit", favoured=favoured, shunned=shunned)
