"""The smooth part of a reader: curves of error against position within a division, fitted to stacks.

Curves are proportion-judgement curves (cyclical power model, Hollands and Dyre, Psychol. Rev. 107 (2000)
500; equations from memory) or a constant with two harmonics. Positions f are shares of a division.
"""

from dataclasses import dataclass

import numpy as np

from trainer.scoring.errors import Floats
from trainer.scoring.stacks import Stack

ROUNDING_VARIANCE = 1 / 12  # tenths squared: uniform over one tenth, JCGM 100:2008, 4.3.7
NODES = 200  # intervals between the nodes of a binned sample
GAUSS_NEWTON_STEPS = 6
EXPONENTS = (0.2, 5.0)  # beyond these a curve is a step, not a judgement


def power_curve(share: Floats, exponent: Floats | float, cycles: int = 1) -> Floats:
    """Return the error, in shares of a division, of the cyclical power model with 1 or 2 cycles.

    One cycle: p^b / (p^b + (1-p)^b) - p; two cycles: the same within each half. Exponents above 1
    move readings towards 0, 1 (and the middle of two cycles), below 1 away from them.

    >>> power_curve(np.array([0.1, 0.5]), 0.8).round(5).tolist()
    [0.04707, 0.0]
    """
    part = np.asarray(share, float) * cycles
    whole = np.minimum(np.floor(part), cycles - 1)
    inside = part - whole
    return np.asarray((_judged(_logit(inside), exponent) - inside) / cycles)


def _logit(share: Floats) -> Floats:
    """Return ln(p / (1 - p)), held finite at 0 and 1."""
    p = np.clip(share, 1e-12, 1 - 1e-12)
    return np.asarray(np.log(p / (1 - p)), float)


def _judged(logit: Floats, exponent: Floats | float) -> Floats:
    """Return p^b / (p^b + (1-p)^b), which is the logistic function of b times the logit of p."""
    return np.asarray(1 / (1 + np.exp(-np.asarray(exponent) * logit)), float)


@dataclass(frozen=True, eq=False)
class Sample:
    """What a fit needs of the readings: weighted positions, and the sums of errors there.

    All of shape (people, places), but `squares` (people,): the sum of squared errors. Place by place the
    readings themselves (weight 1, or 0 in the padding), or nodes on which they were put (`binned`).
    """

    inside: Floats
    weight: Floats
    sums: Floats
    squares: Floats
    n: Floats

    def rss(self, curve: Floats) -> Floats:
        """Return the sum of squares left by a curve given at the places."""
        left = self.squares - 2 * _row_sums(self.sums, curve) + _row_sums(self.weight * curve, curve)
        return np.asarray(np.maximum(left, 0.0))


def _row_sums(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("ij,ij->i", a, b), float)


def readings(stack: Stack, target: Floats | None = None) -> Sample:
    """Return the sample whose places are the readings; `target` stands for the errors if given."""
    y = stack.error if target is None else np.where(stack.held, target, 0.0)
    return Sample(stack.inside, stack.held.astype(float), y, _row_sums(y, y), stack.n.astype(float))


def binned(stack: Stack) -> Sample:
    """Return the sample on 201 nodes, each reading shared between its two neighbours by distance.

    Sums of smooth functions over the readings are then those of their linear interpolation, with nodes
    a twentieth of a tenth apart: for a person with many readings a fraction of the work, and a
    statistic of digit preference within 0.02 of the one from the readings (tested).
    """
    people = len(stack.n)
    scaled = stack.inside * (NODES / 10)
    node = scaled.astype(np.int64)
    share = scaled - node
    flat = np.where(stack.held, np.arange(people)[:, None] * (NODES + 1) + node, people * (NODES + 1)).ravel()

    def put(upper: Floats, lower: Floats) -> Floats:
        length = people * (NODES + 1) + 2  # the last two take the padding
        low = np.bincount(flat, weights=lower.ravel(), minlength=length)[:-2]
        high = np.bincount(flat + 1, weights=upper.ravel(), minlength=length)[:-2]
        return np.asarray((low + high).reshape(people, NODES + 1))

    y = stack.error
    inside = np.broadcast_to(np.linspace(0, 10, NODES + 1), (people, NODES + 1))
    return Sample(
        inside, put(share, 1 - share), put(share * y, y - share * y), _row_sums(y, y), stack.n.astype(float)
    )


def harmonics(inside: Floats) -> Floats:
    """Return a constant and two harmonics of the position within the division, stacked on the last axis."""
    angle = inside * (2 * np.pi / 10)
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([np.ones_like(c), c, s, 2 * c * c - 1, 2 * s * c], axis=-1)


def fit_harmonics(sample: Sample) -> tuple[Floats, Floats]:
    """Return the least-squares curve at the places, and the residual sum of squares of each person."""
    x = harmonics(sample.inside)
    across = np.swapaxes(x, 1, 2)
    gram = np.matmul(across, x * sample.weight[..., None])
    terms = x.shape[-1]
    # a ridge of 1e-9 of the diagonal keeps a person with fewer positions than terms solvable
    ridge = 1e-9 * np.maximum(np.trace(gram, axis1=1, axis2=2) / terms, 1e-300)
    gram += np.eye(terms) * ridge[:, None, None]
    coefficients = np.linalg.solve(gram, np.matmul(across, sample.sums[..., None]))
    curve = np.matmul(x, coefficients)[..., 0]
    return curve, sample.rss(curve)


def fit_power(sample: Sample, cycles: int = 1) -> tuple[Floats, Floats, Floats, Floats]:
    """Return curve, residual sums of squares, constant (tenths) and exponent of the best power curve.

    Constant plus curve, by damped Gauss-Newton steps on the logarithm of the exponent.
    """
    w, sums, n = sample.weight, sample.sums, np.maximum(sample.n, 1)
    part = sample.inside / 10 * cycles
    inside = part - np.minimum(np.floor(part), cycles - 1)
    logit = _logit(inside)
    log_exponent = np.zeros(len(n))
    lowest, highest = np.log(EXPONENTS[0]), np.log(EXPONENTS[1])
    for _ in range(GAUSS_NEWTON_STEPS):
        exponent = np.exp(log_exponent)[:, None]
        judged = _judged(logit, exponent)
        curve = (judged - inside) * (10 / cycles)
        slope = judged * (1 - judged) * logit * (exponent * (10 / cycles))
        slope -= (_row_sums(w, slope) / n)[:, None]
        weighted = w * slope
        steepness = _row_sums(weighted, slope)
        gap = _row_sums(sums, slope) - _row_sums(weighted, curve)
        step = gap / np.where(steepness > 1e-12, steepness, np.inf)
        log_exponent = np.clip(log_exponent + np.clip(step, -0.7, 0.7), lowest, highest)
    curve = (_judged(logit, np.exp(log_exponent)[:, None]) - inside) * (10 / cycles)
    constant = (sums.sum(axis=1) - _row_sums(w, curve)) / n
    curve += constant[:, None]
    return curve, sample.rss(curve), constant, np.exp(log_exponent)
