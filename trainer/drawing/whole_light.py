"""The whole picture in linear light, for conditions under which it cannot be redrawn piece by piece."""

import itertools

import numpy as np

from trainer.drawing import conditions, ink, layout, metal
from trainer.drawing.canvas import Canvas
from trainer.drawing.coverage import Doubles, united
from trainer.drawing.develop import develop
from trainer.drawing.light import INK_STRENGTH, Floats, encode_with_offset
from trainer.drawing.numeral_ink import BevelNumerals, SleeveNumerals
from trainer.drawing.region import Pixels
from trainer.drawing.still import index_stripe, still_ink
from trainer.drawing.viewing import Viewing
from trainer.instrument.micrometer import Micrometer, State

BRIGHTEST = 0.96  # luminance at which the picture is white
NUMERAL_WEAR, INDEX_WEAR = 900, 901  # numbers by which numerals and index line wear, unlike any line's


class WholeLight:
    """Paints an instrument under conditions: each position anew, the bare metal kept."""

    def __init__(self, frame: Canvas, micrometer: Micrometer, viewing: Viewing) -> None:
        self.frame, self.micrometer, self.viewing = frame, micrometer, viewing
        self.strength = np.float32(INK_STRENGTH * viewing.contrast)
        width_mm = micrometer.sizes.line_width_mm
        self.lines = ink.BevelLines(frame, micrometer, width_mm)
        self.marks = ink.SleeveMarks(frame, micrometer, width_mm)
        self.bevel_numerals = BevelNumerals(frame, micrometer)
        self.sleeve_numerals = SleeveNumerals(frame, micrometer)
        self.index_rows, self.index = index_stripe(frame, micrometer)
        self.ground = metal.bare(frame, micrometer, viewing.plain)
        self.bare = self._with_still_ink(self.ground.light.copy())
        self.dirt = conditions.light_through_dirt(frame, viewing.dirt) if viewing.dirt else None
        glare = conditions.glare_light(frame, micrometer, viewing.glare) if viewing.glare else None
        self.glare = None if glare is None else glare * self.ground.filled

    def paint(self, state: State, picture: Pixels) -> None:
        """Paint the instrument in its state into `picture`."""
        light = self.bare.copy()
        self._sleeve(light, state)
        self._thimble(light, state)
        if self.dirt is not None:
            light *= 1 - (1 - self.dirt) * self.ground.filled
        if self.glare is not None:
            light += self.glare
        diameter_px = self.viewing.blur_mm * self.frame.px_per_mm
        if diameter_px > 0.1:
            light = conditions.defocused(light, diameter_px)
        np.clip(light, 0.004, BRIGHTEST, out=light)
        develop(encode_with_offset(light), self.ground.filled, self.viewing.plain, picture)

    def _ink(self, light: Floats, patch: ink.Patch, left: Floats | float = 1.0) -> None:
        light[patch.rows, patch.columns] *= 1 - self.strength * patch.covered * left

    def _left(self, number: int, along_mm: Doubles) -> Floats:
        return conditions.ink_left(self.viewing.wear, number, along_mm)

    def _columns_mm(self, columns: slice) -> Floats:
        places = np.arange(columns.start, columns.stop, dtype=np.float32) + np.float32(
            0.5 - self.frame.edge_px
        )
        return places / np.float32(self.frame.px_per_mm)

    def _with_still_ink(self, light: Floats) -> Floats:
        patches = still_ink(self.frame, self.micrometer, self.sleeve_numerals, self.viewing.plain)
        for number, patch in enumerate(patches):
            self._ink(light, patch, self._left(700 + number, self._columns_mm(patch.columns)))
        return light

    def _sleeve(self, light: Floats, state: State) -> None:
        """Lay index line, marks and numerals of the sleeve."""
        frame = self.frame
        marks = list(layout.sleeve_marks(state, frame.sleeve_rad, frame.left_mm + 2))
        covered = np.zeros((frame.height_px, frame.edge_px), dtype=np.float32)
        bands = self.marks.bands(marks)
        for band, row in zip(bands, self.marks.rows(marks, bands), strict=True):
            covered[band.rows] = row * self._worn_marks(marks, band.rows)
        rows = self.index_rows
        worn = self._left(INDEX_WEAR, self._columns_mm(slice(0, frame.edge_px)))
        covered[rows] = united(covered[rows], self.index[:, None] * worn[None, :])
        light[:, : frame.edge_px] *= 1 - self.strength * covered
        if not self.viewing.plain:
            for patch in self.sleeve_numerals.patches(marks):
                self._ink(light, patch, self._left(NUMERAL_WEAR, self._columns_mm(patch.columns)))

    def _worn_marks(self, marks: list[layout.SleeveMark], rows: slice) -> Floats:
        """Return the ink left at each row and column: alike over the width of a mark."""
        along = (np.arange(rows.start, rows.stop) - self.frame.axis_px) / self.frame.px_per_mm
        marks = sorted(marks, key=lambda mark: mark.x_mm)
        left = np.stack([self._left(mark.line, along + 40) for mark in marks])
        between = [(a.x_mm + b.x_mm) / 2 for a, b in itertools.pairwise(marks)]
        nearest = np.searchsorted(between, self._columns_mm(slice(0, self.frame.edge_px)))
        return np.asarray(left[nearest].T)

    def _thimble(self, light: Floats, state: State) -> None:
        """Lay graduations and numerals of the thimble; pixels that the outline cuts take no ink."""
        frame = self.frame
        lines = list(layout.thimble_lines(state, frame.roll_rad))
        passed = np.ones((frame.height_px, frame.width_px - frame.edge_px), dtype=np.float32)
        edge = frame.edge_px
        for group, numbers in zip(self.lines.groups(lines), self.lines.numbers(lines), strict=True):
            along = self._columns_mm(slice(frame.edge_px, frame.edge_px + group.covered.shape[2]))
            for place, number in enumerate(numbers):
                top, bottom = max(group.tops[place], 0), min(group.bottoms[place], frame.height_px)
                if bottom > top:
                    part = group.covered[place, top - group.tops[place] : bottom - group.tops[place]]
                    kept = part * self._left(200 + number, along)[None, :]
                    passed[top:bottom, : part.shape[1]] *= 1 - self.strength * kept
        if not self.viewing.plain:
            for patch in self.bevel_numerals.patches(lines):
                columns = slice(patch.left - edge, patch.left - edge + patch.covered.shape[1])
                kept = self._left(NUMERAL_WEAR, self._columns_mm(patch.columns))
                passed[patch.rows, columns] *= 1 - self.strength * patch.covered * kept
        passed[self.ground.filled[:, frame.edge_px :] < 1] = 1
        light[:, frame.edge_px :] *= passed
