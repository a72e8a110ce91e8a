"""The figure of overlap judgements: what share was judged beyond at each offset, and the fitted curve."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter

from trainer.reports.house import ACCENT, FAINT, INK, SOFT, TINT, WASH, dress
from trainer.scoring.errors import Floats
from trainer.scoring.intervals import Interval
from trainer.scoring.judgement import Judgement

MOST_LEVELS = 15  # with more offsets than this they are gathered into groups of equal size
GROUPS = 9
CURVE_POINTS = 81


@dataclass(frozen=True, eq=False)
class Judged:
    """Judgements as drawn: share judged beyond and number of trials at each offset; curve and its ends.

    Offsets are in tenths from the limit. `at`, `chance`, `low`, `high` are empty without a fitted curve.
    """

    offset: Floats
    share: Floats
    trials: Floats
    threshold: Interval | None
    at: Floats
    chance: Floats
    low: Floats
    high: Floats


def judged(offsets_tenths: npt.ArrayLike, said_beyond: npt.ArrayLike, curve: Judgement) -> Judged:
    """Return judgements gathered by offset, with the fitted curve over their reach."""
    x = np.asarray(offsets_tenths, dtype=np.float64)
    said = np.asarray(said_beyond, dtype=np.float64)
    levels, group = np.unique(x, return_inverse=True)
    if len(levels) > MOST_LEVELS:
        group = np.minimum(np.argsort(np.argsort(x, kind="stable")) * GROUPS // len(x), GROUPS - 1)
    trials = np.bincount(group).astype(np.float64)
    reach = np.linspace(x.min(), x.max(), CURVE_POINTS) if curve.posterior is not None else np.empty(0)
    chance, low, high = curve.chance_beyond(reach) if reach.size else (reach, reach, reach)
    return Judged(
        offset=np.bincount(group, x) / trials,
        share=np.bincount(group, said) / trials,
        trials=trials,
        threshold=curve.threshold_tenths,
        at=reach,
        chance=chance,
        low=low,
        high=high,
    )


def psychometric(judgements: Judged, ax: Axes) -> Axes:
    """Draw shares judged beyond against the offset, dots sized by trials, with curve, ends and threshold."""
    dress(ax, "offset from the limit, tenths", "judged beyond")
    ax.fill_between(judgements.at, judgements.low, judgements.high, color=TINT, linewidth=0, zorder=1)
    ax.plot(judgements.at, judgements.chance, color=ACCENT, linewidth=1.2, zorder=3)
    largest = max([*judgements.trials.tolist(), 1.0])
    sizes = 6 + 36 * judgements.trials / largest
    dots = judgements.offset, judgements.share
    ax.scatter(*dots, s=sizes, facecolor="white", edgecolor=INK, linewidth=0.7, zorder=4)
    ax.axhline(0.5, color=FAINT, linewidth=0.6, zorder=0)
    ax.axvline(0.0, color=SOFT, linewidth=0.6, zorder=0)
    at = judgements.threshold
    if at is not None and at.low is not None and at.high is not None:
        ax.axvspan(at.low, at.high, facecolor=WASH, edgecolor="none", zorder=-1)
    if at is not None and at.value is not None:
        ax.axvline(at.value, color=INK, linewidth=0.8, dashes=(5, 2.5), zorder=2)
    ax.set_ylim(-0.06, 1.06)  # so that a ring at either end is whole
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{100 * value:.3g} %"))
    return ax
