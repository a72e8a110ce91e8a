"""One-way analysis of variance: is there more between groups than the readings within them explain?"""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal
from trainer.scoring.decimals import as_integers, sum_of_squares

if TYPE_CHECKING:
    import pandas as pd


class UnusableGroups(Refusal):
    """The groups of readings cannot be compared."""


@dataclass(frozen=True, slots=True)
class OneWay:
    """The table of a one-way analysis; None where nothing remains within the groups to compare with."""

    between_df: int
    between_ss: float
    between_ms: float
    within_df: int
    within_ss: float
    within_ms: float
    f: float | None
    p_value: float | None
    r_squared: float | None
    residual_sd: float
    reason: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the customary table, one row a source of variation."""
        import pandas as pd

        rows = {
            "between": (self.between_df, self.between_ss, self.between_ms, self.f, self.p_value),
            "within": (self.within_df, self.within_ss, self.within_ms, None, None),
        }
        columns = ["df", "sum_of_squares", "mean_square", "f", "p_value"]
        return pd.DataFrame.from_dict(rows, orient="index", columns=columns, dtype=object)


def one_way(groups: Sequence[Sequence[float]]) -> OneWay:
    """Compare the means of two or more groups of readings; sums are exact in the decimals as typed.

    Raises UnusableGroups for fewer than two groups, an empty one, no second reading anywhere, or a value
    that is not finite. Meant for up to some ten thousands of readings.

    >>> one_way([[1.0, 2.0, 3.0], [2.0, 3.0, 4.0]]).f
    1.5
    """
    _check(groups)
    flat = [value for group in groups for value in group]
    integers, places = as_integers(flat)
    unit = Fraction(1, 10 ** (2 * places))
    within, start = Fraction(0), 0
    for group in groups:
        within += sum_of_squares(integers[start : start + len(group)])
        start += len(group)
    total = sum_of_squares(integers)
    between_df, within_df = len(groups) - 1, len(flat) - len(groups)
    between = (total - within) * unit
    within, total = within * unit, total * unit
    f = (between / between_df) / (within / within_df) if within else None
    return OneWay(
        between_df=between_df,
        between_ss=float(between),
        between_ms=float(between / between_df),
        within_df=within_df,
        within_ss=float(within),
        within_ms=float(within / within_df),
        f=None if f is None else float(f),
        p_value=None if f is None else _p_value(float(f), between_df, within_df),
        r_squared=float(between / total) if total else None,
        residual_sd=math.sqrt(within / within_df),
        reason=None if within else "the readings within each group are all equal",
    )


def _check(groups: Sequence[Sequence[float]]) -> None:
    if len(groups) < 2:
        raise UnusableGroups(f"groups given: {len(groups)}; a comparison needs at least 2")
    for number, group in enumerate(groups, start=1):
        if len(group) == 0:
            raise UnusableGroups(f"group {number} has no readings; leave it out")
        for value in group:
            if not math.isfinite(value):
                raise UnusableGroups(f"group {number} holds {value}; leave out what is not a finite number")
    if all(len(group) == 1 for group in groups):
        raise UnusableGroups("every group has one reading; at least one needs a second to show the spread")


def _p_value(f: float, between_df: int, within_df: int) -> float:
    from scipy.special import fdtrc

    return float(fdtrc(between_df, within_df, f))
