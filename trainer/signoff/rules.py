"""The numbers that a criterion turns into: quantiles, points, looks; one place, one source each.

The block plan with one block a session, as measured in docs/methods/signoff.md. Bounds are narrower than
the confidence by a fixed factor, so that looking after every block keeps the risk.
"""

import math
from dataclasses import dataclass

from trainer.signoff.criterion import Criterion

BIAS_SHARE = 5.0  # a bias bound has a fifth of the risk: 99 % for a criterion at 95 %
SPREAD_SHARE = 10.0  # a spread bound a tenth: 99.5 %
BETTER = 10.0  # misreads: Wald's ratio of a tenth of the limiting rate to that rate (Wald 1945)
WORSE = 3.0  # shown to fail: the ratio of three times the limiting rate to that rate ...
WORSE_RATIO = 60.0  # ... reaching 60; at most 1/60 of people at the limit ever get there (Ville 1939)
HOPELESS_RATIO = 20.0  # points out of reach end an attempt when the limit is so much likelier than its triple
FAIL_CONFIDENCE = 0.9985  # one-sided, of the spread's lower bound
BIAS_FAIL_CONFIDENCE = 0.997  # one-sided, of both of the bias's lower bounds
DRIFT_TENTHS = 0.2  # the day-to-day drift that the fail rule expects, with the weight of ...
DRIFT_WEIGHT = 8.0  # ... so many degrees of freedom; both chosen in the simulation study
FAIL_FROM_BLOCKS = 2  # nobody is shown to fail before two blocks


@dataclass(frozen=True, slots=True)
class Points:
    """Shows a rate below `rate`: each clean one counts 1, each bad one costs `penalty`, `needed` shows it.

    Wald's likelihood ratio in whole points; by Ville's inequality its risk holds at any schedule of looks.
    """

    rate: float
    penalty: int
    needed: int

    @classmethod
    def of(cls, rate: float, confidence: float) -> "Points":
        """Return the rule for a limiting rate.

        >>> Points.of(0.05, 0.95)
        Points(rate=0.05, penalty=50, needed=65)
        """
        clean = math.log((1 - rate / BETTER) / (1 - rate))
        return cls(rate, math.ceil(math.log(BETTER) / clean), math.ceil(-math.log(1 - confidence) / clean))

    @property
    def fail_weights(self) -> tuple[float, float, float]:
        """Return what a clean and a bad one add to the logarithm of the ratio, and where it shows to fail."""
        worse = min(WORSE * self.rate, 0.5 + self.rate / 2)
        return (
            math.log((1 - worse) / (1 - self.rate)),
            math.log(worse / self.rate),
            math.log(WORSE_RATIO),
        )


@dataclass(frozen=True, slots=True)
class Rules:
    """A criterion in numbers. Limits in tenths; confidences are one-sided."""

    bias_tenths: float
    spread_tenths: float
    misreads: Points | None
    judgement: Points | None
    rejects: Points | None
    pace: Points | None
    bias_confidence: float
    spread_confidence: float
    sittings: int
    block: int
    first_look: int
    most: int
    windows: tuple[float, float, float] | None = None  # judging: inside up to, outside from, and to

    @property
    def judges(self) -> bool:
        """Return whether they are of judging in or out, and not of readings."""
        return self.judgement is not None

    @classmethod
    def of(cls, criterion: Criterion) -> "Rules":
        """Return the numbers of a criterion."""
        risk = 1 - criterion.confidence
        block = criterion.readings_a_session
        misreads = None if criterion.judges else Points.of(criterion.misread_rate, criterion.confidence)
        sittings = criterion.sittings_at_least
        return cls(
            bias_tenths=criterion.bias_tenths,
            spread_tenths=criterion.spread_tenths,
            misreads=misreads,
            judgement=_points(criterion.false_accept_rate, criterion.confidence),
            rejects=_points(criterion.false_reject_rate, criterion.confidence),
            pace=_points(criterion.slow_rate, criterion.confidence),
            bias_confidence=1 - risk / BIAS_SHARE,
            spread_confidence=1 - risk / SPREAD_SHARE,
            sittings=sittings,
            block=block,
            first_look=block * max(sittings, math.ceil((misreads.needed if misreads else 0) / block)),
            most=criterion.readings_at_most,
            windows=_windows(criterion),
        )


def _points(rate: float | None, confidence: float) -> Points | None:
    return None if rate is None else Points.of(rate, confidence)


def _windows(criterion: Criterion) -> tuple[float, float, float] | None:
    if criterion.offset_tenths is None or criterion.inside_tenths is None:
        return None
    return (criterion.inside_tenths, *criterion.offset_tenths)
