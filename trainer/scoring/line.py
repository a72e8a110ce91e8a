"""A straight line through pairs, with the uncertainty of its parts and predictions (JCGM 100, H.3)."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal
from trainer.scoring.decimals import as_integers, sum_of_products, sum_of_squares

if TYPE_CHECKING:
    import pandas as pd


class UnusablePairs(Refusal):
    """The pairs do not determine a line with an uncertainty."""


@dataclass(frozen=True, slots=True)
class Line:
    """y = intercept + slope * (x - origin), with standard uncertainties from the scatter about it."""

    pairs: int
    origin: float
    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    correlation: float
    residual_sd: float
    residual_ss: float
    regression_ss: float
    r_squared: float | None
    f: float | None

    @property
    def df(self) -> int:
        """Degrees of freedom of the scatter: pairs less two."""
        return self.pairs - 2

    def at(self, x: float) -> tuple[float, float]:
        """Return the line's value at x and its standard uncertainty (JCGM 100, H.3.4)."""
        step = x - self.origin
        value = self.intercept + self.slope * step
        cross = 2 * step * self.correlation * self.u_intercept * self.u_slope
        return value, math.sqrt(max(self.u_intercept**2 + (step * self.u_slope) ** 2 + cross, 0.0))

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return one row a parameter: estimate and standard uncertainty."""
        import pandas as pd

        rows = {"intercept": (self.intercept, self.u_intercept), "slope": (self.slope, self.u_slope)}
        return pd.DataFrame.from_dict(rows, orient="index", columns=["estimate", "standard_uncertainty"])


def fit(x: Sequence[float], y: Sequence[float], origin: float = 0.0) -> Line:
    """Fit by least squares; sums are exact in the decimals as typed, so no digit is lost.

    `origin` moves the zero of x, where the intercept is told (H.3 uses 20 degrees). Raises UnusablePairs
    for fewer than three pairs, values that are not finite, or x all equal.
    """
    _check(x, y)
    xs, x_places = as_integers(x)
    ys, y_places = as_integers(y)
    x_unit, y_unit = 10**x_places, 10**y_places
    sxx = sum_of_squares(xs) / x_unit**2
    syy = sum_of_squares(ys) / y_unit**2
    sxy = sum_of_products(xs, ys) / (x_unit * y_unit)
    count = len(xs)
    x_mean = Fraction(sum(xs), count * x_unit) - Fraction(repr(float(origin)))
    slope = sxy / sxx
    intercept = Fraction(sum(ys), count * y_unit) - slope * x_mean
    regression = slope * sxy
    residual = syy - regression
    variance = residual / (count - 2)
    of_intercept = Fraction(1, count) + x_mean * x_mean / sxx
    return Line(
        pairs=count,
        origin=float(origin),
        intercept=float(intercept),
        slope=float(slope),
        u_intercept=math.sqrt(variance * of_intercept),
        u_slope=math.sqrt(variance / sxx),
        correlation=float(-x_mean / sxx) / math.sqrt(of_intercept / sxx),
        residual_sd=math.sqrt(variance),
        residual_ss=float(residual),
        regression_ss=float(regression),
        r_squared=float(regression / syy) if syy else None,
        f=float(regression / variance) if variance else None,
    )


def _check(x: Sequence[float], y: Sequence[float]) -> None:
    if len(x) != len(y):
        raise UnusablePairs(f"{len(x)} values of x but {len(y)} of y; give them in pairs")
    if len(x) < 3:
        raise UnusablePairs(f"pairs given: {len(x)}; a line with an uncertainty needs at least 3")
    for value in (*x, *y):
        if not math.isfinite(value):
            raise UnusablePairs(f"a pair holds {value}; leave out what is not a finite number")
    if min(x) == max(x):
        raise UnusablePairs(f"every x is {x[0]}; a line needs at least two different ones")
