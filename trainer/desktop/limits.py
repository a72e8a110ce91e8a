"""The limits of a criterion that figures show as a band; handed in by the command that opens the window."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Limits:
    """What a criterion asks of bias and spread, in tenths; `used`: the person was measured by it before."""

    title: str
    bias_tenths: float
    spread_tenths: float
    used: bool = False


LimitsOf = Callable[[Any, Any, Sequence[str]], Mapping[str, Limits]]  # store, person, instruments
