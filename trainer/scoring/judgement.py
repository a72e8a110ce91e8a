"""How finely and how fairly a person judges line overlap: threshold, width and lapses.

Offsets are in tenths of a division from the limit, positive beyond it; a judgement says "beyond" or not.
The chance of saying so is lapse + (1 - 2 lapse) Phi((offset - threshold)/width). Fitted over a grid with a
prior that allows lapses (Beta(1, 40)), since a curve that forbids them misstates the width badly: coverage in
docs/methods/judgement.md (after Kuss et al. 2005 and Schuett et al. 2016).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from trainer.scoring.intervals import Interval, as_table
from trainer.scoring.psychometric import UnusableJudgements
from trainer.scoring.words import tell

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]
FEWEST = 20  # trials for a threshold; below, the prior speaks louder than the person (our convention)
FEWEST_FOR_WIDTH = 100  # below, a width is not worth telling (simulation, docs/methods/judgement.md)
LAPSE_PRIOR = 40.0  # Beta(1, 40): most people lapse in fewer than 5 % of trials
WIDTH_PRIOR_SD = 1.0  # of the natural logarithm of the width: a factor of about 2.7 either way
MOST_LAPSE = 0.25
MOST_LEVELS = 1000  # different offsets; more only cost time
NODES = 40  # of the quadrature over a production


@dataclass(frozen=True, eq=False)
class Posterior:
    """What is known after the trials: weights, adding up to 1, over threshold, log width and lapse."""

    threshold: Floats  # (a,)
    log_width: Floats  # (b,)
    lapse: Floats  # (c,)
    weight: Floats  # (a, b, c)

    @cached_property
    def pairs(self) -> Floats:
        """The weights summed over lapses, shape (a, b)."""
        total: Floats = self.weight.sum(axis=2)
        return total


@dataclass(frozen=True)
class Judgement:
    """One person's curve. `width` is None below 100 trials, everything when it cannot be had, with reasons.

    `threshold_tenths` is where the person starts to say "beyond" half the time: positive means that parts
    somewhat outside still pass. Intervals hold 95 %.
    """

    trials: int
    threshold_tenths: Interval | None
    width_tenths: Interval | None
    lapse: Interval | None
    reasons: Mapping[str, str]
    posterior: Posterior | None = field(default=None, repr=False, compare=False)

    def chance_beyond(self, offsets: npt.ArrayLike) -> tuple[Floats, Floats, Floats]:
        """Return the chance of saying "beyond" at offsets: expected, and the ends of its 95 % interval."""
        post = self._known()
        at = np.atleast_1d(np.asarray(offsets, dtype=np.float64))
        width = np.exp(post.log_width)
        middle, low, high = (np.empty(len(at)) for _ in range(3))
        for i, x in enumerate(at):
            curve = _phi((x - post.threshold[:, None]) / width[None, :])
            chance = post.lapse + (1 - 2 * post.lapse) * curve[:, :, None]
            middle[i], low[i], high[i] = _spread_of(chance, post.weight)
        return middle, low, high

    def wrong_at(self, offset: float) -> Interval:
        """Return the chance of the wrong decision at an offset: accepted beyond, rejected within."""
        middle, low, high = (float(v[0]) for v in self.chance_beyond(offset))
        return Interval(1 - middle, 1 - high, 1 - low) if offset > 0 else Interval(middle, low, high)

    def decision_risks(self, offset_mean: float, offset_sd: float) -> "DecisionRisks":
        """Return the risks over items whose offsets from the limit are normal with this mean and spread."""
        post = self._known()
        if not (math.isfinite(offset_mean) and 0 < offset_sd < math.inf):
            raise UnusableJudgements(f"offsets of mean {offset_mean} and spread {offset_sd} are not possible")
        outside = float(_phi(np.array(offset_mean / offset_sd)))
        said = _mean_said(post, offset_mean, offset_sd)
        wrong_pass = outside * (1 - post.lapse) - (1 - 2 * post.lapse) * said[0][:, :, None]
        wrong_stop = (1 - outside) * post.lapse + (1 - 2 * post.lapse) * said[1][:, :, None]
        return DecisionRisks(
            outside=outside,
            false_accept=Interval(*_spread_of(wrong_pass, post.weight)),
            false_reject=Interval(*_spread_of(wrong_stop, post.weight)),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON; without the grid."""
        shown = {
            "threshold_tenths": self.threshold_tenths,
            "width_tenths": self.width_tenths,
            "lapse": self.lapse,
        }
        ends = {name: i.to_dict() if i else None for name, i in shown.items()}
        return {"trials": self.trials, **ends, "reasons": dict(self.reasons)}

    def summary(self) -> "pd.DataFrame":
        """Return one row a parameter: value, interval and the reason where one is missing."""
        names = ("threshold_tenths", "width_tenths", "lapse")
        return as_table({name: getattr(self, name) for name in names}, self.reasons)

    def _known(self) -> Posterior:
        if self.posterior is None:
            raise UnusableJudgements(next(iter(self.reasons.values()), "no curve was fitted"))
        return self.posterior


@dataclass(frozen=True, slots=True)
class DecisionRisks:
    """Risks of one person's decisions over a production: shares of all items, with 95 % intervals."""

    outside: float
    false_accept: Interval
    false_reject: Interval

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        both = {"false_accept": self.false_accept.to_dict(), "false_reject": self.false_reject.to_dict()}
        return {"outside": self.outside, **both}

    def summary(self) -> "pd.DataFrame":
        """Return one row a risk: value and interval."""
        import pandas as pd

        rows = {name: self.to_dict()[name] for name in ("false_accept", "false_reject")}
        return pd.DataFrame.from_dict(rows, orient="index")


def fit(
    offsets_tenths: npt.ArrayLike, said_beyond: npt.ArrayLike, width_guess: float | None = None
) -> Judgement:
    """Fit one person's curve to trials (arrays of shape (trials,)).

    `width_guess` is the middle of the prior of the width, in tenths; unless given, a fifth of the range
    shown. Raises UnusableJudgements for offsets that are not finite or of another length.
    """
    x, said = np.asarray(offsets_tenths, dtype=np.float64), np.asarray(said_beyond)
    if x.ndim != 1 or x.shape != said.shape:
        raise UnusableJudgements(
            f"{x.size} offsets but {said.size} judgements; one of each a trial is needed"
        )
    if not np.isfinite(x).all():
        raise UnusableJudgements("an offset is not a finite number; leave that trial out")
    if said.dtype != np.bool_ and not np.isin(said, (0, 1)).all():
        raise UnusableJudgements("judgements must be yes or no (true or false, 1 or 0)")
    if width_guess is not None and not 0 < width_guess < math.inf:
        raise UnusableJudgements(f"the width guess is {width_guess}; it must be above 0")
    said = said.astype(bool)
    reason = _too_little(x, said)
    if reason:
        return Judgement(
            len(x), None, None, None, dict.fromkeys(("threshold_tenths", "width_tenths", "lapse"), reason)
        )
    post = _posterior(x, said, width_guess or (x.max() - x.min()) / 5)
    reasons = {}
    width: Interval | None = None
    if len(x) < FEWEST_FOR_WIDTH:
        reasons["width_tenths"] = tell("why.width", n=len(x), fewest=FEWEST_FOR_WIDTH)
    else:
        of_log = _marginal(post.log_width, post.pairs.sum(axis=0))
        width = Interval(*(math.exp(v) for v in of_log))
    return Judgement(
        trials=len(x),
        threshold_tenths=Interval(*_marginal(post.threshold, post.pairs.sum(axis=1))),
        width_tenths=width,
        lapse=Interval(*_marginal(post.lapse, post.weight.sum(axis=(0, 1)), 0.0)),
        reasons=reasons,
        posterior=post,
    )


def _too_little(x: Floats, said: npt.NDArray[np.bool_]) -> str | None:
    if len(x) < FEWEST:
        return tell("why.trials.one" if len(x) == 1 else "why.trials", n=len(x), fewest=FEWEST)
    if said.all() or not said.any():
        return tell("why.beyond" if said.all() else "why.within")
    if x.min() == x.max():
        return tell("why.same-offset")
    return None


def _posterior(x: Floats, said: npt.NDArray[np.bool_], width_guess: float) -> Posterior:
    """Return the posterior on a grid, first coarse, then fine where there is weight."""
    levels, place = _levels(x)
    hits = np.bincount(place, said, len(levels)).astype(np.float64)
    misses = np.bincount(place, ~said, len(levels)).astype(np.float64)
    span = float(levels[-1] - levels[0])
    middle = math.log(width_guess)
    root = (np.arange(15) + 0.5) / 15  # finer near no lapses: lapse = most * root^2
    lapse = MOST_LAPSE * root**2
    log_prior = (LAPSE_PRIOR - 1) * np.log1p(-lapse) + np.log(
        root
    )  # Beta(1, 40) times the spacing of the nodes
    threshold = np.linspace(levels[0] - span / 2, levels[-1] + span / 2, 41)
    log_width = np.linspace(middle - 4, middle + 3, 36)
    for fineness in (0, 1, 2):
        weight = _weights(levels, hits, misses, threshold, log_width, lapse)
        weight += log_prior - 0.5 * ((log_width[:, None] - middle) / WIDTH_PRIOR_SD) ** 2
        weight = np.exp(weight - weight.max())
        weight /= weight.sum()
        if fineness < 2:
            size = (41, 31) if fineness == 0 else (61, 51)
            threshold = _zoom(threshold, weight.sum(axis=(1, 2)), size[0])
            log_width = _zoom(log_width, weight.sum(axis=(0, 2)), size[1])
    return Posterior(threshold, log_width, lapse, weight)


def _levels(x: Floats) -> tuple[Floats, npt.NDArray[np.int64]]:
    """Return the different offsets and each trial's place among them; very many are drawn together.

    A thousandth of the range is far narrower than any width that so many trials could tell.
    """
    levels, place = np.unique(x, return_inverse=True)
    if len(levels) <= MOST_LEVELS:
        return levels, place
    part = (x - levels[0]) / (levels[-1] - levels[0]) * MOST_LEVELS
    _, place = np.unique(np.floor(part), return_inverse=True)
    return np.bincount(place, x) / np.bincount(place), place


def _weights(
    levels: Floats, hits: Floats, misses: Floats, threshold: Floats, log_width: Floats, lapse: Floats
) -> Floats:
    """Return the log likelihood, shape (thresholds, widths, lapses)."""
    z = (levels[None, None, :] - threshold[:, None, None]) / np.exp(log_width)[None, :, None]
    curve = _phi(z)
    total = np.empty((len(threshold), len(log_width), len(lapse)))
    for i, rate in enumerate(lapse):
        beyond = rate + (1 - 2 * rate) * curve
        total[:, :, i] = np.log(beyond) @ hits + np.log1p(-beyond) @ misses
    return total


def _zoom(grid: Floats, marginal: Floats, points: int) -> Floats:
    """Return a finer grid over the part that holds all but a hundred-thousandth of the weight."""
    kept = np.nonzero(marginal > 1e-5 * marginal.max())[0]
    low, high = max(kept[0] - 1, 0), min(kept[-1] + 1, len(grid) - 1)
    return np.linspace(grid[low], grid[high], points)


def _marginal(grid: Floats, weight: Floats, floor: float = -math.inf) -> tuple[float, float, float]:
    """Return median, 2.5 % and 97.5 % points of a marginal, linear between the edges of the cells."""
    middles = (grid[1:] + grid[:-1]) / 2
    first, last = max(2 * grid[0] - middles[0], floor), 2 * grid[-1] - middles[-1]
    running = np.concatenate([[0.0], np.cumsum(weight)])
    points = np.interp((0.5, 0.025, 0.975), running, np.concatenate([[first], middles, [last]]))
    return float(points[0]), float(points[1]), float(points[2])


def _spread_of(values: Floats, weight: Floats) -> tuple[float, float, float]:
    """Return the mean and the 2.5 % and 97.5 % points of a quantity over the grid."""
    flat, share = np.broadcast_to(values, weight.shape).ravel(), weight.ravel()
    order = np.argsort(flat)
    places = np.minimum(np.searchsorted(np.cumsum(share[order]), (0.025, 0.975)), len(order) - 1)
    mean = float(flat @ share)
    low, high = (float(v) for v in flat[order[places]])
    return mean, min(low, mean), max(high, mean)


def _mean_said(post: Posterior, mean: float, sd: float) -> tuple[Floats, Floats]:
    """Return the shares of items outside, and within, on which Phi says beyond; shapes (a, b)."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    parts = []
    for start, end in ((0.0, max(mean + 8 * sd, 0.0)), (min(mean - 8 * sd, 0.0), 0.0)):
        half, middle = (end - start) / 2, (end + start) / 2
        x = middle + half * nodes
        density = np.exp(-0.5 * ((x - mean) / sd) ** 2) / (sd * math.sqrt(2 * math.pi)) * weights * half
        z = (x - post.threshold[:, None, None]) / np.exp(post.log_width)[None, :, None]
        parts.append(_phi(z) @ density)
    return parts[0], parts[1]


def _phi(z: Floats) -> Floats:
    from scipy.special import ndtr

    value: Floats = ndtr(z)
    return value
