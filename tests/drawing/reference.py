"""The picture again, slowly and in double precision, line by line: what the fast painter must equal.

It shares the layout, the shapes of the numerals and the bare metal with the painter, and nothing of
how ink is computed: every line is looped over, edges come from the sine of their own angles, light is
multiplied in linear terms and encoded by the whole sRGB curve, numerals are
sampled 16 by 16 on the stretch of surface that a pixel shows.
"""

import math

import numpy as np

from trainer.drawing import layout, metal, numerals
from trainer.drawing.canvas import canvas
from trainer.drawing.light import GROUND_HUE, INK_STRENGTH, encode, row_hues, thresholds
from trainer.drawing.numeral_ink import SOFT_PX
from trainer.drawing.still import vernier_reach_mm

SAMPLES = 16


def tent_coverage(low, high, centres):
    """Return the tent-seen coverage of pixels by a stripe, from the integral of the tent."""

    def integral(t):
        t = np.clip(t, -1, 1)
        return np.where(t < 0, (1 + t) ** 2 / 2, 1 - (1 - t) ** 2 / 2)

    return integral(high - centres) - integral(low - centres)


def picture(state, viewing, size_px):
    """Return the picture that the painter should make: uint8, shape (height, width, 3)."""
    micrometer = state.micrometer
    frame = canvas(viewing, size_px, micrometer)
    height, width = frame.height_px, frame.width_px
    ground = metal.bare(frame, micrometer, viewing.plain)
    light = ground.light.astype(float)
    light[:, : frame.edge_px] *= 1 - INK_STRENGTH * sleeve_ink(state, frame)
    light *= vernier_light(micrometer, frame, viewing.plain)
    cut = ground.filled[:, frame.edge_px :] < 1  # pixels that the outline cuts carry no ink
    light[:, frame.edge_px :] *= np.where(cut, 1, thimble_light(state, frame))
    if not viewing.plain:
        shown = 1 - INK_STRENGTH * numeral_ink(state, frame)
        shown[:, frame.edge_px :][cut] = 1
        light *= shown
    code = np.floor(encode(light) + thresholds(slice(0, height), slice(0, width)))
    hues = row_hues(height, viewing.plain).astype(float)
    ground_hue = np.array([-GROUND_HUE[0], 0.0, GROUND_HUE[1]]) * (not viewing.plain)
    return code[:, :, None] + hues[:, None, :] + np.trunc((1 - ground.filled)[:, :, None] * ground_hue)


def sleeve_ink(state, frame):
    """Return the coverage of the sleeve by the index line and the marks: what neither leaves bare."""
    micrometer = state.micrometer
    rows, columns = np.arange(frame.height_px) + 0.5, np.arange(frame.edge_px) + 0.5
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    half_rad = micrometer.sizes.line_width_mm / 2 / radius
    index = tent_coverage(
        frame.y_px(radius, frame.sleeve_rad + half_rad), frame.y_px(radius, frame.sleeve_rad - half_rad), rows
    )
    bare = np.ones((frame.height_px, frame.edge_px))
    limit = micrometer.sizes.sleeve_diameter_mm / 2 * frame.px_per_mm
    half = micrometer.sizes.line_width_mm / 2 * frame.px_per_mm
    for mark in layout.sleeve_marks(state, frame.sleeve_rad, 1e9):
        ends = [
            frame.y_px(radius, min(max(a, -math.pi / 2), math.pi / 2)) for a in (mark.from_rad, mark.to_rad)
        ]
        ends = [min(max(y, frame.axis_px - limit), frame.axis_px + limit) for y in ends]
        top, bottom = sorted(min(max(round(y), 0), frame.height_px) for y in ends)
        across = tent_coverage(frame.x_px(mark.x_mm) - half, frame.x_px(mark.x_mm) + half, columns)
        bare[top:bottom] *= 1 - across
    return 1 - (1 - index)[:, None] * bare


def vernier_light(micrometer, frame, plain):
    """Return the light that the vernier's lines leave."""
    left = np.ones((frame.height_px, frame.width_px))
    rows = np.arange(frame.height_px) + 0.5
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    half_rad = micrometer.sizes.line_width_mm / 2 / radius
    first = frame.edge_px - round(vernier_reach_mm(frame, micrometer) * frame.px_per_mm)
    for line in layout.vernier_lines(micrometer, frame.sleeve_rad):
        covered = tent_coverage(
            frame.y_px(radius, line.angle_rad + half_rad), frame.y_px(radius, line.angle_rad - half_rad), rows
        )
        left[:, first : frame.edge_px] *= (1 - INK_STRENGTH * covered)[:, None]
    return left


def thimble_light(state, frame):
    """Return the light that the graduations leave, from the thimble's edge on."""
    micrometer = state.micrometer
    shape = layout.cone(micrometer)
    half_mm = micrometer.sizes.line_width_mm / 2
    rows = np.arange(frame.height_px) + 0.5
    left = np.ones((frame.height_px, frame.width_px - frame.edge_px))
    for line in layout.thimble_lines(state, frame.roll_rad):
        columns = max(round(line.length_mm * frame.px_per_mm), 2)
        for column in range(min(columns, left.shape[1])):
            radius = shape.radius_mm((column + 0.5) / frame.px_per_mm)
            high = frame.y_px(radius, line.angle_rad + half_mm / radius)
            low = frame.y_px(radius, line.angle_rad - half_mm / radius)
            left[:, column] *= 1 - INK_STRENGTH * tent_coverage(high, low, rows)
    return left


def numeral_ink(state, frame):
    """Return the coverage by all numerals, each pixel sampled many times."""
    micrometer = state.micrometer
    sizes = micrometer.sizes
    covered = np.zeros((frame.height_px, frame.width_px))
    x_mm = layout.thimble_numeral_x_mm(micrometer)
    height = sizes.thimble_numeral_height_mm
    stroke = layout.numeral_stroke_mm(micrometer, height)
    for line in layout.thimble_lines(state, frame.roll_rad):
        if line.numeral and abs(line.angle_rad) < layout.NUMERAL_FACING_RAD:
            radius = layout.cone(micrometer).radius_mm(x_mm)
            sampled(covered, frame, line.numeral, height, stroke, x_mm, line.angle_rad, radius, None)
    radius = sizes.thimble_edge_diameter_mm / 2
    height = sizes.sleeve_numeral_height_mm
    stroke = layout.numeral_stroke_mm(micrometer, height)
    for mark in layout.sleeve_marks(state, frame.sleeve_rad, frame.left_mm + 2):
        if mark.numeral:
            x_mm = layout.centred_x_mm(mark.numeral, height, stroke, mark.x_mm)
            sampled(
                covered, frame, mark.numeral, height, stroke, x_mm, mark.numeral_rad, radius, frame.edge_px
            )
    height = layout.vernier_numeral_height_mm(micrometer)
    stroke = layout.numeral_stroke_mm(micrometer, height)
    middle = -vernier_reach_mm(frame, micrometer) - layout.NUMERAL_GAP_MM - height * 0.31
    for line in layout.vernier_lines(micrometer, frame.sleeve_rad):
        x_mm = layout.centred_x_mm(line.numeral, height, stroke, middle)
        sampled(covered, frame, line.numeral, height, stroke, x_mm, line.angle_rad, radius, frame.edge_px)
    return covered


def sampled(covered, frame, text, height, stroke, x_mm, angle, radius, stop):
    """Add one numeral, bent round a cylinder, to the coverage."""
    if abs(angle) + height / 2 / radius > math.radians(89):
        return
    top = max(math.floor(frame.y_px(radius, angle + height / 2 / radius)) - 2, 0)
    bottom = min(math.ceil(frame.y_px(radius, angle - height / 2 / radius)) + 2, frame.height_px)
    left = max(math.floor(frame.x_px(x_mm)) - 2, 0)
    right = math.ceil(frame.x_px(x_mm + numerals.width_mm(text, height, stroke))) + 2
    right = min(right, frame.width_px if stop is None else stop)
    if right <= left or bottom <= top:
        return
    x = left + (np.arange((right - left) * SAMPLES) + 0.5) / SAMPLES
    bounds = (np.arange(top, bottom + 1) - frame.axis_px) / (radius * frame.px_per_mm)
    turns = np.arcsin(np.clip(bounds, -1, 1))
    within = (np.arange(SAMPLES) + 0.5) / SAMPLES
    angles = (turns[:-1, None] + within * np.diff(turns)[:, None]).ravel()
    down_mm = (angles + angle) * radius + height / 2
    across_mm = (x - frame.edge_px) / frame.px_per_mm - x_mm
    fine = numerals.ink(text, height, stroke, across_mm, down_mm, SOFT_PX / frame.px_per_mm)
    shape = bottom - top, SAMPLES, right - left, SAMPLES
    covered[top:bottom, left:right] += fine.astype(float).reshape(shape).mean(axis=(1, 3))
