"""Numerals that move with the thimble, resampled by exact areas from running sums.

A numeral is drawn once, finely along the way it moves, and summed up along that way; a picture row (or
column) of it is then a difference of two interpolated sums, wherever it has moved to. Its edge is as
soft as the painter's lines: as wide as a pixel before the pixel's own width.
"""

import math
from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from trainer.drawing import layout, numerals
from trainer.drawing.canvas import Canvas
from trainer.drawing.coverage import Doubles, resampled
from trainer.drawing.ink import Patch
from trainer.drawing.light import Floats
from trainer.instrument.micrometer import Micrometer, State

ACROSS_PER_PX = 8  # samples to a pixel across the way a numeral moves, fewer where it is large
LARGE_PX = 800  # from this height on fewer samples do: the edge is a pixel soft, and memory is not endless
TALLEST_PX = 4000  # a numeral taller than any screen is a blot, not a number: it is left out
SOFT_PX = 1.0  # width of a numeral's edge
MARGIN_PX = 1  # bare room drawn round a numeral


def fine_per_px(height_px: float) -> int:
    """Return the samples to a pixel along the way a numeral moves: more where it is small."""
    if height_px > LARGE_PX:
        return max(8 * LARGE_PX // int(height_px), 2)
    return int(min(max(600 / height_px, 8), 24))


def across_per_px(height_px: float) -> int:
    """Return the samples to a pixel across the way a numeral moves."""
    return ACROSS_PER_PX if height_px <= LARGE_PX else max(ACROSS_PER_PX * LARGE_PX // int(height_px), 2)


def _drawn(text: str, height_mm: float, stroke_mm: float, px_per_mm: float, phase_px: float) -> Floats:
    """Return a numeral drawn finely down its height, one column a pixel: shape (fine rows, columns).

    The numeral's box begins `MARGIN_PX` and the phase to the right of the first column.
    """
    wide = numerals.width_mm(text, height_mm, stroke_mm) * px_per_mm
    fine, across = fine_per_px(height_mm * px_per_mm), across_per_px(height_mm * px_per_mm)
    columns = int(np.ceil(wide + phase_px)) + 2 * MARGIN_PX
    x = (np.arange(columns * across) + 0.5) / across - MARGIN_PX - phase_px
    rows = int(np.ceil((height_mm * px_per_mm + 2 * MARGIN_PX) * fine))
    y = (np.arange(rows) + 0.5) / fine - MARGIN_PX
    soft = SOFT_PX / px_per_mm
    covered = numerals.ink(text, height_mm, stroke_mm, x / px_per_mm, y / px_per_mm, soft)
    return np.asarray(covered.reshape(rows, columns, across).mean(axis=2, dtype=np.float32))


def _summed(fine: Floats) -> Floats:
    """Return running sums along the first axis, with a leading zero row."""
    summed = np.zeros((fine.shape[0] + 1, fine.shape[1]), dtype=np.float32)
    np.cumsum(fine, axis=0, out=summed[1:])
    return summed


@lru_cache(maxsize=40)
def _down(text: str, height_mm: float, stroke_mm: float, px_per_mm: float, phase_px: float) -> Floats:
    """Return a numeral's running sums down its height, for numerals that move up and down."""
    return _summed(_drawn(text, height_mm, stroke_mm, px_per_mm, phase_px))


def _along(text: str, height_mm: float, stroke_mm: float, px_per_mm: float) -> Floats:
    """Return a numeral drawn finely both ways, shape (fine rows, fine columns)."""
    wide = numerals.width_mm(text, height_mm, stroke_mm) * px_per_mm + 2 * MARGIN_PX
    fine = fine_per_px(height_mm * px_per_mm)
    x = (np.arange(int(np.ceil(wide * fine))) + 0.5) / fine - MARGIN_PX
    rows = int(np.ceil((height_mm * px_per_mm + 2 * MARGIN_PX) * fine))
    y = (np.arange(rows) + 0.5) / fine - MARGIN_PX
    soft = SOFT_PX / px_per_mm
    return numerals.ink(text, height_mm, stroke_mm, x / px_per_mm, y / px_per_mm, soft)


def _bounds(down_mm: Doubles, height_mm: float, px_per_mm: float) -> Doubles:
    """Return places in running sums for places down a numeral."""
    return (down_mm * px_per_mm + MARGIN_PX) * fine_per_px(height_mm * px_per_mm)


class BevelNumerals:
    """The numerals on the bevel, bent round a cylinder of the radius where they begin."""

    def __init__(self, frame: Canvas, micrometer: Micrometer) -> None:
        sizes = micrometer.sizes
        self.frame = frame
        self.micrometer = micrometer
        self.height_mm = sizes.thimble_numeral_height_mm
        self.stroke_mm = layout.numeral_stroke_mm(micrometer, self.height_mm)
        self.x_mm = layout.thimble_numeral_x_mm(micrometer)
        self.radius_mm = layout.cone(micrometer).radius_mm(self.x_mm)
        bounds = np.arange(frame.height_px + 1) - frame.axis_px
        self.bounds_rad = np.arcsin(np.clip(bounds / (self.radius_mm * frame.px_per_mm), -1, 1))
        reach = self.radius_mm * frame.px_per_mm
        self.first = max(int(np.floor(frame.axis_px - reach)), 0)
        self.last = min(int(np.ceil(frame.axis_px + reach)), frame.height_px)
        begin = frame.x_px(self.x_mm)
        self.phase_px = begin - np.floor(begin)
        self.left = int(np.floor(begin)) - MARGIN_PX

    def patches(self, lines: list[layout.ThimbleLine]) -> Iterator[Patch]:
        """Yield the coverage by each numeral in view."""
        for line in lines:
            if line.numeral is not None and abs(line.angle_rad) < layout.NUMERAL_FACING_RAD:
                patch = self._patch(line.numeral, line.angle_rad)
                if patch is not None:
                    yield patch

    def ahead(self) -> Iterator[None]:
        """Draw every numeral, in view or not, one a step."""
        for number in range(0, self.micrometer.divisions, self.micrometer.thimble_numeral_every):
            self._patch(str(number), 0.0)
            yield

    def _patch(self, text: str, angle_rad: float) -> Patch | None:
        px_per_mm = self.frame.px_per_mm
        half = (self.height_mm / 2 + MARGIN_PX / px_per_mm) / self.radius_mm
        low, high = np.searchsorted(self.bounds_rad, [-angle_rad - half, -angle_rad + half])
        top, bottom = max(int(low) - 1, self.first), min(int(high), self.last)
        room = self.frame.width_px - self.left
        if room <= 0 or bottom <= top or self.height_mm * px_per_mm > TALLEST_PX:
            return None
        summed = _down(text, self.height_mm, self.stroke_mm, px_per_mm, self.phase_px)[:, :room]
        down_mm = (self.bounds_rad[top : bottom + 1] + angle_rad) * self.radius_mm + self.height_mm / 2
        return Patch(top, self.left, resampled(summed, _bounds(down_mm, self.height_mm, px_per_mm)))


class SleeveNumerals:
    """The numerals on the sleeve: their rows stand still, their columns move."""

    def __init__(self, frame: Canvas, micrometer: Micrometer) -> None:
        sizes = micrometer.sizes
        self.frame = frame
        self.micrometer = micrometer
        self.height_mm = sizes.sleeve_numeral_height_mm
        self.stroke_mm = layout.numeral_stroke_mm(micrometer, self.height_mm)
        self.radius_mm = sizes.thimble_edge_diameter_mm / 2
        self.shown_px = sizes.sleeve_diameter_mm / 2 * frame.px_per_mm
        self._still: dict[tuple[str, float], tuple[int, Floats] | None] = {}

    def patches(self, marks: list[layout.SleeveMark]) -> Iterator[Patch]:
        """Yield the coverage by each numeral in view, cut off at the thimble's edge."""
        for mark in marks:
            if mark.numeral is not None:
                patch = self.at(mark.numeral, self.height_mm, self.stroke_mm, mark.x_mm, mark.numeral_rad)
                if patch is not None:
                    yield patch

    def ahead(self) -> Iterator[None]:
        """Draw every numeral, in view or not, one a step."""
        # both ends, as a depth scale is under the thimble at one and an outside scale at the other
        for end_tenths in (0.0, self.micrometer.travel_tenths):
            state = State(self.micrometer, end_tenths)
            for mark in layout.sleeve_marks(state, self.frame.sleeve_rad, math.inf):
                if mark.numeral is not None:
                    self.at(mark.numeral, self.height_mm, self.stroke_mm, mark.x_mm, mark.numeral_rad)
                    yield

    def at(
        self, text: str, height_mm: float, stroke_mm: float, middle_mm: float, angle_rad: float
    ) -> Patch | None:
        """Return the coverage by a numeral whose middle stands at a place and an angle, if in view."""
        if height_mm * self.frame.px_per_mm > TALLEST_PX:
            return None
        key = (text, angle_rad)
        if key not in self._still:
            self._still[key] = self._rows(text, height_mm, stroke_mm, angle_rad)
        still = self._still[key]
        wide = numerals.width_mm(text, height_mm, stroke_mm) * self.frame.px_per_mm
        begin = self.frame.x_px(middle_mm) - wide / 2
        left = max(int(np.floor(begin)) - MARGIN_PX, 0)
        right = min(int(np.ceil(begin + wide)) + MARGIN_PX, self.frame.edge_px)
        if still is None or right <= left:
            return None
        top, summed = still
        bounds = (np.arange(left, right + 1) - begin) / self.frame.px_per_mm
        return Patch(top, left, resampled(summed, _bounds(bounds, height_mm, self.frame.px_per_mm)).T)

    def _rows(
        self, text: str, height_mm: float, stroke_mm: float, angle_rad: float
    ) -> tuple[int, Floats] | None:
        """Return a numeral's first row and its running sums along the sleeve, shape (fine, rows)."""
        frame, px_per_mm = self.frame, self.frame.px_per_mm
        half = (height_mm / 2 + MARGIN_PX / px_per_mm) / self.radius_mm
        if abs(angle_rad) + half > layout.FACING_RAD:
            return None
        first = frame.y_px(self.radius_mm, angle_rad + half)
        last = frame.y_px(self.radius_mm, angle_rad - half)
        top = max(int(np.floor(max(first, frame.axis_px - self.shown_px))), 0)
        bottom = min(int(np.ceil(min(last, frame.axis_px + self.shown_px))), frame.height_px)
        if bottom <= top:
            return None
        bounds = (np.arange(top, bottom + 1) - frame.axis_px) / (self.radius_mm * px_per_mm)
        down_mm = (np.arcsin(np.clip(bounds, -1, 1)) + angle_rad) * self.radius_mm + height_mm / 2
        fine = _summed(_along(text, height_mm, stroke_mm, px_per_mm))
        return top, _summed(resampled(fine, _bounds(down_mm, height_mm, px_per_mm)).T)
