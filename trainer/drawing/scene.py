"""An instrument at a position as data: flat shapes in millimetres, for paper and for tests.

x runs to the right along the axis from the thimble's edge, y downwards from the instrument's axis; at
no roll the index line lies at y = 0. Shapes come in the order of painting. Graduations, marks, index
line and vernier carry the reading and are exact; numerals and outlines are for the eye.
"""

import math
from dataclasses import dataclass
from typing import Literal

from trainer.drawing import layout, numerals
from trainer.drawing.eyesight import sleeve_rad
from trainer.drawing.viewing import Viewing
from trainer.instrument.micrometer import Micrometer, State

Point = tuple[float, float]
Part = Literal[
    "sleeve", "bevel", "land", "groove", "grip", "index", "mark", "graduation", "vernier", "numeral"
]
STEPS_PER_TURN = 14  # points to a circle in a numeral's outline
SHOWN_GRIP_MM = 6.0


@dataclass(frozen=True, slots=True)
class Shape:
    """Closed polygons filled as one: what they are and, for a line, its number on its scale."""

    part: Part
    polygons: tuple[tuple[Point, ...], ...]
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Scene:
    """All shapes of one instrument at one position, seen under one viewing."""

    state: State
    roll_deg: float
    shapes: tuple[Shape, ...]

    def of(self, part: Part) -> tuple[Shape, ...]:
        """Return the shapes of one part."""
        return tuple(shape for shape in self.shapes if shape.part == part)


def scene(state: State, viewing: Viewing, left_mm: float = 30.0) -> Scene:
    """Return the shapes of an instrument in its state; `left_mm` of the sleeve are shown.

    >>> from trainer.instrument import catalogue
    >>> shown = scene(State(catalogue.load("metric"), 7370.0), Viewing(20.0))
    >>> [shape.number for shape in shown.of("graduation")][10:14]
    [36, 37, 38, 39]
    """
    roll, sleeve = math.radians(viewing.roll_deg), sleeve_rad(state.micrometer, viewing)
    shapes = [*_surfaces(state.micrometer, left_mm, viewing.plain), *_sleeve_ink(state, sleeve, left_mm)]
    shapes += _thimble_ink(state, roll)
    if not viewing.plain:
        shapes += _numerals(state, roll, sleeve, left_mm)
    return Scene(state, viewing.roll_deg, tuple(shapes))


def _box(left: float, top: float, right: float, bottom: float) -> tuple[Point, ...]:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def _surfaces(micrometer: Micrometer, left_mm: float, plain: bool) -> list[Shape]:
    """Return the outlines of sleeve, bevel, land, groove and grip."""
    sizes, cone = micrometer.sizes, layout.cone(micrometer)
    sleeve = sizes.sleeve_diameter_mm / 2
    edge, body = cone.edge_mm, cone.end_mm
    land = cone.length_mm + sizes.land_length_mm
    bevel = ((0.0, -edge), (cone.length_mm, -body), (cone.length_mm, body), (0.0, edge))
    shapes = [
        Shape("sleeve", (_box(-left_mm, -sleeve, 0.0, sleeve),)),
        Shape("bevel", (bevel,)),
        Shape("land", (_box(cone.length_mm, -body, land, body),)),
    ]
    if not plain:
        shapes.append(Shape("groove", (_box(land, -body + 0.16, land + 0.28, body - 0.16),)))
        shapes.append(Shape("grip", (_box(land + 0.28, -body, land + 0.28 + SHOWN_GRIP_MM, body),)))
    return shapes


def _seen(radius_mm: float, angle_rad: float) -> float:
    """Return y of a point on a cylinder, held at the limb where it has gone round."""
    return -radius_mm * math.sin(min(max(angle_rad, -math.pi / 2), math.pi / 2))


def _sleeve_ink(state: State, roll: float, left_mm: float) -> list[Shape]:
    """Return the index line, the marks across the sleeve and the vernier's lines."""
    micrometer = state.micrometer
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    half = micrometer.sizes.line_width_mm / 2
    half_rad = half / radius
    index = _box(-left_mm, _seen(radius, roll + half_rad), 0.0, _seen(radius, roll - half_rad))
    shapes = [Shape("index", (index,), 0)]
    limit = micrometer.sizes.sleeve_diameter_mm / 2
    for mark in layout.sleeve_marks(state, roll, left_mm - half):
        ends = sorted(min(max(_seen(radius, angle), -limit), limit) for angle in (mark.from_rad, mark.to_rad))
        box = _box(mark.x_mm - half, ends[0], min(mark.x_mm + half, 0.0), ends[1])
        shapes.append(Shape("mark", (box,), mark.line))
    reach = min(micrometer.sizes.vernier_line_mm, left_mm - 3.0)
    for line in layout.vernier_lines(micrometer, roll):
        high, low = _seen(radius, line.angle_rad + half_rad), _seen(radius, line.angle_rad - half_rad)
        shapes.append(Shape("vernier", (_box(-reach, high, 0.0, low),), line.number))
    return shapes


def _thimble_ink(state: State, roll: float) -> list[Shape]:
    """Return the graduations: each a quadrangle, exact at the thimble's edge and at its own end."""
    cone = layout.cone(state.micrometer)
    half = state.micrometer.sizes.line_width_mm / 2
    shapes = []
    for line in layout.thimble_lines(state, roll):
        corners = []
        for x, radius in ((0.0, cone.edge_mm), (line.length_mm, cone.radius_mm(line.length_mm))):
            corners.append(
                (
                    (x, _seen(radius, line.angle_rad + half / radius)),
                    (x, _seen(radius, line.angle_rad - half / radius)),
                )
            )
        (edge_high, edge_low), (end_high, end_low) = corners
        shapes.append(Shape("graduation", ((edge_high, end_high, end_low, edge_low),), line.number))
    return shapes


def _numerals(state: State, roll: float, sleeve: float, left_mm: float) -> list[Shape]:
    """Return all numerals, bent round their cylinders."""
    micrometer, sizes = state.micrometer, state.micrometer.sizes
    shapes = []
    x = layout.thimble_numeral_x_mm(micrometer)
    radius = layout.cone(micrometer).radius_mm(x)
    for line in layout.thimble_lines(state, roll):
        if line.numeral is not None and abs(line.angle_rad) < layout.NUMERAL_FACING_RAD:
            height = sizes.thimble_numeral_height_mm
            shapes.append(_bent(micrometer, line.numeral, height, x, line.angle_rad, radius))
    radius = sizes.thimble_edge_diameter_mm / 2
    for mark in layout.sleeve_marks(state, sleeve, left_mm):
        if mark.numeral is not None and abs(mark.numeral_rad) < layout.NUMERAL_FACING_RAD:
            height = sizes.sleeve_numeral_height_mm
            stroke = layout.numeral_stroke_mm(micrometer, height)
            left = layout.centred_x_mm(mark.numeral, height, stroke, mark.x_mm)
            if left + numerals.width_mm(mark.numeral, height, stroke) > 0 or left < -left_mm:
                continue  # cut off by the thimble, and better left out than cut on paper
            shapes.append(_bent(micrometer, mark.numeral, height, left, mark.numeral_rad, radius))
    height = layout.vernier_numeral_height_mm(micrometer)
    reach = min(sizes.vernier_line_mm, left_mm - 3.0)
    for vernier in layout.vernier_lines(micrometer, sleeve):
        if vernier.numeral is not None and abs(vernier.angle_rad) < layout.NUMERAL_FACING_RAD:
            left = -reach - layout.NUMERAL_GAP_MM - 0.62 * height
            shapes.append(_bent(micrometer, vernier.numeral, height, left, vernier.angle_rad, radius))
    return shapes


def _bent(
    micrometer: Micrometer, text: str, height_mm: float, x_mm: float, angle_rad: float, radius_mm: float
) -> Shape:
    """Return a numeral that begins at x with its middle at an angle."""
    stroke = layout.numeral_stroke_mm(micrometer, height_mm)
    flat = numerals.outlines(text, height_mm, stroke, STEPS_PER_TURN)
    polygons = tuple(
        tuple((x_mm + x, _seen(radius_mm, angle_rad - (y - height_mm / 2) / radius_mm)) for x, y in polygon)
        for polygon in flat
    )
    return Shape("numeral", polygons)
