"""Drift and pace of one person: trend within sessions, the first readings, speed against accuracy."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from trainer.scoring.errors import HAIR_TENTHS, Floats, or_none
from trainer.scoring.intervals import Interval, interval, t_quantile

WARM_UP = 5  # readings at the start of a session that may differ from the rest
PAIRS_IN_FULL = 3000  # readings up to which all pairs are compared; beyond, a sorting algorithm


@dataclass(frozen=True, slots=True)
class RankTrend:
    """Mann-Kendall trend: S, its variance (ties allowed for), tau, z with continuity correction, p."""

    s: int
    variance: float
    tau: float | None
    z: float | None
    p_value: float | None

    def to_dict(self) -> dict[str, float | int | None]:
        """Return the values by name, ready for JSON."""
        return {
            "s": self.s,
            "variance": self.variance,
            "tau": self.tau,
            "z": self.z,
            "p_value": self.p_value,
        }


def mann_kendall(values: ArrayLike) -> RankTrend:
    """Return the rank trend of values in the order given (Mann 1945; Kendall, Rank Correlation, ch. 4).

    >>> mann_kendall([1, 2, 3, 4, 5]).s
    10
    """
    return combined([np.asarray(values, float)])


def combined(sessions: list[Floats]) -> RankTrend:
    """Return the rank trend within sessions: S and its variance summed (Hirsch, Slack and Smith 1982)."""
    s = sum(_s(values) for values in sessions)
    variance = sum(_variance(values) for values in sessions)
    pairs = sum(len(values) * (len(values) - 1) / 2 for values in sessions)
    if variance <= 0:
        return RankTrend(s, 0.0, None, None, None)
    z = (s - np.sign(s)) / np.sqrt(variance)
    return RankTrend(s, variance, s / pairs, float(z), float(2 * special.ndtr(-abs(z))))


def _s(values: Floats) -> int:
    n = len(values)
    if n < 2:
        return 0
    if n > PAIRS_IN_FULL:
        from scipy.stats import kendalltau

        tied = _ties(values)
        pairs = n * (n - 1) / 2
        untied = pairs - (tied * (tied - 1) / 2).sum()
        if untied <= 0:
            return 0
        tau_b = float(kendalltau(np.arange(n), values).statistic)
        return round(tau_b * float(np.sqrt(pairs * untied)))
    later = np.sign(values[None, :] - values[:, None])
    return int(np.triu(later, 1).sum())


def _ties(values: Floats) -> NDArray[np.float64]:
    return np.unique(values, return_counts=True)[1].astype(float)


def _variance(values: Floats) -> float:
    n, t = len(values), _ties(values)
    return float((n * (n - 1) * (2 * n + 5) - (t * (t - 1) * (2 * t + 5)).sum()) / 18)


def sen_slope(values: ArrayLike) -> float:
    """Return the median slope of all pairs, per step (Sen, JASA 63 (1968) 1379)."""
    y = np.asarray(values, float)
    i, j = np.triu_indices(len(y), 1)
    return float(np.median((y[j] - y[i]) / (j - i)))


def serial_correlation(values: ArrayLike) -> float | None:
    """Return the lag-1 autocorrelation: how far each error goes with the one before; None if they are equal.

    >>> serial_correlation([1, 3, 2])
    -0.5
    """
    series: Floats = np.asarray(values, float)
    away = series - series.mean()
    total = float(away @ away)
    return float(away[1:] @ away[:-1]) / total if total > 0 else None


@dataclass(frozen=True, slots=True)
class LineTrend:
    """Regression of error on place: slope and its standard error per step, p-value, residual sd and df."""

    slope: float | None
    slope_se: float | None
    intercept: float | None
    intercept_se: float | None
    residual_sd: float | None
    df: int
    p_value: float | None


def regression(place: ArrayLike, values: ArrayLike) -> LineTrend:
    """Return the least-squares line of values on place, by centred sums."""
    x, y = np.asarray(place, float), np.asarray(values, float)
    df = len(x) - 2
    if df < 1 or np.ptp(x) == 0:
        return LineTrend(None, None, None, None, None, max(df, 0), None)
    xc, yc = x - x.mean(), y - y.mean()
    sxx = float(xc @ xc)
    slope = float(xc @ yc) / sxx
    residual = yc - slope * xc
    sd = float(np.sqrt(residual @ residual / df))
    if sd <= 1e-12 * float(np.abs(y).max()):  # on the line but for the rounding of binary numbers
        sd, slope = 0.0, slope if np.ptp(y) > 1e-12 * float(np.abs(y).max()) else 0.0
    se = sd / np.sqrt(sxx)
    p = float(2 * special.stdtr(df, -abs(slope) / se)) if se > 0 else (0.0 if slope else None)
    intercept_se = sd * float(np.sqrt(1 / len(x) + x.mean() ** 2 / sxx))
    return LineTrend(slope, float(se), float(y.mean() - slope * x.mean()), intercept_se, sd, df, p)


@dataclass(frozen=True, slots=True)
class FirstFive:
    """The first five readings of each session against the rest: difference of mean error, and of spread.

    `p_value` is of no difference in the mean (Welch); `spread_ratio` first five over rest.
    """

    difference_tenths: Interval
    p_value: float | None
    spread_ratio: float | None
    readings: int

    def to_dict(self) -> dict[str, object]:
        """Return the values by name, ready for JSON."""
        return {
            "difference_tenths": self.difference_tenths.to_dict(),
            "p_value": self.p_value,
            "spread_ratio": self.spread_ratio,
            "readings": self.readings,
        }


def first_five(error: Floats, place: NDArray[np.int64]) -> FirstFive:
    """Return how the first five readings of the sessions differ; `place` counts from 0 in each session."""
    early, late = error[place < WARM_UP], error[place >= WARM_UP]
    if len(early) < 2 or len(late) < 2:
        return FirstFive(Interval(None), None, None, len(early))
    difference = float(early.mean() - late.mean())
    parts = np.array([early.var(ddof=1) / len(early), late.var(ddof=1) / len(late)])
    if parts.sum() <= HAIR_TENTHS**2:  # errors alike but for the rounding of binary numbers
        return FirstFive(Interval(difference), None, None, len(early))
    df = parts.sum() ** 2 / (parts**2 / (np.array([len(early), len(late)]) - 1)).sum()
    se = np.sqrt(parts.sum())
    half = t_quantile(df) * se
    ratio = early.std(ddof=1) / late.std(ddof=1) if late.std() > 0 else np.nan
    p = float(2 * special.stdtr(df, -abs(difference) / se))
    return FirstFive(
        interval(difference, (difference - half, difference + half)), p, or_none(ratio), len(early)
    )


@dataclass(frozen=True, slots=True)
class Pace:
    """Speed against accuracy: median time, and Spearman's rank correlation of time with size of error.

    A negative correlation says that the quick readings are the worse ones.
    """

    readings: int
    median_seconds: float | None
    correlation: float | None
    p_value: float | None

    def to_dict(self) -> dict[str, float | int | None]:
        """Return the values by name, ready for JSON."""
        return {
            "readings": self.readings,
            "median_seconds": self.median_seconds,
            "correlation": self.correlation,
            "p_value": self.p_value,
        }


def pace(error: Floats, seconds: Floats) -> Pace:
    """Return the relation of time and size of error (about the person's own bias); bad times are left out."""
    timed = np.isfinite(seconds) & (seconds >= 0)
    n = int(timed.sum())
    if n == 0:
        return Pace(0, None, None, None)
    median = float(np.median(seconds[timed]))
    size = np.abs(error[timed] - error[timed].mean())
    rho = _spearman(seconds[timed], size)
    if n < 4 or rho is None:
        return Pace(n, median, None, None)
    t = rho * np.sqrt((n - 2) / max(1 - rho**2, 1e-300))
    return Pace(n, median, rho, float(2 * special.stdtr(n - 2, -abs(t))))


def _spearman(a: Floats, b: Floats) -> float | None:
    ranks = [_mean_ranks(x) - (len(x) + 1) / 2 for x in (a, b)]
    norm = np.sqrt((ranks[0] @ ranks[0]) * (ranks[1] @ ranks[1]))
    return float(ranks[0] @ ranks[1] / norm) if norm > 0 else None


def _mean_ranks(values: Floats) -> Floats:
    _, place, counts = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    return np.asarray((last - (counts - 1) / 2)[place], float)
