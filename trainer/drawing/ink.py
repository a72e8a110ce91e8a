"""Ink that moves with the thimble: coverage of the thimble's lines, the sleeve's marks and numerals.

Each class keeps what does not change with the position and gives, for one state, small arrays of
coverage with the place where they belong. Line ends lie on whole rows or columns, since they carry
no reading; the sides that do carry it are placed exactly.
"""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from trainer.drawing import layout, numerals
from trainer.drawing.canvas import Canvas
from trainer.drawing.coverage import comb, ramp, resampled
from trainer.drawing.light import Floats
from trainer.instrument.micrometer import Micrometer

FINE_PER_PX = 5  # samples of a numeral to a pixel, along the way it moves
FINEST_PER_MM = 330.0
ACROSS_PER_PX = 4


@dataclass(frozen=True, slots=True)
class Patch:
    """Coverage by ink, shape (rows, columns), with its first row and column in the picture."""

    top: int
    left: int
    covered: Floats

    @property
    def rows(self) -> slice:
        """Return the rows of the picture."""
        return slice(self.top, self.top + self.covered.shape[0])

    @property
    def columns(self) -> slice:
        """Return the columns of the picture."""
        return slice(self.left, self.left + self.covered.shape[1])


@dataclass(frozen=True, slots=True)
class Group:
    """Coverage by several graduations, shape (graduations, rows, columns), columns counted from the edge.

    Graduation n fills the picture's rows from `tops[n]` to `bottoms[n]`; the rows beyond are bare.
    """

    tops: tuple[int, ...]
    bottoms: tuple[int, ...]
    covered: Floats


class BevelLines:
    """The graduations on the thimble's bevel."""

    def __init__(self, frame: Canvas, micrometer: Micrometer, line_width_mm: float) -> None:
        self.frame = frame
        self.lengths = {
            length: self._columns(frame, length)
            for length in (micrometer.sizes.thimble_line_mm, micrometer.sizes.thimble_line_long_mm)
        }
        longest = max(self.lengths.values())
        shape = layout.cone(micrometer)
        x_mm = (np.arange(longest) + 0.5) / frame.px_per_mm
        radius = shape.edge_mm + shape.slope * x_mm
        half_rad = line_width_mm / 2 / radius
        self.middle_px = frame.px_per_mm * radius * np.cos(half_rad)
        self.side_px = frame.px_per_mm * radius * np.sin(half_rad)

    @staticmethod
    def _columns(frame: Canvas, length_mm: float) -> int:
        room = frame.width_px - frame.edge_px
        return min(max(round(length_mm * frame.px_per_mm), 2), room)

    def groups(self, lines: list[layout.ThimbleLine]) -> Iterator[Group]:
        """Yield the coverage of the graduations, those of one length together."""
        for length, columns in self.lengths.items():
            angles = np.array([line.angle_rad for line in lines if line.length_mm == length])
            if angles.size:
                yield self._alike(angles, columns)

    def _alike(self, angles: NDArray[np.float64], columns: int) -> Group:
        middle = self.frame.axis_px - np.sin(angles)[:, None] * self.middle_px[:columns]
        side = np.cos(angles)[:, None] * self.side_px[:columns]
        low, high = middle - side, middle + side
        first = np.floor(np.minimum(low[:, 0], low[:, -1])).astype(np.intp) - 1
        last = np.ceil(np.maximum(high[:, 0], high[:, -1])).astype(np.intp) + 1
        centres = (np.arange(int((last - first).max())) + 0.5).astype(np.float32)[None, :, None]
        covered = ramp((high - first[:, None]).astype(np.float32)[:, None, :] - centres)
        covered -= ramp((low - first[:, None]).astype(np.float32)[:, None, :] - centres)
        return Group(tuple(first.tolist()), tuple(last.tolist()), covered)


@dataclass(frozen=True, slots=True)
class Band:
    """Rows of the sleeve in which the same kinds of marks show: their rules, as (from, to) angles."""

    rows: slice
    kinds: frozenset[tuple[float, float]]


class SleeveMarks:
    """The lines across the sleeve, which move along it as the thimble turns."""

    def __init__(self, frame: Canvas, micrometer: Micrometer, line_width_mm: float) -> None:
        self.frame = frame
        self.width_px = line_width_mm * frame.px_per_mm
        self.radius_mm = micrometer.sizes.thimble_edge_diameter_mm / 2
        self.edge_row = micrometer.sizes.sleeve_diameter_mm / 2 * frame.px_per_mm

    def extent(self, kind: tuple[float, float]) -> slice:
        """Return the rows that a mark from one angle to another takes, on whole rows."""
        limit = np.pi / 2
        ends = [self.frame.y_px(self.radius_mm, float(np.clip(a, -limit, limit))) for a in kind]
        inside = [
            np.clip(y, self.frame.axis_px - self.edge_row, self.frame.axis_px + self.edge_row) for y in ends
        ]
        top, bottom = sorted(min(max(round(float(y)), 0), self.frame.height_px) for y in inside)
        return slice(top, bottom)

    def bands(self, marks: list[layout.SleeveMark]) -> list[Band]:
        """Return the rows in which marks show, cut so that within a band nothing changes by row."""
        kinds = {(mark.from_rad, mark.to_rad) for mark in marks}
        extents = {kind: self.extent(kind) for kind in kinds}
        cuts = sorted({row for rows in extents.values() for row in (rows.start, rows.stop)})
        bands = []
        for top, bottom in itertools.pairwise(cuts):
            held = frozenset(k for k, rows in extents.items() if rows.start <= top and bottom <= rows.stop)
            if held:
                bands.append(Band(slice(top, bottom), held))
        return bands

    def row(self, marks: list[layout.SleeveMark], kinds: frozenset[tuple[float, float]]) -> Floats:
        """Return the coverage of one row of the sleeve, from column 0 to the edge, by marks of some kinds."""
        places = [self.frame.x_px(mark.x_mm) for mark in marks if (mark.from_rad, mark.to_rad) in kinds]
        return comb(np.array(places), self.width_px, self.frame.edge_px)


@lru_cache(maxsize=128)
def _fine(
    text: str,
    height_mm: float,
    stroke_mm: float,
    x_from_mm: float,
    columns: int,
    per_mm: float,
    down_per_mm: float,
) -> Floats:
    """Return a numeral's running sums down its height, with a leading zero row, one column a pixel.

    Columns are `1 / per_mm` wide from `x_from_mm` on, measured from the numeral's left side.
    """
    x = x_from_mm + (np.arange(columns * ACROSS_PER_PX) + 0.5) / (per_mm * ACROSS_PER_PX)
    rows = int(np.ceil(height_mm * down_per_mm)) + 2
    y = (np.arange(rows) - 0.5) / down_per_mm
    soft = 0.5 / down_per_mm + 0.5 / (per_mm * ACROSS_PER_PX)
    covered = numerals.ink(text, height_mm, stroke_mm, x, y, soft)
    pixels = covered.reshape(rows, columns, ACROSS_PER_PX).mean(axis=2, dtype=np.float32)
    summed = np.zeros((rows + 1, columns), dtype=np.float32)
    np.cumsum(pixels, axis=0, out=summed[1:])
    return summed


class BevelNumerals:
    """The numerals on the bevel, bent round a cylinder of the radius where they begin."""

    def __init__(self, frame: Canvas, micrometer: Micrometer) -> None:
        sizes = micrometer.sizes
        self.frame = frame
        self.height_mm = sizes.thimble_numeral_height_mm
        self.stroke_mm = layout.numeral_stroke_mm(micrometer, self.height_mm)
        self.x_mm = layout.thimble_numeral_x_mm(micrometer)
        self.radius_mm = layout.cone(micrometer).radius_mm(self.x_mm)
        self.down_per_mm = min(FINE_PER_PX * frame.px_per_mm, max(FINEST_PER_MM, 2 * frame.px_per_mm))
        bounds = np.arange(frame.height_px + 1) - frame.axis_px
        self.bounds_rad = np.arcsin(np.clip(bounds / (self.radius_mm * frame.px_per_mm), -1, 1))
        self.left = int(np.floor(frame.x_px(self.x_mm)))

    def patches(self, lines: list[layout.ThimbleLine]) -> Iterator[Patch]:
        """Yield the coverage by each numeral in view."""
        for line in lines:
            if line.numeral is not None and abs(line.angle_rad) < layout.NUMERAL_FACING_RAD:
                patch = self._patch(line.numeral, line.angle_rad)
                if patch is not None:
                    yield patch

    def _patch(self, text: str, angle_rad: float) -> Patch | None:
        px_per_mm = self.frame.px_per_mm
        wide = self.x_mm + numerals.width_mm(text, self.height_mm, self.stroke_mm)
        right = min(int(np.ceil(self.frame.x_px(wide))), self.frame.width_px)
        half = (self.height_mm / 2 + 1 / self.down_per_mm) / self.radius_mm
        low, high = np.searchsorted(self.bounds_rad, [-angle_rad - half, -angle_rad + half])
        top, bottom = max(int(low) - 1, 0), min(int(high), self.frame.height_px)
        if right <= self.left or bottom <= top:
            return None
        x_from = (self.left - self.frame.x_px(self.x_mm)) / px_per_mm
        summed = _fine(
            text, self.height_mm, self.stroke_mm, x_from, right - self.left, px_per_mm, self.down_per_mm
        )
        down_mm = (self.bounds_rad[top : bottom + 1] + angle_rad) * self.radius_mm + self.height_mm / 2
        return Patch(top, self.left, resampled(summed, down_mm * self.down_per_mm + 1))


class SleeveNumerals:
    """The numerals on the sleeve: their rows stand still, their columns move."""

    def __init__(self, frame: Canvas, micrometer: Micrometer) -> None:
        sizes = micrometer.sizes
        self.frame = frame
        self.height_mm = sizes.sleeve_numeral_height_mm
        self.stroke_mm = layout.numeral_stroke_mm(micrometer, self.height_mm)
        self.radius_mm = sizes.thimble_edge_diameter_mm / 2
        self.shown_px = sizes.sleeve_diameter_mm / 2 * frame.px_per_mm
        self.along_per_mm = min(FINE_PER_PX * frame.px_per_mm, max(FINEST_PER_MM, 2 * frame.px_per_mm))
        self._still: dict[tuple[str, float], tuple[int, Floats] | None] = {}

    def patches(self, marks: list[layout.SleeveMark]) -> Iterator[Patch]:
        """Yield the coverage by each numeral in view, cut off at the thimble's edge."""
        for mark in marks:
            if mark.numeral is not None:
                patch = self.at(mark.numeral, self.height_mm, self.stroke_mm, mark.x_mm, mark.numeral_rad)
                if patch is not None:
                    yield patch

    def at(
        self, text: str, height_mm: float, stroke_mm: float, middle_mm: float, angle_rad: float
    ) -> Patch | None:
        """Return the coverage by a numeral whose middle stands at a place and an angle."""
        still = self._rows(text, height_mm, stroke_mm, angle_rad)
        wide = numerals.width_mm(text, height_mm, stroke_mm)
        begin = self.frame.x_px(middle_mm - wide / 2)
        end = begin + wide * self.frame.px_per_mm
        left, right = max(int(np.floor(begin)), 0), min(int(np.ceil(end)), self.frame.edge_px)
        if still is None or right <= left:
            return None
        top, summed = still
        bounds = (np.arange(left, right + 1) - begin) / self.frame.px_per_mm * self.along_per_mm + 1
        return Patch(top, left, resampled(summed, bounds).T)

    def _rows(
        self, text: str, height_mm: float, stroke_mm: float, angle_rad: float
    ) -> tuple[int, Floats] | None:
        """Return a numeral's first row and its running sums along the sleeve, shape (fine, rows)."""
        key = (text, angle_rad)
        if key not in self._still:
            self._still[key] = self._drawn(text, height_mm, stroke_mm, angle_rad)
        return self._still[key]

    def _drawn(
        self, text: str, height_mm: float, stroke_mm: float, angle_rad: float
    ) -> tuple[int, Floats] | None:
        frame, per_mm = self.frame, self.along_per_mm
        half = height_mm / 2 / self.radius_mm
        if abs(angle_rad) + half > layout.FACING_RAD:
            return None
        first, last = (
            frame.y_px(self.radius_mm, angle_rad + half),
            frame.y_px(self.radius_mm, angle_rad - half),
        )
        limits = frame.axis_px - self.shown_px, frame.axis_px + self.shown_px
        top = max(int(np.floor(first)), 0, int(np.floor(limits[0])))
        bottom = min(int(np.ceil(last)), frame.height_px, int(np.ceil(limits[1])))
        if bottom <= top:
            return None
        columns = int(np.ceil(numerals.width_mm(text, height_mm, stroke_mm) * per_mm)) + 2
        down_per_mm = per_mm
        fine = _fine(text, height_mm, stroke_mm, -1 / per_mm, columns, per_mm, down_per_mm)
        bounds = (np.arange(top, bottom + 1) - frame.axis_px) / (self.radius_mm * frame.px_per_mm)
        angles = np.arcsin(np.clip(bounds, -1, 1))
        down_mm = (angles + angle_rad) * self.radius_mm + height_mm / 2
        pixels = resampled(fine, down_mm * down_per_mm + 1).T
        summed = np.zeros((pixels.shape[0] + 1, pixels.shape[1]), dtype=np.float32)
        np.cumsum(pixels, axis=0, out=summed[1:])
        return top, summed
