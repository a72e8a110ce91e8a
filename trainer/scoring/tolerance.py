"""Tolerance limits, which hold a share of all future errors at a confidence.

Normal errors: mean -+ k s. Any errors, from 93 readings on for 95/95: order statistics.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from trainer.scoring.errors import Floats


def howe_factor(of: ArrayLike, coverage: float = 0.95, confidence: float = 0.95) -> Floats:
    """Return Howe's two-sided factor, z sqrt(1 + 1/n) sqrt((n-1)/chi2), an approximation.

    Howe, JASA 64 (1969) 610, as in the NIST handbook 7.2.6.3.

    >>> howe_factor(43, 0.90, 0.99).round(3).item()
    2.217
    """
    n = np.asarray(of, float)
    df = np.maximum(n - 1, 1.0)
    z = special.ndtri(0.5 + coverage / 2)
    factor = z * np.sqrt(1 + 1 / np.maximum(n, 1.0)) * np.sqrt(df / special.chdtri(df, confidence))
    return np.where(n >= 2, factor, np.nan)


def exact_factor(of: int, coverage: float = 0.95, confidence: float = 0.95) -> float:
    """Return the exact two-sided factor for normal errors, by numerical integration.

    The defining integral is that of ISO 16269-6 (from memory): over the standardised mean x, the
    probability that k s exceeds the half-width R(x) that covers the share around a centre off by x.

    >>> round(exact_factor(10), 4)
    3.3934
    """
    from scipy.optimize import brentq

    nodes, weights = np.polynomial.legendre.leggauss(200)
    reach = 9.0 / np.sqrt(of)  # the normal weight beyond nine standard errors is below 1e-18
    x = (nodes + 1) / 2 * reach
    density = weights / 2 * reach * 2 * np.sqrt(of / (2 * np.pi)) * np.exp(-of * x**2 / 2)
    half_width = _half_width(x, coverage)
    df = of - 1

    def shortfall(k: float) -> float:
        return float(np.sum(density * special.chdtrc(df, df * half_width**2 / k**2)) - confidence)

    guess = float(howe_factor(of, coverage, confidence))
    return float(brentq(shortfall, guess * 0.5, guess * 2.0, xtol=1e-12))


def _half_width(x: Floats, coverage: float) -> Floats:
    """Return R with ndtr(x + R) - ndtr(x - R) = coverage, by Newton's method from above."""
    r = x + special.ndtri(0.5 + coverage / 2)
    for _ in range(60):
        gap = special.ndtr(x + r) - special.ndtr(x - r) - coverage
        slope = (np.exp(-((x + r) ** 2) / 2) + np.exp(-((x - r) ** 2) / 2)) / np.sqrt(2 * np.pi)
        r = r - gap / slope
    return np.asarray(r, float)


def exact_factor_one_sided(of: ArrayLike, coverage: float = 0.95, confidence: float = 0.95) -> Floats:
    """Return the exact one-sided factor, from the noncentral t distribution (NIST handbook 7.2.6.3).

    >>> exact_factor_one_sided(43, 0.90, 0.99).round(4).item()
    1.874
    """
    n = np.asarray(of, float)
    quantile = special.nctdtrit(np.maximum(n - 1, 1.0), special.ndtri(coverage) * np.sqrt(n), confidence)
    return np.where(n >= 2, quantile / np.sqrt(np.maximum(n, 1.0)), np.nan)


def howe_factor_one_sided(of: ArrayLike, coverage: float = 0.95, confidence: float = 0.95) -> Floats:
    """Return the approximate one-sided factor of the NIST handbook 7.2.6.3 (Natrella)."""
    n = np.asarray(of, float)
    z_share, z_confidence = special.ndtri(coverage), special.ndtri(confidence)
    a = 1 - z_confidence**2 / (2 * np.maximum(n - 1, 1.0))
    b = z_share**2 - z_confidence**2 / np.maximum(n, 1.0)
    root = np.sqrt(np.maximum(z_share**2 - a * b, 0.0))
    return np.where((n >= 2) & (a > 0), (z_share + root) / np.where(a > 0, a, 1.0), np.nan)


def outside_allowed(of: ArrayLike, coverage: float = 0.95, confidence: float = 0.95) -> NDArray[np.int64]:
    """Return how many of the readings may lie outside limits that hold the share at the confidence, plus one.

    The largest m with P(Bin(n, 1 - coverage) >= m) >= confidence (Wilks, Ann. Math. Statist. 12 (1941) 91):
    the limits may leave out m / 2 readings at each end, counting the limits themselves. For two-sided limits
    m must be 2, which for 95/95 takes 93 readings.

    >>> outside_allowed([58, 59, 92, 93, 124]).tolist()
    [0, 1, 1, 2, 3]
    """
    n = np.asarray(of, np.int64)
    share = 1 - coverage
    m = np.minimum(n, np.floor(n * share).astype(np.int64) + 1)  # above the median: never enough
    while True:
        # bdtr(k, n, p) is P(Bin <= k)
        enough = (m <= 0) | (special.bdtr(np.maximum(m - 1, 0).astype(float), n, share) <= 1 - confidence)
        if enough.all():
            return np.asarray(m, np.int64)
        m = np.where(enough, m, m - 1)
