"""What the sleeve is set in: the frame of an outside micrometer, the base of a depth micrometer.

It comes into view only where a picture shows more than the bare sleeve before the first line. It moves
with the sleeve by whole pixels, carries no reading and is painted once.
"""

import numpy as np
from numpy.typing import NDArray

from trainer.drawing import metal
from trainer.drawing.canvas import Canvas
from trainer.drawing.light import CODE_OFFSET, GROUND_HUE, Floats, encode_with_offset, row_hues, thresholds
from trainer.drawing.region import Pixels
from trainer.instrument.micrometer import Micrometer, State

RING_MM, ARM_MM = 4.0, 13.0
RING_STEP_MM, ARM_STEP_MM = 1.0, 2.6  # how far ring and arm stand out beyond the sleeve
SPINDLE_RADIUS_MM = 3.2
BASE_REACH_MM = 50.0
ENAMEL = 0.040  # luminance of the frame's dark enamel


def width_px(frame: Canvas, state: State) -> int:
    """Return how many columns at the left of a picture are taken by what the sleeve is set in."""
    micrometer = state.micrometer
    first = min(state.sleeve_line_mm(0), state.sleeve_line_mm(micrometer.sleeve_lines))
    before = first - state.edge_mm - micrometer.sizes.sleeve_before_zero_mm
    return min(max(round(frame.x_px(before)), 0), frame.edge_px)


def painted(frame: Canvas, micrometer: Micrometer, width: int) -> Pixels:
    """Return the columns to the left of the sleeve's beginning: uint8, shape (height, width, 3)."""
    sleeve = micrometer.sizes.sleeve_diameter_mm / 2
    down = np.arange(frame.height_px) + 0.5 - frame.axis_px
    rows = (down / frame.px_per_mm).astype(np.float32)
    x = ((np.arange(-width, 0) + 0.5) / frame.px_per_mm).astype(np.float32)
    layers = _Layers(frame, rows, width)
    arm = (x <= -RING_MM) & (x > -RING_MM - ARM_MM)
    layers.cylinder(x <= -RING_MM - ARM_MM, SPINDLE_RADIUS_MM, 1.0)
    layers.cylinder(x > -RING_MM, sleeve + RING_STEP_MM, 0.9)
    layers.arm(arm, x[arm], sleeve + ARM_STEP_MM, micrometer.kind == "depth")
    return layers.rounded()


class _Layers:
    """Parts laid over the ground, with how much of each pixel they fill."""

    def __init__(self, frame: Canvas, rows_mm: Floats, width: int) -> None:
        self.frame, self.rows = frame, rows_mm
        self.light = metal.ground(frame)[:, :width].copy()
        self.filled = np.zeros_like(self.light)

    def cylinder(self, columns: NDArray[np.bool_], radius_mm: float, share: float) -> None:
        """Lay a cylinder over some columns."""
        filled = np.clip((radius_mm - np.abs(self.rows)) * self.frame.px_per_mm + 0.5, 0, 1)
        shine = np.float32(share) * metal.cylinder(self.rows, radius_mm)
        self._lay(columns, shine[:, None], filled.astype(np.float32))

    def arm(self, columns: NDArray[np.bool_], x_mm: Floats, above_mm: float, both_ways: bool) -> None:
        """Lay the enamelled arm: downwards out of the picture, or both ways as a depth micrometer's base."""
        top, bottom = (-BASE_REACH_MM, BASE_REACH_MM) if both_ways else (-above_mm, 1e6)
        across = (x_mm + RING_MM + ARM_MM / 2) / (ARM_MM / 2)
        glint = 0.06 * np.exp(-(((across + 0.55) / 0.18) ** 2))
        rounded = ENAMEL * (1.3 - 0.8 * across**2) + glint
        fading = np.clip(1.15 - 0.012 * (self.rows - top), 0.5, 1.3)
        inside = np.minimum(self.rows - top, bottom - self.rows) * self.frame.px_per_mm + 0.5
        shine = (fading[:, None] * rounded[None, :]).astype(np.float32)
        self._lay(columns, shine, np.clip(inside, 0, 1).astype(np.float32))

    def _lay(self, columns: NDArray[np.bool_], shine: Floats, filled: Floats) -> None:
        under = self.light[:, columns]
        self.light[:, columns] = under + (shine - under) * filled[:, None]
        self.filled[:, columns] = np.maximum(self.filled[:, columns], filled[:, None])

    def rounded(self) -> Pixels:
        """Return the layers as pixels."""
        height, width = self.light.shape
        code = encode_with_offset(np.clip(self.light, 0.004, 0.96).astype(np.float32))
        code += thresholds(slice(0, height), slice(0, width)) - np.float32(CODE_OFFSET)
        colours = code.astype(np.uint8)[:, :, None] + row_hues(height, False)[:, None, :]
        colours[:, :, 0] -= ((1 - self.filled) * GROUND_HUE[0]).astype(np.uint8)
        colours[:, :, 2] += ((1 - self.filled) * GROUND_HUE[1]).astype(np.uint8)
        return np.asarray(colours, dtype=np.uint8)
