"""Printed sheets: readings are measured in the file's own vertices, and the key is not in it."""

import io
import itertools
import math
import re
import zlib

import numpy as np
import pypdf
import pytest

from trainer.instrument import catalogue
from trainer.practice import sheets as asked
from trainer.practice.sheets import UnusableSheet
from trainer.reports import sheets, sheets_booklet

MM_PER_POINT = 25.4 / 72  # ISO 32000-1, 8.3.2.3
NM = 1e-6  # mm
NUMBER = r"(-?[\d.]+)"
BLOCK = re.compile(r"q (\S+) 0 0 (\S+) (\S+) (\S+) cm .*? re W n /\w+ Do 0 g (.*?) f Q", re.DOTALL)
QUADRANGLE = re.compile(rf"(?<![\d.])0 {NUMBER} m {NUMBER} {NUMBER} l {NUMBER} {NUMBER} l 0 {NUMBER} l h")
BOX = re.compile(rf"{NUMBER} {NUMBER} {NUMBER} {NUMBER} re")


def printed(instrument="metric", readings=20, paper="a4", magnification=1.0, seed=7):
    """Return a sheet and its file."""
    sheet = asked.make(instrument, readings, np.random.default_rng(seed))
    chosen = sheets.layout(catalogue.load(instrument), readings, paper, magnification)
    return sheet, sheets.file_of([sheet], chosen)


def content_of(body, page=0):
    return pypdf.PdfReader(io.BytesIO(body)).pages[page].get_contents().get_data().decode("latin-1")


def on_paper(content):
    """Yield, for each instrument, its lines in mm on the paper: from its edge, scale included.

    Graduations as (upper, lower) at the thimble's edge; sleeve lines as (middle, length below the index).
    """
    page = float(content.split()[0]) * MM_PER_POINT  # the page's unit, in mm
    for across, down, *_, ink in BLOCK.findall(content):
        x, y = float(across) * page, float(down) * page
        lines = [(float(m[0]) * y, float(m[-1]) * y) for m in QUADRANGLE.findall(ink)]
        boxes = [tuple(map(float, m)) for m in BOX.findall(ink)]
        yield lines, [(left * x, top * y, wide * x, tall * y) for left, top, wide, tall in boxes]


def measured(lines, boxes, micrometer, magnification):
    """Return (reading in tenths, how far its graduations lie from where it wants them, in mm on paper)."""
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2 * magnification
    angles = [(math.asin(-high / radius) + math.asin(-low / radius)) / 2 for high, low in lines]
    fraction = (-min(angles, key=abs) * micrometer.direction / micrometer.division_rad) % 1
    _, *marks = boxes  # the first is the index line
    half = micrometer.sizes.line_width_mm / 2
    farthest = min(left for left, *_ in marks) / magnification + half
    travel = -farthest if micrometer.kind == "outside" else micrometer.travel_mm + farthest
    return 10 * (round(travel / micrometer.division_mm - fraction) + fraction)


@pytest.mark.parametrize(
    ("instrument", "readings", "paper", "magnification"),
    [
        ("metric", 20, "a4", 1.0),
        ("metric", 40, "letter", 1.0),
        ("inch", 40, "a4", 1.0),
        ("inch", 20, "letter", 1.5),
        ("metric-25-50", 12, "a4", 1.5),
        ("depth-metric", 20, "a4", 1.0),
        ("metric-1mm-pitch", 14, "letter", 1.0),
    ],
)
def test_the_readings_asked_for_are_found_in_the_vertices(instrument, readings, paper, magnification):
    micrometer = catalogue.load(instrument)
    sheet, body = printed(instrument, readings, paper, magnification)
    found = [measured(*seen, micrometer, magnification) for seen in on_paper(content_of(body))]
    division = math.pi * micrometer.sizes.thimble_edge_diameter_mm / micrometer.divisions * magnification
    wanted = [item.position_tenths for item in sheet.items]
    # in the order asked; the mean of a line's two sides, so 1 nm on paper in tenths
    np.testing.assert_allclose(found, wanted, rtol=0, atol=10 * NM / division * 1.05)


@pytest.mark.parametrize(("magnification", "readings"), [(1.0, 40), (1.5, 20), (2.0, 12), (2.7, 12)])
def test_every_line_is_true_to_a_nanometre_on_paper(magnification, readings):
    """Lines are worked out here anew: y = -R sin(theta), theta = (m - position) * 2 pi / divisions."""
    micrometer = catalogue.load("metric")
    sheet, body = printed("metric", readings, "a4", magnification)
    radius, half = micrometer.sizes.thimble_edge_diameter_mm / 2, micrometer.sizes.line_width_mm / 2
    checked = 0
    for item, (lines, boxes) in zip(sheet.items, on_paper(content_of(body)), strict=True):
        for high, low in lines:
            middle = (
                math.asin(-high / radius / magnification) + math.asin(-low / radius / magnification)
            ) / 2
            line = round(middle / micrometer.division_rad + item.position_tenths / 10)
            angle = (line - item.position_tenths / 10) * micrometer.division_rad
            if abs(angle) + half / radius < math.pi / 2:
                assert high == pytest.approx(
                    -radius * magnification * math.sin(angle + half / radius), abs=NM
                )
                assert low == pytest.approx(-radius * magnification * math.sin(angle - half / radius), abs=NM)
                checked += 1
        for left, _, wide, _ in boxes[1:]:
            place = -(left / magnification + half)  # of the line's middle, from the edge
            count = round((item.position_tenths / 1000 - place) / 0.5)
            true = -(item.position_tenths / 1000 - 0.5 * count) - half
            if wide == pytest.approx(2 * half * magnification, abs=2 * NM):  # not cut by the edge
                assert left == pytest.approx(true * magnification, abs=NM)
                checked += 1
    assert checked > 20 * len(sheet.items)


def test_every_reading_can_be_told_from_what_is_seen():
    """However far a window is cut, a sleeve numeral and a thimble numeral are in it, but near zero."""
    for name, magnification in itertools.product(catalogue.names(), (1.0, 1.5, 2.0)):
        micrometer = catalogue.load(name)
        try:
            chosen = sheets.layout(micrometer, 12, "letter", magnification)
        except UnusableSheet:
            assert magnification > 1.5, name
            continue
        far = micrometer.travel_tenths
        for position in np.linspace(0.25 * far, 0.75 * far, 11):
            shown = sheets.placed(micrometer, position, 50.0, 50.0, chosen).scene
            numerals = [shape.polygons[0][0][0] for shape in shown.of("numeral")]
            assert any(x < 0 for x in numerals), (name, magnification, position)
            assert any(x > 0 for x in numerals), (name, magnification, position)


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("Letter", (215.9, 279.4))])
def test_the_page_is_the_paper_and_its_check_line_is_100_mm(paper, size):
    """A4: ISO 216, 210 x 297 mm. Letter: 8.5 x 11 in of 25.4 mm."""
    _, body = printed(paper=paper)
    box = pypdf.PdfReader(io.BytesIO(body)).pages[0].mediabox
    assert float(box.width) * MM_PER_POINT == pytest.approx(size[0], abs=NM)
    assert float(box.height) * MM_PER_POINT == pytest.approx(size[1], abs=NM)
    content = content_of(body)
    unit = float(content.split()[0]) * MM_PER_POINT
    long = [m for m in BOX.findall(content) if float(m[2]) * unit == pytest.approx(100, abs=NM)]
    assert len(long) == 1


def inked(body):
    """Yield every rectangle of a page that holds something, in mm: windows, bars and where texts begin."""
    content = content_of(body)
    for scale, _, x, y, *window in re.findall(
        rf"q (\S+) 0 0 (\S+) {NUMBER} {NUMBER} cm {NUMBER} {NUMBER} {NUMBER} {NUMBER} re W n", content
    ):
        left, top, wide, tall = (float(value) * float(scale) for value in window)
        yield float(x) + left, float(y) + top, float(x) + left + wide, float(y) + top + tall
    for m in re.findall(rf"g {NUMBER} {NUMBER} {NUMBER} {NUMBER} re f", content):
        left, top, wide, tall = map(float, m)
        yield left, top, left + wide, top + tall


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", catalogue.names())
def test_nothing_leaves_the_page_and_no_two_instruments_meet(name, paper):
    micrometer = catalogue.load(name)
    for readings, magnification in itertools.product((12, 31, 40), (1.0, 2.0)):
        try:
            chosen = sheets.layout(micrometer, readings, paper, magnification)
        except UnusableSheet:
            assert (readings, magnification) != (12, 1.0), "every instrument has a sheet of twelve"
            continue
        sheet = asked.make(name, readings, np.random.default_rng(3))
        width, height = chosen.size_mm
        rectangles = list(inked(sheets.file_of([sheet], chosen)))
        assert len(rectangles) >= readings
        assert all(
            x0 > 11.9 and x1 < width - 11.9 and y0 > 11.9 and y1 < height - 8 for x0, y0, x1, y1 in rectangles
        )
        for (a0, b0, a1, b1), (c0, d0, c1, d1) in itertools.combinations(rectangles[:readings], 2):
            assert a1 <= c0 or c1 <= a0 or b1 <= d0 or d1 <= b0


def test_the_key_is_not_in_the_file():
    sheet, body = printed(readings=40)
    micrometer = catalogue.load("metric")
    streams = [zlib.decompress(part) for part in re.findall(rb"stream\n(.*?)\nendstream", body, re.DOTALL)]
    drawn = [text for stream in streams for text in re.findall(rb"\((.*?)(?<!\\)\) Tj", stream)]
    keys = set()
    for item in sheet.items:
        for decimals in (2, 3, 4):
            keys.add(micrometer.format_reading(item.position_tenths, decimals).encode())
        keys |= {f"{item.position_tenths:.{d}f}".encode() for d in (1, 2, 4)} | {
            repr(item.position_tenths).encode()
        }
    plain = re.sub(rb"stream\n.*?\nendstream", b"", body, flags=re.DOTALL)
    for text in [plain, *drawn]:
        assert not [key for key in keys if key in text]
    information = dict(pypdf.PdfReader(io.BytesIO(body)).metadata)
    assert information == {"/Producer": "Tenthwise", "/Title": f"Sheet {sheet.number}"}
    assert b"/ID" not in plain
    assert b"Date" not in plain


def test_the_place_of_a_reading_on_the_page_does_not_hang_on_the_reading():
    one, other = (printed(seed=seed)[1] for seed in (1, 2))
    places = [
        re.findall(r"q (\S+ 0 0 \S+ \S+ \S+ cm \S+ \S+ \S+ \S+ re W n)", content_of(body))
        for body in (one, other)
    ]
    assert places[0] == places[1]
    assert len(places[0]) == 20


def test_a_page_says_what_is_needed_to_read_and_print_it():
    sheet, body = printed("inch", 12, "letter", 1.5)
    text = pypdf.PdfReader(io.BytesIO(body)).pages[0].extract_text()
    for words in (
        sheet.number,
        "Name",
        "Date",
        "in inches with four decimals",
        "Print at 100 %",
        "must measure 100 mm",
    ):
        assert words in text
    assert "1.5 times true scale" in text
    for number in range(1, 13):
        assert re.search(rf"(?<!\S){number}(?!\S)", text)


def test_the_size_of_a_printers_dot():
    """25.4 mm / 600 = 42 um; with a division of 1 mm along the thimble that is 0.42 tenth."""
    metric = catalogue.load("metric")
    assert sheets.dot_tenths(metric, 1.0) == pytest.approx(10 * 25.4 / 600 / (math.pi * 16 / 50))
    assert sheets.dot_tenths(metric, 2.0) == pytest.approx(sheets.dot_tenths(metric, 1.0) / 2)
    assert "0.42 of a tenth" in pypdf.PdfReader(io.BytesIO(printed()[1])).pages[0].extract_text()


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", catalogue.names())
def test_every_number_of_readings_fits_at_true_scale_and_makes_a_small_file(name, paper):
    for readings in (30, 36, 40):
        assert len(printed(name, readings, paper, 1.0)[1]) <= 130_000
    assert len(printed(name, 16, paper, 1.5)[1]) <= 130_000


def test_a_booklet_has_instructions_and_every_sheet():
    made = [asked.make("metric", 20, np.random.default_rng(k)) for k in range(3)]
    chosen = sheets.layout(catalogue.load("metric"), 20, "a4", 1.0)
    body = sheets_booklet.booklet(made, chosen)
    pages = pypdf.PdfReader(io.BytesIO(body)).pages
    assert len(pages) == 4
    first = pages[0].extract_text()
    assert "12.834 mm" in first
    assert "must measure 100 mm" in first
    assert "real instruments" in first
    for place, (page, sheet) in enumerate(zip(pages[1:], made, strict=False), start=2):
        assert sheet.number in page.extract_text()
        assert f"page {place} of 4" in page.extract_text()
    micrometer = catalogue.load("metric")
    example = measured(*next(on_paper(content_of(body))), micrometer, 2.0)
    assert example == pytest.approx(12_834.0, abs=1e-4)
    found = [measured(*seen, micrometer, 1.0) for seen in on_paper(content_of(body, 2))]
    np.testing.assert_allclose(found, [item.position_tenths for item in made[1].items], rtol=0, atol=2e-5)


@pytest.mark.parametrize(
    ("readings", "paper", "magnification", "why"),
    [
        (20, "a3", 1.0, "paper is 'a3'; choose from a4, letter"),
        (20, "a4", 0.5, "magnification is 0.5; give a number from 1"),
        (20, "a4", float("nan"), "magnification is nan"),
        (11, "a4", 1.0, "holds 12 to 40"),
        (41, "a4", 1.0, "holds 12 to 40"),
        (40, "a4", 2.0, "do not fit on A4; choose at most"),
        (12, "letter", 9.0, "do not fit on Letter; choose a magnification of at most"),
    ],
)
def test_what_does_not_fit_is_refused_with_what_does(readings, paper, magnification, why):
    with pytest.raises(UnusableSheet, match=re.escape(why)):
        sheets.layout(catalogue.load("metric"), readings, paper, magnification)
    if "at most" in why:
        with pytest.raises(UnusableSheet) as refusal:
            sheets.layout(catalogue.load("metric"), readings, paper, magnification)
        most = float(re.search(r"magnification of at most ([\d.]+)", str(refusal.value))[1])
        assert sheets.layout(catalogue.load("metric"), readings, paper, most).magnification == most
