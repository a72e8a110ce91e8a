"""Smooth flat shapes: boxes with broken corners, strokes, dots. Coverage is the distance to the outline.

Used for the window's own furniture only; the instrument is drawn by trainer.drawing.
"""

from collections import OrderedDict
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pygame

from trainer.desktop.icons import GRID, ICONS
from trainer.desktop.look import Colour

_cache: "OrderedDict[Any, pygame.Surface]" = OrderedDict()
KEPT = 600


def _kept(key: Any) -> pygame.Surface | None:
    if key in _cache:
        _cache.move_to_end(key)
        return _cache[key]
    while len(_cache) >= KEPT:
        _cache.popitem(last=False)
    return None


def _tinted(coverage: "np.ndarray[Any, np.dtype[np.float64]]", colour: Colour) -> pygame.Surface:
    """Return an image of one colour whose opacity is `coverage` (rows, columns), 0 to 1."""
    height, width = coverage.shape
    pixels = np.empty((height, width, 4), np.uint8)
    pixels[..., :3] = colour
    pixels[..., 3] = np.rint(np.clip(coverage, 0, 1) * 255)
    return pygame.image.frombytes(pixels.tobytes(), (width, height), "RGBA")


def _corner(radius: int, width: float, colour: Colour) -> pygame.Surface:
    """Return the image of a round of `radius`; `width` 0 fills it, otherwise a ring of that width."""
    key = ("corner", radius, width, colour)
    image = _kept(key)
    if image is None:
        ys, xs = np.mgrid[0 : 2 * radius, 0 : 2 * radius] + 0.5
        distance = np.hypot(xs - radius, ys - radius)
        coverage = radius - distance + 0.5
        if width:
            coverage = np.minimum(coverage, distance - (radius - width) + 0.5)
        image = _cache[key] = _tinted(coverage, colour)
    return image


def box(surface: pygame.Surface, rect: pygame.Rect, radius: int, fill: Colour | None) -> None:
    """Fill a box with rounded corners."""
    if fill is None or rect.w <= 0 or rect.h <= 0:
        return
    r = max(0, min(radius, rect.w // 2, rect.h // 2))
    surface.fill(fill, (rect.x, rect.y + r, rect.w, rect.h - 2 * r))
    if not r:
        return
    surface.fill(fill, (rect.x + r, rect.y, rect.w - 2 * r, r))
    surface.fill(fill, (rect.x + r, rect.bottom - r, rect.w - 2 * r, r))
    _corners(surface, rect, r, _corner(r, 0, fill))


def outline(surface: pygame.Surface, rect: pygame.Rect, radius: int, width: int, colour: Colour) -> None:
    """Draw the outline of a box, inside its rectangle."""
    if rect.w <= 2 * width or rect.h <= 2 * width:
        return
    r = max(width, min(radius, rect.w // 2, rect.h // 2))
    for part in (
        (rect.x + r, rect.y, rect.w - 2 * r, width),
        (rect.x + r, rect.bottom - width, rect.w - 2 * r, width),
        (rect.x, rect.y + r, width, rect.h - 2 * r),
        (rect.right - width, rect.y + r, width, rect.h - 2 * r),
    ):
        surface.fill(colour, part)
    _corners(surface, rect, r, _corner(r, width, colour))


def _corners(surface: pygame.Surface, rect: pygame.Rect, r: int, image: pygame.Surface) -> None:
    surface.blit(image, rect.topleft, (0, 0, r, r))
    surface.blit(image, (rect.right - r, rect.y), (r, 0, r, r))
    surface.blit(image, (rect.x, rect.bottom - r), (0, r, r, r))
    surface.blit(image, (rect.right - r, rect.bottom - r), (r, r, r, r))


def _segment_distance(
    xs: Any, ys: Any, start: tuple[float, float], end: tuple[float, float]
) -> "np.ndarray[Any, np.dtype[np.float64]]":
    (x0, y0), (x1, y1) = start, end
    dx, dy = x1 - x0, y1 - y0
    length = dx * dx + dy * dy
    along = np.clip(((xs - x0) * dx + (ys - y0) * dy) / length, 0, 1) if length else 0.0
    result: np.ndarray[Any, np.dtype[np.float64]] = np.hypot(xs - x0 - along * dx, ys - y0 - along * dy)
    return result


def icon(name: str, size: int, colour: Colour) -> pygame.Surface:
    """Return an icon of icons.ICONS as an image of `size` pixels square."""
    key = ("icon", name, size, colour)
    image = _kept(key)
    if image is None:
        image = _cache[key] = _tinted(_icon_coverage(name, size), colour)
    return image


def _icon_coverage(name: str, size: int) -> "np.ndarray[Any, np.dtype[np.float64]]":
    unit = size / GRID
    ys, xs = (np.mgrid[0:size, 0:size] + 0.5) / unit
    coverage = np.zeros((size, size))
    for stroke in ICONS[name]:
        if stroke[0] == "dot":
            _, x, y, r = stroke
            distance = np.hypot(xs - x, ys - y) - r
        elif stroke[0] == "ring":
            _, x, y, r, width = stroke
            distance = np.abs(np.hypot(xs - x, ys - y) - r) - width / 2
        else:
            _, width, *points = stroke
            pairs = list(zip(points[0::2], points[1::2], strict=True))
            distance = np.min([_segment_distance(xs, ys, a, b) for a, b in pairwise(pairs)], axis=0)
            distance = distance - width / 2
        coverage = np.maximum(coverage, np.clip(0.5 - distance * unit, 0, 1))
    return coverage


def mark(kind: str, size: int, colour: Colour) -> pygame.Surface:
    """Return a point mark: "dot", "ring", "diamond" or "cross", `size` pixels across."""
    key = ("mark", kind, size, colour)
    image = _kept(key)
    if image is None:
        half = size / 2
        ys, xs = np.mgrid[0 : size + 2, 0 : size + 2] - half - 0.5
        thick = max(1.0, size / 5)
        if kind == "diamond":
            coverage = (half - np.abs(xs) - np.abs(ys)) / 2**0.5 + 0.5
        elif kind == "cross":
            arms = np.minimum(np.abs(xs - ys), np.abs(xs + ys)) / 2**0.5
            coverage = np.minimum(thick / 2 - arms + 0.5, half - np.maximum(np.abs(xs), np.abs(ys)) + 0.5)
        elif kind == "ring":
            coverage = thick / 2 - np.abs(np.hypot(xs, ys) - half + thick / 2) + 0.5
        else:
            coverage = half - np.hypot(xs, ys) + 0.5
        image = _cache[key] = _tinted(coverage, colour)
    return image


def polyline(
    surface: pygame.Surface, points: Sequence[tuple[float, float]], width: int, colour: Colour
) -> None:
    """Draw a smooth open line through the points."""
    for a, b in pairwise(points):
        pygame.draw.aaline(surface, colour, a, b, width)


def satin(surface: pygame.Surface, rect: pygame.Rect, dark: Colour, light: Colour) -> None:
    """Fill a column with the satin of turned steel: light along the middle, darker to the sides."""
    key = ("satin", rect.w, dark, light)
    image = _kept(key)
    if image is None:
        across = np.sin(np.linspace(0.15, np.pi - 0.35, max(rect.w, 2))) ** 1.5
        row = np.array(dark) + across[:, None] * (np.array(light) - np.array(dark))
        pixels = np.rint(row).astype(np.uint8)[None, :, :]
        image = _cache[key] = pygame.image.frombytes(pixels.tobytes(), (pixels.shape[1], 1), "RGB")
    surface.blit(pygame.transform.scale(image, (rect.w, max(rect.h, 1))), rect.topleft)
