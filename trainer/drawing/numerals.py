"""Our own engraved numerals: single strokes of one width with rounded ends, of arcs and lines.

Each digit is drawn along its centre line in a box of height 1 and width `WIDTH`, y downwards; all
digits share the width, so that numbers stand in columns. Curves are arcs of circles, as a cutter
guided round a template would leave them.
"""

import itertools
import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from trainer.drawing.coverage import Doubles
from trainer.drawing.light import Floats

WIDTH = 0.56
GAP_MM_PER_HEIGHT = 0.14  # between the inks of neighbouring digits, per numeral height


@dataclass(frozen=True, slots=True)
class Line:
    """A straight stroke."""

    x0: float
    y0: float
    x1: float
    y1: float

    def points(self, steps_per_turn: int) -> list[tuple[float, float]]:
        """Return the ends."""
        return [(self.x0, self.y0), (self.x1, self.y1)]

    def distance(self, x: Floats, y: Floats) -> Floats:
        """Return the distance of points from the stroke's centre line."""
        along_x, along_y = self.x1 - self.x0, self.y1 - self.y0
        length = math.hypot(along_x, along_y)
        along_x, along_y = along_x / length, along_y / length
        from_x, from_y = x - np.float32(self.x0), y - np.float32(self.y0)
        aside = from_y * np.float32(along_x) - from_x * np.float32(along_y)
        past = from_x * np.float32(along_x) + from_y * np.float32(along_y)
        past -= np.clip(past, 0, np.float32(length))
        return _length(aside, past)

    def box(self) -> tuple[float, float, float, float]:
        """Return the left, top, right and bottom of the centre line."""
        return min(self.x0, self.x1), min(self.y0, self.y1), max(self.x0, self.x1), max(self.y0, self.y1)


@dataclass(frozen=True, slots=True)
class Arc:
    """A stroke along a circle from `start` over `sweep`, degrees, clockwise on the page, 0 to the right."""

    cx: float
    cy: float
    radius: float
    start: float
    sweep: float

    def points(self, steps_per_turn: int) -> list[tuple[float, float]]:
        """Return points along the arc, both ends included."""
        steps = max(2, math.ceil(abs(self.sweep) / 360 * steps_per_turn))
        angles = [math.radians(self.start + self.sweep * step / steps) for step in range(steps + 1)]
        return [(self.cx + self.radius * math.cos(a), self.cy + self.radius * math.sin(a)) for a in angles]

    def distance(self, x: Floats, y: Floats) -> Floats:
        """Return the distance of points from the stroke's centre line."""
        dx, dy = x - np.float32(self.cx), y - np.float32(self.cy)
        out = _length(dx, dy)
        ring = np.abs(out - np.float32(self.radius))
        if abs(self.sweep) >= 360:
            return np.asarray(ring)
        middle = math.radians(self.start + self.sweep / 2)
        beside = dx * np.float32(math.cos(middle)) + dy * np.float32(math.sin(middle))
        out *= np.float32(math.cos(math.radians(abs(self.sweep) / 2)))
        (ax, ay), (bx, by) = self.points(2)[0], self.points(2)[-1]
        ends = np.minimum(
            _length(x - np.float32(ax), y - np.float32(ay)), _length(x - np.float32(bx), y - np.float32(by))
        )
        return np.where(beside >= out, ring, ends)

    def box(self) -> tuple[float, float, float, float]:
        """Return the left, top, right and bottom of the whole circle."""
        r = self.radius
        return self.cx - r, self.cy - r, self.cx + r, self.cy + r


def _length(x: Floats, y: Floats) -> Floats:
    """Return the lengths of vectors; several times faster than `numpy.hypot`, whose care is not needed."""
    return np.asarray(np.sqrt(x * x + y * y))


Stroke = Line | Arc


def _joined(x: float, y: float, arc: Arc) -> float:
    """Return the angle at which a line from (x, y) leaves the arc's circle without a corner, below it."""
    dx, dy = x - arc.cx, y - arc.cy
    return math.degrees(math.atan2(dy, dx) - math.acos(arc.radius / math.hypot(dx, dy)))


def _two() -> tuple[Stroke, ...]:
    r = WIDTH / 2
    bow = Arc(r, r, r, 188, 0)
    leave = _joined(0.015, 1, bow)
    bow = Arc(r, r, r, 188, leave + 360 - 188)
    x, y = bow.points(2)[-1]
    return (bow, Line(x, y, 0.015, 1), Line(0.015, 1, WIDTH, 1))


def _six() -> tuple[Stroke, ...]:
    r, bend = 0.28, 0.86
    rise = math.degrees(math.asin((1 - r) / bend))
    return (Arc(r, 1 - r, r, 0, 360), Arc(bend, 1 - r, bend, 180, rise))


def _turned(strokes: tuple[Stroke, ...]) -> tuple[Stroke, ...]:
    """Return strokes turned by half a turn in the digit's box."""
    turned: list[Stroke] = []
    for stroke in strokes:
        if isinstance(stroke, Arc):
            turned.append(
                Arc(WIDTH - stroke.cx, 1 - stroke.cy, stroke.radius, stroke.start + 180, stroke.sweep)
            )
        else:
            turned.append(Line(WIDTH - stroke.x0, 1 - stroke.y0, WIDTH - stroke.x1, 1 - stroke.y1))
    return tuple(turned)


@cache
def strokes(digit: str) -> tuple[Stroke, ...]:
    """Return the strokes of one digit.

    >>> len(strokes("8")), len(strokes("1"))
    (2, 2)
    """
    w, r = WIDTH, WIDTH / 2
    match digit:
        case "0":
            sides = (Line(0, r, 0, 1 - r), Line(w, r, w, 1 - r))
            return (Arc(r, r, r, 180, 180), Arc(r, 1 - r, r, 0, 180), *sides)
        case "1":
            return (Line(0.33, 0, 0.33, 1), Line(0.33, 0, 0.09, 0.2))
        case "2":
            return _two()
        case "3":
            return (Arc(0.27, 0.24, 0.24, 205, 245), Arc(0.27, 0.74, 0.26, 270, 240))
        case "4":
            return (Line(0.4, 0, 0, 0.7), Line(0, 0.7, w, 0.7), Line(0.4, 0, 0.4, 1))
        case "5":
            return (Line(0.5, 0, 0.08, 0), Line(0.08, 0, 0.045, 0.5), Arc(0.26, 0.7, 0.3, 223, 275))
        case "6":
            return _six()
        case "7":
            return (Line(0, 0, w, 0), Line(w, 0, 0.17, 1))
        case "8":
            return (Arc(r, 0.235, 0.235, 0, 360), Arc(r, 0.735, 0.265, 0, 360))
        case "9":
            return _turned(_six())
    raise ValueError(f"{digit!r} is not a digit")


def width_mm(text: str, height_mm: float, stroke_mm: float) -> float:
    """Return how wide a number is from ink to ink."""
    digit = WIDTH * (height_mm - stroke_mm) + stroke_mm
    return len(text) * digit + (len(text) - 1) * GAP_MM_PER_HEIGHT * height_mm


def _placed(text: str, height_mm: float, stroke_mm: float) -> list[tuple[Stroke, float]]:
    """Return the strokes of a number with the left end of each digit's centre lines, in mm."""
    advance = WIDTH * (height_mm - stroke_mm) + stroke_mm + GAP_MM_PER_HEIGHT * height_mm
    return [
        (stroke, stroke_mm / 2 + place * advance)
        for place, digit in enumerate(text)
        for stroke in strokes(digit)
    ]


def ink(
    text: str, height_mm: float, stroke_mm: float, x_mm: Doubles, y_mm: Doubles, soft_mm: float
) -> Floats:
    """Return the coverage by a number of small fields round points, shape (y, x).

    The number fills the box from (0, 0) to (`width_mm`, `height_mm`), y downwards. `soft_mm` is the
    size of a field; the edge is as wide as that.
    """
    scale = height_mm - stroke_mm
    covered = np.zeros((y_mm.size, x_mm.size), dtype=np.float32)
    near = stroke_mm / 2 + soft_mm
    for stroke, left in _placed(text, height_mm, stroke_mm):
        box = stroke.box()
        across = left + np.array([box[0], box[2]]) * scale + (-near, near)
        down = stroke_mm / 2 + np.array([box[1], box[3]]) * scale + (-near, near)
        columns = slice(*np.searchsorted(x_mm, across))
        rows = slice(*np.searchsorted(y_mm, down))
        x = ((x_mm[None, columns] - left) / scale).astype(np.float32)
        y = ((y_mm[rows, None] - stroke_mm / 2) / scale).astype(np.float32)
        inside = stroke.distance(x, y)
        inside *= np.float32(-scale / soft_mm)
        inside += np.float32(0.5 + stroke_mm / 2 / soft_mm)
        np.clip(inside, 0, 1, out=inside)
        np.maximum(covered[rows, columns], inside, out=covered[rows, columns])
    return covered


def outlines(
    text: str, height_mm: float, stroke_mm: float, steps_per_turn: int = 24
) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return the outlines of a number's strokes: closed polygons in mm in the box of `ink`.

    Polygons of one number overlap where strokes meet, so fill them as one with the nonzero rule.
    """
    scale = height_mm - stroke_mm
    polygons = []
    for stroke, left in _placed(text, height_mm, stroke_mm):
        centre = [(left + x * scale, stroke_mm / 2 + y * scale) for x, y in stroke.points(steps_per_turn)]
        polygons.append(_swept(centre, stroke_mm / 2, steps_per_turn))
    return tuple(polygons)


def _swept(
    centre: list[tuple[float, float]], half_mm: float, steps_per_turn: int
) -> tuple[tuple[float, float], ...]:
    """Return the outline that a round cutter leaves along a centre line."""
    directions = [math.atan2(b[1] - a[1], b[0] - a[0]) for a, b in itertools.pairwise(centre)]
    at_points = [directions[0]]
    for before, after in itertools.pairwise(directions):
        turn = math.remainder(after - before, 2 * math.pi)
        at_points.append(before + turn / 2)
    at_points.append(directions[-1])
    left = [
        (x - half_mm * math.sin(a), y + half_mm * math.cos(a))
        for (x, y), a in zip(centre, at_points, strict=True)
    ]
    right = [
        (x + half_mm * math.sin(a), y - half_mm * math.cos(a))
        for (x, y), a in zip(centre, at_points, strict=True)
    ]
    caps = max(3, steps_per_turn // 2)
    end = _cap(centre[-1], at_points[-1] + math.pi / 2, half_mm, caps)
    start = _cap(centre[0], at_points[0] - math.pi / 2, half_mm, caps)
    return tuple(left + end + right[::-1] + start)


def _cap(
    point: tuple[float, float], from_rad: float, half_mm: float, steps: int
) -> list[tuple[float, float]]:
    """Return the inner points of a half circle round a stroke's end, from one side to the other."""
    return [
        (
            point[0] + half_mm * math.cos(from_rad - math.pi * step / steps),
            point[1] + half_mm * math.sin(from_rad - math.pi * step / steps),
        )
        for step in range(1, steps)
    ]
