"""Figures of sizing, setting and self-checks: errors as they fell, told apart by shape and not by colour."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from trainer.reports.house import ACCENT, BOLD_PT, FAINT, HAIR_PT, INK, PAPER, SOFT, dress, label
from trainer.scoring.errors import Floats
from trainer.scoring.intervals import Interval
from trainer.scoring.learning import LearningForecast

LEAST_SCALE_TENTHS = 1.0
MARKS = {"rising": "^", "falling": "v", "typed": "o"}


def sizes_said(offset_tenths: Floats, said_tenths: Floats, ax: Axes) -> Axes:
    """Draw what was said of each offset against the offset, with the line on which both are equal."""
    dress(ax, "offset, tenths", "offset said, tenths")
    reach = float(np.ceil(max(np.abs(offset_tenths).max(), np.abs(said_tenths).max(), LEAST_SCALE_TENTHS)))
    ax.plot([-reach, reach], [-reach, reach], color=ACCENT, linewidth=0.8, zorder=1)
    for axis in (ax.axhline, ax.axvline):
        axis(0, color=FAINT, linewidth=HAIR_PT, zorder=0)
    ax.plot(
        offset_tenths, said_tenths, linestyle="none", marker="o", markersize=2.8,
        markerfacecolor="none", markeredgecolor=INK, markeredgewidth=0.45, zorder=3,
    )  # fmt: skip
    ax.set_xlim(-1.05 * reach, 1.05 * reach)
    ax.set_ylim(-1.05 * reach, 1.05 * reach)
    for axis_of in (ax.xaxis, ax.yaxis):
        axis_of.set_major_locator(MaxNLocator(5, integer=True))
    return ax


def setting_errors(errors_tenths: Sequence[float], ways: Sequence[str], ax: Axes) -> Axes:
    """Draw setting errors as they fell, a row for each way of turning, with the mean of each row.

    Errors beyond the scale (half a division) stand at its edge.
    """
    dress(ax, "setting error, tenths")
    rows = [way for way in MARKS if way in ways]
    errors = np.asarray(errors_tenths, dtype=np.float64)
    inside = np.abs(errors[np.abs(errors) <= 5.0])
    reach = 1.1 * max(LEAST_SCALE_TENTHS, float(inside.max()) if inside.size else 0.0)
    ax.axvline(0, color=INK, linewidth=0.6, zorder=2)
    for y, way in enumerate(rows):
        mine = errors[np.array([one == way for one in ways])]
        ax.axhline(y, color=FAINT, linewidth=HAIR_PT, zorder=0)
        fan = y + 0.22 * (np.arange(len(mine)) % 5 - 2) / 2  # beside each other, so that each is seen
        ax.plot(
            np.clip(mine, -reach, reach), fan, linestyle="none", marker=MARKS[way], markersize=3.2,
            markerfacecolor="none", markeredgecolor=INK, markeredgewidth=0.5, zorder=3,
        )  # fmt: skip
        kept = mine[np.abs(mine) <= 5.0]
        if kept.size:
            ax.plot([kept.mean()] * 2, [y - 0.36, y + 0.36], color=ACCENT, linewidth=BOLD_PT, zorder=4)
    ax.set_ylim(len(rows) - 0.5, -0.5)
    ax.set_yticks(range(len(rows)))
    ax.set_yticklabels(rows)
    ax.tick_params(axis="y", length=0)
    ax.set_xlim(-reach, reach)
    return ax


def block_errors(
    blocks: Sequence[float], true_tenths: Sequence[float], recorded_tenths: Sequence[float | None],
    mpe_tenths: float, unit: str, ax: Axes,
) -> Axes:  # fmt: skip
    """Draw one calibration run: the instrument's true errors and those recorded, and the limits."""
    dress(ax, f"gauge block, {unit}", "error, tenths")
    known = [value for value in recorded_tenths if value is not None]
    reach = 1.15 * max([mpe_tenths, *map(abs, true_tenths), *map(abs, known)])
    for limit in (-mpe_tenths, mpe_tenths):
        ax.axhline(limit, color=ACCENT, linewidth=0.7, dashes=(5, 2.5), zorder=1)
    ax.axhline(0, color=INK, linewidth=0.6, zorder=1)
    ax.plot(blocks, true_tenths, color=SOFT, linewidth=0.9, marker="s", markersize=3, zorder=2)
    seen = [np.nan if value is None else value for value in recorded_tenths]
    ax.plot(
        blocks, seen, linestyle="none", marker="o", markersize=4, markerfacecolor=PAPER,
        markeredgecolor=INK, markeredgewidth=0.7, zorder=3,
    )  # fmt: skip
    ax.set_ylim(-reach, reach)
    return ax


def forecast_mark(forecast: LearningForecast, ax: Axes) -> Axes:
    """Draw on a figure of spread over sessions when the limit is expected to be reached.

    The bar is the 80 % interval of that session, the diamond its median; drawn only where one is told.
    """
    when: Interval = forecast.sessions_to_limit
    if when.value is None or when.low is None or when.high is None:
        return ax
    y = forecast.limit_tenths
    ax.plot([when.low, when.high], [y, y], color=INK, linewidth=2.2, zorder=5, solid_capstyle="butt")
    ax.plot(
        [when.value], [y], marker="D", markersize=4.5, markerfacecolor=PAPER, markeredgecolor=INK, zorder=6
    )
    _, right = ax.get_xlim()
    ax.set_xlim(0.5, max(right, when.high + 0.7))
    _, top = ax.get_ylim()
    ax.set_ylim(0, max(top, 1.12 * y))
    label(ax, when.value, y + 0.03 * ax.get_ylim()[1], "forecast", ha="center", va="bottom", color=INK)
    return ax
