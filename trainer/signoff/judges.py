"""Simulated judges: people whose rates of wrong judgements are known, for showing what a rule costs.

The chance of accepting an offset x is lapse + (1 - 2 lapse) Phi((threshold - x) / width), the curve of
`trainer.practice.threshold`. Simulated judges only; no figure here comes from people.
"""

from dataclasses import dataclass

import numpy as np

from trainer.scoring.errors import Floats
from trainer.signoff.bounds import Totals
from trainer.signoff.rules import Rules

WIDTH_SHARE = 0.2  # of the tolerance: the width that the drill expects of people
FINE = 400  # steps in which a window is averaged


@dataclass(frozen=True, slots=True)
class Judge:
    """A simulated person: accepts below `threshold_tenths`, less surely within `width_tenths` of it."""

    threshold_tenths: float
    width_tenths: float
    lapse: float = 0.0

    def accepts(self, size_tenths: Floats) -> Floats:
        """Return the chance of judging offsets of these sizes to be within."""
        from scipy.special import ndtr

        sure = ndtr((self.threshold_tenths - size_tenths) / self.width_tenths)
        return np.asarray(self.lapse + (1 - 2 * self.lapse) * sure)


def rates(judge: Judge, rules: Rules) -> tuple[float, float]:
    """Return the true rates of false accepts and of false rejects over the windows that count."""
    inside, low, high = _windows(rules)
    step = (np.arange(FINE) + 0.5) / FINE
    accepts = float(judge.accepts(low + (high - low) * step).mean())
    return accepts, 1 - float(judge.accepts(inside * step).mean())


def with_rate(rules: Rules, tolerance_tenths: float, rate: float, *, accepts: bool) -> Judge:
    """Return the judge whose threshold gives this rate of false accepts (else of false rejects)."""
    width = WIDTH_SHARE * tolerance_tenths
    low, high = -8 * width, _windows(rules)[2] + 8 * width
    for _ in range(60):
        middle = (low + high) / 2
        found = rates(Judge(middle, width), rules)[0 if accepts else 1]
        too_high = (found > rate) if accepts else (found < rate)
        low, high = (low, middle) if too_high else (middle, high)
    return Judge((low + high) / 2, width)


def typical_judges(rules: Rules, tolerance_tenths: float) -> list[tuple[str, Judge, bool]]:
    """Return the judges of a cost table: name, judge, whether at a limit."""
    assert rules.judgement is not None
    assert rules.rejects is not None
    width, accepts, rejects = WIDTH_SHARE * tolerance_tenths, rules.judgement.rate, rules.rejects.rate
    return [
        ("good", Judge(tolerance_tenths, width, 0.002), False),
        ("middling", with_rate(rules, tolerance_tenths, 0.2 * accepts, accepts=True), False),
        ("poor", with_rate(rules, tolerance_tenths, 3 * accepts, accepts=True), False),
        ("at the false accept limit", with_rate(rules, tolerance_tenths, accepts, accepts=True), True),
        ("at the false reject limit", with_rate(rules, tolerance_tenths, rejects, accepts=False), True),
        ("rejects everything", Judge(-100.0, width), False),
    ]


def simulated_judgements(
    judge: Judge, rules: Rules, people: int, sittings: int, chance: np.random.Generator
) -> Totals:
    """Return the running totals of many people after every sitting, shape (people, sittings).

    Offsets are dealt as the drill deals them: one in each of as many equal steps up to the range.
    """
    inside, low, high = _windows(rules)
    shape = (people, sittings)
    counts = np.zeros((4, *shape))  # judged, false accepts, inside, false rejects
    for step in range(rules.block):  # the order within a sitting does not matter: looks are at its end
        size = high * (step + chance.random(shape)) / rules.block
        said_in = chance.random(shape) < judge.accepts(size)
        outside, well = size >= low, size <= inside
        counts += np.stack([outside, outside & said_in, well, well & ~said_in])
    judged, false_accepts, within, false_rejects = np.cumsum(counts, axis=-1)
    nought = np.zeros(shape)
    sitting = np.broadcast_to(np.arange(1.0, sittings + 1), shape)
    return Totals(
        clean=nought,
        powers=(nought, nought, nought, nought),
        misreads=nought,
        sittings=sitting,
        means=nought,
        means_squared=nought,
        judged=judged,
        false_accepts=false_accepts,
        slow=nought,
        judgements=rules.block * sitting,
        inside=within,
        false_rejects=false_rejects,
    )


def _windows(rules: Rules) -> tuple[float, float, float]:
    assert rules.windows is not None  # the rules of a criterion that judges
    return rules.windows
