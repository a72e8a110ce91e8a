"""Ink that moves with the thimble: coverage of the thimble's lines and the sleeve's marks.

Each class keeps what does not change with the position and gives, for one state, small arrays of
coverage with the place where they belong. Line ends lie on whole rows or columns, since they carry
no reading; the sides that do carry it are placed exactly.
"""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from trainer.drawing import layout
from trainer.drawing.canvas import Canvas
from trainer.drawing.coverage import Doubles, combs, ramp
from trainer.drawing.light import Floats, side_table, transmission
from trainer.instrument.micrometer import Micrometer


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
        for angles, columns in self._alike(lines):
            tops, bottoms, off, half = self._offsets(angles, columns, 1.0)
            covered = ramp(half - off)
            covered -= ramp(-half - off)
            yield Group(tops, bottoms, covered)

    def passing(self, lines: list[layout.ThimbleLine], table: Floats, strength: float) -> Iterator[Group]:
        """Yield what the graduations multiply offset code values by, in the place of coverage.

        Where a line is wider than the tent, a pixel's coverage hangs on its distance from the nearer side
        alone, so that one table gives what passes; `table` is `light.ink_table` for thinner lines.
        """
        steps = side_table(strength)
        scale = (steps.size - 1) / 2
        for angles, columns in self._alike(lines):
            tops, bottoms, off, half = self._offsets(angles, columns, scale)
            inside = np.subtract(half + np.float32(scale + 0.5), off)
            passed = steps.take(inside.astype(np.intp), mode="clip")
            thin = np.flatnonzero(half[:, 0, 0] < scale)
            if thin.size:
                near = ramp((half[thin] - off[thin]) / np.float32(scale))
                near -= ramp((-half[thin] - off[thin]) / np.float32(scale))
                passed[thin] = transmission(near, table)
            yield Group(tops, bottoms, passed)

    def _alike(self, lines: list[layout.ThimbleLine]) -> Iterator[tuple[Doubles, int]]:
        """Yield the angles of the graduations of each length, with how many columns they take."""
        for length, columns in self.lengths.items():
            angles = np.array([line.angle_rad for line in lines if line.length_mm == length])
            if angles.size:
                yield angles, columns

    def _offsets(
        self, angles: Doubles, columns: int, scale: float
    ) -> tuple[tuple[int, ...], tuple[int, ...], Floats, Floats]:
        """Return first and last rows, each pixel's distance from its line's middle, and half the width.

        Distances, shape (lines, rows, columns), and half widths, (lines, 1, columns), are in pixels times
        `scale`.
        """
        middle = self.frame.axis_px - np.sin(angles)[:, None] * self.middle_px[:columns]
        side = np.cos(angles)[:, None] * self.side_px[:columns]
        low, high = middle - side, middle + side
        first = np.floor(np.minimum(low[:, 0], low[:, -1])).astype(np.intp) - 1
        last = np.ceil(np.maximum(high[:, 0], high[:, -1])).astype(np.intp) + 1
        centres = ((np.arange(int((last - first).max())) + 0.5) * scale).astype(np.float32)[None, :, None]
        off = ((middle - first[:, None]) * scale).astype(np.float32)[:, None, :] - centres
        np.abs(off, out=off)
        half = (side * scale).astype(np.float32)[:, None, :]
        return tuple(first.tolist()), tuple(last.tolist()), off, half

    def numbers(self, lines: list[layout.ThimbleLine]) -> Iterator[tuple[int, ...]]:
        """Yield the numbers of the graduations, grouped as `groups` groups them."""
        for length in self.lengths:
            alike = tuple(line.number for line in lines if line.length_mm == length)
            if alike:
                yield alike


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
        self._bands: dict[frozenset[tuple[float, float]], list[Band]] = {}
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
        kinds = frozenset((mark.from_rad, mark.to_rad) for mark in marks)
        if kinds not in self._bands:
            self._bands[kinds] = self._cut(kinds)
        return self._bands[kinds]

    def _cut(self, kinds: frozenset[tuple[float, float]]) -> list[Band]:
        extents = {kind: self.extent(kind) for kind in kinds}
        cuts = sorted({row for rows in extents.values() for row in (rows.start, rows.stop)})
        bands = []
        for top, bottom in itertools.pairwise(cuts):
            held = frozenset(k for k, rows in extents.items() if rows.start <= top and bottom <= rows.stop)
            if held:
                bands.append(Band(slice(top, bottom), held))
        return bands

    def rows(self, marks: list[layout.SleeveMark], bands: list[Band]) -> Iterator[Floats]:
        """Yield for each band the coverage of one of its rows, from column 0 to the edge."""
        kinds = sorted({kind for band in bands for kind in band.kinds})
        places = [
            [self.frame.x_px(m.x_mm) for m in marks if (m.from_rad, m.to_rad) == kind] for kind in kinds
        ]
        alike = dict(zip(kinds, combs(places, self.width_px, self.frame.edge_px), strict=True))
        for band in bands:
            first, *others = (alike[kind] for kind in sorted(band.kinds))
            yield sum(others, start=first)
