"""Up-and-down placement of offsets (Levitt, J. Acoust. Soc. Am. 49 (1971) 467): runs and reversals."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd


class UnusableStaircase(Refusal):
    """The sequence of offsets has nothing to estimate from."""


@dataclass(frozen=True, slots=True)
class Staircase:
    """A finished staircase: offsets in order, and where its direction turned.

    `reversal_trials` count from 1; `reversal_values` are the offsets shown there.
    """

    offsets: tuple[float, ...]
    reversal_trials: tuple[int, ...]
    reversal_values: tuple[float, ...]

    def midpoints(self) -> tuple[float, ...]:
        """Return the middle of every second run, from the second on (Levitt's estimate)."""
        turns = self.reversal_values
        return tuple((a + b) / 2 for a, b in zip(turns[0::2], turns[1::2], strict=False))

    def mean_of_last(self, reversals: int) -> float | None:
        """Return the mean offset of the last reversals, an even number; None while there are fewer."""
        if reversals < 2 or reversals % 2:
            raise UnusableStaircase(
                f"{reversals} reversals asked for; an even number balances peaks and dips"
            )
        if len(self.reversal_values) < reversals:
            return None
        return sum(self.reversal_values[-reversals:]) / reversals

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return one row a reversal: trial and offset."""
        import pandas as pd

        return pd.DataFrame({"trial": self.reversal_trials, "offset": self.reversal_values})


def convergence(in_a_row: int) -> float:
    """Return the rate that a 1-up, n-down staircase settles at: 0.5 to the power 1/n.

    >>> round(convergence(2), 3)
    0.707
    """
    if in_a_row < 1:
        raise UnusableStaircase(f"{in_a_row} answers in a row; at least 1 is needed before a step")
    return float(0.5 ** (1 / in_a_row))


def follow(responses: Sequence[bool], start: float = 0.0, step: float = 1.0, in_a_row: int = 1) -> Staircase:
    """Replay responses: down a step after `in_a_row` positive ones, up a step after one negative.

    The trial at which a run ends, the last before the direction changes, is the reversal.
    """
    if not responses:
        raise UnusableStaircase("no responses given; a staircase needs at least one")
    offsets, at, streak = [], start, 0
    for positive in responses:
        offsets.append(at)
        streak = streak + 1 if positive else 0
        if not positive:
            at += step
        elif streak == in_a_row:
            at, streak = at - step, 0
    return from_offsets((*offsets, at))


def from_offsets(offsets: Sequence[float]) -> Staircase:
    """Return the staircase of offsets shown, the last one being the next that would have been shown."""
    trials, values, direction = [], [], 0
    for trial, (here, then) in enumerate(pairwise(offsets), start=1):
        turn = (then > here) - (then < here)
        if turn and direction and turn != direction:
            trials.append(trial)
            values.append(here)
        direction = turn or direction
    return Staircase(tuple(offsets[:-1]), tuple(trials), tuple(values))
