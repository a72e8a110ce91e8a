"""Numbers as text: a dash for what cannot be had, a true minus, intervals in brackets."""

from trainer.scoring.intervals import Interval
from trainer.scoring.person import Spread

NONE = "–"


def number(value: float | None, decimals: int = 2, *, signed: bool = False) -> str:
    """Return a number as text, or a dash for one that cannot be had."""
    if value is None:
        return NONE
    text = f"{value:+.{decimals}f}" if signed else f"{value:.{decimals}f}"
    return text.replace("-", "−")


def probability(value: float | None) -> str:
    """Return a p-value as text with three decimals, never as 0."""
    if value is None:
        return NONE
    return "<0.001" if value < 0.001 else f"{value:.3f}"


def with_ends(value: Interval | Spread, decimals: int = 2, *, signed: bool = False) -> str:
    """Return a value with its interval, `0.20 [0.11, 0.29]`, without one where there is none."""
    text = number(value.value, decimals, signed=signed)
    if value.low is None or value.high is None:
        return text
    ends = f"{number(value.low, decimals, signed=signed)}, {number(value.high, decimals, signed=signed)}"
    return f"{text} [{ends}]"
