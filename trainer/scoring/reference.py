"""A score against a real reference: its part taken out of the spread and put into the bias's interval.

The reference's resolution scatters from setting to setting, so it is inside the observed spread and can be
taken out. Its zero and its accuracy are common to all settings, so they widen the interval of the bias.
"""

import math
from dataclasses import dataclass
from typing import Any

from trainer.scoring.intervals import CONFIDENCE, Interval, t_quantile
from trainer.scoring.person import PersonScore
from trainer.scoring.uncertainty import coverage_factor
from trainer.scoring.words import tell

TENFOLD = 10.0  # a reference should beat the reader tenfold (common practice, no source)
LEAST_RATIO = 4.0  # below this the reference is a large part of what is measured (common practice, no source)


@dataclass(frozen=True, slots=True)
class ReferenceUncertainty:
    """Standard uncertainties of a reference, in tenths of the instrument's division.

    `step_tenths` is its resolution; `accuracy_tenths` the half-width of its limits of error; `zero_u_tenths`
    and `zero_df` come from repeated observations of its zero.
    """

    step_tenths: float
    accuracy_tenths: float = 0.0
    zero_u_tenths: float = 0.0
    zero_df: float | None = None

    @property
    def resolution_u_tenths(self) -> float:
        """Return step / sqrt(12) (JCGM 100:2008, F.2.2.1)."""
        return self.step_tenths / math.sqrt(12)

    @property
    def accuracy_u_tenths(self) -> float:
        """Return the half-width over sqrt(3), a rectangular distribution (JCGM 100:2008, 4.3.7)."""
        return self.accuracy_tenths / math.sqrt(3)

    @property
    def zero_resolution_u_tenths(self) -> float:
        """Return what the step leaves unknown of the zero, however often it is observed.

        Observations that hardly scatter are all rounded the same way: then it is step / sqrt(12). Normal
        scatter s averages rounding out by the factor exp(-2 (pi s / step)^2) (rounding as a quantiser with
        normal dither: Widrow 1956, from memory). docs/methods/transfer.md shows what happens without it.
        """
        if self.zero_df is None or self.step_tenths <= 0:
            return 0.0
        scatter = self.zero_u_tenths * math.sqrt(self.zero_df + 1)
        return self.resolution_u_tenths * math.exp(-2 * (math.pi * scatter / self.step_tenths) ** 2)

    @property
    def common(self) -> tuple[tuple[float, float], ...]:
        """Return the parts that all readings of a check share: (standard uncertainty, degrees of freedom)."""
        return (
            (self.zero_u_tenths, self.zero_df or math.inf),
            (self.zero_resolution_u_tenths, math.inf),
            (self.accuracy_u_tenths, math.inf),
        )

    @property
    def common_u_tenths(self) -> float:
        """Return the standard uncertainty that all readings of a check share."""
        return math.hypot(*(u for u, _ in self.common))

    @property
    def u_tenths(self) -> float:
        """Return the combined standard uncertainty of one reference value."""
        return math.hypot(self.resolution_u_tenths, self.common_u_tenths)

    def widened(self, u_tenths: float, df: float) -> tuple[float, float]:
        """Return a standard error widened by the common parts, and its degrees of freedom (G.4.1)."""
        parts = ((u_tenths, df), *self.common)
        whole = math.hypot(*(u for u, _ in parts))
        below = math.fsum(u**4 / of for u, of in parts if math.isfinite(of))
        return whole, whole**4 / below if below > 0 else math.inf


@dataclass(frozen=True, slots=True)
class BenchResult:
    """What a bench check says of a person.

    `observed_spread_tenths` still holds the reference's resolution; `spread_tenths` has it taken out, with
    an interval. `bias_tenths` carries the reference's zero and accuracy in its interval. `ratio` is the
    person's spread over the reference's uncertainty; `cautions` are sentences to be shown beside it.
    """

    readings: int
    misreads: int
    bias_tenths: Interval
    observed_spread_tenths: Interval
    spread_tenths: Interval
    reference: ReferenceUncertainty
    ratio: float | None
    cautions: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON."""
        return {
            "readings": self.readings,
            "misreads": self.misreads,
            "bias_tenths": self.bias_tenths.to_dict(),
            "observed_spread_tenths": self.observed_spread_tenths.to_dict(),
            "spread_tenths": self.spread_tenths.to_dict(),
            "reference_u_tenths": self.reference.u_tenths,
            "reference_resolution_u_tenths": self.reference.resolution_u_tenths,
            "ratio": self.ratio,
            "cautions": list(self.cautions),
        }


def bench_result(score: PersonScore, reference: ReferenceUncertainty) -> BenchResult:
    """Return a person's bias and spread with the reference's part accounted for."""
    observed = Interval(score.spread_tenths.value, score.spread_tenths.low, score.spread_tenths.high)
    removed = without(observed, reference.resolution_u_tenths)
    ratio = None
    if removed.value and reference.u_tenths > 0:
        ratio = removed.value / reference.u_tenths
    return BenchResult(
        readings=score.readings,
        misreads=score.misreads.total,
        bias_tenths=_bias(score, reference),
        observed_spread_tenths=observed,
        spread_tenths=removed,
        reference=reference,
        ratio=ratio,
        cautions=tuple(_cautions(removed, observed, reference, ratio)),
    )


def without(spread: Interval, u_tenths: float) -> Interval:
    """Return a spread with an independent part of standard deviation `u_tenths` taken out.

    Where the part is as large as what was observed, the value and the low end are 0: the person's own
    spread is then not distinguishable from 0 and could be up to the high end.
    """

    def take(value: float | None) -> float | None:
        return None if value is None else math.sqrt(max(0.0, value**2 - u_tenths**2))

    return Interval(take(spread.value), take(spread.low), take(spread.high))


def _bias(score: PersonScore, reference: ReferenceUncertainty) -> Interval:
    """Return the bias with the reference's common part in its interval (Welch-Satterthwaite degrees)."""
    value, spread, used = score.bias_tenths.value, score.spread_tenths.value, score.used
    if value is None or spread is None or used < 2 or score.bias_tenths.low is None:
        return score.bias_tenths
    own_u = (score.bias_tenths.high or value) - value
    own_u /= float(t_quantile(used - 1))
    combined, effective = reference.widened(own_u, used - 1.0)
    half = combined * coverage_factor(CONFIDENCE, effective)
    return Interval(value, value - half, value + half)


def _cautions(
    removed: Interval, observed: Interval, reference: ReferenceUncertainty, ratio: float | None
) -> list[str]:
    said: list[str] = []
    times = None if ratio is None else f"{math.floor(10 * ratio) / 10:.1f}"  # never rounded up to a limit
    wanted = f"{TENFOLD:.0f}"
    if observed.value is not None and removed.value == 0:
        said.append(tell("reference.step"))
    elif ratio is not None and ratio < LEAST_RATIO:
        said.append(tell("reference.poor", times=times, wanted=wanted))
    elif ratio is not None and ratio < TENFOLD:
        said.append(tell("reference.fair", times=times, wanted=wanted))
    if observed.value is not None and observed.low is None:
        said.append(tell("reference.few"))
    if reference.accuracy_tenths == 0:
        said.append(tell("reference.accuracy"))
    return said
