"""The raster painter: a micrometer at a position as sRGB pixels, redrawn only where it changed.

Pixel i covers [i, i + 1) and its centre is i + 1/2, in both directions. All light is linear until
the last step. Bare metal and the ink that stands still are kept as offset code values, so that a new
position costs a multiplication by the moving ink, an addition and a cast, over the rows and columns
that hold moving ink.
"""

import math
from collections.abc import Callable
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from trainer.drawing import bow, ink, layout, metal
from trainer.drawing.canvas import Canvas, canvas, index_y_px
from trainer.drawing.coverage import united
from trainer.drawing.develop import develop
from trainer.drawing.geometry import Geometry, geometry
from trainer.drawing.light import (
    INK_STRENGTH,
    Floats,
    encode_with_offset,
    ink_table,
    row_hues,
    transmission,
)
from trainer.drawing.numeral_ink import BevelNumerals, SleeveNumerals
from trainer.drawing.region import Pixels, Rect, Region
from trainer.drawing.still import index_stripe, still_ink
from trainer.drawing.viewing import Viewing, fitting_size
from trainer.drawing.whole_light import WholeLight
from trainer.instrument.micrometer import Faults, Micrometer, State

__all__ = ["DRAWING_VERSION", "Geometry", "Painter", "geometry"]

AHEAD_PX = 200.0  # numerals higher than this are drawn when they come into view: all of them take much memory
DRAWING_VERSION = "2"  # raise it whenever the same state gives other pixels; records keep it


class Painter:
    """Paints one instrument, as seen under one viewing in one size, at any position.

    `paint` returns the same array every time, changed in place: copy it to keep it. `changed` lists
    the rectangles that the last call redrew.
    """

    def __init__(
        self,
        micrometer: Micrometer,
        faults: Faults | None = None,
        viewing: Viewing | None = None,
        size_px: tuple[int, int] | None = None,
        *,
        frame: Canvas | None = None,
    ) -> None:
        self.micrometer = micrometer
        self.faults = faults or Faults()
        self.viewing = viewing or Viewing(20.0)
        size = size_px or fitting_size(micrometer, self.viewing.shown_px_per_mm)
        self.frame = frame or canvas(self.viewing, size, micrometer)
        self.changed: tuple[Rect, ...] = ()
        self._shown: float | None = None
        self._before: list[tuple[slice, slice]] = []  # where numerals were drawn last
        self._bands: list[ink.Band] = []  # and sleeve marks, from column `_left` on
        self._left = self.frame.edge_px
        self._table = ink_table(INK_STRENGTH * self.viewing.contrast)
        width_mm = micrometer.sizes.line_width_mm
        self._bevel_lines = ink.BevelLines(self.frame, micrometer, width_mm)
        self._marks = ink.SleeveMarks(self.frame, micrometer, width_mm)
        self.bevel_numerals = BevelNumerals(self.frame, micrometer)
        self.sleeve_numerals = SleeveNumerals(self.frame, micrometer)
        self._whole: WholeLight | None = None
        if self.viewing.needs_whole_light:
            self._whole = WholeLight(self.frame, micrometer, self.viewing)
            self.picture: Pixels = np.zeros((self.frame.height_px, self.frame.width_px, 3), dtype=np.uint8)
        else:
            self._build()

    # ---- what stands still -------------------------------------------------------------------

    def _build(self) -> None:
        """Paint the bare instrument and the ink that stands still; keep what moving ink needs."""
        frame = self.frame
        ground = metal.bare(frame, self.micrometer, self.viewing.plain)
        coded = encode_with_offset(ground.light)
        for patch in still_ink(frame, self.micrometer, self.sleeve_numerals, self.viewing.plain):
            coded[patch.rows, patch.columns] *= transmission(patch.covered, self._table)
        self.picture = np.empty((frame.height_px, frame.width_px, 3), dtype=np.uint8)
        hues = row_hues(frame.height_px, self.viewing.plain)
        sleeve = slice(0, frame.edge_px)
        bevel = slice(frame.edge_px, min(self._bevel_end(), frame.width_px))
        self._sleeve = Region(coded, hues, self._sleeve_rows(), sleeve, self.picture)
        self._bevel = Region(coded, hues, self._bevel_rows(), bevel, self.picture)
        columns = max(self._bevel_lines.lengths.values())
        height = self._bevel.rows.stop - self._bevel.rows.start
        self._strip = np.empty((height, columns), dtype=np.float32)
        self._index_rows, self._index = index_stripe(frame, self.micrometer)
        develop(coded, ground.filled, self.viewing.plain, self.picture)
        index = transmission(self._index, self._table)[:, None]
        self._sleeve.lay(self._index_rows, slice(0, frame.edge_px), index)
        self._still = self.picture.copy()
        self._beyond = self._corners(ground)
        widest = 0 if self.viewing.plain else bow.width_px(frame, State(self.micrometer, 0.0, self.faults))
        end = State(self.micrometer, self.micrometer.travel_tenths, self.faults)
        widest = max(widest, 0 if self.viewing.plain else bow.width_px(frame, end))
        self._bow = bow.painted(frame, self.micrometer, widest)
        self._bow_px = 0

    def _corners(self, ground: metal.Metal) -> list[tuple[slice, slice, NDArray[np.bool_]]]:
        """Return the parts of the bevel's rectangle where the ground shows: no ink is drawn there."""
        rows, columns = self._bevel.rows, self._bevel.columns
        beyond = ground.filled[rows, columns] < 1
        ragged = np.flatnonzero(beyond.any(axis=1)) + rows.start
        corners = []
        for part in (ragged[ragged < self.frame.axis_px], ragged[ragged >= self.frame.axis_px]):
            if part.size:
                place = slice(int(part[0]), int(part[-1]) + 1)
                mask = ground.filled[place, columns] < 1
                corners.append((place, columns, np.repeat(mask[:, :, None], 3, axis=2)))
        return corners

    def _sleeve_rows(self) -> slice:
        """Return the rows that sleeve marks and numerals can reach."""
        frame, micrometer = self.frame, self.micrometer
        radius = micrometer.sizes.thimble_edge_diameter_mm / 2
        index = index_y_px(frame, micrometer)
        half = micrometer.sizes.line_width_mm / 2 * frame.px_per_mm
        rows = [index - half - 2, index + half + 2]
        for rule in micrometer.sleeve.rules:
            reach = rule.length_mm + layout.NUMERAL_GAP_MM + micrometer.sizes.sleeve_numeral_height_mm + 0.1
            angle = frame.sleeve_rad + (1 if rule.side == "above" else -1) * reach / radius
            rows.append(frame.y_px(radius, min(max(angle, -math.pi / 2), math.pi / 2)))
        return self._held(min(rows) - 3, max(rows) + 3)

    def _bevel_rows(self) -> slice:
        """Return the rows that the bevel takes as far as graduations and numerals reach."""
        reach = layout.cone(self.micrometer).end_mm * self.frame.px_per_mm + 1
        return self._held(self.frame.axis_px - reach, self.frame.axis_px + reach)

    def _held(self, top: float, bottom: float) -> slice:
        """Return the whole rows between two heights that lie in the picture."""
        height = self.frame.height_px
        first = min(max(math.floor(top), 0), height)
        return slice(first, min(max(math.ceil(bottom), first), height))

    def _bevel_end(self) -> int:
        return math.ceil(self.frame.x_px(self.micrometer.sizes.bevel_length_mm)) + 1

    def prepare(self, wanted: Callable[[], bool] = lambda: True) -> None:
        """Draw the numerals that no position has shown yet, as long as `wanted()`.

        A numeral takes long the first time it comes into view, tens of ms on a large screen. This may run in
        another thread while `paint` is used: it only fills what both keep.
        """
        owner = self._whole or self
        bevel, sleeve = owner.bevel_numerals, owner.sleeve_numerals
        if self.viewing.plain or max(bevel.height_mm, sleeve.height_mm) * self.frame.px_per_mm > AHEAD_PX:
            return
        for _ in chain(bevel.ahead(), sleeve.ahead()):
            if not wanted():
                return

    # ---- what moves --------------------------------------------------------------------------

    def paint(self, position_tenths: float) -> Pixels:
        """Return the picture at a position: uint8, shape (height, width, 3), C-contiguous, sRGB.

        The array belongs to the painter and is overwritten by the next call.
        """
        state = State(self.micrometer, position_tenths, self.faults)
        if state.shown_tenths == self._shown:
            self.changed = ()
            return self.picture
        everything = [(slice(0, self.frame.height_px), slice(0, self.frame.width_px))]
        first = self._shown is None
        self._shown = state.shown_tenths
        if self._whole is not None:
            self._whole.paint(state, self.picture)
            self.changed = tuple(_rect(*area) for area in everything)
            return self.picture
        marks = list(layout.sleeve_marks(state, self.frame.sleeve_rad, self.frame.left_mm + 2))
        bands = self._marks.bands(marks)
        touched = self._restore(bands) + self._paint_bow(state)
        touched += self._paint_sleeve(state, marks, bands) + self._paint_bevel(state)
        self.changed = tuple(_rect(rows, columns) for rows, columns in (everything if first else touched))
        return self.picture

    def _paint_bow(self, state: State) -> list[tuple[slice, slice]]:
        """Move the frame that the sleeve is set in, where it is in view."""
        width = 0 if self.viewing.plain else bow.width_px(self.frame, state)
        if width == self._bow_px:
            return []
        columns = slice(0, max(width, self._bow_px))
        self._bow_px = width
        self.picture[:, columns] = self._still[:, columns]
        if width:
            self.picture[:, :width] = self._bow[:, self._bow.shape[1] - width :]
        return [(slice(0, self.frame.height_px), columns)]

    def _paint_sleeve(
        self, state: State, marks: list[layout.SleeveMark], bands: list[ink.Band]
    ) -> list[tuple[slice, slice]]:
        touched: list[tuple[slice, slice]] = []
        left = self._first_column(state)
        columns = slice(max(min(left, self._left), self._bow_px), self.frame.edge_px)
        self._left, self._bands = left, bands
        for band, row in zip(bands, self._marks.rows(marks, bands), strict=True):
            self._paint_band(band.rows, columns, row[columns])
            touched.append((band.rows, columns))
        if not self.viewing.plain:
            for patch in self.sleeve_numerals.patches(marks):
                self._sleeve.lay(patch.rows, patch.columns, transmission(patch.covered, self._table))
                self._before.append((patch.rows, patch.columns))
                touched.append((patch.rows, patch.columns))
        return touched

    def _first_column(self, state: State) -> int:
        """Return the first column that a sleeve mark can reach."""
        ends = (state.sleeve_line_mm(0), state.sleeve_line_mm(self.micrometer.sleeve_lines))
        first = min(ends) - state.edge_mm - self.micrometer.sizes.line_width_mm
        return min(max(math.floor(self.frame.x_px(first)) - 2, 0), self.frame.edge_px)

    def _paint_band(self, rows: slice, columns: slice, row: Floats) -> None:
        """Draw one band of sleeve marks, with the index line where the band meets it."""
        meets = slice(max(rows.start, self._index_rows.start), min(rows.stop, self._index_rows.stop))
        parts = [
            slice(rows.start, min(rows.stop, meets.start)),
            slice(max(rows.start, meets.stop), rows.stop),
        ]
        if meets.stop <= meets.start:
            parts = [rows]
        else:
            first = self._index_rows.start
            index = self._index[meets.start - first : meets.stop - first]
            both = united(index[:, None], row[None, :])
            self._sleeve.lay(meets, columns, transmission(both, self._table))
        passed = transmission(row, self._table)
        for part in parts:
            if part.stop > part.start:
                self._sleeve.lay(part, columns, passed)

    def _restore(self, bands: list[ink.Band]) -> list[tuple[slice, slice]]:
        """Put the still picture back where ink has moved away; bands that stay are drawn over as they are."""
        if bands is not self._bands:
            columns = slice(self._left, self.frame.edge_px)
            self._before += [(band.rows, columns) for band in self._bands]
            self._left = self.frame.edge_px
        for rows, columns in self._before:
            self.picture[rows, columns] = self._still[rows, columns]
        restored, self._before = self._before, []
        return restored

    def _paint_bevel(self, state: State) -> list[tuple[slice, slice]]:
        lines = list(layout.thimble_lines(state, self.frame.roll_rad))
        columns = max(self._bevel_lines.lengths.values())
        region = self._bevel.rows
        passed = self._strip
        passed.fill(1)
        strength = INK_STRENGTH * self.viewing.contrast
        for group in self._bevel_lines.passing(lines, self._table, strength):
            wide = group.covered.shape[2]
            for top, bottom, factor in zip(group.tops, group.bottoms, group.covered, strict=True):
                first, last = max(top, region.start), min(bottom, region.stop)
                if last > first:
                    passed[first - region.start : last - region.start, :wide] *= factor[
                        first - top : last - top
                    ]
        strip = slice(self.frame.edge_px, self.frame.edge_px + columns)
        self._bevel.lay(region, strip, passed)
        touched = [(region, strip)]
        if not self.viewing.plain:
            for patch in self.bevel_numerals.patches(lines):
                self._bevel.lay(patch.rows, patch.columns, transmission(patch.covered, self._table))
                self._before.append((patch.rows, patch.columns))
                touched.append((patch.rows, patch.columns))
        for high, within, mask in self._beyond:
            np.copyto(self.picture[high, within], self._still[high, within], where=mask)
        return touched


def _rect(rows: slice, columns: slice) -> Rect:
    return columns.start, rows.start, columns.stop - columns.start, rows.stop - rows.start
