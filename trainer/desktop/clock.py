"""Time as an argument: a clock is any function without arguments that returns seconds."""

from collections.abc import Callable
from dataclasses import dataclass

Clock = Callable[[], float]  # seconds from any fixed moment, never backwards


@dataclass
class HandClock:
    """A clock that is moved by hand."""

    now_s: float = 0.0

    def __call__(self) -> float:
        """Return the time it was set to."""
        return self.now_s
