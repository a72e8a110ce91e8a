"""A budget as one figure: its contributions as bars, and the answers of both methods laid over each other."""

import math
from typing import Literal

import numpy as np
from matplotlib.axes import Axes

from trainer.reports.figures_risk import Share, budget_bars
from trainer.reports.house import (
    ACCENT,
    BODY_PT,
    FAINT,
    INK,
    SANS,
    SMALL_PT,
    WASH,
    dress,
    figure_to_pdf,
    figure_to_png,
    label,
    manner,
    new_figure,
)
from trainer.reports.lettering import printable
from trainer.scoring.montecarlo import MonteCarlo
from trainer.scoring.propagation import BudgetResult

WIDTH_MM = 150.0


def drawn(result: BudgetResult, chance: MonteCarlo, kind: Literal[".png", ".pdf"] | str) -> bytes:
    """Return the figure of a budget as a PNG or PDF file."""
    parts = [Share(line.name, line.contribution) for line in result.lines if line.contribution > 0]
    bars_mm, curve_mm = 8.0 + 6.5 * (len(parts) + 1), 48.0
    height = bars_mm + curve_mm + 50.0
    with manner():
        figure = new_figure(WIDTH_MM, height)
        title = printable(result.title or result.measurand)
        figure.text(
            8 / WIDTH_MM,
            1 - 8 / height,
            title,
            fontsize=BODY_PT + 1.5,
            family=SANS,
            color=INK,
            parse_math=False,
        )
        top = 14.0
        box = (48 / WIDTH_MM, 1 - (top + bars_mm) / height, 94 / WIDTH_MM, bars_mm / height)
        budget_bars(parts, result.u, figure.add_axes(box), _unit(result) or "in the unit of the result")
        top += bars_mm + 20.0
        box = (48 / WIDTH_MM, 1 - (top + curve_mm) / height, 94 / WIDTH_MM, curve_mm / height)
        distribution(result, chance, figure.add_axes(box))
        if kind == ".pdf":
            return figure_to_pdf(figure, title=title, subject="Uncertainty budget")
        return figure_to_png(figure)


def _unit(result: BudgetResult) -> str:
    """Return the unit as people write it."""
    return "µm" if result.unit == "um" else printable(result.unit)


def distribution(result: BudgetResult, chance: MonteCarlo, ax: Axes) -> Axes:
    """Draw the distribution found by chance, and over it the normal curve and intervals of both methods.

    The axis tells differences from the estimate, since a length has many digits in common.
    """
    unit = f", {_unit(result)}" if result.unit else ""
    dress(ax, f"{printable(result.measurand)} less its estimate{unit}")
    if chance.bins:
        edges = np.array(chance.bins) - result.estimate
        ax.stairs(chance.density, edges, facecolor=WASH, edgecolor=FAINT, fill=True, linewidth=0.5, zorder=1)
    reach = max(
        1.5 * result.expanded,
        1.2 * abs(chance.low - result.estimate),
        1.2 * abs(chance.high - result.estimate),
    )
    reach = reach if reach > 0 else 1.0
    x = np.linspace(-reach, reach, 401)
    top = max([*chance.density, 0.0])
    if result.u > 0:
        normal = np.exp(-0.5 * (x / result.u) ** 2) / (result.u * math.sqrt(2 * math.pi))
        ax.plot(x, normal, color=INK, linewidth=1.0, zorder=3)
        top = max(top, float(normal.max()))
    rows = (
        (-0.10, -result.expanded, result.expanded, INK, "GUM"),
        (-0.20, chance.low - result.estimate, chance.high - result.estimate, ACCENT, "Monte Carlo"),
    )
    for row, low, high, colour, name in rows:
        ax.plot([low, high], [row * top] * 2, color=colour, linewidth=2.2, solid_capstyle="butt", zorder=4)
        label(ax, high + 0.02 * reach, row * top, name, va="center", fontsize=SMALL_PT, color=colour)
    ax.set_xlim(-reach, reach)
    ax.set_ylim(-0.28 * top, 1.08 * top)
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    return ax
