"""Is it in tolerance, and how sure is that? Conformance probabilities, guard bands, risks (JCGM 106:2012).

Measured values and errors are taken as normal. A false accept here is a statement about probability; what is
released follows the laboratory's own procedures.
"""

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]
NODES = 24  # of a quadrature panel
NARROWEST = 0.99  # a guard band may take this share of the tolerance; beyond, nothing would be accepted
WIDE = 10.0  # standard deviations beyond which a normal density adds less than 1e-22


class UnusableTolerance(Refusal):
    """The tolerance, uncertainty or risk given makes no question that can be answered."""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Limits of a property; None for a side without a limit."""

    low: float | None
    high: float | None

    def __post_init__(self) -> None:
        for limit in (self.low, self.high):
            if limit is not None and not math.isfinite(limit):
                raise UnusableTolerance(f"a limit is {limit}; leave a side without limit out instead")
        if self.low is None and self.high is None:
            raise UnusableTolerance("no limit is given; at least one is needed")
        if self.low is not None and self.high is not None and not self.low < self.high:
            raise UnusableTolerance(f"the limits are {self.low} to {self.high}; the lower must be below")

    @property
    def bounds(self) -> tuple[float, float]:
        """The limits, infinite where there is none."""
        low = -math.inf if self.low is None else self.low
        return low, math.inf if self.high is None else self.high

    @property
    def width(self) -> float | None:
        """High less low; None with one limit."""
        return self.high - self.low if self.low is not None and self.high is not None else None

    def guarded(self, guard: float) -> "Tolerance":
        """Return the acceptance limits: drawn in by `guard` (outwards when negative)."""
        low = None if self.low is None else self.low + guard
        high = None if self.high is None else self.high - guard
        if low is not None and high is not None and not low < high:
            raise UnusableTolerance(
                f"a guard band of {guard:.4g} leaves nothing between the limits; "
                "measure better or allow more risk"
            )
        return Tolerance(low, high)


@dataclass(frozen=True, slots=True)
class Risks:
    """Global risks of accepting and rejecting by measurement (JCGM 106, 9.5).

    `false_accept` (consumer's): chance that an item is accepted and does not conform; `false_reject`
    (producer's): rejected though it conforms. The `_of_` values are shares of those accepted or rejected;
    None where none is.
    """

    conforming: float
    accepted: float
    false_accept: float
    false_reject: float
    false_accept_of_accepted: float | None
    false_reject_of_rejected: float | None
    acceptance: Tolerance

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        return pd.DataFrame([asdict(self)], dtype=object)


def conformance_probability(measured: float, u: float, tolerance: Tolerance) -> float:
    """Return the chance that the true value lies within the limits, given one measured value (7.2-7.4).

    >>> round(conformance_probability(-5.47, 0.05, Tolerance(None, -5.40)), 2)
    0.92
    """
    _finite("measured value", measured)
    return _between(*tolerance.bounds, measured, _positive("standard uncertainty", u))


def specific_risk(measured: float, u: float, tolerance: Tolerance, guard: float = 0.0) -> tuple[bool, float]:
    """Return whether one measured value is accepted, and the chance that this decision is wrong (9.3).

    Accepted, it is the specific consumer's risk 1 - p_c; rejected, the specific producer's risk p_c.
    """
    low, high = tolerance.guarded(guard).bounds
    inside = conformance_probability(measured, u, tolerance)
    accepted = low <= measured <= high
    return accepted, 1 - inside if accepted else inside


def after_prior(measured: float, u: float, prior_mean: float, prior_sd: float) -> tuple[float, float]:
    """Return the mean and standard uncertainty of the true value with its production known too (6.5, 7.2.2).

    The precision-weighted mean of a normal prior and a normal measurement.
    """
    a, b = _positive("prior standard deviation", prior_sd) ** -2, _positive("standard uncertainty", u) ** -2
    return (a * prior_mean + b * measured) / (a + b), (a + b) ** -0.5


def guard_band(u: float, risk: float) -> float:
    """Return the guard band that keeps the specific risk at one limit to `risk` (8.3.2): u times a quantile.

    Zero for a risk of 0.5. With two limits it is safe when the tolerance is wide against u.
    """
    from scipy.special import ndtri

    return float(-ndtri(_chance("risk", risk))) * _positive("standard uncertainty", u)


def z_for(probability: float) -> float:
    """Return how many standard uncertainties inside one limit give the conformance probability (Table 1)."""
    from scipy.special import ndtri

    return float(ndtri(_chance("probability", probability)))


def capability_index(tolerance: Tolerance, u: float) -> float:
    """Return C_m = width / (4 u) (JCGM 106, 7.6.3); with U = 2 u it is the test uncertainty ratio."""
    if tolerance.width is None:
        raise UnusableTolerance("a ratio of tolerance to uncertainty needs both limits")
    return tolerance.width / (4 * _positive("standard uncertainty", u))


def test_uncertainty_ratio(tolerance: Tolerance, expanded: float) -> float:
    """Return the width of the tolerance over that of the coverage interval: (T_U - T_L) / (2 U)."""
    if tolerance.width is None:
        raise UnusableTolerance("a ratio of tolerance to uncertainty needs both limits")
    return tolerance.width / (2 * _positive("expanded uncertainty", expanded))


test_uncertainty_ratio.__test__ = False  # type: ignore[attr-defined]  # a trade term, not a test


def global_risks(
    prior_mean: float, prior_sd: float, u: float, tolerance: Tolerance, guard: float = 0.0, bias: float = 0.0
) -> Risks:
    """Return the risks over a production that is normal, measured with normal error of u and mean `bias`.

    Acceptance limits are the tolerance drawn in by `guard`.
    """
    for name, value in (("prior mean", prior_mean), ("guard band", guard), ("bias", bias)):
        _finite(name, value)
    acceptance = tolerance.guarded(guard)
    sd, u = _positive("prior standard deviation", prior_sd), _positive("standard uncertainty", u)
    low, high = tolerance.bounds
    x, weight = _quadrature(prior_mean, sd, (*acceptance.bounds, low, high), u, bias)
    outside = (x < low) | (x > high)
    accept, reject = _shares(x + bias, acceptance, u)
    false_accept = float((weight * accept)[outside].sum())
    false_reject = float((weight * reject)[~outside].sum())
    accepted = _between(*acceptance.bounds, prior_mean + bias, math.hypot(sd, u))
    rejected = _outside(*acceptance.bounds, prior_mean + bias, math.hypot(sd, u))
    return Risks(
        conforming=_between(low, high, prior_mean, sd),
        accepted=accepted,
        false_accept=false_accept,
        false_reject=false_reject,
        false_accept_of_accepted=min(false_accept / accepted, 1.0) if accepted > 0 else None,
        false_reject_of_rejected=min(false_reject / rejected, 1.0) if rejected > 0 else None,
        acceptance=acceptance,
    )


def guard_band_for(
    risk: float, prior_mean: float, prior_sd: float, u: float, tolerance: Tolerance, bias: float = 0.0
) -> float:
    """Return the smallest guard band, not below 0, that keeps the false accept risk to `risk`.

    Raises UnusableTolerance when no guard band within the tolerance does.
    """
    from scipy.optimize import brentq

    _chance("risk", risk)

    def excess(guard: float) -> float:
        return global_risks(prior_mean, prior_sd, u, tolerance, guard, bias).false_accept - risk

    if excess(0.0) <= 0:
        return 0.0
    widest = 12 * u + abs(bias)
    if tolerance.width is not None:
        widest = min(widest, NARROWEST * tolerance.width / 2)
    if excess(widest) > 0:
        raise UnusableTolerance(
            f"no guard band keeps the false accept risk to {risk:g}; "
            "measure better or choose another tolerance"
        )
    return float(brentq(excess, 0.0, widest, xtol=1e-9 * u))


def averaged(random_sd: float, remaining: float, readings: int) -> float:
    """Return the uncertainty of a mean of repeated readings of one position.

    `random_sd` falls with the root of the number; `remaining` (bias, interpolation habit, instrument) does
    not fall at all, however many readings are taken.
    """
    if readings < 1:
        raise UnusableTolerance(f"{readings} readings asked for; at least 1 is needed")
    _not_negative("random spread", random_sd)
    return math.hypot(random_sd / math.sqrt(readings), _not_negative("remaining part", remaining))


def readings_needed(random_sd: float, remaining: float, wanted: float) -> int | None:
    """Return how many readings to average for a wanted uncertainty; None when no number does."""
    _not_negative("random spread", random_sd)
    if _positive("wanted uncertainty", wanted) <= _not_negative("remaining part", remaining):
        return 1 if random_sd == 0 and wanted == remaining else None
    count = max(1, math.ceil(random_sd**2 / (wanted**2 - remaining**2) * (1 - 1e-12)))
    return count if count <= 10**6 else None


def _quadrature(
    mean: float, sd: float, limits: tuple[float, ...], u: float, bias: float
) -> tuple[Floats, Floats]:
    """Return points and weights that integrate over a normal production.

    Gauss and Legendre's rule on panels that end at every limit, are at most 2 standard deviations wide, and
    at most 2 u wide where the measurement decides: exact to some 1e-14, with nothing to converge or to warn.
    """
    start, end = mean - WIDE * sd, mean + WIDE * sd
    steps = np.arange(-WIDE, WIDE + 1, 2.0)
    finite = np.array([limit for limit in limits if math.isfinite(limit)])
    bends = ((finite - bias)[:, None] + u * steps[None, :]).ravel()
    edges = np.unique(np.concatenate([mean + sd * steps, bends, finite]))
    edges = edges[(edges >= start) & (edges <= end)]
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    half, middle = np.diff(edges) / 2, (edges[1:] + edges[:-1]) / 2
    x = (middle[:, None] + half[:, None] * nodes).ravel()
    density = np.exp(-0.5 * ((x - mean) / sd) ** 2) / (sd * math.sqrt(2 * math.pi))
    return x, density * (half[:, None] * weights).ravel()


def _shares(x: Floats, acceptance: Tolerance, u: float) -> tuple[Floats, Floats]:
    """Return the chances that items measured about x are accepted, and rejected."""
    from scipy.special import ndtr

    low, high = acceptance.bounds
    below, above = ndtr((low - x) / u), ndtr((x - high) / u)
    # from the nearer side, so that small chances keep their digits
    inside = np.where(x < low, ndtr((x - low) / u) - above, ndtr((high - x) / u) - below)
    return np.maximum(inside, 0.0), below + above


def _below(x: float, mean: float, sd: float) -> float:
    return 0.5 * math.erfc(-(x - mean) / (sd * math.sqrt(2)))


def _between(low: float, high: float, mean: float, sd: float) -> float:
    if low > mean:  # the far tail: by symmetry, so that small differences keep their digits
        low, high, mean = -high, -low, -mean
    return max(_below(high, mean, sd) - _below(low, mean, sd), 0.0)


def _outside(low: float, high: float, mean: float, sd: float) -> float:
    return _below(low, mean, sd) + _below(-high, -mean, sd)


def _finite(name: str, value: float) -> float:
    if not math.isfinite(value):
        raise UnusableTolerance(f"the {name} is {value}; a finite number is needed")
    return value


def _positive(name: str, value: float) -> float:
    if not 0 < value < math.inf:
        raise UnusableTolerance(f"the {name} is {value}; it must be above 0")
    return value


def _not_negative(name: str, value: float) -> float:
    if not 0 <= value < math.inf:
        raise UnusableTolerance(f"the {name} is {value}; it cannot be negative or without end")
    return value


def _chance(name: str, value: float) -> float:
    if not 0 < value < 1:
        raise UnusableTolerance(f"the {name} is {value}; give a number between 0 and 1")
    return value
