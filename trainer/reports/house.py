"""The one look of every figure and page: ink on paper, one accent, nothing told by colour alone.

Figures are made without pyplot, so nothing global is touched; `manner` shuts out a user's own matplotlib
settings while a report is made, and lets one report be made at a time.
"""

import io
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

MM_PER_IN = 25.4  # exactly
SANS, SERIF = "DejaVu Sans", "DejaVu Serif"  # both come with matplotlib

PAPER = "#ffffff"
INK = "#1b2733"  # lines, points, figures
SOFT = "#56616b"  # secondary text, axes
FAINT = "#c3cad0"  # hairlines
WASH = "#e9edf0"  # bands behind ink
ACCENT = "#9a4716"  # limits and findings; differs from ink in grey as well
TINT = "#ecd9ca"  # bands behind accent

BODY_PT, SMALL_PT, HEAD_PT = 8.0, 7.0, 10.5
HAIR_PT, LINE_PT, BOLD_PT = 0.4, 0.9, 1.6

_LOCK = threading.RLock()
_SETTINGS = {
    "text.hinting": "no_hinting",  # else a line set on a grid of pixels grows longer than in the PDF
    "font.family": [SANS],
    "font.size": BODY_PT,
    "axes.unicode_minus": True,
    "axes.formatter.use_mathtext": False,
    "pdf.fonttype": 42,  # text stays text: it can be searched and copied
    "pdf.compression": 6,
    "text.usetex": False,
    "hatch.linewidth": 0.5,
}


@contextmanager
def manner() -> Iterator[None]:
    """Work with the house's settings alone; one report at a time."""
    unset = {"backend", "backend_fallback", "interactive", "toolbar", "timezone"}
    plain: Any = {key: value for key, value in mpl.rcParamsDefault.items() if key not in unset}
    with _LOCK, mpl.rc_context(plain | _SETTINGS):
        yield


def new_figure(width_mm: float = 120.0, height_mm: float = 75.0) -> Figure:
    """Return an empty figure of that size with a canvas of its own."""
    figure = Figure(figsize=(width_mm / MM_PER_IN, height_mm / MM_PER_IN), facecolor=PAPER)
    FigureCanvasAgg(figure)
    return figure


def new_axes(width_mm: float = 120.0, height_mm: float = 75.0) -> Axes:
    """Return axes alone on a new figure, with room for labels on the left and below."""
    figure = new_figure(width_mm, height_mm)
    left, right, top, bottom = 18.0, 5.0, 7.0, 12.0
    return figure.add_axes(
        (
            left / width_mm,
            bottom / height_mm,
            (width_mm - left - right) / width_mm,
            (height_mm - top - bottom) / height_mm,
        )
    )


def dress(ax: Axes, x_label: str = "", y_label: str = "") -> Axes:
    """Give axes the house's look: two thin spines, short ticks outside, quiet labels."""
    ax.set_facecolor("none")
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        ax.spines[side].set(color=SOFT, linewidth=0.6)
    ax.tick_params(
        which="both",
        color=SOFT,
        labelcolor=INK,
        labelsize=SMALL_PT,
        labelfontfamily=SANS,
        width=0.6,
        length=2.5,
        pad=2.5,
        direction="out",
    )
    ax.grid(False)
    if x_label:
        ax.set_xlabel(x_label, fontsize=SMALL_PT, color=SOFT, family=SANS, labelpad=3, parse_math=False)
    if y_label:
        ax.set_ylabel(y_label, fontsize=SMALL_PT, color=SOFT, family=SANS, labelpad=3, parse_math=False)
    return ax


def label(ax: Axes, x: float, y: float, text: str, **more: object) -> None:
    """Write a small label at data coordinates (or others, by `transform`)."""
    settings: dict[str, object] = {"fontsize": SMALL_PT, "color": SOFT, "family": SANS, "parse_math": False}
    ax.text(x, y, text, **{**settings, **more})  # type: ignore[arg-type]  # passed on to matplotlib


def figure_to_png(figure: Figure, *, dots_per_inch: float = 150.0) -> bytes:
    """Return the figure as a PNG file; the same figure gives the same bytes."""
    sheet = io.BytesIO()
    with manner():
        figure.savefig(sheet, format="png", dpi=dots_per_inch, metadata={"Software": "Tenthwise"})
    return sheet.getvalue()


def figure_to_pdf(figure: Figure, *, title: str = "", subject: str = "") -> bytes:
    """Return the figure as a one-page PDF file; the same figure gives the same bytes."""
    return figures_to_pdf([figure], title=title, subject=subject)


def figures_to_pdf(figures: Sequence[Figure], *, title: str = "", subject: str = "") -> bytes:
    """Return figures as the pages of a PDF file; without dates, so the same pages give the same bytes."""
    sheet = io.BytesIO()
    about = {"Creator": "Tenthwise", "Producer": "Tenthwise", "CreationDate": None}
    named = {key: text for key, text in (("Title", title), ("Subject", subject)) if text}
    with manner(), PdfPages(sheet, metadata={**about, **named}) as pages:
        for figure in figures:
            pages.savefig(figure)
    return sheet.getvalue()
