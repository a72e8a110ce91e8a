"""Looking as the evidence comes in without spending more risk than promised.

Wald's sequential test of a rate (Wald 1947), and boundaries that spend a two-sided risk over planned looks
(Lan and DeMets 1983) with the classical constants of Pocock (1977) and O'Brien and Fleming (1979).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd

GRID = 801  # Simpson points for the density between looks; doubling changes no boundary by 1e-6


class UnusableRisk(Refusal):
    """The risks or rates asked for do not make a sequential test."""


@dataclass(frozen=True, slots=True)
class RateTest:
    """Wald's test of a rate: after n trials stop above `upper(n)` or below `lower(n)` events."""

    p0: float
    p1: float
    alpha: float
    beta: float
    slope: float
    lower_intercept: float
    upper_intercept: float

    def lower(self, trials: int) -> float:
        """Return the count at or below which the lower rate is accepted."""
        return self.lower_intercept + self.slope * trials

    def upper(self, trials: int) -> float:
        """Return the count at or above which the higher rate is accepted."""
        return self.upper_intercept + self.slope * trials

    def expected_trials(self, rate: float) -> float:
        """Return the mean number of trials at p0, at p1, or at the slope, by Wald's approximation."""
        drift = rate - self.slope
        if abs(drift) < 1e-12:
            return -self.lower_intercept * self.upper_intercept / (self.slope * (1 - self.slope))
        chance_upper = {self.p0: self.alpha, self.p1: 1 - self.beta}.get(rate)
        if chance_upper is None:
            raise UnusableRisk(
                f"the mean number of trials is known at {self.p0}, {self.p1} and the slope only"
            )
        return (chance_upper * self.upper_intercept + (1 - chance_upper) * self.lower_intercept) / drift

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        return pd.DataFrame([asdict(self)], dtype=object)


def wald_bounds(alpha: float, beta: float) -> tuple[float, float]:
    """Return the likelihood ratios (low, high) at which to stop.

    >>> wald_bounds(0.05, 0.10)[1]
    18.0
    """
    if not (0 < alpha < 1 and 0 < beta < 1 and alpha + beta < 1):
        raise UnusableRisk(f"the risks are {alpha} and {beta}; each above 0, together below 1")
    return beta / (1 - alpha), (1 - beta) / alpha


def rate_test(p0: float, p1: float, alpha: float, beta: float) -> RateTest:
    """Return Wald's test that a rate is p0 (risk alpha of denying it) or p1 > p0 (risk beta)."""
    low, high = wald_bounds(alpha, beta)
    if not 0 < p0 < p1 < 1:
        raise UnusableRisk(f"the rates are {p0} and {p1}; give 0 < p0 < p1 < 1")
    per_event, per_other = math.log(p1 / p0), math.log((1 - p0) / (1 - p1))
    whole = per_event + per_other
    return RateTest(p0, p1, alpha, beta, per_other / whole, math.log(low) / whole, math.log(high) / whole)


def obrien_fleming_spent(share: float, alpha: float = 0.05) -> float:
    """Return the two-sided risk spent at a share of the information, cautious early."""
    from scipy.special import ndtr, ndtri

    return float(4 * ndtr(-ndtri(1 - alpha / 4) / math.sqrt(share)))


def pocock_spent(share: float, alpha: float = 0.05) -> float:
    """Return the two-sided risk spent at a share of the information, nearly even."""
    return alpha * math.log1p((math.e - 1) * share)


def boundaries(spent: Sequence[float], shares: Sequence[float]) -> tuple[float, ...]:
    """Return |z| at each look such that the two-sided risk spent by then is `spent`.

    `shares` of the information increase to at most 1. Exact for a normal sum with independent steps
    (Armitage, McPherson and Rowe 1969), by numerical integration.
    """
    if (
        not shares
        or len(spent) != len(shares)
        or any(b <= a for a, b in zip((0, *shares), shares, strict=False))
    ):
        raise UnusableRisk("the looks need increasing shares of the information, with the risk spent at each")
    if any(b <= a for a, b in zip((0, *spent), spent, strict=False)) or spent[-1] >= 1:
        raise UnusableRisk("the risk spent must grow from look to look and stay below 1")
    walk = _Walk()
    limits = []
    before = 0.0
    for risk, share in zip(spent, shares, strict=True):
        limits.append(_solve(partial(walk.crossing, share), risk - before))
        walk = walk.after(limits[-1], share)
        before = risk
    return tuple(limits)


def pocock_constant(looks: int, alpha: float = 0.05) -> float:
    """Return the one |z| for all of some equal looks at two-sided risk alpha (Pocock 1977)."""
    return _solve(lambda c: _total([c] * looks), alpha)


def obrien_fleming_constant(looks: int, alpha: float = 0.05) -> float:
    """Return c such that |z| = c sqrt(looks/k) at look k keeps two-sided risk alpha (1979)."""
    return _solve(lambda c: _total([c * math.sqrt(looks / k) for k in range(1, looks + 1)]), alpha)


def _total(limits: Sequence[float]) -> float:
    walk, risk = _Walk(), 0.0
    for k, limit in enumerate(limits, start=1):
        risk += walk.crossing(k / len(limits), limit)
        walk = walk.after(limit, k / len(limits))
    return risk


def _solve(risk_at: Callable[[float], float], wanted: float) -> float:
    from scipy.optimize import brentq

    return float(brentq(lambda z: risk_at(z) - wanted, 0.0, 12.0, xtol=1e-10))


class _Walk:
    """The density of a normal sum that has not crossed yet, on a grid; at the start a point at zero."""

    def __init__(self) -> None:
        self.at, self.weight, self.share = np.zeros(1), np.ones(1), 0.0

    def crossing(self, share: float, limit: float) -> float:
        """Return the chance of being beyond +-limit (in z) at a share, not having crossed before."""
        from scipy.special import ndtr

        step, edge = math.sqrt(share - self.share), limit * math.sqrt(share)
        beyond = ndtr((-edge - self.at) / step) + ndtr((self.at - edge) / step)
        return float((self.weight * beyond).sum())

    def after(self, limit: float, share: float) -> "_Walk":
        """Return the walk that did not cross at this look."""
        step, edge = math.sqrt(share - self.share), limit * math.sqrt(share)
        walk = _Walk()
        walk.at, walk.share = np.linspace(-edge, edge, GRID), share
        simpson = np.ones(GRID)
        simpson[1:-1:2], simpson[2:-1:2] = 4.0, 2.0
        simpson *= (walk.at[1] - walk.at[0]) / 3
        apart = (walk.at[:, None] - self.at[None, :]) / step
        density = np.exp(-0.5 * apart**2) @ self.weight / (step * math.sqrt(2 * math.pi))
        walk.weight = simpson * density
        return walk
