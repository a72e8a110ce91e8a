"""Vector PDF at true scale, written directly: pages in millimetres, filled outlines, nothing else.

ISO 32000-1. The page's own unit is the millimetre by one transformation, y downwards; lines that carry
a reading are filled polygons with six decimals of a millimetre (seven where a scene is enlarged more than
twice), which is 1 nm on paper and which no join, cap or snapping of a viewer can move. The printer is
the limit: a dot at 600 dpi is 42 um, 0.04 division of a metric thimble. The file holds no date and no
text that tells a reading; equal pages give equal bytes.
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from trainer.drawing.letter_widths import width_em
from trainer.drawing.png import write_whole
from trainer.drawing.scene import Point, Scene, Shape

POINTS_PER_MM = 72 / 25.4  # ISO 32000-1, 8.3.2.3; 1 in = 25.4 mm exactly
PRINTER_DOT_UM = 25_400 / 600  # of a printer of 600 dots an inch
EXACT, FOR_THE_EYE, NUMERAL = 6, 3, 2  # decimals of a millimetre
OUTLINE_GREY, HATCH_GREY, GROOVE_GREY = 0.35, 0.6, 0.45
OUTLINE_MM, HATCH_MM, HATCH_PITCH_MM = 0.09, 0.07, 0.9


@dataclass(frozen=True, slots=True)
class Placed:
    """A scene on the page: its thimble's edge at x, its axis at y, `scale` times as large as life.

    What lies farther than `left_mm`, `right_mm` or `height_mm / 2` from there, on the instrument, is
    cut off.
    """

    scene: Scene
    x_mm: float
    y_mm: float
    left_mm: float
    right_mm: float
    height_mm: float
    scale: float = 1.0


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text; `align` is "left", "centre" or "right" of x, y is the base line."""

    text: str
    x_mm: float
    y_mm: float
    size_mm: float = 3.0
    align: str = "left"
    bold: bool = False
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Bar:
    """A filled rectangle: a rule, a box's side, a check line."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Filled:
    """Polygons filled as one with the nonzero rule."""

    polygons: tuple[tuple[Point, ...], ...]
    grey: float = 0.0


Item = Placed | Text | Bar | Filled


@dataclass(frozen=True, slots=True)
class Page:
    """A page of paper and what is on it, in the order of painting."""

    width_mm: float
    height_mm: float
    items: tuple[Item, ...]


A4 = (210.0, 297.0)  # ISO 216
LETTER = (215.9, 279.4)  # ANSI/ASME Y14.1: 8.5 by 11 in


def write_pdf(path: str | Path, pages: Sequence[Page], title: str = "") -> None:
    """Write pages as a PDF file; it appears whole or not at all.

    Raise `png.UnwritablePicture` where the path cannot be written.
    """
    write_whole(path, encoded(pages, title))


def encoded(pages: Sequence[Page], title: str = "") -> bytes:
    """Return the bytes of a PDF file."""
    file = _File()
    fonts = {
        name: file.add(f"<</Type/Font/Subtype/Type1/BaseFont/{base}/Encoding/WinAnsiEncoding>>".encode())
        for name, base in (("F1", "Helvetica"), ("F2", "Helvetica-Bold"))
    }
    bodies: dict[str, int] = {}
    tree = file.reserve()
    kids = [_page(file, page, fonts, bodies, tree) for page in pages]
    listed = " ".join(f"{kid} 0 R" for kid in kids)
    file.put(tree, f"<</Type/Pages/Count {len(kids)}/Kids[{listed}]>>".encode())
    catalogue = file.add(
        f"<</Type/Catalog/Pages {tree} 0 R/ViewerPreferences<</PrintScaling/None>>>>".encode()
    )
    info = file.add(b"<</Producer(Tenthwise)/Title" + _literal(title) + b">>")
    return file.finished(catalogue, info)


def _page(file: "_File", page: Page, fonts: dict[str, int], bodies: dict[str, int], tree: int) -> int:
    """Add one page to the file and return its object's number."""
    scale = f"{POINTS_PER_MM:.15f}"
    parts = [f"{scale} 0 0 -{scale} 0 {page.height_mm * POINTS_PER_MM:.10f} cm"]
    used: dict[str, int] = {}
    for item in page.items:
        match item:
            case Placed():
                parts.append(_placed(file, item, bodies, used))
            case Text():
                parts.append(_text(item))
            case Bar():
                box = (item.x_mm, item.y_mm, item.width_mm, item.height_mm)
                parts.append(f"{_n(item.grey, 3)} g {' '.join(_n(v) for v in box)} re f")
            case Filled():
                parts.append(f"{_n(item.grey, 3)} g {_paths(item.polygons, FOR_THE_EYE + 1)} f")
    content = file.add_stream("\n".join(parts).encode("latin-1"))
    font_list = "".join(f"/{name} {number} 0 R" for name, number in fonts.items())
    body_list = "".join(f"/{name} {number} 0 R" for name, number in sorted(used.items()))
    size = f"{page.width_mm * POINTS_PER_MM:.10f} {page.height_mm * POINTS_PER_MM:.10f}"
    return file.add(
        f"<</Type/Page/Parent {tree} 0 R/MediaBox[0 0 {size}]/Contents {content} 0 R"
        f"/Resources<</Font<<{font_list}>>/XObject<<{body_list}>>>>>>".encode()
    )


def _placed(file: "_File", item: Placed, bodies: dict[str, int], used: dict[str, int]) -> str:
    """Return the drawing of one instrument; what all readings share is kept once in the file."""
    shared = _body(item)
    if shared not in bodies:
        box = (-item.left_mm, -item.height_mm / 2, item.right_mm, item.height_mm / 2)
        corners = " ".join(_n(v) for v in box)
        bodies[shared] = file.add_stream(
            shared.encode(), f"/Type/XObject/Subtype/Form/BBox[{corners}]/Resources<<>>"
        )
    name = f"B{bodies[shared]}"
    used[name] = bodies[shared]
    scale = _n(item.scale, 9)
    corner = f"{_n(-item.left_mm)} {_n(-item.height_mm / 2)}"
    window = f"{corner} {_n(item.left_mm + item.right_mm)} {_n(item.height_mm)}"
    exact = (
        EXACT if item.scale <= 2 else EXACT + 1
    )  # half a unit of the last decimal, enlarged, is 1 nm at most
    ink = " ".join(_ink(shape, exact) for shape in item.scene.shapes if shape.part in INK)
    return (
        f"q {scale} 0 0 {scale} {_n(item.x_mm)} {_n(item.y_mm)} cm {window} re W n /{name} Do 0 g {ink} f Q"
    )


INK = ("index", "mark", "graduation", "vernier", "numeral")


def _ink(shape: Shape, exact: int) -> str:
    if shape.part == "numeral":
        return _paths(shape.polygons, NUMERAL)
    if shape.part in ("index", "mark", "vernier"):
        (left, top), _, (right, bottom), _ = shape.polygons[0]
        box = (left, top, right - left, bottom - top)
        return f"{' '.join(_n(value, exact) for value in box)} re"
    return _paths(shape.polygons, exact)


def _body(item: Placed) -> str:
    """Return the outlines and the grip, which are the same for every reading of an instrument."""
    parts = [f"{OUTLINE_GREY} G {OUTLINE_MM} w 1 g"]
    for shape in item.scene.shapes:
        match shape.part:
            case "sleeve" | "bevel" | "land":
                parts.append(f"{_paths(shape.polygons, FOR_THE_EYE)} B")
            case "groove":
                parts.append(f"{GROOVE_GREY} g {_paths(shape.polygons, FOR_THE_EYE)} f 1 g")
            case "grip":
                parts.append(_hatched(shape))
            case _:
                continue
    return " ".join(parts)


def _hatched(shape: Shape) -> str:
    """Return a grip as two sets of crossing lines, clipped to its outline."""
    (left, top), _, (right, bottom), _ = shape.polygons[0]
    path = _paths(shape.polygons, FOR_THE_EYE)
    parts = [f"q {path} W n {HATCH_GREY} G {HATCH_MM} w"]
    tall = bottom - top
    start = left - tall
    while start < right:
        parts.append(f"{_n(start, 3)} {_n(top, 3)} m {_n(start + tall, 3)} {_n(bottom, 3)} l")
        parts.append(f"{_n(start, 3)} {_n(bottom, 3)} m {_n(start + tall, 3)} {_n(top, 3)} l")
        start += HATCH_PITCH_MM
    return " ".join([*parts, f"S Q {path} S"])


def _paths(polygons: Sequence[Sequence[Point]], decimals: int) -> str:
    parts = []
    for polygon in polygons:
        points = [f"{_n(x, decimals)} {_n(y, decimals)}" for x, y in polygon]
        parts.append(f"{points[0]} m {' l '.join(points[1:])} l h")
    return " ".join(parts)


def _text(item: Text) -> str:
    """Return a line of text; the page's y runs downwards, so the letters are turned over."""
    words = item.text.replace("−", "–")  # the standard fonts' coding has no minus; the dash is drawn like it
    width = width_em(words, item.bold) * item.size_mm
    left = item.x_mm - {"left": 0.0, "centre": width / 2, "right": width}[item.align]
    font = "F2" if item.bold else "F1"
    return (
        f"{_n(item.grey, 3)} g BT /{font} {_n(item.size_mm)} Tf 1 0 0 -1 {_n(left)} {_n(item.y_mm)} Tm "
        f"{_literal(words, 'cp1252').decode('latin-1')} Tj ET"
    )


def _literal(text: str, coding: str = "utf-16") -> bytes:
    """Return a PDF string; letters that the coding lacks become question marks."""
    if coding == "utf-16":
        return b"<" + (b"\xfe\xff" + text.encode("utf-16-be")).hex().encode() + b">"
    raw = text.encode(coding, "replace")
    for mark in (b"\\", b"(", b")"):
        raw = raw.replace(mark, b"\\" + mark)
    return b"(" + raw + b")"


def _n(value: float, decimals: int = EXACT) -> str:
    """Return a number with so many decimals and no idle zeros."""
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


class _File:
    """The objects of a PDF file in the making."""

    def __init__(self) -> None:
        self.objects: list[bytes] = []

    def reserve(self) -> int:
        """Return the number of an object to be put later."""
        return self.add(b"")

    def add(self, body: bytes) -> int:
        """Add an object and return its number."""
        self.objects.append(body)
        return len(self.objects)

    def put(self, number: int, body: bytes) -> None:
        """Fill a reserved object."""
        self.objects[number - 1] = body

    def add_stream(self, body: bytes, entries: str = "") -> int:
        """Add a compressed stream and return its number."""
        packed = zlib.compress(body, 9)
        head = f"<</Filter/FlateDecode/Length {len(packed)}{entries}>>stream\n".encode()
        return self.add(head + packed + b"\nendstream")

    def finished(self, catalogue: int, info: int) -> bytes:
        """Return the whole file with its table of objects."""
        out = bytearray(b"%PDF-1.5\n%\xe2\xe3\xcf\xd3\n")
        places = []
        for number, body in enumerate(self.objects, start=1):
            places.append(len(out))
            out += f"{number} 0 obj".encode() + body + b"\nendobj\n"
        table = len(out)
        out += f"xref\n0 {len(places) + 1}\n0000000000 65535 f \n".encode()
        out += b"".join(f"{place:010d} 00000 n \n".encode() for place in places)
        out += (
            f"trailer<</Size {len(places) + 1}/Root {catalogue} 0 R/Info {info} 0 R>>\n"
            f"startxref\n{table}\n%%EOF\n"
        ).encode()
        return bytes(out)


def single(shown: Scene, width_mm: float, height_mm: float, edge_share: float) -> Page:
    """Return a page that holds one instrument at true scale, its thimble's edge at a share of the width."""
    left = width_mm * edge_share
    placed = Placed(shown, left, height_mm / 2, left, width_mm - left, height_mm)
    return Page(width_mm, height_mm, (placed,))
