"""Text: the font shipped with a dependency, measured, wrapped, shortened, rendered, with a bounded cache."""

import importlib.util
import unicodedata
from collections import OrderedDict
from pathlib import Path
from typing import Any

import pygame

from trainer.desktop.directions import stretches
from trainer.desktop.look import SIZES, Colour

LONGEST = 1000  # characters of one string ever rendered; longer texts end in an ellipsis
CACHED = 3000  # rendered strings kept


def font_path(bold: bool = False) -> Path:
    """Return the file of DejaVu Sans inside matplotlib's data, found without importing matplotlib."""
    spec = importlib.util.find_spec("matplotlib")
    if spec is None or spec.origin is None:
        raise FileNotFoundError("matplotlib's fonts are not installed; reinstall tenthwise")
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf" / name


JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
SIGNS_LEFT_OUT = ("Cc", "Cf", "Cs", "Co")


def clean(text: str) -> str:
    """Return the text on one line: breaks become spaces, other control characters go, length is bounded.

    The joiners of Persian, Hindi and other scripts stay: names are written with them (Unicode 23.2).

    >>> clean("a\\nb\\x00c"), clean("\u0646\u06cc\u200c\u0645") == "\u0646\u06cc\u200c\u0645"
    ('a bc', True)
    """
    if text.isascii() and text.isprintable() and len(text) <= LONGEST:
        return text
    short = text[:LONGEST] + "…" if len(text) > LONGEST else text
    spaced = "".join(" " if c in "\n\r\t\u2028\u2029" else c for c in short)
    return "".join(c for c in spaced if c in JOINERS or unicodedata.category(c) not in SIGNS_LEFT_OUT)


class Type:
    """The type at one scale. Widths and heights are in pixels."""

    def __init__(self, scale: float) -> None:
        if not pygame.font.get_init():
            pygame.font.init()
        self.scale = scale
        self._fonts: dict[str, pygame.font.Font] = {}
        self._widths: OrderedDict[tuple[str, str], int] = OrderedDict()
        self._rendered: OrderedDict[tuple[str, str, Colour], pygame.Surface] = OrderedDict()
        self._wrapped: OrderedDict[tuple[str, str, int], tuple[str, ...]] = OrderedDict()

    def font(self, style: str) -> pygame.font.Font:
        """Return the font of a style of look.SIZES, loading it on first use."""
        if style not in self._fonts:
            height, bold = SIZES[style]
            self._fonts[style] = pygame.font.Font(str(font_path(bold)), max(6, round(height * self.scale)))
        return self._fonts[style]

    def line_height(self, style: str) -> int:
        """Return the distance of two baselines."""
        return round(SIZES[style][0] * self.scale * 1.38)

    def width(self, text: str, style: str) -> int:
        """Return the width of one line of text."""
        key = (text, style)
        if key not in self._widths:
            _bound(self._widths)
            self._widths[key] = self.font(style).size(clean(text))[0]
        return self._widths[key]

    def fit(self, text: str, style: str, width: int) -> str:
        """Return the text, ended by an ellipsis where it would be wider than `width`."""
        text = clean(text)
        if self.width(text, style) <= width:
            return text
        low, high = 0, len(text)
        while low < high:
            middle = (low + high + 1) // 2
            if self.font(style).size(text[:middle].rstrip() + "…")[0] <= width:
                low = middle
            else:
                high = middle - 1
        return text[:low].rstrip() + "…"

    def wrap(self, text: str, style: str, width: int) -> tuple[str, ...]:
        """Return the lines of a text set to a width; a word wider than the line is broken."""
        key = (text, style, width)
        if key not in self._wrapped:
            _bound(self._wrapped)
            lines: list[str] = []
            for paragraph in text.split("\n"):
                lines += self._wrap_paragraph(paragraph, style, max(width, 1))
            self._wrapped[key] = tuple(lines)
        return self._wrapped[key]

    def _wrap_paragraph(self, paragraph: str, style: str, width: int) -> list[str]:
        lines, line = [], ""
        for word in clean(paragraph).split(" "):
            tried = f"{line} {word}" if line else word
            if self.width(tried, style) <= width:
                line = tried
                continue
            if line:
                lines.append(line)
            while self.width(word, style) > width and len(word) > 1:
                cut = max(1, len(self.fit(word, style, width)) - 1)
                lines.append(word[:cut])
                word = word[cut:]
            line = word
        return [*lines, line]

    def render(self, text: str, style: str, colour: Colour) -> pygame.Surface:
        """Return the text as an image; kept for the next frame."""
        key = (text, style, colour)
        if key in self._rendered:
            self._rendered.move_to_end(key)
            return self._rendered[key]
        _bound(self._rendered)
        images = [self._stretch(told, style, colour, left) for told, left in stretches(clean(text))]
        image = images[0] if len(images) == 1 else _joined(images)
        self._rendered[key] = image
        return image

    def _stretch(self, text: str, style: str, colour: Colour, to_the_left: bool) -> pygame.Surface:
        font = self.font(style)
        font.set_direction(pygame.DIRECTION_RTL if to_the_left else pygame.DIRECTION_LTR)
        image = font.render(text, True, colour)
        font.set_direction(pygame.DIRECTION_LTR)
        return image


def _joined(images: list[pygame.Surface]) -> pygame.Surface:
    whole = pygame.Surface(
        (sum(image.get_width() for image in images), max(image.get_height() for image in images)),
        pygame.SRCALPHA,
    )
    at = 0
    for image in images:
        whole.blit(image, (at, 0))
        at += image.get_width()
    return whole


def _bound(cache: "OrderedDict[Any, Any]") -> None:
    while len(cache) >= CACHED:
        cache.popitem(last=False)
