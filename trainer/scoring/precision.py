"""Spread within and between people, in the terms of ISO 5725-2:1994, with intervals that hold.

Repeatability is the spread of one person's readings, the between-people spread that of their biases, and
reproducibility both together: what a reading by anyone of them is worth. Values follow ISO 5725-2, 7.4; for
unequal numbers of readings the intervals start from unweighted means, since people differ in spread.
"""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from trainer.instrument.refusal import Refusal
from trainer.scoring.intervals import Interval, as_table

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]
ENOUGH_PEOPLE = 5  # below: an interval for reproducibility is too wide to help (measured, docs/methods)
GOOD_PEOPLE = 10  # below: indicative only (measured, docs/methods)
LIMIT_FACTOR = 2.8  # repeatability and reproducibility limits, ISO 5725-6: 1.96 sqrt 2, rounded


class UnusablePrecision(Refusal):
    """The readings cannot be split into within and between people."""


@dataclass(frozen=True, slots=True)
class Precision:
    """Spread within and between people; unit as given (tenths of a division for readings).

    A value, or an end of an interval, that cannot be had is None, with its reason in `reasons`. `notes` are
    cautions to print beside the numbers.
    """

    people: int
    readings: int
    mean: float
    sd_of_means: float | None
    repeatability_sd: Interval | None
    between_sd: Interval | None
    reproducibility_sd: Interval | None
    repeatability_limit: float | None
    reproducibility_limit: float | None
    between_seen: bool
    reasons: dict[str, str]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return one row a kind of spread: value, interval and the reason where one is missing."""
        names = ("repeatability_sd", "between_sd", "reproducibility_sd")
        return as_table({name: getattr(self, name) for name in names}, self.reasons)


def of_groups(groups: Sequence[Sequence[float]], level: float = 0.95) -> Precision:
    """Return the precision of one group of readings a person, equal or unequal in number.

    Raises UnusablePrecision for an empty group, a value that is not finite, or nobody at all.

    >>> of_groups([[1.0, 3.0], [4.0, 6.0]]).repeatability_sd.value ** 2
    2.0000000000000004
    """
    for number, group in enumerate(groups, start=1):
        if len(group) == 0:
            raise UnusablePrecision(f"group {number} has no readings; leave it out")
        if not np.isfinite(group).all():
            raise UnusablePrecision(
                f"group {number} holds what is not a finite number; leave that reading out"
            )
    arrays = [np.asarray(group, dtype=np.float64) for group in groups]
    counts = np.array([len(a) for a in arrays])
    means = np.array([a.mean() for a in arrays])
    variances = np.array([a.var(ddof=1) if len(a) > 1 else 0.0 for a in arrays])
    return of_statistics(counts, means, variances, level)


def of_statistics(
    counts: npt.ArrayLike, means: npt.ArrayLike, variances: npt.ArrayLike, level: float = 0.95
) -> Precision:
    """Return the precision from each person's number of readings, mean and variance (shapes (people,)).

    The variance of a person with one reading is ignored. Raises UnusablePrecision for values that are not
    finite.
    """
    n, m, v = (np.asarray(a, dtype=np.float64) for a in (counts, means, variances))
    _check(n, m, v, level)
    reasons: dict[str, str] = {}
    within_df, people = float((n - 1).sum()), len(n)
    mean = float((n * m).sum() / n.sum())
    within = float(((n - 1) * v).sum() / within_df) if within_df > 0 else None
    if within is None:
        reasons["repeatability_sd"] = "everyone has one reading; a second shows the spread within a person"
    if people < 2:
        reasons["between_sd"] = "one person; the spread between people needs at least 2"
    between = _between_variance(n, m, mean, within) if people > 1 and within is not None else None
    if within is None:
        reasons["between_sd"] = reasons.get("between_sd", reasons["repeatability_sd"])
    if between is None:
        reasons["reproducibility_sd"] = reasons["between_sd"]
    total = within + max(between, 0.0) if within is not None and between is not None else None
    several = n > 1  # one reading tells nothing of its person's spread: in the values, not in the intervals
    ends = _intervals(n[several], m[several], v[several], within, between, level, reasons)
    return Precision(
        people=people,
        readings=int(n.sum()),
        mean=mean,
        sd_of_means=float(m.std(ddof=1)) if people > 1 else None,
        repeatability_sd=_root(within, ends["repeatability_sd"]),
        between_sd=_root(between, ends["between_sd"]),
        reproducibility_sd=_root(total, ends["reproducibility_sd"]),
        repeatability_limit=None if within is None else LIMIT_FACTOR * math.sqrt(within),
        reproducibility_limit=None if total is None else LIMIT_FACTOR * math.sqrt(total),
        between_seen=between is not None and between > 0,
        reasons=reasons,
        notes=_notes(int(several.sum()), people, between, ends["between_sd"]),
    )


def _check(n: Floats, m: Floats, v: Floats, level: float) -> None:
    if len(n) == 0:
        raise UnusablePrecision("nobody has any readings; nothing can be compared")
    if not 0 < level < 1:
        raise UnusablePrecision(f"the level is {level}; give one between 0 and 1")
    if not (np.isfinite(n).all() and np.isfinite(m).all() and np.isfinite(v).all()):
        raise UnusablePrecision("a mean or variance is not a finite number; leave that person out")
    if (n < 1).any() or (v < 0).any():
        raise UnusablePrecision("a person has no readings or a negative variance; leave that person out")


def _between_variance(n: Floats, m: Floats, mean: float, within: float) -> float:
    """Return s_L^2 before it is cut at zero (ISO 5725-2, 7.4.5.3)."""
    people = len(n)
    of_means = float((n * (m - mean) ** 2).sum()) / (people - 1)
    typical = (n.sum() - (n**2).sum() / n.sum()) / (people - 1)
    return (of_means - within) / float(typical)


Ends = tuple[float, float] | None  # of a variance


def _intervals(
    n: Floats, m: Floats, v: Floats, within: float | None, between: float | None, level: float,
    reasons: dict[str, str],
) -> dict[str, Ends]:  # fmt: skip
    """Return the ends, as variances, of each interval; None with a reason where there is none."""
    ends: dict[str, Ends] = dict.fromkeys(("repeatability_sd", "between_sd", "reproducibility_sd"))
    if within is None or within == 0 or between is None:
        if within == 0:
            reasons["intervals"] = "the readings of each person are all equal; no interval can be made"
        return ends
    if len(n) < ENOUGH_PEOPLE:
        who = "1 person" if len(n) == 1 else f"{len(n)} people"
        reasons["intervals"] = (
            f"{who} with 2 or more readings; an interval for people like these needs at least {ENOUGH_PEOPLE}"
        )
        return ends
    ends["repeatability_sd"] = _scaled(within, _part(v, n, level))
    ends["between_sd"] = _difference(float(m.var(ddof=1)), float((v / n).mean()), n, level)
    parts = v * (1 - 1 / n)
    low, high = _scaled(float(parts.mean()), _part(parts, n, level))
    ends["reproducibility_sd"] = _sum(float(m.var(ddof=1)), float(parts.mean()), low, high, len(n), level)
    return ends


def _part(parts: Floats, n: Floats, level: float) -> tuple[float, float]:
    """Return the factors, below and above 1, of an interval for the mean of people's variances.

    By the jackknife over people (they differ in spread) on the logarithm of the mean, with Student's t
    (Arvesen 1969), never narrower than the chi-square interval of one common variance.
    """
    from scipy.special import chdtri, stdtrit

    people, df, tail = len(parts), float((n - 1).sum()), (1 - level) / 2
    total = float(parts.sum())
    without = np.maximum((total - parts) / (people - 1), 1e-300)  # one person may hold all the variance
    pseudo = people * math.log(total / people) - (people - 1) * np.log(without)
    half = float(stdtrit(people - 1, 1 - tail)) * float(pseudo.std(ddof=1)) / math.sqrt(people)
    shift = float(pseudo.mean()) - math.log(total / people)
    low, high = df / float(chdtri(df, tail)), df / float(chdtri(df, 1 - tail))
    return min(math.exp(max(shift - half, -700.0)), low), max(math.exp(min(shift + half, 700.0)), high)


def _scaled(value: float, factors: tuple[float, float]) -> tuple[float, float]:
    return value * factors[0], value * factors[1]


def _sum(of_means: float, part: float, low: float, high: float, people: int, level: float) -> Ends:
    """Return the ends for a sum of two variances (Graybill and Wang 1980)."""
    from scipy.special import chdtri

    df, tail = people - 1, (1 - level) / 2
    g = 1 - df / float(chdtri(df, tail))
    h = df / float(chdtri(df, 1 - tail)) - 1
    total = of_means + part
    return (
        max(total - math.hypot(g * of_means, part - low), 0.0),
        total + math.hypot(h * of_means, high - part),
    )


def _difference(of_means: float, part: float, n: Floats, level: float) -> Ends:
    """Return the ends for a difference of two variances (Ting et al. 1990; Burdick, Graybill 1992, 3.3)."""
    from scipy.special import chdtri, fdtri

    df1, df2, tail = len(n) - 1, float((n - 1).sum()), (1 - level) / 2
    g1, g2 = (1 - df / float(chdtri(df, tail)) for df in (df1, df2))
    h1, h2 = (df / float(chdtri(df, 1 - tail)) - 1 for df in (df1, df2))
    f_high, f_low = float(fdtri(df1, df2, 1 - tail)), float(fdtri(df1, df2, tail))
    g12 = ((f_high - 1) ** 2 - (g1 * f_high) ** 2 - h2**2) / f_high
    h12 = ((1 - f_low) ** 2 - (h1 * f_low) ** 2 - g2**2) / f_low
    down = (g1 * of_means) ** 2 + (h2 * part) ** 2 + g12 * of_means * part
    up = (h1 * of_means) ** 2 + (g2 * part) ** 2 + h12 * of_means * part
    centre = of_means - part
    return (
        max(centre - math.sqrt(max(down, 0.0)), 0.0),
        max(centre + math.sqrt(max(up, 0.0)), 0.0),
    )


def _root(variance: float | None, ends: Ends) -> Interval | None:
    """Return the interval of a standard deviation; it always holds its own value."""
    if variance is None:
        return None
    value = math.sqrt(max(variance, 0.0))
    if ends is None:
        return Interval(value, None, None)
    return Interval(value, min(math.sqrt(ends[0]), value), max(math.sqrt(ends[1]), value))


def _notes(several: int, people: int, between: float | None, ends: Ends) -> tuple[str, ...]:
    notes = []
    if ENOUGH_PEOPLE <= several < GOOD_PEOPLE:
        notes.append(f"with {several} people the intervals are indicative; {GOOD_PEOPLE} or more are better")
    if several < people and ends:
        counts = (
            "1 person with one reading counts"
            if people - several == 1
            else f"{people - several} people with one reading count"
        )
        notes.append(f"{counts} in the values but not in the intervals")
    if between is not None and between <= 0:
        upper = f"; could be up to {math.sqrt(ends[1]):.2g}" if ends and ends[1] > 0 else ""
        notes.append(f"the spread between people is not distinguishable from 0{upper}")
    if people > 1:
        notes.append("look at each person's bias: one odd person is a finding, not a variance")
    return tuple(notes)
