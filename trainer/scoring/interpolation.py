"""The smooth part of a reader: curves of error against position within a division, fitted to stacks.

Curves are proportion-judgement curves (cyclical power model, Hollands and Dyre, Psychol. Rev. 107 (2000)
500; equations from memory) or a constant with two harmonics. Positions f are shares of a division.
"""

import numpy as np

from trainer.scoring.errors import Floats
from trainer.scoring.stacks import Stack

ROUNDING_VARIANCE = 1 / 12  # tenths squared: uniform over one tenth, JCGM 100:2008, 4.3.7
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


def harmonics(inside: Floats) -> Floats:
    """Return a constant and two harmonics of the position within the division, stacked on the last axis."""
    angle = inside * (2 * np.pi / 10)
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([np.ones_like(c), c, s, 2 * c * c - 1, 2 * s * c], axis=-1)


def fit_harmonics(stack: Stack, target: Floats | None = None) -> tuple[Floats, Floats]:
    """Return the least-squares curve (people, longest) and residual sums of squares (people,)."""
    y = stack.error if target is None else target
    x = harmonics(stack.inside) * stack.held[..., None]
    coefficients = solve_least_squares(x, np.where(stack.held, y, 0.0))
    curve = np.matmul(x, coefficients[..., None])[..., 0]
    return curve, (np.where(stack.held, y - curve, 0.0) ** 2).sum(axis=1)


def solve_least_squares(x: Floats, y: Floats) -> Floats:
    """Return the coefficients of one regression a person; x (people, readings, terms), y (people, readings).

    A ridge of 1e-9 of the diagonal keeps a person with fewer positions than terms solvable.
    """
    across = np.swapaxes(x, 1, 2)
    gram = np.matmul(across, x)
    terms = x.shape[-1]
    scale = np.trace(gram, axis1=1, axis2=2) / terms
    gram = gram + np.eye(terms) * (1e-9 * np.maximum(scale, 1e-300))[:, None, None]
    return np.asarray(np.linalg.solve(gram, np.matmul(across, y[..., None]))[..., 0], float)


def fit_power(
    stack: Stack, cycles: int = 1, target: Floats | None = None
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return curve, residual sums of squares, constant (tenths) and exponent of the best power curve.

    Constant plus curve, by damped Gauss-Newton steps on the logarithm of the exponent.
    """
    y = np.where(stack.held, stack.error if target is None else target, 0.0)
    n = np.maximum(stack.n, 1)[:, None]
    part = stack.inside / 10 * cycles
    inside = part - np.minimum(np.floor(part), cycles - 1)
    logit = _logit(inside)
    log_exponent = np.zeros(len(stack.n))
    lowest, highest = np.log(EXPONENTS[0]), np.log(EXPONENTS[1])
    for _ in range(6):
        judged = _judged(logit, np.exp(log_exponent)[:, None])
        curve = np.where(stack.held, (judged - inside) * (10 / cycles), 0.0)
        slope = np.where(stack.held, judged * (1 - judged) * logit, 0.0)
        slope *= np.exp(log_exponent)[:, None] * (10 / cycles)
        slope -= np.where(stack.held, slope.sum(axis=1, keepdims=True) / n, 0.0)
        gap = y - curve
        steepness = (slope**2).sum(axis=1)
        step = (slope * gap).sum(axis=1) / np.where(steepness > 1e-12, steepness, np.inf)
        log_exponent = np.clip(log_exponent + np.clip(step, -0.7, 0.7), lowest, highest)
    judged = _judged(logit, np.exp(log_exponent)[:, None])
    curve = np.where(stack.held, (judged - inside) * (10 / cycles), 0.0)
    constant = (y - curve).sum(axis=1, keepdims=True) / n
    curve = np.where(stack.held, curve + constant, 0.0)
    return curve, ((y - curve) ** 2).sum(axis=1), constant[:, 0], np.exp(log_exponent)
