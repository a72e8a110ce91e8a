"""Where every line and numeral of an instrument stands, in millimetres and angles.

x runs along the axis to the right and is measured here from the thimble's edge; angles go round the
axis, upwards from the direction of the eye. A point at angle a and radius r is seen at y = -r sin a,
y downwards. The scene, the painter and the paper all read this one layout.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from trainer.drawing.numerals import width_mm
from trainer.instrument.micrometer import Micrometer, State

FACING_RAD = math.radians(85)  # lines further round than this are not drawn: they are seen edge-on
NUMERAL_FACING_RAD = math.radians(76)
NUMERAL_GAP_MM = 0.4  # between a sleeve line's end and its numeral
THIMBLE_GAP_MM = 0.27  # the same on the thimble, whose bevel is short


@dataclass(frozen=True, slots=True)
class ThimbleLine:
    """A graduation of the thimble: its number, its angle as seen, its length, its numeral if it has one."""

    number: int
    angle_rad: float
    length_mm: float
    numeral: str | None


@dataclass(frozen=True, slots=True)
class SleeveMark:
    """A line across the sleeve: its number, place from the edge (negative is in view), extent, numeral."""

    line: int
    x_mm: float
    from_rad: float
    to_rad: float
    numeral: str | None
    numeral_rad: float  # angle of the numeral's middle


@dataclass(frozen=True, slots=True)
class VernierLine:
    """A vernier line: its number from 0 at the index line, its angle as seen, its numeral."""

    number: int
    angle_rad: float
    numeral: str | None


@dataclass(frozen=True, slots=True)
class Cone:
    """The thimble's bevel: its radius at the edge, at its end, and its length, in mm."""

    edge_mm: float
    end_mm: float
    length_mm: float

    @property
    def slope(self) -> float:
        """Return the growth of the radius per length."""
        return (self.end_mm - self.edge_mm) / self.length_mm

    def radius_mm(self, x_mm: float) -> float:
        """Return the radius at a place from the edge."""
        return self.edge_mm + self.slope * x_mm


def cone(micrometer: Micrometer) -> Cone:
    """Return the bevel of an instrument's thimble."""
    sizes = micrometer.sizes
    return Cone(sizes.thimble_edge_diameter_mm / 2, sizes.body_diameter_mm / 2, sizes.bevel_length_mm)


def thimble_lines(state: State, roll_rad: float) -> Iterator[ThimbleLine]:
    """Yield the thimble's graduations that face the eye, from the lowest angle to the highest."""
    micrometer = state.micrometer
    sizes, step = micrometer.sizes, micrometer.division_rad * micrometer.direction
    position = state.shown_tenths / 10
    reach = (FACING_RAD + abs(roll_rad)) / micrometer.division_rad
    counted = range(math.ceil(position - reach), math.floor(position + reach) + 1)
    for count in counted if micrometer.direction > 0 else reversed(counted):
        angle = (count - position) * step + roll_rad
        if abs(angle) < FACING_RAD:
            number = count % micrometer.divisions
            numbered = number % micrometer.thimble_numeral_every == 0
            length = sizes.thimble_line_long_mm if numbered else sizes.thimble_line_mm
            yield ThimbleLine(number, angle, length, str(number) if numbered else None)


def thimble_numeral_x_mm(micrometer: Micrometer) -> float:
    """Return where the thimble's numerals begin, from the edge."""
    return micrometer.sizes.thimble_line_long_mm + THIMBLE_GAP_MM


def sleeve_marks(state: State, roll_rad: float, before_mm: float) -> Iterator[SleeveMark]:
    """Yield the sleeve lines in view, down to `before_mm` to the left of the edge.

    A line that the edge cuts is yielded; one wholly under the thimble is not.
    """
    micrometer = state.micrometer
    half_width = micrometer.sizes.line_width_mm / 2
    edge = state.edge_mm
    for line, (place, kind) in enumerate(_sleeve_places(micrometer)):
        x = place - edge
        if -before_mm <= x < half_width:
            begin, end, numeral, numeral_rad = kind
            yield SleeveMark(line, x, roll_rad + begin, roll_rad + end, numeral, roll_rad + numeral_rad)


@lru_cache(maxsize=32)
def _sleeve_places(
    micrometer: Micrometer,
) -> tuple[tuple[float, tuple[float, float, str | None, float]], ...]:
    """Return each sleeve line's place along the sleeve and its looks before any turn of the instrument."""
    state = State(micrometer, 0.0)
    lines = range(micrometer.sleeve_lines + 1)
    return tuple((state.sleeve_line_mm(line), _looks(micrometer, line)) for line in lines)


def _looks(micrometer: Micrometer, line: int) -> tuple[float, float, str | None, float]:
    """Return where a sleeve line begins and ends, its numeral, and the angle of the numeral's middle."""
    rule = micrometer.sleeve.rule_of(line)
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    upward = 1 if rule.side == "above" else -1
    beyond = rule.length_mm + NUMERAL_GAP_MM + micrometer.sizes.sleeve_numeral_height_mm / 2
    return 0.0, upward * rule.length_mm / radius, rule.numeral(line), upward * beyond / radius


def vernier_lines(micrometer: Micrometer, roll_rad: float) -> Iterator[VernierLine]:
    """Yield the vernier's lines that face the eye; the index line itself is number 0 and is left out."""
    vernier = micrometer.vernier
    if vernier is None:
        return
    step = vernier.spacing_divisions * micrometer.division_rad * micrometer.direction
    for number in range(1, vernier.lines + 1):
        angle = number * step + roll_rad
        if abs(angle) < FACING_RAD:
            yield VernierLine(number, angle, str(number % vernier.lines))


def vernier_numeral_height_mm(micrometer: Micrometer) -> float:
    """Return the height of the vernier's numerals: what fits between its lines."""
    if micrometer.vernier is None:
        return 0.0
    spacing = micrometer.vernier.spacing_divisions * micrometer.division_arc_mm
    return min(micrometer.sizes.sleeve_numeral_height_mm, 0.74 * spacing)


def numeral_stroke_mm(micrometer: Micrometer, height_mm: float) -> float:
    """Return the stroke of numerals of a height: the instrument's own, thinner where they are small."""
    return min(micrometer.sizes.numeral_stroke_mm, 0.14 * height_mm)


def centred_x_mm(text: str, height_mm: float, stroke_mm: float, x_mm: float) -> float:
    """Return where a numeral begins that stands over a line."""
    return x_mm - width_mm(text, height_mm, stroke_mm) / 2
