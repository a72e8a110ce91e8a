"""Means and spreads that a few odd people cannot drag away: algorithms A and S (ISO 5725-5:1998)."""

import math
import statistics
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd

MAD_TO_SD = 1.483  # as ISO 5725-5 rounds it
A_LIMIT, A_FACTOR = 1.5, 1.134  # ISO 5725-5, 5.2


class UnusableRobust(Refusal):
    """The values cannot be summarised robustly."""


@dataclass(frozen=True, slots=True)
class Robust:
    """A robust mean and standard deviation, with the number of rounds they took to settle."""

    mean: float
    sd: float
    rounds: int

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        return pd.DataFrame([asdict(self)])


def algorithm_a(values: Sequence[float], rounds: int = 1000) -> Robust:
    """Return a robust mean and standard deviation of the values (ISO 5725-5, 5.2).

    Values beyond 1.5 robust deviations count as standing there. Stops when both are steady to 1e-12 of the
    deviation, or after `rounds`.
    """
    _check(values)
    mean = statistics.median(values)
    sd = MAD_TO_SD * statistics.median(abs(v - mean) for v in values)
    done = 0
    while done < rounds:
        done += 1
        before = mean, sd
        limit = A_LIMIT * sd
        drawn = [min(max(v, mean - limit), mean + limit) for v in values]
        mean = math.fsum(drawn) / len(drawn)
        sd = A_FACTOR * math.sqrt(math.fsum((v - mean) ** 2 for v in drawn) / (len(drawn) - 1))
        if max(abs(mean - before[0]), abs(sd - before[1])) <= 1e-12 * max(sd, 1e-300):
            break
    return Robust(mean, sd, done)


def algorithm_s(spreads: Sequence[float], df: int, rounds: int = 1000) -> float:
    """Return a robust pooled value of standard deviations, or of ranges with df 1 (ISO 5725-5, 5.3).

    `df` is the degrees of freedom of each.
    """
    _check(spreads)
    limit, factor = s_factors(df)
    pooled = statistics.median(spreads)
    for _ in range(rounds):
        drawn = [min(s, limit * pooled) for s in spreads]
        after = factor * math.sqrt(math.fsum(s * s for s in drawn) / len(drawn))
        steady = abs(after - pooled) <= 1e-12 * after
        pooled = after
        if steady:
            break
    return pooled


def s_factors(df: int) -> tuple[float, float]:
    """Return algorithm S's limit and adjustment factors, to the three decimals of ISO 5725-5, Table 1.

    The limit holds 90 % of normal spreads; the adjustment makes the drawn-in mean square come out right.

    >>> s_factors(1)
    (1.645, 1.097)
    """
    from scipy.special import chdtr, chdtri

    if df < 1:
        raise UnusableRobust(f"{df} degrees of freedom show no spread; at least 1 is needed")
    limit_square = float(chdtri(df, 0.1)) / df
    kept = float(chdtr(df + 2, df * limit_square)) + 0.1 * limit_square
    return round(math.sqrt(limit_square), 3), round(1 / math.sqrt(kept), 3)


def _check(values: Sequence[float]) -> None:
    if len(values) < 2:
        raise UnusableRobust(f"values given: {len(values)}; at least 2 are needed")
    for value in values:
        if not math.isfinite(value):
            raise UnusableRobust(f"{value} is among the values; leave out what is not a finite number")
