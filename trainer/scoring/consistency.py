"""Is one person out of line with the others? h and k, Cochran, Grubbs (ISO 5725-2:1994, 7.3).

Critical values come from their formulas at any number of people, not from a table; the one exception is the
pair test of Grubbs, whose distribution has no formula and whose table ends at 30.
"""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd

# Two smallest or two largest of p, 1 % and 5 %: ISO 5725-2:1994, Table 5 (after Grubbs and Beck 1972), from
# memory; tests confirm each by simulation to its Monte Carlo error. A ratio BELOW the value is remarkable.
PAIR_CRITICAL: dict[int, tuple[float, float]] = {
    4: (0.0000, 0.0002), 5: (0.0018, 0.0090), 6: (0.0116, 0.0349), 7: (0.0308, 0.0708),
    8: (0.0563, 0.1101), 9: (0.0851, 0.1492), 10: (0.1150, 0.1864), 11: (0.1448, 0.2213),
    12: (0.1738, 0.2537), 13: (0.2016, 0.2836), 14: (0.2280, 0.3112), 15: (0.2530, 0.3367),
    16: (0.2767, 0.3603), 17: (0.2990, 0.3822), 18: (0.3200, 0.4025), 19: (0.3398, 0.4214),
    20: (0.3585, 0.4391), 21: (0.3761, 0.4556), 22: (0.3927, 0.4711), 23: (0.4085, 0.4857),
    24: (0.4234, 0.4994), 25: (0.4376, 0.5123), 26: (0.4510, 0.5245), 27: (0.4638, 0.5360),
    28: (0.4759, 0.5470), 29: (0.4875, 0.5574), 30: (0.4985, 0.5672),
}  # fmt: skip


class UnusableScreening(Refusal):
    """There are too few people, or no spread, to screen."""


@dataclass(frozen=True, slots=True)
class Screening:
    """One screening statistic with its 5 % and 1 % critical values.

    `which` is the place in the input of the person (or the first of a pair) it points at; `small_is_odd`
    says that a value below the critical one is remarkable, as in the pair test. None where the critical
    value is not to be had, with the reason.
    """

    name: str
    value: float
    which: int
    critical_5: float | None
    critical_1: float | None
    small_is_odd: bool = False
    reason: str | None = None

    @property
    def finding(self) -> str:
        """The standard's words: correct, straggler (beyond 5 %), outlier (beyond 1 %), or not known."""
        if self.critical_5 is None or self.critical_1 is None:
            return "not known"
        sign = -1 if self.small_is_odd else 1
        if sign * self.value > sign * self.critical_1:
            return "outlier"
        return "straggler" if sign * self.value > sign * self.critical_5 else "correct"

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self) | {"finding": self.finding}

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        return pd.DataFrame([self.to_dict()], dtype=object)


def cochran_critical(people: int, readings: int, level: float = 0.05) -> float:
    """Return the largest share one variance may have of the sum, `readings` each (ISO 5725-2, Table 4).

    >>> round(cochran_critical(9, 2, 0.05), 3)
    0.638
    """
    from scipy.special import fdtri

    _enough(people, 2, readings)
    f = float(fdtri(readings - 1, (people - 1) * (readings - 1), 1 - level / people))
    return 1 / (1 + (people - 1) / f)


def h_critical(people: int, level: float = 0.05) -> float:
    """Return the two-sided critical value of Mandel's h (ISO 5725-2, Tables 6 and 7).

    >>> round(h_critical(8, 0.005), 2)
    2.15
    """
    from scipy.special import stdtrit

    _enough(people, 3)
    t = float(stdtrit(people - 2, 1 - level / 2))
    return (people - 1) * t / math.sqrt(people * (t * t + people - 2))


def k_critical(people: int, readings: int, level: float = 0.05) -> float:
    """Return the critical value of Mandel's k for `readings` a person (ISO 5725-2, Tables 6 and 7).

    >>> round(k_critical(8, 3, 0.005), 2)
    2.06
    """
    from scipy.special import fdtri

    _enough(people, 2, readings)
    f = float(fdtri(readings - 1, (people - 1) * (readings - 1), 1 - level))
    return math.sqrt(people / (1 + (people - 1) / f))


def grubbs_critical(count: int, level: float = 0.05, *, sides: int = 2) -> float:
    """Return the critical value of Grubbs' single test; two-sided as ISO 5725-2, Table 5, or one-sided.

    >>> round(grubbs_critical(9, 0.05), 3)
    2.215
    """
    from scipy.special import stdtrit

    _enough(count, 3)
    t = float(stdtrit(count - 2, 1 - level / (sides * count)))
    return (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))


def h_values(means: Sequence[float]) -> tuple[float, ...]:
    """Return each mean's distance from the mean of means, in standard deviations between them."""
    centre, spread = _centre_and_spread(means, 3)
    return tuple((m - centre) / spread for m in means)


def k_values(sds: Sequence[float]) -> tuple[float, ...]:
    """Return each spread's ratio to the pooled one, as for equal numbers of readings."""
    _finite(sds)
    _enough(len(sds), 2)
    pooled = math.sqrt(math.fsum(s * s for s in sds) / len(sds))
    if pooled == 0:
        raise UnusableScreening("every spread is 0; nothing tells one from another")
    return tuple(s / pooled for s in sds)


def cochran(sds: Sequence[float], readings: int) -> Screening:
    """Test whether the largest variance is out of line; `readings` is the usual number behind each."""
    shares = [k * k / len(sds) for k in k_values(sds)]
    worst = max(range(len(shares)), key=shares.__getitem__)
    five, one = (cochran_critical(len(sds), readings, level) for level in (0.05, 0.01))
    return Screening("Cochran", shares[worst], worst, five, one)


def grubbs(means: Sequence[float]) -> Screening:
    """Test, on both sides, whether the mean farthest from the others is out of line."""
    distances = h_values(means)
    worst = max(range(len(means)), key=lambda i: abs(distances[i]))
    five, one = (grubbs_critical(len(means), level) for level in (0.05, 0.01))
    return Screening("Grubbs", abs(distances[worst]), worst, five, one)


def grubbs_pair(means: Sequence[float], *, low: bool) -> Screening:
    """Test whether the two lowest (or the two highest) means together are out of line.

    The value is the sum of squares without the two over that with them; small is remarkable.
    """
    _centre_and_spread(means, 4)
    order = sorted(range(len(means)), key=means.__getitem__)
    kept = order[2:] if low else order[:-2]
    ratio = _sum_of_squares([means[i] for i in kept]) / _sum_of_squares(means)
    one, five = PAIR_CRITICAL.get(len(means), (None, None))
    reason = None if five is not None else f"the table of critical values ends at 30; there are {len(means)}"
    name = "Grubbs, two lowest" if low else "Grubbs, two highest"
    return Screening(name, ratio, order[0] if low else order[-1], five, one, True, reason)


def _sum_of_squares(values: Sequence[float]) -> float:
    mean = math.fsum(values) / len(values)
    return math.fsum((v - mean) ** 2 for v in values)


def _centre_and_spread(means: Sequence[float], at_least: int) -> tuple[float, float]:
    _finite(means)
    _enough(len(means), at_least)
    spread = math.sqrt(_sum_of_squares(means) / (len(means) - 1))
    if spread == 0:
        raise UnusableScreening("every mean is the same; nothing tells one from another")
    return math.fsum(means) / len(means), spread


def _finite(values: Sequence[float]) -> None:
    for value in values:
        if not math.isfinite(value):
            raise UnusableScreening(f"{value} is among the values; leave out what is not a finite number")


def _enough(people: int, at_least: int, readings: int = 2) -> None:
    if people < at_least:
        who = "1 person" if people == 1 else f"{people} people"
        raise UnusableScreening(f"{who} given; this screening needs at least {at_least}")
    if readings < 2:
        raise UnusableScreening(f"readings of each person: {readings}; a spread needs at least 2")
