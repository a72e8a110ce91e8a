"""Pages of a report: text, tables and figures set from top to bottom, in millimetres."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Literal

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from trainer.reports.house import (
    ACCENT,
    BODY_PT,
    FAINT,
    HAIR_PT,
    HEAD_PT,
    INK,
    MM_PER_IN,
    SANS,
    SERIF,
    SMALL_PT,
    SOFT,
    WASH,
    new_figure,
)
from trainer.reports.lettering import POINTS_PER_IN, lines, printable, shortened, width_mm

Align = Literal["left", "right", "center"]
MARGIN_MM = 18.0
LEADING = 1.42  # line distance over letter size


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, in millimetres."""

    name: str
    width_mm: float
    height_mm: float


A4 = Paper("A4", 210.0, 297.0)  # ISO 216
LETTER = Paper("Letter", 215.9, 279.4)  # 8.5 in x 11 in, ANSI/ASME Y14.1
PAPERS = {"a4": A4, "letter": LETTER}


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table: its heading, width and side."""

    heading: str
    width_mm: float
    align: Align = "left"


@dataclass(slots=True)
class Sheets:
    """The pages of one report, with a place that moves down as things are set.

    `height_share` is how tall figures are, as a share of the usual.
    """

    paper: Paper
    foot: str
    pages: list[Figure] = field(default_factory=list)
    y_mm: float = 0.0
    left_mm: float = MARGIN_MM  # the column in use; `column` narrows it
    width_mm: float = 0.0
    height_share: float = 1.0

    def __post_init__(self) -> None:
        self.width_mm = self.paper.width_mm - 2 * MARGIN_MM
        self.new_page()

    @contextmanager
    def column(self, from_mm: float, width_mm: float) -> Iterator[None]:
        """Set things in a narrower column, on this page only; the place goes back to the top after it."""
        before = self.left_mm, self.width_mm, self.y_mm
        self.left_mm, self.width_mm = self.left_mm + from_mm, width_mm
        yield
        self.left_mm, self.width_mm, self.y_mm = before

    def tall(self, height_mm: float) -> float:
        """Return the height in these pages of a figure that is usually so tall."""
        return height_mm * self.height_share

    @property
    def room_mm(self) -> float:
        """The height left on the page."""
        return self.bottom_mm - self.y_mm

    @property
    def bottom_mm(self) -> float:
        """How far down things may be set."""
        return self.paper.height_mm - 17.0

    def new_page(self) -> None:
        """Start a page."""
        self.pages.append(new_figure(self.paper.width_mm, self.paper.height_mm))
        self.y_mm = 17.0

    def need(self, height_mm: float) -> None:
        """Start a page unless this height is left on the present one."""
        if self.y_mm + height_mm > self.bottom_mm:
            self.new_page()

    def skip(self, height_mm: float) -> None:
        """Leave white space."""
        self.y_mm += height_mm

    def line(
        self,
        text: str,
        x_mm: float | None = None,
        y_mm: float | None = None,
        *,
        size_pt: float = BODY_PT,
        family: str = SANS,
        bold: bool = False,
        colour: str = INK,
        align: Align = "left",
    ) -> None:
        """Set one line; `y_mm` is its base line, by default just below the present place."""
        x = self.left_mm if x_mm is None else x_mm
        y = self.y_mm + size_pt * MM_PER_IN / POINTS_PER_IN if y_mm is None else y_mm
        self.pages[-1].text(
            x / self.paper.width_mm,
            1 - y / self.paper.height_mm,
            printable(text, family, bold),
            fontsize=size_pt,
            family=family,
            weight="bold" if bold else "normal",
            color=colour,
            ha=align,
            va="baseline",
            parse_math=False,
        )

    def rule(self, *, colour: str = FAINT, weight_pt: float = HAIR_PT) -> None:
        """Draw a line across the column at the present place."""
        y = 1 - self.y_mm / self.paper.height_mm
        ends = (self.left_mm, self.left_mm + self.width_mm)
        xs = [end / self.paper.width_mm for end in ends]
        self.pages[-1].add_artist(Line2D(xs, [y, y], color=colour, linewidth=weight_pt))

    def paragraph(
        self,
        text: str,
        *,
        size_pt: float = BODY_PT,
        colour: str = INK,
        bold: bool = False,
        family: str = SANS,
        indent_mm: float = 0.0,
        after_mm: float = 1.6,
    ) -> None:
        """Set text broken into lines, over pages where it must be."""
        room = self.width_mm - indent_mm
        step = size_pt * LEADING * MM_PER_IN / POINTS_PER_IN
        for one in lines(text, size_pt, room, family, bold):
            self.need(step)
            self.line(one, self.left_mm + indent_mm, size_pt=size_pt, colour=colour, bold=bold, family=family)
            self.y_mm += step
        self.y_mm += after_mm

    def bullets(self, texts: Sequence[str], *, size_pt: float = BODY_PT, colour: str = INK) -> None:
        """Set texts as a list."""
        for text in texts:
            self.need(size_pt * LEADING * MM_PER_IN / POINTS_PER_IN)
            self.line("–", size_pt=size_pt, colour=SOFT)
            self.paragraph(text, size_pt=size_pt, colour=colour, indent_mm=4.0, after_mm=0.8)
        self.skip(0.8)

    def heading(self, text: str, *, keep_mm: float = 25.0) -> None:
        """Set a heading that stays with the next `keep_mm` of the page."""
        self.need(9.0 + keep_mm)
        self.skip(2.5)
        self.line(text, size_pt=HEAD_PT, family=SERIF)
        self.skip(HEAD_PT * MM_PER_IN / POINTS_PER_IN + 1.6)
        self.rule()
        self.skip(2.0)

    def caution(self, text: str) -> None:
        """Set a caution: framed at the left, so that it is seen without colour."""
        size = BODY_PT
        step = size * LEADING * MM_PER_IN / POINTS_PER_IN
        broken = lines(text, size, self.width_mm - 8.0)
        height = step * len(broken) + 4.0
        self.need(height + 2.0)
        page, paper = self.pages[-1], self.paper
        bottom = 1 - (self.y_mm + height) / paper.height_mm
        for x, width, colour in ((0.0, self.width_mm, WASH), (0.0, 1.0, ACCENT)):
            place = ((self.left_mm + x) / paper.width_mm, bottom)
            box = Rectangle(
                place, width / paper.width_mm, height / paper.height_mm, facecolor=colour, edgecolor="none"
            )
            box.set_zorder(-1)
            page.add_artist(box)
        self.skip(1.6)
        for one in broken:
            self.line(one, self.left_mm + 4.0, size_pt=size)
            self.skip(step)
        self.skip(4.4)

    def table(
        self, columns: Sequence[Column], rows: Sequence[Sequence[str]], *, size_pt: float = BODY_PT
    ) -> None:
        """Set a table; a row that does not fit goes to the next page under the headings again."""
        step = size_pt * 1.75 * MM_PER_IN / POINTS_PER_IN
        self.need(step * (1 + min(len(rows), 3)))
        self._headings(columns, step)
        for row in rows:
            if self.y_mm + step > self.bottom_mm:
                self.new_page()
                self._headings(columns, step)
            self._cells(columns, row, step, size_pt, INK)
            self.rule()
        self.skip(2.5)

    def _headings(self, columns: Sequence[Column], step: float) -> None:
        self._cells(columns, [column.heading for column in columns], step, SMALL_PT, SOFT)
        self.rule(colour=SOFT, weight_pt=0.6)

    def _cells(
        self, columns: Sequence[Column], cells: Sequence[str], step: float, size_pt: float, colour: str
    ) -> None:
        x = self.left_mm
        for column, cell in zip(columns, cells, strict=True):
            text = shortened(cell, size_pt, column.width_mm - 1.5)
            end = x + (column.width_mm - 1.5 if column.align == "right" else 0.0)
            place = end if column.align != "center" else x + column.width_mm / 2
            self.line(
                text, place, self.y_mm + step * 0.66, size_pt=size_pt, colour=colour, align=column.align
            )
            x += column.width_mm
        self.skip(step)

    def axes(
        self, height_mm: float, *, left_mm: float = 11.0, right_mm: float = 1.0, below_mm: float = 10.0
    ) -> Axes:
        """Return axes of that height in the column, with room for labels at the left and below."""
        width = self.width_mm - left_mm - right_mm
        self.need(height_mm + below_mm)
        paper = self.paper
        ax = self.pages[-1].add_axes(
            (
                (self.left_mm + left_mm) / paper.width_mm,
                1 - (self.y_mm + height_mm) / paper.height_mm,
                width / paper.width_mm,
                height_mm / paper.height_mm,
            )
        )
        self.skip(height_mm + below_mm)
        return ax

    def caption(self, text: str) -> None:
        """Set what a figure shows, small, below it."""
        self.paragraph(text, size_pt=SMALL_PT, colour=SOFT, after_mm=3.0)

    def number_pages(self) -> None:
        """Write the foot of every page, with its number."""
        y = self.paper.height_mm - 9.5
        for number, page in enumerate(self.pages, start=1):
            count = f"{number} of {len(self.pages)}"
            room = self.width_mm - width_mm(count, SMALL_PT) - 5.0
            for text, x, align in (
                (shortened(self.foot, SMALL_PT, room), self.left_mm, "left"),
                (count, self.left_mm + self.width_mm, "right"),
            ):
                page.text(
                    x / self.paper.width_mm,
                    1 - y / self.paper.height_mm,
                    text,
                    fontsize=SMALL_PT,
                    family=SANS,
                    color=SOFT,
                    ha=align,
                    va="baseline",
                    parse_math=False,
                )
