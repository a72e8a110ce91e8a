"""Placing offsets where they tell most about a person's threshold and width of judgement.

The chance of judging an offset of size x "out" is lapse + (1 - 2 lapse) Phi((x - threshold)/width). What is
known of the three is a weight for each node of a grid; the next offset is the one that leaves the least
entropy on average (QUEST+: A. B. Watson, Journal of Vision 17(3):10, 2017). The weights are for placing
only: what is told of a person is fitted afresh by `trainer.scoring.judgement`.
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
LAPSES = (0.002, 0.02, 0.06)
LAPSE_WEIGHTS = (0.5, 0.35, 0.15)  # three nodes for a prior like Beta(1, 40)
OFFSETS, THRESHOLDS, WIDTHS = 41, 41, 17  # nodes
WIDTH_PRIOR_SD = 1.0  # of the logarithm, as in the fit


@dataclass(frozen=True, eq=False)
class Grid:
    """Offsets that can be shown and curves that are thought possible.

    `says_out` has shape (offsets, nodes): the chance of the judgement "out"; `prior` has shape (nodes,).
    """

    offsets_tenths: Floats
    threshold: Floats
    log_width: Floats
    says_out: Floats
    prior: Floats
    says_log_says: Floats  # p log p + (1 - p) log(1 - p), the entropy of the judgement itself


@cache
def grid(tolerance_tenths: float, range_tenths: float) -> Grid:
    """Return the grid of a judge drill with this tolerance and largest offset.

    The threshold is expected at the tolerance, give or take half of it, and the width near a fifth of it.
    """
    offsets = np.linspace(0.0, range_tenths, OFFSETS)
    thresholds = np.linspace(0.0, range_tenths, THRESHOLDS)
    middle = math.log(tolerance_tenths / 5)
    widths = np.linspace(middle - 2.0, middle + 2.2, WIDTHS)
    t, w, lapse = (a.ravel() for a in np.meshgrid(thresholds, widths, LAPSES, indexing="ij"))
    z = (offsets[:, None] - t) / np.exp(w)
    out = lapse + (1 - 2 * lapse) * phi(z)
    prior = np.exp(
        -0.5 * ((t - tolerance_tenths) / (tolerance_tenths / 2)) ** 2
        - 0.5 * ((w - middle) / WIDTH_PRIOR_SD) ** 2
    )
    prior *= np.tile(LAPSE_WEIGHTS, THRESHOLDS * WIDTHS)
    entropy = out * np.log(out) + (1 - out) * np.log1p(-out)
    return Grid(offsets, t, w, out, prior / prior.sum(), entropy)


def phi(z: Floats) -> Floats:
    """Return the standard normal distribution function.

    >>> [round(float(p), 6) for p in phi(np.array([-1.959964, 0.0, 1.644854]))]
    [0.025, 0.5, 0.95]
    """
    erf = np.fromiter((math.erf(value) for value in (z / math.sqrt(2)).flat), np.float64, z.size)
    return np.asarray(0.5 * (1 + erf.reshape(z.shape)), dtype=np.float64)


def weights(known: Grid, offsets_tenths: ArrayLike, said_out: ArrayLike) -> Floats:
    """Return the weights of the nodes after trials; both arrays have shape (trials,)."""
    place = nearest(known, offsets_tenths)
    out = np.asarray(said_out, dtype=bool)
    says = known.says_out[place]
    log_weight = np.log(known.prior) + np.log(np.where(out[:, None], says, 1 - says)).sum(axis=0)
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum(), dtype=np.float64)


def nearest(known: Grid, offsets_tenths: ArrayLike) -> NDArray[np.intp]:
    """Return which offset of the grid is nearest to each size of offset, sign left aside."""
    sizes = np.abs(np.asarray(offsets_tenths, dtype=np.float64))
    step = known.offsets_tenths[1]
    return np.asarray(np.clip(np.rint(sizes / step), 0, len(known.offsets_tenths) - 1), dtype=np.intp)


def entropy_left(known: Grid, weight: Floats) -> Floats:
    """Return the entropy expected after one more trial at each offset, up to a constant of its own.

    `weight` has shape (..., nodes); the result has shape (..., offsets). With p the chance of "out" at a
    node, the entropy to come is that of now, less what the judgement tells: the entropy of the judgement
    as a whole less its mean over the nodes.
    """
    out = np.clip(weight @ known.says_out.T, 1e-12, 1 - 1e-12)
    of_judgement = -(out * np.log(out) + (1 - out) * np.log1p(-out))
    mean_at_nodes = -(weight @ known.says_log_says.T)
    return np.asarray(mean_at_nodes - of_judgement, dtype=np.float64)


def estimate(known: Grid, weight: Floats) -> tuple[Floats, Floats]:
    """Return the mean threshold and the mean log width; `weight` has shape (..., nodes)."""
    return weight @ known.threshold, weight @ known.log_width
