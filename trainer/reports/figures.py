"""Figures of one person: each takes values and axes, draws, and returns the axes."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from trainer.reports.house import (
    ACCENT,
    BOLD_PT,
    FAINT,
    HAIR_PT,
    INK,
    LINE_PT,
    PAPER,
    SOFT,
    TINT,
    WASH,
    dress,
    label,
)
from trainer.reports.readings import Readings
from trainer.scoring.errors import Floats
from trainer.scoring.habits import DigitPreference
from trainer.scoring.intervals import Interval
from trainer.scoring.person import Spread, TenthRow

LEAST_SCALE_TENTHS = 2.0  # the error axis never shows less than this each way
FEWEST_IN_A_TENTH = 4  # below this an interval fills the figure and says nothing
MOST_SCALE_TENTHS = 5.5  # a misread starts at 5; beyond that it is marked at the edge


@dataclass(frozen=True, slots=True)
class SessionPoint:
    """One session on a learning figure; `bias` and `spread` in tenths."""

    name: str
    readings: int
    bias: Interval
    spread: Interval | Spread


def error_scale_tenths(errors: Floats) -> float:
    """Return how far an error axis goes each way, so that ordinary readings fill it.

    >>> error_scale_tenths(np.array([0.1, -0.4, 2.6]))
    3.0
    """
    inside = np.abs(errors[np.abs(errors) <= MOST_SCALE_TENTHS])
    widest = float(inside.max()) if inside.size else 0.0
    return min(max(LEAST_SCALE_TENTHS, math.ceil(2 * (widest + 0.2)) / 2), MOST_SCALE_TENTHS)


def error_by_position(readings: Readings, profile: Sequence[TenthRow], ax: Axes) -> Axes:
    """Draw every error against its place within the division, with each tenth's mean and interval."""
    dress(ax, "position within the division, tenths", "error, tenths")
    reach = _error_axis(readings, ax)
    for row in profile:
        if row.bias_tenths is None:
            continue
        if row.low is not None and row.high is not None and row.n >= FEWEST_IN_A_TENTH:
            low, high = max(row.low, -reach), min(row.high, reach)
            ax.add_patch(
                Rectangle(
                    (row.tenth + 0.06, low),
                    0.88,
                    max(high - low, 0.0),
                    facecolor=TINT,
                    edgecolor="none",
                    zorder=1,
                )
            )
        span = [row.tenth + 0.06, row.tenth + 0.94]
        ax.plot(span, [row.bias_tenths] * 2, color=ACCENT, linewidth=BOLD_PT, zorder=4, solid_capstyle="butt")
    _points(readings.inside_tenths, readings, reach, ax)
    ax.set_xlim(0, 10)
    ax.set_xticks(range(11))
    return ax


def errors_in_order(readings: Readings, ax: Axes) -> Axes:
    """Draw every error in order of time, with each session's mean and the breaks between sessions."""
    dress(ax, "reading, in order of time", "error, tenths")
    reach = _error_axis(readings, ax)
    order = np.arange(1, len(readings) + 1)
    _points(order.astype(float), readings, reach, ax)
    for number in range(len(readings.sessions)):
        here = order[readings.session_of == number]
        kept = readings.error_tenths[(readings.session_of == number) & ~readings.misread]
        if not here.size:
            continue
        if number:
            ax.axvline(here[0] - 0.5, color=FAINT, linewidth=0.6, zorder=0)
        if kept.size:
            span = [here[0] - 0.4, here[-1] + 0.4]
            ax.plot(span, [kept.mean()] * 2, color=ACCENT, linewidth=BOLD_PT, zorder=4, solid_capstyle="butt")
    ax.set_xlim(0.5, max(len(readings), 10) + 0.5)
    ax.xaxis.set_major_locator(MaxNLocator(integer=True, steps=[1, 2, 5, 10]))
    return ax


def _error_axis(readings: Readings, ax: Axes) -> float:
    reach = error_scale_tenths(readings.error_tenths)
    ax.axhline(0, color=INK, linewidth=0.6, zorder=2)
    for guide in (-1, 1):
        ax.axhline(guide, color=FAINT, linewidth=HAIR_PT, dashes=(6, 4), zorder=0)
    ax.set_ylim(-reach, reach)
    return reach


def _points(x: Floats, readings: Readings, reach: float, ax: Axes) -> None:
    """Draw readings as rings and misreads as filled triangles, those off the scale at its edge."""
    many = len(readings) > 300
    kept = ~readings.misread
    ax.plot(
        x[kept],
        readings.error_tenths[kept],
        linestyle="none",
        marker="o",
        markersize=1.8 if many else 2.8,
        markerfacecolor="none",
        markeredgecolor=INK,
        markeredgewidth=0.45,
        alpha=0.45 if many else 0.8,
        zorder=3,
    )
    slips = readings.misread
    shown = np.clip(readings.error_tenths[slips], -reach * 0.965, reach * 0.965)
    for up, marker in ((True, "^"), (False, "v")):
        which = (readings.error_tenths[slips] > 0) == up
        ax.plot(
            x[slips][which],
            shown[which],
            linestyle="none",
            marker=marker,
            markersize=4.5,
            color=ACCENT,
            markeredgecolor="none",
            clip_on=False,
            zorder=5,
        )


def digits_used(preference: DigitPreference, ax: Axes) -> Axes:
    """Draw how often each last digit was answered, and how often it was to be expected of a smooth reader."""
    dress(ax, "last digit answered", "answers")
    digits = np.arange(10)
    counts = np.array(preference.counts or (0,) * 10, dtype=float)
    ax.bar(digits, counts, width=0.62, facecolor=WASH, edgecolor=INK, linewidth=0.6, zorder=2)
    expected = [np.nan if value is None else value for value in preference.expected]
    if len(expected) == len(digits):
        ax.hlines(expected, digits - 0.44, digits + 0.44, color=ACCENT, linewidth=BOLD_PT, zorder=3)
    top = max([float(counts.max()), *[e for e in expected if e == e], 1.0])
    for which, word in ((preference.favoured, "more"), (preference.shunned, "fewer")):
        for digit in which:
            over = max(
                [
                    counts[digit],
                    *([expected[digit]] if expected and expected[digit] == expected[digit] else []),
                ]
            )
            label(ax, digit, over + top * 0.03, word, ha="center", va="bottom", color=ACCENT)
    ax.set_ylim(0, top * 1.14)
    ax.set_xlim(-0.6, 9.6)
    ax.set_xticks(digits)
    ax.yaxis.set_major_locator(MaxNLocator(integer=True, steps=[1, 2, 5, 10]))
    return ax


def spread_over_sessions(points: Sequence[SessionPoint], ax: Axes, limit_tenths: float | None = None) -> Axes:
    """Draw the spread of each session with its interval, and the band that a criterion allows."""
    dress(ax, "session", "spread, tenths")
    tops = [v for p in points for v in (p.spread.value, p.spread.high) if v is not None]
    if limit_tenths is not None:
        _allowed(ax, 0.0, limit_tenths)
        tops.append(limit_tenths)
    _sessions(points, [p.spread for p in points], ax)
    ax.set_ylim(0, 1.12 * min(max(tops, default=1.0), 6.0))
    return ax


def bias_over_sessions(points: Sequence[SessionPoint], ax: Axes, limit_tenths: float | None = None) -> Axes:
    """Draw the bias of each session with its interval, and the band that a criterion allows."""
    dress(ax, "session", "bias, tenths")
    ends = [abs(v) for p in points for v in (p.bias.value, p.bias.low, p.bias.high) if v is not None]
    if limit_tenths is not None:
        _allowed(ax, -limit_tenths, limit_tenths)
        ends.append(limit_tenths)
    ax.axhline(0, color=INK, linewidth=0.6, zorder=2)
    _sessions(points, [p.bias for p in points], ax)
    reach = 1.15 * min(max(ends, default=1.0), 6.0)
    ax.set_ylim(-reach, reach)
    return ax


def _allowed(ax: Axes, low: float, high: float) -> None:
    """Draw the band inside limits, with the limits as lines."""
    ax.axhspan(low, high, facecolor=WASH, edgecolor="none", zorder=0)
    for edge in {low, high} - {0.0}:
        ax.axhline(edge, color=ACCENT, linewidth=0.7, dashes=(5, 2.5), zorder=1)


def _sessions(points: Sequence[SessionPoint], values: Sequence[Interval | Spread], ax: Axes) -> None:
    order = range(1, len(points) + 1)
    known = [(x, v.value, v) for x, v in zip(order, values, strict=True) if v.value is not None]
    ax.plot([x for x, _, _ in known], [y for _, y, _ in known], color=SOFT, linewidth=0.6, zorder=2)
    for x, y, v in known:
        firm = v.low is not None and v.high is not None
        if v.low is not None and v.high is not None:
            ax.plot([x, x], [v.low, v.high], color=INK, linewidth=LINE_PT, zorder=3, solid_capstyle="butt")
        ax.plot(
            [x], [y], marker="o", markersize=4, color=INK, markerfacecolor=INK if firm else PAPER, zorder=4
        )
    ax.set_xlim(0.5, max(len(points), 2) + 0.5)
    ax.set_xticks(list(order)[:: max(1, len(points) // 12)])
