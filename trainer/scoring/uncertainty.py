"""Small pieces of an uncertainty statement (JCGM 100:2008): components, degrees of freedom, coverage."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd

NORMAL_COVERAGE = {1: 0.6826894921370859, 2: 0.9544997361036416, 3: 0.9973002039367398}  # erf(k / sqrt 2)


class UnusableUncertainty(Refusal):
    """A number given for an uncertainty cannot be one."""


@dataclass(frozen=True, slots=True)
class TypeA:
    """A mean of repeated readings: its standard uncertainty from their scatter (JCGM 100, 4.2)."""

    readings: int
    mean: float
    sd: float | None
    u: float | None
    df: int
    reason: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        return pd.DataFrame([asdict(self)], dtype=object)


def type_a(values: Sequence[float]) -> TypeA:
    """Evaluate repeated readings; with one reading the scatter is None, with the reason.

    >>> type_a([1.0, 2.0, 3.0]).sd
    1.0
    """
    if not values:
        raise UnusableUncertainty("no readings given; a mean needs at least 1")
    _finite("reading", *values)
    mean = math.fsum(values) / len(values)
    if len(values) == 1:
        return TypeA(1, mean, None, None, 0, "one reading shows no scatter; at least 2 are needed")
    sd = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (len(values) - 1))
    return TypeA(len(values), mean, sd, sd / math.sqrt(len(values)), len(values) - 1)


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of limits with nothing known between them: a/sqrt 3 (4.3.7)."""
    return _not_negative("half width", half_width) / math.sqrt(3)


def triangular(half_width: float) -> float:
    """Return the standard uncertainty of limits with the middle likeliest: a/sqrt 6 (4.3.9)."""
    return _not_negative("half width", half_width) / math.sqrt(6)


def arcsine(half_width: float) -> float:
    """Return the standard uncertainty of a cyclic variation of given amplitude: a/sqrt 2 (H.1.3.4)."""
    return _not_negative("half width", half_width) / math.sqrt(2)


def trapezoidal(half_width: float, top_ratio: float) -> float:
    """Return the standard uncertainty of a symmetric trapezoid: a sqrt((1 + beta^2)/6) (4.3.9)."""
    if not 0 <= top_ratio <= 1:
        raise UnusableUncertainty(f"the trapezoid's top is {top_ratio} of its base; give 0 to 1")
    return _not_negative("half width", half_width) * math.sqrt((1 + top_ratio**2) / 6)


def curvilinear(half_width: float, half_width_within: float) -> float:
    """Return the standard uncertainty of limits that are themselves known to within +-d (JCGM 101, 6.4.3)."""
    within = _not_negative("inexactness of the half width", half_width_within)
    if within > _not_negative("half width", half_width):
        raise UnusableUncertainty(f"the half width {half_width} is less than its own inexactness {within}")
    return math.sqrt(half_width**2 / 3 + within**2 / 9)


def resolution(step: float) -> float:
    """Return the standard uncertainty of a reading to the nearest step: step/sqrt 12 (F.2.2.1).

    Not to be added where the spread was observed on recorded readings: that spread contains it already.
    """
    return _not_negative("step", step) / math.sqrt(12)


def from_expanded(expanded: float, k: float) -> float:
    """Return the standard uncertainty behind an expanded one, as on a certificate (4.3.3)."""
    if not k > 0 or not math.isfinite(k):
        raise UnusableUncertainty(f"the coverage factor is {k}; it must be a number above 0")
    return _not_negative("expanded uncertainty", expanded) / k


def relative_u_of_sd(readings: int) -> float:
    """Return how well n readings know their own standard deviation: sqrt(1 - c4^2)/c4 (Table E.1)."""
    if readings < 2:
        raise UnusableUncertainty(f"{readings} readings have no standard deviation; at least 2 are needed")
    log_c4 = 0.5 * math.log(2 / (readings - 1)) + math.lgamma(readings / 2) - math.lgamma((readings - 1) / 2)
    return math.sqrt(math.expm1(-2 * log_c4))


def df_from_reliability(relative: float) -> float:
    """Return the degrees of freedom of an uncertainty itself known to within a fraction (G.4.2).

    >>> df_from_reliability(0.25)
    8.0
    """
    if not 0 < relative < math.inf:
        raise UnusableUncertainty(f"the relative inexactness is {relative}; it must be above 0")
    return 0.5 / relative**2


def combined(contributions: Sequence[float]) -> float:
    """Return the root sum of squares of independent contributions, already times their sensitivities."""
    return math.hypot(*(_not_negative("contribution", abs(c)) for c in contributions))


def welch_satterthwaite(contributions: Sequence[float], dfs: Sequence[float | None]) -> float | None:
    """Return the effective degrees of freedom (G.4.1), or None when they are without limit.

    `contributions` are standard uncertainties times sensitivities; a df of None or infinity is one taken as
    exactly known.
    """
    if len(contributions) != len(dfs):
        raise UnusableUncertainty(f"{len(contributions)} contributions but {len(dfs)} degrees of freedom")
    total = combined(contributions)
    if total == 0:
        return None
    shares = 0.0
    for contribution, df in zip(contributions, dfs, strict=True):
        if df is None or df == math.inf:
            continue
        if not df > 0:
            raise UnusableUncertainty(f"degrees of freedom are {df}; they must be above 0")
        shares += (contribution / total) ** 4 / df
    return 1 / shares if shares > 0 else None


def coverage_factor(probability: float = 0.95, df: float | None = None) -> float:
    """Return the two-sided factor of Student's t, or of the normal when df is None (Table G.2).

    >>> round(coverage_factor(0.95, 19), 2)
    2.09
    """
    from scipy.special import ndtri, stdtrit

    if not 0 < probability < 1:
        raise UnusableUncertainty(f"the coverage probability is {probability}; give one between 0 and 1")
    upper = 0.5 + probability / 2
    if df is None or df == math.inf:
        return float(ndtri(upper))
    if not df > 0:
        raise UnusableUncertainty(f"degrees of freedom are {df}; they must be above 0")
    return float(stdtrit(df, upper))


def whole_df(df: float | None) -> int | None:
    """Return degrees of freedom cut down to a whole number, never below 1 (G.4.1, Note 1)."""
    return None if df is None or df == math.inf else max(1, math.floor(df))


def _not_negative(name: str, value: float) -> float:
    if not 0 <= value < math.inf:
        raise UnusableUncertainty(f"the {name} is {value}; it must be a number that is not negative")
    return value


def _finite(name: str, *values: float) -> None:
    for value in values:
        if not math.isfinite(value):
            raise UnusableUncertainty(f"a {name} is {value}; leave out what is not a finite number")
