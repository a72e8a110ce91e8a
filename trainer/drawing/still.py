"""The ink that stands still in the picture: the index line, the vernier's lines and numerals."""

import math

import numpy as np

from trainer.drawing import ink, layout
from trainer.drawing.canvas import Canvas
from trainer.drawing.coverage import stripe
from trainer.drawing.light import Floats
from trainer.drawing.numeral_ink import SleeveNumerals
from trainer.instrument.micrometer import Micrometer


def index_stripe(frame: Canvas, micrometer: Micrometer) -> tuple[slice, Floats]:
    """Return the rows of the index line and how much of each it covers."""
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    half_rad = micrometer.sizes.line_width_mm / 2 / radius
    high = frame.y_px(radius, frame.sleeve_rad + half_rad)
    low = frame.y_px(radius, frame.sleeve_rad - half_rad)
    top = min(max(math.floor(high) - 1, 0), frame.height_px)
    bottom = min(max(math.ceil(low) + 1, top), frame.height_px)
    return slice(top, bottom), stripe(high, low, top, bottom - top)


def still_ink(
    frame: Canvas, micrometer: Micrometer, sleeve_numerals: SleeveNumerals, plain: bool
) -> list[ink.Patch]:
    """Return the coverage by the vernier's lines and numerals, which do not move in the picture."""
    patches = []
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    height = layout.vernier_numeral_height_mm(micrometer)
    stroke = layout.numeral_stroke_mm(micrometer, height)
    reach = vernier_reach_mm(frame, micrometer)
    left = frame.edge_px - round(reach * frame.px_per_mm)
    half_rad = micrometer.sizes.line_width_mm / 2 / radius
    for line in layout.vernier_lines(micrometer, frame.sleeve_rad):
        high = frame.y_px(radius, line.angle_rad + half_rad)
        low = frame.y_px(radius, line.angle_rad - half_rad)
        top = max(math.floor(high) - 1, 0)
        bottom = min(math.ceil(low) + 1, frame.height_px)
        if bottom > top:
            covered = stripe(high, low, top, bottom - top)
            patches.append(ink.Patch(top, left, np.repeat(covered[:, None], frame.edge_px - left, axis=1)))
        if line.numeral is not None and not plain:
            middle = -reach - layout.NUMERAL_GAP_MM - height * 0.31
            patch = sleeve_numerals.at(line.numeral, height, stroke, middle, line.angle_rad)
            if patch is not None:
                patches.append(patch)
    return patches


def vernier_reach_mm(frame: Canvas, micrometer: Micrometer) -> float:
    """Return how far the vernier's lines reach to the left of the edge: their length, or what has room."""
    return max(min(micrometer.sizes.vernier_line_mm, frame.left_mm - 3.0), 0.0)
