"""A booklet of printed sheets: a page of instructions, then the sheets, in one file."""

from collections.abc import Sequence

from trainer.drawing import paper
from trainer.instrument import catalogue
from trainer.instrument.micrometer import Micrometer
from trainer.practice.sheets import Sheet
from trainer.reports import sheets
from trainer.reports.sheets import MARGIN_MM, SOFT, Layout

BODY_MM, LEADING_MM = 3.7, 5.5
NUMBER_MM = 9.0  # indent of a step's text
EXAMPLE_TENTHS = {"mm": 12_834.0, "in": 3_127.0}  # 12.834 mm beyond the base; 0.3127 in


def booklet(made: Sequence[Sheet], chosen: Layout) -> bytes:
    """Return sheets of one instrument as the bytes of one PDF file, instructions first."""
    micrometer = catalogue.load(made[0].instrument)
    pages = [instructions(micrometer, chosen, made)]
    for place, sheet in enumerate(made, start=1):
        pages.append(sheets.page(sheet, chosen, f"page {place + 1} of {len(made) + 1}"))
    return paper.encoded(pages, f"Booklet of {_number(made)}")


def _number(made: Sequence[Sheet]) -> str:
    return "1 sheet" if len(made) == 1 else f"{len(made)} sheets"


def instructions(micrometer: Micrometer, chosen: Layout, made: Sequence[Sheet]) -> paper.Page:
    """Return the first page: what to do, one worked example, and the line to check the printing by."""
    width, height = chosen.size_mm
    count = f"{_number(made)} of {len(made[0].items)} readings"
    items: list[paper.Item] = [
        paper.Text("Reading between the lines", MARGIN_MM, MARGIN_MM + 7.0, 8.0, bold=True),
        paper.Text(f"{micrometer.title}: {count}", MARGIN_MM, MARGIN_MM + 14.0, 3.6, grey=SOFT),
        paper.Bar(MARGIN_MM, MARGIN_MM + 18.0, width - 2 * MARGIN_MM, 0.25),
    ]
    y = MARGIN_MM + 28.0
    for number, text in enumerate(_steps(micrometer), start=1):
        items.append(paper.Text(str(number), MARGIN_MM, y, BODY_MM, bold=True))
        for line in sheets.wrapped(text, width - 2 * MARGIN_MM - NUMBER_MM - 12.0, BODY_MM):
            items.append(paper.Text(line, MARGIN_MM + NUMBER_MM, y, BODY_MM))
            y += LEADING_MM
        y += 2.6
    items += _example(micrometer, chosen, y + 4.0)
    base = height - MARGIN_MM
    dot = sheets.dot_tenths(micrometer, chosen.magnification)
    scale = sheets.scale_words(chosen.magnification)
    items += sheets.check_line(MARGIN_MM, base - 7.0)
    items += [
        paper.Text("This line must measure 100 mm.", MARGIN_MM, base - 0.4, 2.7),
        paper.Text(f"{scale}; a 600 dpi printer's dot is {dot:.2f} of a tenth",
                   width - MARGIN_MM, base - 4.2, 2.7, "right"),
        paper.Text(f"page 1 of {len(made) + 1}", width - MARGIN_MM, base - 0.4, 2.7, "right", grey=SOFT),
    ]  # fmt: skip
    return paper.Page(width, height, tuple(items))


def _steps(micrometer: Micrometer) -> tuple[str, ...]:
    last = "the vernier line that meets a line of the thimble" if micrometer.vernier else (
        "the tenths of a division, by eye, from where the index line lies between two lines of the thimble"
    )  # fmt: skip
    return (
        "Before anything else lay a ruler on the line at the foot of this page. If it is not 100 mm long, "
        "print again at 100 %, without fitting to the page.",
        "Write your name on every sheet. Lay it flat, in even light, and look straight down on it; use the "
        "loupe that you use at work, and none if you use none.",
        "Take the readings in the order of their numbers. Read the sleeve, then the last line of the thimble "
        f"that was passed, then {last}.",
        f"Write the whole reading {sheets.decimals_words(micrometer)} into the box beside it. "
        "A decimal comma will do.",
        "Do not measure the print, and do not go back to change an answer. "
        "Draw a dash where you cannot tell; a guess would hide it.",
        "Hand the sheets in with their numbers readable: the number tells which readings were asked.",
        "What comes of it is skill in reading a picture. It is confirmed on real instruments "
        "before parts are judged by it, as the laboratory's own procedures say.",
    )


def _example(micrometer: Micrometer, chosen: Layout, top_mm: float) -> list[paper.Item]:
    """Return one instrument with its reading written out; it belongs to no sheet."""
    position = EXAMPLE_TENTHS[micrometer.unit]
    wanted = Layout(chosen.paper, 2.0, 1, 1, 30.0, 12.3, min(micrometer.sizes.body_diameter_mm + 0.6, 24.0))
    middle = top_mm + 6.0 + wanted.height_mm
    left = MARGIN_MM + NUMBER_MM
    beside = left + 2 * (wanted.left_mm + wanted.right_mm) + 8.0
    tenths = position % 10
    line = int(position % micrometer.turn_tenths // 10)
    numbers = f"{tenths:.0f} tenths past line {line} of the thimble"
    return [
        paper.Text("Example", left, top_mm + 2.0, BODY_MM, bold=True),
        sheets.placed(micrometer, position, left + 2 * wanted.left_mm, middle, wanted),
        paper.Text(
            f"{micrometer.format_reading(position, micrometer.decimals)} {micrometer.unit}",
            beside,
            middle,
            6.0,
            bold=True,
        ),
        paper.Text(numbers, beside, middle + 6.5, 3.0),
        paper.Text("shown at twice true scale", beside, middle + 11.0, 3.0, grey=SOFT),
    ]
