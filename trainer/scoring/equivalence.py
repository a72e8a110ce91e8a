"""Are two biases the same for practical purposes? Two one-sided tests (Schuirmann 1987), TOST for short."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd


class UnusableEquivalence(Refusal):
    """The data cannot answer whether two things are equivalent."""


@dataclass(frozen=True, slots=True)
class Equivalence:
    """A difference judged against limits within which it does not matter.

    `low` and `high` bound the difference at 1 - 2 level; equivalent means that they lie inside the limits.
    """

    difference: float
    u: float
    df: float
    lower_limit: float
    upper_limit: float
    t_lower: float
    p_lower: float
    t_upper: float
    p_upper: float
    low: float
    high: float
    level: float

    @property
    def p_value(self) -> float:
        """The larger of the two one-sided p-values."""
        return max(self.p_lower, self.p_upper)

    @property
    def equivalent(self) -> bool:
        """Whether both one-sided tests reject at the level."""
        return self.p_value < self.level

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self) | {"p_value": self.p_value, "equivalent": self.equivalent}

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        return pd.DataFrame([self.to_dict()], dtype=object)


def from_difference(
    difference: float, u: float, df: float, lower: float, upper: float, level: float = 0.05
) -> Equivalence:
    """Judge a difference of standard error u and df degrees of freedom against lower < upper."""
    from scipy.special import stdtr, stdtrit

    if not all(map(math.isfinite, (difference, u, lower, upper))) or not lower < upper:
        raise UnusableEquivalence(f"the limits {lower} to {upper} need finite numbers, the lower one first")
    if not 0 < level < 0.5:
        raise UnusableEquivalence(f"the level is {level}; give one between 0 and 0.5")
    if not u > 0 or not df > 0:
        raise UnusableEquivalence("there is no spread to judge the difference by; more readings are needed")
    t_lower, t_upper = (difference - lower) / u, (difference - upper) / u
    half = float(stdtrit(df, 1 - level)) * u
    return Equivalence(
        difference, u, df, lower, upper,
        t_lower, float(stdtr(df, -t_lower)), t_upper, float(stdtr(df, t_upper)),
        difference - half, difference + half, level,
    )  # fmt: skip


def one_sample(
    mean: float, sd: float, n: int, lower: float, upper: float, *, reference: float = 0.0, level: float = 0.05
) -> Equivalence:
    """Judge a mean against a reference value."""
    _counts(n)
    return from_difference(mean - reference, sd / math.sqrt(n), n - 1, lower, upper, level)


def two_samples(
    means: tuple[float, float], sds: tuple[float, float], counts: tuple[int, int],
    lower: float, upper: float, *, pooled: bool = False, level: float = 0.05,
) -> Equivalence:  # fmt: skip
    """Judge the first mean less the second, of independent readings; Welch unless `pooled`."""
    _counts(*counts)
    (a, b), (n, m) = (s * s for s in sds), counts
    if pooled:
        variance = ((n - 1) * a + (m - 1) * b) / (n + m - 2)
        u, df = math.sqrt(variance * (1 / n + 1 / m)), float(n + m - 2)
    else:
        u, df = welch((a / n, n - 1), (b / m, m - 1))
    return from_difference(means[0] - means[1], u, df, lower, upper, level)


def paired(differences: Sequence[float], lower: float, upper: float, *, level: float = 0.05) -> Equivalence:
    """Judge the mean of differences taken on the same items."""
    _counts(len(differences))
    mean = math.fsum(differences) / len(differences)
    sd = math.sqrt(math.fsum((d - mean) ** 2 for d in differences) / (len(differences) - 1))
    return one_sample(mean, sd, len(differences), lower, upper, level=level)


def paired_summary(
    means: tuple[float, float], sds: tuple[float, float], correlation: float, n: int,
    lower: float, upper: float, *, level: float = 0.05,
) -> Equivalence:  # fmt: skip
    """Judge a mean of paired differences known by both means, spreads and their correlation."""
    if not -1 <= correlation <= 1:
        raise UnusableEquivalence(f"the correlation is {correlation}; give one from -1 to 1")
    sd = math.sqrt(sds[0] ** 2 + sds[1] ** 2 - 2 * correlation * sds[0] * sds[1])
    return one_sample(means[0] - means[1], sd, n, lower, upper, level=level)


def welch(first: tuple[float, float], second: tuple[float, float]) -> tuple[float, float]:
    """Return the standard error of a difference and its degrees of freedom, from two (variance, df)."""
    (a, df_a), (b, df_b) = first, second
    total = a + b
    if total <= 0:
        raise UnusableEquivalence("there is no spread to judge the difference by; more readings are needed")
    return math.sqrt(total), total**2 / (a * a / df_a + b * b / df_b)


def _counts(*counts: int) -> None:
    for n in counts:
        if n < 2:
            raise UnusableEquivalence(f"readings on one side: {n}; a spread needs at least 2")
