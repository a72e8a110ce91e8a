"""Printed sheets: pages of readings at true scale or a stated magnification, to be answered by hand.

The drawing is the one that the screen and the tests use. A page says its number, how it must be printed,
and what a printer's dot is worth at its scale; it never says a reading. Its file holds no key either: the
title is the sheet's number, and the readings come in the order in which they are asked.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from trainer.drawing import paper
from trainer.drawing.letter_widths import width_em
from trainer.drawing.scene import Point, Shape, scene
from trainer.drawing.viewing import Viewing, vernier_roll_deg
from trainer.instrument import catalogue
from trainer.instrument.micrometer import Micrometer, State
from trainer.practice.sheets import FEWEST, MOST, Sheet, UnusableSheet

PAPERS = {"a4": ("A4", paper.A4), "letter": ("Letter", paper.LETTER)}
SMALLEST, LARGEST = 1.0, 10.0  # magnification
MARGIN_MM, HEAD_MM, FOOT_MM = 12.0, 30.0, 16.5
ANSWER_MM, BOX_MM, GAP_MM, GUTTER_MM, ROW_GAP_MM = 19.0, 8.0, 2.5, 5.0, 2.6
LEAST_LEFT_MM, LEAST_RIGHT_MM, MOST_RIGHT_MM = 12.0, 8.5, 12.3  # on the instrument: one numeral each at least
LEAST_HEIGHT_MM, LEAST_VERNIER_MM = 12.0, 17.2
MOST_SHOWN_MM = 560.0  # heights of all readings together: keeps the file of a full page below 130 kB
NUMERAL_SLACK_MM = 0.01  # a quarter of a printer's dot at true scale
SCREEN = Viewing(20.0)  # paper has no pixels; the drawing only asks that a scale is named
SOFT, HAIR, FAINT = 0.35, 0.55, 0.72  # greys


@dataclass(frozen=True, slots=True)
class Layout:
    """How a page is divided. The window (what is seen of an instrument) is in the instrument's own mm."""

    paper: str
    magnification: float
    columns: int
    rows: int
    left_mm: float
    right_mm: float
    height_mm: float

    @property
    def size_mm(self) -> tuple[float, float]:
        """Return the page's width and height."""
        return PAPERS[self.paper][1]

    @property
    def cell_mm(self) -> tuple[float, float]:
        """Return the width and height of one reading's place, the gutter to the next one included."""
        width, height = self.size_mm
        return _room(width, height, self.columns, self.rows)


def layout(micrometer: Micrometer, readings: int, paper_name: str, magnification: float) -> Layout:
    """Return the division of a page that shows most of each instrument.

    Raises `UnusableSheet` for a paper that is not known and for readings that do not fit; the sentence
    says what does.
    """
    name = paper_name.strip().lower()
    if name not in PAPERS:
        raise UnusableSheet(f"paper is {paper_name!r}; choose from {', '.join(PAPERS)}")
    if not SMALLEST <= magnification <= LARGEST:
        raise UnusableSheet(f"magnification is {magnification:g}; give a number from 1 (true scale) to 10")
    if not FEWEST <= readings <= MOST:
        raise UnusableSheet(f"readings is {readings}; a sheet holds {FEWEST} to {MOST}")
    found = _best(micrometer, readings, name, magnification)
    if found is not None:
        return found
    fits = [n for n in range(FEWEST, readings) if _best(micrometer, n, name, magnification)]
    largest = [m / 10 for m in range(10, 101) if _best(micrometer, readings, name, m / 10)]
    ways = [f"at most {fits[-1]} readings"] if fits else []
    ways += [f"a magnification of at most {largest[-1]:g}"] if largest else []
    raise UnusableSheet(
        f"{readings} readings at {magnification:g} times true scale do not fit on {PAPERS[name][0]}; "
        f"choose {' or '.join(ways) or 'another paper'}"
    )


def _best(micrometer: Micrometer, readings: int, name: str, magnification: float) -> Layout | None:
    """Return the best division of a page, or None when the readings do not fit."""
    least = LEAST_VERNIER_MM if micrometer.vernier is not None else LEAST_HEIGHT_MM
    tallest = max(min(micrometer.sizes.body_diameter_mm + 0.6, MOST_SHOWN_MM / readings), least)
    longest = micrometer.travel_mm + 4.0
    best: tuple[float, Layout] | None = None
    for columns in (1, 2, 3, 4):
        rows = math.ceil(readings / columns)
        width, height = _room(*PAPERS[name][1], columns, rows)
        wide = (width - ANSWER_MM - GAP_MM - GUTTER_MM) / magnification
        tall = min((height - ROW_GAP_MM) / magnification, tallest)
        right = min(max(wide - longest, LEAST_RIGHT_MM), MOST_RIGHT_MM)
        left = min(wide - right, longest)
        if left < LEAST_LEFT_MM or tall < least or height < BOX_MM + 6:
            continue
        worth = left / longest + tall / tallest
        if best is None or worth > best[0] + 0.02:
            found = Layout(
                name, magnification, columns, rows, round(left, 2), round(right, 2), round(tall, 2)
            )
            best = (worth, found)
    return None if best is None else best[1]


def _room(width_mm: float, height_mm: float, columns: int, rows: int) -> tuple[float, float]:
    across = width_mm - 2 * MARGIN_MM + GUTTER_MM
    down = height_mm - 2 * MARGIN_MM - HEAD_MM - FOOT_MM
    return across / columns, down / rows


def dot_tenths(micrometer: Micrometer, magnification: float) -> float:
    """Return what a dot of a 600 dpi printer, 42 um, is in tenths of a division along the thimble's edge."""
    division = math.pi * micrometer.sizes.thimble_edge_diameter_mm / micrometer.divisions
    return 10 * paper.PRINTER_DOT_UM / 1000 / (division * magnification)


def page(sheet: Sheet, chosen: Layout, foot: str = "") -> paper.Page:
    """Return a sheet as a page of paper; `foot` is written at the end of its last line."""
    micrometer = catalogue.load(sheet.instrument)
    items: list[paper.Item] = [*_head(sheet, micrometer, chosen)]
    for place, item in enumerate(sheet.items):
        items += _reading(micrometer, item.position_tenths, item.number, place, chosen)
    items += _foot(micrometer, chosen, foot)
    return paper.Page(*chosen.size_mm, tuple(items))


def file_of(sheets: Sequence[Sheet], chosen: Layout) -> bytes:
    """Return one sheet, or several, as the bytes of a PDF file."""
    title = f"Sheet {sheets[0].number}" if len(sheets) == 1 else f"{len(sheets)} sheets"
    return paper.encoded([page(sheet, chosen) for sheet in sheets], title)


def placed(
    micrometer: Micrometer, position_tenths: float, x_mm: float, y_mm: float, chosen: Layout
) -> paper.Placed:
    """Return an instrument on the page, its thimble's edge at x and its axis at y."""
    viewing = Viewing(SCREEN.px_per_mm, roll_deg=vernier_roll_deg(micrometer))
    whole = scene(State(micrometer, position_tenths), viewing, left_mm=chosen.left_mm + 1.0)
    seen = (_fewer_points(shape) for shape in whole.shapes if _in_view(shape, chosen))
    shown = replace(whole, shapes=tuple(seen))
    return paper.Placed(
        shown, round(x_mm, 3), round(y_mm, 3), chosen.left_mm, chosen.right_mm, chosen.height_mm,
        chosen.magnification,
    )  # fmt: skip


def _in_view(shape: Shape, chosen: Layout) -> bool:
    """Return whether a shape lies in the window: a numeral wholly, anything else in part.

    A numeral that is cut could be taken for another; what is not seen would only make the file larger.
    """
    reach = chosen.height_mm / 2
    points = [point for polygon in shape.polygons for point in polygon]
    top, bottom = min(y for _, y in points), max(y for _, y in points)
    if shape.part == "numeral":
        left, right = min(x for x, _ in points), max(x for x, _ in points)
        return -reach < top and bottom < reach and -chosen.left_mm < left and right < chosen.right_mm
    return top < reach and bottom > -reach


def _fewer_points(shape: Shape) -> Shape:
    """Return a numeral without the points that a printer cannot show; lines that carry a reading stay."""
    if shape.part != "numeral":
        return shape
    return replace(shape, polygons=tuple(_simpler(polygon) for polygon in shape.polygons))


def _simpler(polygon: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return a polygon, leaving out points that lie within `NUMERAL_SLACK_MM` of the chord across them."""
    kept, start = [polygon[0]], 0
    for end in range(2, len(polygon)):
        (x0, y0), (x1, y1) = polygon[start], polygon[end]
        dx, dy = x1 - x0, y1 - y0
        slack = NUMERAL_SLACK_MM * math.hypot(dx, dy)
        if any(abs(dx * (y - y0) - dy * (x - x0)) > slack for x, y in polygon[start + 1 : end]):
            start = end - 1
            kept.append(polygon[start])
    return (*kept, polygon[-1])


def decimals_words(micrometer: Micrometer) -> str:
    """Return how a reading is to be written, with an example that is no reading of any sheet."""
    if micrometer.unit == "mm":
        return "in millimetres with three decimals (0.000)"
    return "in inches with four decimals (0.0000)"


def scale_words(magnification: float) -> str:
    """Return the scale of a page in words."""
    return "True scale" if magnification == 1 else f"{magnification:g} times true scale"


def _head(sheet: Sheet, micrometer: Micrometer, chosen: Layout) -> list[paper.Item]:
    """Return the number, the boxes for name and date, and the line of instructions."""
    right = chosen.size_mm[0] - MARGIN_MM
    top = MARGIN_MM
    name_left, date_left = right - 98.0, right - 30.0
    task = f"Read every instrument to a tenth of a division; write the reading {decimals_words(micrometer)}."
    return [
        paper.Text("SHEET", MARGIN_MM, top + 2.6, 2.4, grey=SOFT),
        paper.Text(sheet.number, MARGIN_MM, top + 10.6, 7.6, bold=True),
        *frame(name_left, top, 66.0, 11.0),
        paper.Text("Name", name_left + 1.6, top + 3.4, 2.4, grey=SOFT),
        *frame(date_left, top, 30.0, 11.0),
        paper.Text("Date", date_left + 1.6, top + 3.4, 2.4, grey=SOFT),
        paper.Text(micrometer.title, MARGIN_MM, top + 18.4, 3.4, bold=True),
        paper.Text(task, MARGIN_MM, top + 23.6, 3.1),
        paper.Bar(MARGIN_MM, top + 26.6, right - MARGIN_MM, 0.25),
    ]


def _reading(
    micrometer: Micrometer, position_tenths: float, number: int, place: int, chosen: Layout
) -> list[paper.Item]:
    """Return one instrument with its number and the place for its answer."""
    width, height = chosen.cell_mm
    row, column = divmod(place, chosen.columns)
    left = MARGIN_MM + column * width
    middle = MARGIN_MM + HEAD_MM + (row + 0.5) * height
    scale = chosen.magnification
    answer = left + (chosen.left_mm + chosen.right_mm) * scale + GAP_MM
    top = middle - (BOX_MM + 4.0) / 2
    tall = chosen.height_mm * scale
    cut = chosen.height_mm < micrometer.sizes.body_diameter_mm
    around = frame(left, middle - tall / 2, answer - GAP_MM - left, tall, FAINT) if cut else []
    return [
        placed(micrometer, position_tenths, left + chosen.left_mm * scale, middle, chosen),
        *around,
        paper.Text(str(number), answer, top + 2.8, 3.4, bold=True),
        *frame(answer, top + 4.0, ANSWER_MM, BOX_MM),
    ]


def _foot(micrometer: Micrometer, chosen: Layout, foot: str) -> list[paper.Item]:
    """Return the check line and what it is for."""
    width, height = chosen.size_mm
    right, base = width - MARGIN_MM, height - MARGIN_MM
    dot = dot_tenths(micrometer, chosen.magnification)
    return [
        paper.Bar(MARGIN_MM, base - 13.2, right - MARGIN_MM, 0.25),
        *check_line(MARGIN_MM, base - 7.0),
        paper.Text("Print at 100 %, without fitting to the page: this line must measure 100 mm.",
                   MARGIN_MM, base - 0.4, 2.7),
        paper.Text(scale_words(chosen.magnification), right, base - 8.2, 3.0, "right", bold=True),
        paper.Text(f"a 600 dpi printer's dot is {dot:.2f} of a tenth here", right, base - 4.2, 2.7, "right"),
        paper.Text(foot, right, base - 0.4, 2.7, "right", grey=SOFT),
    ]  # fmt: skip


def check_line(x_mm: float, y_mm: float) -> list[paper.Item]:
    """Return a line of exactly 100 mm between the outer sides of its ends, with a tick every 10 mm."""
    ticks = [
        paper.Bar(x_mm + 10.0 * k - 0.1, y_mm - (1.6 if k == 5 else 1.0), 0.2, 1.6 if k == 5 else 1.0)
        for k in range(1, 10)
    ]
    ends = [paper.Bar(x, y_mm - 2.4, 0.2, 3.4) for x in (x_mm, x_mm + 99.8)]
    return [paper.Bar(x_mm, y_mm - 0.15, 100.0, 0.3), *ticks, *ends]


def frame(
    x_mm: float, y_mm: float, width_mm: float, height_mm: float, grey: float = HAIR
) -> list[paper.Item]:
    """Return the four sides of an empty box."""
    line = 0.18
    return [
        paper.Bar(x_mm, y_mm, width_mm, line, grey),
        paper.Bar(x_mm, y_mm + height_mm - line, width_mm, line, grey),
        paper.Bar(x_mm, y_mm, line, height_mm, grey),
        paper.Bar(x_mm + width_mm - line, y_mm, line, height_mm, grey),
    ]


def wrapped(text: str, width_mm: float, size_mm: float) -> list[str]:
    """Return a text as lines that are no wider than `width_mm`."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_em(longer, bold=False) * size_mm <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
