"""Intervals for rates, means and standard deviations, and tolerance factors; arrays in, arrays out.

Nothing here warns: what cannot be had is NaN in arrays and None in an `Interval`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from trainer.scoring.errors import Floats, or_none

if TYPE_CHECKING:
    import pandas as pd

CONFIDENCE = 0.95  # of every two-sided interval that the program prints
FEWEST_FOR_SPREAD = (
    20  # below this no interval for a spread holds its promise; simulation, docs/methods/scoring.md
)
FIRM_FROM = 50  # below this a spread is marked provisional; the same simulation


@dataclass(frozen=True, slots=True)
class Interval:
    """An estimate with the ends of its interval; None is a value that cannot be had.

    >>> Interval(0.2, -0.1, 0.5).to_dict()
    {'value': 0.2, 'low': -0.1, 'high': 0.5}
    """

    value: float | None
    low: float | None = None
    high: float | None = None

    def to_dict(self) -> dict[str, float | None]:
        """Return the values by name, ready for JSON."""
        return {"value": self.value, "low": self.low, "high": self.high}


def interval(value: float, ends: tuple[Floats, Floats]) -> Interval:
    """Return the `Interval` of one value and ends computed as arrays."""
    return Interval(or_none(value), or_none(ends[0]), or_none(ends[1]))


def as_table(found: Mapping[str, Interval | None], reasons: Mapping[str, str]) -> "pd.DataFrame":
    """Return one row an interval by name: value, ends, and the reason where one is missing."""
    import pandas as pd

    rows = {
        name: (*((i.value, i.low, i.high) if i else (None,) * 3), reasons.get(name))
        for name, i in found.items()
    }
    columns = ["value", "low", "high", "reason"]
    return pd.DataFrame.from_dict(rows, orient="index", columns=columns, dtype=object)


def normal_quantile(confidence: float, *, one_sided: bool = False) -> float:
    """Return z such that a two-sided (or one-sided) normal interval has the confidence."""
    return float(special.ndtri(confidence if one_sided else 0.5 + confidence / 2))


def t_quantile(df: ArrayLike, confidence: float = CONFIDENCE, *, one_sided: bool = False) -> Floats:
    """Return Student's t for a two-sided (or one-sided) interval; NaN where `df` is below 1.

    >>> t_quantile(9).round(4).item()  # GUM table G.2: 2.26
    2.2622
    """
    df = np.asarray(df, float)
    p = confidence if one_sided else 0.5 + confidence / 2
    return np.where(df >= 1, special.stdtrit(np.maximum(df, 1.0), p), np.nan)


def clopper_pearson(count: ArrayLike, of: ArrayLike, confidence: float = CONFIDENCE) -> tuple[Floats, Floats]:
    """Return the exact interval of a rate (Clopper and Pearson, Biometrika 26 (1934) 404).

    >>> [end.round(5).item() for end in clopper_pearson(4, 20)]
    [0.05733, 0.43661]
    """
    k, n = np.broadcast_arrays(np.asarray(count, float), np.asarray(of, float))
    half = (1 - confidence) / 2
    known = n > 0
    low = special.betaincinv(np.maximum(k, 1.0), np.maximum(n - k + 1, 1.0), half)
    high = special.betaincinv(np.maximum(k + 1, 1.0), np.maximum(n - k, 1.0), 1 - half)
    return (
        np.where(known, np.where(k > 0, low, 0.0), np.nan),
        np.where(known, np.where(k < n, high, 1.0), np.nan),
    )


def wilson(
    count: ArrayLike, of: ArrayLike, confidence: float = CONFIDENCE, *, continuity: bool = False
) -> tuple[Floats, Floats]:
    """Return the score interval of a rate (Wilson, JASA 22 (1927) 209); `continuity` corrects it.

    >>> [end.round(7).item() for end in wilson(3, 10)]
    [0.1077913, 0.6032219]
    """
    k, n = np.broadcast_arrays(np.asarray(count, float), np.asarray(of, float))
    n_safe = np.maximum(n, 1.0)
    z = normal_quantile(confidence)
    p = k / n_safe
    if continuity:  # Newcombe, Statist. Med. 17 (1998) 857, method 4
        low_root = np.maximum(z**2 - 2 - 1 / n_safe + 4 * p * (n_safe * (1 - p) + 1), 0.0)
        high_root = np.maximum(z**2 + 2 - 1 / n_safe + 4 * p * (n_safe * (1 - p) - 1), 0.0)
        low = (2 * n_safe * p + z**2 - 1 - z * np.sqrt(low_root)) / (2 * (n_safe + z**2))
        high = (2 * n_safe * p + z**2 + 1 + z * np.sqrt(high_root)) / (2 * (n_safe + z**2))
    else:
        centre = (p + z**2 / (2 * n_safe)) / (1 + z**2 / n_safe)
        half = z / (1 + z**2 / n_safe) * np.sqrt(p * (1 - p) / n_safe + z**2 / (4 * n_safe**2))
        low, high = centre - half, centre + half
    low = np.where(k <= 0, 0.0, np.maximum(low, 0.0))
    high = np.where(k >= n, 1.0, np.minimum(high, 1.0))
    return np.where(n > 0, low, np.nan), np.where(n > 0, high, np.nan)


def mean_t(
    mean: ArrayLike, variance: ArrayLike, of: ArrayLike, df: ArrayLike, confidence: float = CONFIDENCE
) -> tuple[Floats, Floats]:
    """Return mean -+ t(df) sqrt(variance / of): Student's interval, with any variance that has `df`.

    With the ordinary variance and df = n - 1 it is the usual interval; with the variance pooled within
    tenths and df = n - 10 it is the interval for truths dealt evenly over the tenths (Cochran, Sampling
    Techniques, 3rd ed. 1977, section 5A, from memory). NaN where df < 1 or the variance is nought.
    """
    mean, variance, of, df = (np.asarray(x, float) for x in (mean, variance, of, df))
    known = (df >= 1) & (variance > 0) & (of > 0)
    half = t_quantile(df, confidence) * np.sqrt(np.where(known, variance, 1.0) / np.maximum(of, 1.0))
    half = np.where(known, half, np.nan)
    return mean - half, mean + half


def trim_share(n: ArrayLike) -> Floats:
    """Return the share trimmed from each end for Bonett's mean, 1 / (2 sqrt(n - 4))."""
    return np.asarray(1 / (2 * np.sqrt(np.maximum(np.asarray(n, float) - 4, 1.0))))


def bonett_spread_of_log(n: Floats, kurtosis: Floats) -> Floats:
    """Return the standard error of the logarithm of a variance, sqrt((g4 - (n-3)/n) / (n-1))."""
    return np.asarray(np.sqrt(np.maximum(kurtosis - (n - 3) / n, 0.0) / np.maximum(n - 1, 1.0)))


def bonett(
    sd: ArrayLike, kurtosis: ArrayLike, of: ArrayLike, confidence: float = CONFIDENCE
) -> tuple[Floats, Floats]:
    """Return the interval of a standard deviation that does not need normal errors.

    Bonett, Comput. Statist. Data Anal. 50 (2006) 775: exp(ln(c s2) -+ z se), c = n/(n-z),
    se = c sqrt((g4 - (n-3)/n)/(n-1)), with g4 the kurtosis about a trimmed mean. NaN below 5 readings.

    >>> [end.round(4).item() for end in bonett(1.0, 3.0, 100)]
    [0.8753, 1.1654]
    """
    sd, kurtosis, n = (np.asarray(x, float) for x in (sd, kurtosis, of))
    z = normal_quantile(confidence)
    return _bonett_end(sd, kurtosis, n, z, -1), _bonett_end(sd, kurtosis, n, z, +1)


def bonett_upper(sd: ArrayLike, kurtosis: ArrayLike, of: ArrayLike, confidence: float = CONFIDENCE) -> Floats:
    """Return the one-sided upper bound of a standard deviation (Bonett 2006)."""
    z = normal_quantile(confidence, one_sided=True)
    return _bonett_end(np.asarray(sd, float), np.asarray(kurtosis, float), np.asarray(of, float), z, +1)


def bonett_lower(sd: ArrayLike, kurtosis: ArrayLike, of: ArrayLike, confidence: float = CONFIDENCE) -> Floats:
    """Return the one-sided lower bound of a standard deviation (Bonett 2006)."""
    z = normal_quantile(confidence, one_sided=True)
    return _bonett_end(np.asarray(sd, float), np.asarray(kurtosis, float), np.asarray(of, float), z, -1)


def _bonett_end(sd: Floats, kurtosis: Floats, n: Floats, z: float, side: int) -> Floats:
    known = (n >= 5) & (n > z) & (sd > 0) & np.isfinite(kurtosis)
    n_safe = np.where(known, n, 10.0 + z)
    c = n_safe / (n_safe - z)
    se = c * bonett_spread_of_log(n_safe, np.where(known, kurtosis, 3.0))
    end = np.where(known, sd, 1.0) * np.sqrt(c) * np.exp(side * z * se / 2)
    return np.asarray(np.where(known, end, np.nan))


def sd_chi_square(sd: ArrayLike, of: ArrayLike, confidence: float = CONFIDENCE) -> tuple[Floats, Floats]:
    """Return the interval of a standard deviation for normal errors.

    Reading errors are not normal (rounding, habits), so scores use `bonett`; this is for comparison.
    """
    sd, n = np.asarray(sd, float), np.asarray(of, float)
    df = np.maximum(n - 1, 1.0)
    half = (1 - confidence) / 2
    low = sd * np.sqrt(df / special.chdtri(df, half))
    high = sd * np.sqrt(df / special.chdtri(df, 1 - half))
    return np.where(n >= 2, low, np.nan), np.where(n >= 2, high, np.nan)


def rms_log_delta(
    rms: ArrayLike, df: ArrayLike, of: ArrayLike, confidence: float = CONFIDENCE
) -> tuple[Floats, Floats]:
    """Return the interval of a root mean square: delta method on its logarithm, var(ln ms) = 2 / df.

    `df` are the degrees of freedom that the mean square is worth (`central.u_reading`). The factor
    c = n / (n - z) of Bonett's interval serves here too: without it the interval holds 89 to 94 %
    at n = 20, with it 93 to 96 % (docs/methods/scoring.md). NaN below 5 readings.
    """
    rms, df, n = (np.asarray(x, float) for x in (rms, df, of))
    z = normal_quantile(confidence)
    known = (n >= 5) & (n > z) & (rms > 0) & (df > 0)
    n_safe = np.where(known, n, 10.0 + z)
    c = n_safe / (n_safe - z)
    half = z * c * np.sqrt(2 / np.where(known, df, 1.0)) / 2
    middle = np.where(known, rms, np.nan) * np.sqrt(c)
    return np.asarray(middle * np.exp(-half)), np.asarray(middle * np.exp(half))
