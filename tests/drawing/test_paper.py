"""Paper at true scale: vertices are read back out of the PDF and measured, and the key is not in it."""

import io
import math
import re
import subprocess
import sys
import zlib
from pathlib import Path

import matplotlib
import numpy as np
import pypdf
import pytest

from trainer.drawing import layout, letter_widths, paper
from trainer.drawing.scene import scene
from trainer.drawing.viewing import Viewing, vernier_roll_deg
from trainer.instrument import catalogue
from trainer.instrument.micrometer import State

NM = 1e-6  # millimetres


def sheet(micrometer, positions, scale=1.0):
    """Return a page with readings in three columns."""
    items = []
    for place, position in enumerate(positions):
        x, y = 55 + 62 * (place % 3), 30 + 25 * (place // 3)
        shown = scene(State(micrometer, position), Viewing(20.0), left_mm=38.0)
        items.append(paper.Placed(shown, x, y, 37.0, 16.0, 20.0, scale))
    return paper.Page(*paper.A4, tuple(items))


def content_of(body, page=0):
    """Return a page's content as text, read by an independent library."""
    return pypdf.PdfReader(io.BytesIO(body)).pages[page].get_contents().get_data().decode("latin-1")


def placed_blocks(content):
    """Return (scale, x, y, ink operators) of each instrument on a page."""
    pattern = r"q (\S+) 0 0 \S+ (\S+) (\S+) cm .*? re W n /\w+ Do 0 g (.*?) f Q"
    return [(float(s), float(x), float(y), ink) for s, x, y, ink in re.findall(pattern, content, re.DOTALL)]


def graduations(ink):
    """Return the quadrangles of the thimble's lines: their two ys at the edge."""
    number = r"(-?[\d.]+)"
    pattern = rf"(?<![\d.])0 {number} m {number} {number} l {number} {number} l 0 {number} l h"
    return [(float(m[0]), float(m[-1])) for m in re.findall(pattern, ink)]


def boxes(ink):
    """Return the rectangles: x, y, width, height."""
    return [tuple(map(float, m)) for m in re.findall(r"(-?[\d.]+) (-?[\d.]+) (-?[\d.]+) (-?[\d.]+) re", ink)]


def measured_tenths(ink, micrometer):
    """Return the reading that the vertices show, in tenths."""
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    angles = [(math.asin(-high / radius) + math.asin(-low / radius)) / 2 for high, low in graduations(ink)]
    nearest = min(angles, key=abs)
    fraction = (-nearest * micrometer.direction / micrometer.division_rad) % 1
    _, *marks = boxes(ink)
    farthest = min(x for x, *_ in marks) + micrometer.sizes.line_width_mm / 2
    whole = round(-farthest / micrometer.division_mm - fraction)
    return 10 * (whole + fraction)


def test_the_readings_asked_for_are_found_in_the_vertices(chance):
    micrometer = catalogue.load("metric")
    positions = chance.uniform(200, 25000, 30)
    body = paper.encoded([sheet(micrometer, positions)])
    found = [measured_tenths(ink, micrometer) for *_, ink in placed_blocks(content_of(body))]
    np.testing.assert_allclose(found, positions, atol=2e-5)  # 1 nm of 0.1 mm a tenth is 1e-5


def test_vertices_are_true_to_a_nanometre(chance):
    micrometer = catalogue.load("inch")
    position = chance.uniform(200, 10000)
    page = sheet(micrometer, [position])
    (_, x, y, ink), *_ = placed_blocks(content_of(paper.encoded([page])))
    assert (x, y) == (55, 30)
    wanted = [shape.polygons[0] for shape in page.items[0].scene.of("graduation")]
    found = graduations(ink)
    assert len(found) == len(wanted)
    for (high, low), polygon in zip(found, wanted, strict=True):
        assert high == pytest.approx(polygon[0][1], abs=NM)
        assert low == pytest.approx(polygon[3][1], abs=NM)
    for (left, top, *_), shape in zip(boxes(ink)[1:], page.items[0].scene.of("mark"), strict=True):
        assert left == pytest.approx(shape.polygons[0][0][0], abs=NM)
        assert top == pytest.approx(shape.polygons[0][0][1], abs=NM)


def test_the_page_is_a4_and_measured_in_millimetres():
    body = paper.encoded([paper.Page(*paper.A4, (paper.Bar(15, 280, 100, 0.2),))])
    page = pypdf.PdfReader(io.BytesIO(body)).pages[0]
    assert float(page.mediabox.width) * 25.4 / 72 == pytest.approx(210, abs=NM)
    assert float(page.mediabox.height) * 25.4 / 72 == pytest.approx(297, abs=NM)
    scale = float(content_of(body).split()[0])
    assert scale * 100 * 25.4 / 72 == pytest.approx(100, abs=NM)  # the check line of 100 mm


def test_a_sheet_of_thirty_is_small_and_the_same_every_time(chance):
    micrometer = catalogue.load("metric")
    positions = chance.uniform(0, 25000, 30)
    body = paper.encoded([sheet(micrometer, positions)])
    assert len(body) <= 130_000
    assert body == paper.encoded([sheet(micrometer, positions)])


def test_the_key_is_nowhere_in_the_file():
    micrometer = catalogue.load("metric")
    body = paper.encoded([sheet(micrometer, [7374.2, 12345.6])], title="Sheet 3")
    streams = [zlib.decompress(part) for part in re.findall(rb"stream\n(.*?)\nendstream", body, re.DOTALL)]
    for text in [body, *streams]:
        for digits in (b"7374.2", b"7.3742", b"12345.6", b"12.3456"):
            assert digits not in text
    information = pypdf.PdfReader(io.BytesIO(body)).metadata
    assert dict(information) == {"/Producer": "Tenthwise", "/Title": "Sheet 3"}


def test_every_instrument_prints(chance):
    for name in catalogue.names():
        micrometer = catalogue.load(name)
        viewing = Viewing(20.0, roll_deg=vernier_roll_deg(micrometer))
        shown = scene(State(micrometer, chance.uniform(0, micrometer.travel_tenths)), viewing)
        content = content_of(paper.encoded([paper.single(shown, 50, 40, 0.6)]))
        assert len(graduations(content)) == len(shown.of("graduation")) >= 10


def test_the_numerals_in_front_are_printed_and_those_gone_round_are_not():
    """A metric thimble has a numeral at every fifth line; in front is what is turned at most 76 degrees.

    At 7.3742 mm line n stands (n - 37.42) 7.2 degrees from the index line: 30, 35, 40 and 45 among them.
    """
    micrometer = catalogue.load("metric")
    shown = scene(State(micrometer, 7374.2), Viewing(20.0), left_mm=38.0)
    on_thimble = [s for s in shown.of("numeral") if min(x for polygon in s.polygons for x, _ in polygon) > 0]
    middles = sorted(
        (min(ys) + max(ys)) / 2
        for s in on_thimble
        for ys in [[y for polygon in s.polygons for _, y in polygon]]
    )
    radius = layout.cone(micrometer).radius_mm(layout.thimble_numeral_x_mm(micrometer))
    by_hand = sorted(-radius * math.sin(math.radians((n - 37.42) * 7.2)) for n in (30, 35, 40, 45))
    assert middles == pytest.approx(by_hand, abs=0.1)


def test_grip_and_groove_are_left_out_of_a_plain_drawing():
    state = State(catalogue.load("metric"), 7374.2)
    for plain, count in ((False, 1), (True, 0)):
        shown = scene(state, Viewing(20.0, plain=plain), left_mm=38.0)
        assert (len(list(shown.of("grip"))), len(list(shown.of("groove")))) == (count, count)


def test_text_is_aligned_and_safe():
    texts = (
        paper.Text("right (a\\b)", 100, 20, 4, "right"),
        paper.Text("centre ±5 °C", 100, 30, 4, "centre"),
        paper.Text("−5", 100, 40, 4),
    )
    content = content_of(paper.encoded([paper.Page(210, 297, texts)]))
    assert r"(right \(a\\b\))" in content
    assert "(\x965)" in content  # the dash of the fonts' coding, not a question mark
    left = float(re.search(r"1 0 0 -1 (\S+) 20 Tm", content)[1])
    assert left == pytest.approx(100 - 4 * letter_widths.width_em("right (a\\b)"), abs=1e-6)


def test_letter_widths_are_those_of_the_published_metrics():
    """Adobe's font metrics files, as shipped with matplotlib."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "pdfcorefonts"
    for file, table in (("Helvetica.afm", letter_widths.PLAIN), ("Helvetica-Bold.afm", letter_widths.BOLD)):
        text = (folder / file).read_text(encoding="ascii")
        widths = {m[2]: int(m[1]) for m in re.finditer(r"WX (\d+) ; N (\w+)", text)}
        codes = {int(m[1]): int(m[2]) for m in re.finditer(r"C (\d+) ; WX (\d+)", text)}
        codes[39], codes[96] = widths["quotesingle"], widths["grave"]  # WinAnsi differs here
        assert table == tuple(codes[code] for code in range(32, 127))


def test_painting_and_paper_need_no_heavy_library():
    code = (
        "import sys, trainer.drawing.painter, trainer.drawing.closeup, trainer.drawing.paper\n"
        "heavy = {'scipy', 'pandas', 'matplotlib', 'pygame', 'PIL', 'sqlalchemy'} & set(sys.modules)\n"
        "sys.exit(str(heavy) if heavy else 0)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
