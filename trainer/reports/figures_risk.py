"""Figures of uncertainty and risk: budgets, power of a test, risk against tolerance."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator

from trainer.reports.house import (
    ACCENT,
    FAINT,
    HAIR_PT,
    INK,
    LINE_PT,
    SANS,
    SMALL_PT,
    SOFT,
    WASH,
    dress,
    label,
)
from trainer.reports.lettering import shortened
from trainer.reports.wording import short
from trainer.scoring.errors import Floats

STYLES: tuple[tuple[str, str | tuple[int, tuple[float, ...]]], ...] = (
    (INK, "solid"),
    (ACCENT, (0, (6.0, 2.0))),
    (SOFT, (0, (1.5, 1.5))),
    (INK, (0, (8.0, 2.0, 1.5, 2.0))),
)


@dataclass(frozen=True, eq=False)
class Curve:
    """A named curve: x and y of shape (points,)."""

    name: str
    x: Floats
    y: Floats


@dataclass(frozen=True, slots=True)
class Share:
    """One part of a budget: its name and its contribution, in the unit of the result."""

    name: str
    u: float


def budget_bars(parts: Sequence[Share], combined: float, ax: Axes, unit: str = "µm") -> Axes:
    """Draw each contribution to a budget, largest first, and the combined uncertainty below them."""
    order = sorted(parts, key=lambda part: -abs(part.u))
    dress(ax, f"contribution to the standard uncertainty, {unit}")
    longest = max([abs(combined), *[abs(part.u) for part in order], 1e-300])
    for y, part in enumerate(order):
        ax.barh(y, abs(part.u), height=0.56, facecolor=WASH, edgecolor=INK, linewidth=0.6, zorder=2)
        label(ax, abs(part.u) + 0.012 * longest, y, short(abs(part.u)), va="center", color=INK)
    bottom = len(order) + 0.35
    ax.barh(bottom, abs(combined), height=0.56, facecolor=INK, edgecolor=INK, linewidth=0.6, zorder=2)
    label(ax, abs(combined) + 0.012 * longest, bottom, short(abs(combined)), va="center", color=INK)
    ax.axhline(len(order) - 0.35, color=FAINT, linewidth=HAIR_PT, zorder=0)
    ax.set_ylim(bottom + 0.55, -0.55)
    ax.set_yticks([*range(len(order)), bottom])
    names = [shortened(part.name, SMALL_PT, 46.0) for part in order]
    ax.set_yticklabels([*names, "combined"], parse_math=False)
    ax.tick_params(axis="y", length=0)
    ax.set_xlim(0, 1.16 * longest)
    ax.xaxis.set_major_locator(MaxNLocator(6))
    return ax


def operating_characteristic(
    curves: Sequence[Curve], ax: Axes, *, x_label: str, limit: float | None = None, risk: float | None = None
) -> Axes:
    """Draw the chance of passing against the true value, with the limit and the risk promised there."""
    dress(ax, x_label, "chance of passing")
    _lines(curves, ax)
    ax.set_ylim(0, 1.02)
    _percent(ax)
    if limit is not None:
        ax.axvline(limit, color=SOFT, linewidth=0.7, dashes=(5, 2.5), zorder=1)
        label(ax, limit, 1.03, "limit", transform=ax.get_xaxis_transform(), ha="center", va="bottom")
    if risk is not None:
        ax.axhline(risk, color=FAINT, linewidth=0.7, zorder=0)
        edge = ax.get_xlim()[1]
        label(ax, edge, risk, f"promised risk {100 * risk:.3g} %", ha="right", va="bottom")
    return ax


def risk_against_tolerance(
    curves: Sequence[Curve],
    ax: Axes,
    *,
    unit: str = "µm",
    tolerance: float | None = None,
    accepted: float | None = None,
    told: Callable[[float], str] | None = None,
) -> Axes:
    """Draw risks of wrong decisions against the tolerance, with the one in question and the risk allowed.

    `told` writes a tolerance as text where the usual four figures would be an exponent.
    """
    dress(ax, f"tolerance, ± {unit}", "chance of a wrong decision")
    _lines(curves, ax)
    xs = np.concatenate([curve.x for curve in curves])
    ax.set_xlim(float(xs.min()), float(xs.max()))
    ax.set_ylim(
        0, min(1.0, 1.1 * max([float(np.max(curve.y)) for curve in curves] + [accepted or 0.0, 0.01]))
    )
    _percent(ax)
    if told is not None:
        ax.xaxis.set_major_locator(MaxNLocator(5))  # such numbers are wide
        ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: told(value)))
    if accepted is not None:
        ax.axhline(accepted, color=FAINT, linewidth=0.8, zorder=0)
        label(
            ax,
            ax.get_xlim()[1],
            accepted,
            f"false accept allowed: {100 * accepted:.3g} %",
            ha="right",
            va="bottom",
        )
    if tolerance is not None:
        ax.axvline(tolerance, color=SOFT, linewidth=0.7, dashes=(5, 2.5), zorder=1)
        text = f"± {told(tolerance) if told else f'{tolerance:.4g}'} {unit}"
        label(ax, tolerance, 1.03, text, transform=ax.get_xaxis_transform(), ha="center", va="bottom")
    return ax


def _lines(curves: Sequence[Curve], ax: Axes) -> None:
    """Draw curves, each with its own dash; names in a legend without a frame."""
    for curve, (colour, dash) in zip(curves, STYLES * (1 + len(curves) // len(STYLES)), strict=False):
        ax.plot(
            curve.x,
            curve.y,
            color=colour,
            linestyle=dash,
            linewidth=1.3 * LINE_PT,
            label=curve.name,
            zorder=3,
        )
    if len(curves) > 1:
        legend = ax.legend(frameon=False, fontsize=SMALL_PT, handlelength=3.2, loc="best", labelcolor=INK)
        for text in legend.get_texts():
            text.set_parse_math(False)
            text.set_fontfamily(SANS)


def _percent(ax: Axes) -> None:
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{100 * value:.3g} %"))
