"""Text on a page: how wide it is, where its lines break, and which signs the font lacks."""

from functools import lru_cache
from pathlib import Path

import matplotlib as mpl
from matplotlib.ft2font import FT2Font, LoadFlags

from trainer.reports.house import MM_PER_IN, SANS, SERIF

POINTS_PER_IN = 72.0
LACKING = "□"  # stands for a sign that the font lacks

_FILES = {
    (SANS, False): "DejaVuSans.ttf",
    (SANS, True): "DejaVuSans-Bold.ttf",
    (SERIF, False): "DejaVuSerif.ttf",
    (SERIF, True): "DejaVuSerif-Bold.ttf",
}


@lru_cache(maxsize=4)
def _font(family: str, bold: bool) -> FT2Font:
    font = FT2Font(str(Path(mpl.get_data_path()) / "fonts" / "ttf" / _FILES[family, bold]))
    font.set_size(100.0, POINTS_PER_IN)  # widths scale from a hundred points
    return font


@lru_cache(maxsize=4)
def _signs(family: str, bold: bool) -> frozenset[int]:
    return frozenset(_font(family, bold).get_charmap())


@lru_cache(maxsize=4096)
def _width_points(text: str, family: str, bold: bool) -> float:
    font = _font(family, bold)
    font.set_text(text, 0.0, flags=LoadFlags.NO_HINTING)
    width, _ = font.get_width_height()
    return float(width) / 64 / 100


def width_mm(text: str, size_pt: float, family: str = SANS, bold: bool = False) -> float:
    """Return how wide a line of text is."""
    spaces = len(text) - len(text.rstrip())  # spaces at the end are not in the box that is measured
    trailing = spaces * _width_points("n n", family, bold) / 4 if spaces else 0.0
    return (_width_points(text, family, bold) + trailing) * size_pt * MM_PER_IN / POINTS_PER_IN


def printable(text: str, family: str = SANS, bold: bool = False) -> str:
    """Return the text in one line, each sign that the font lacks or that is no sign replaced.

    >>> printable("Ångström\\n, 木")
    'Ångström , □'
    """
    known = _signs(family, bold)
    line = " ".join(text.split())
    return "".join(sign if ord(sign) in known and sign.isprintable() else LACKING for sign in line)


def lines(text: str, size_pt: float, room_mm: float, family: str = SANS, bold: bool = False) -> list[str]:
    """Return the text broken into lines that fit; a word too long for a line is cut."""
    broken: list[str] = []
    current = ""
    for word in printable(text, family, bold).split():
        longer = f"{current} {word}" if current else word
        if width_mm(longer, size_pt, family, bold) <= room_mm:
            current = longer
            continue
        if current:
            broken.append(current)
        while width_mm(word, size_pt, family, bold) > room_mm and len(word) > 1:
            keep = _fitting(word, size_pt, room_mm, family, bold)
            broken.append(word[:keep])
            word = word[keep:]
        current = word
    return [*broken, current] if current else broken


def shortened(text: str, size_pt: float, room_mm: float, family: str = SANS, bold: bool = False) -> str:
    """Return the text cut to fit one line, with an ellipsis where it was cut."""
    line = printable(text, family, bold)
    if width_mm(line, size_pt, family, bold) <= room_mm:
        return line
    keep = _fitting(line, size_pt, room_mm - width_mm("…", size_pt, family, bold), family, bold)
    return line[:keep].rstrip() + "…"


def _fitting(text: str, size_pt: float, room_mm: float, family: str, bold: bool) -> int:
    """Return how many characters, at least one, fit the room."""
    low, high = 1, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width_mm(text[:middle], size_pt, family, bold) <= room_mm:
            low = middle
        else:
            high = middle - 1
    return low
