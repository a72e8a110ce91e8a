"""The micrometer as a value: its scales, its real sizes, its faults and its state.

A position is counted in tenths of a thimble division from the zero of the instrument's own scale.
"""

import math
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

Unit = Literal["mm", "in"]
Kind = Literal["outside", "depth"]
Side = Literal["above", "below"]

MM_PER_UNIT: dict[Unit, Decimal] = {"mm": Decimal(1), "in": Decimal("25.4")}  # 1 in = 25.4 mm exactly


@dataclass(frozen=True, slots=True)
class Vernier:
    """Sleeve lines that resolve a division: `lines` sleeve spaces over `over_divisions` thimble divisions.

    Ten over nine: Navy training course 14003 and Army TM 9-243, p. 7-5.
    """

    lines: int = 10
    over_divisions: int = 9

    @property
    def spacing_divisions(self) -> float:
        """Return the distance of neighbouring vernier lines, in thimble divisions."""
        return self.over_divisions / self.lines


@dataclass(frozen=True, slots=True)
class SleeveRule:
    """Which sleeve lines look alike: every `every`-th line counted from `first`.

    The first rule that fits a line decides. A numeral, where there is one, is
    `numeral_first + numeral_step * (which line of this rule)`, taken modulo `numeral_modulo` if given.
    """

    every: int
    side: Side
    length_mm: float
    first: int = 0
    numeral_step: int | None = None
    numeral_first: int = 0
    numeral_modulo: int | None = None

    def fits(self, line: int) -> bool:
        """Return whether the rule describes sleeve line number `line`."""
        return line % self.every == self.first % self.every

    def numeral(self, line: int) -> str | None:
        """Return the engraved numeral of sleeve line number `line`, or None."""
        if self.numeral_step is None:
            return None
        value = self.numeral_first + self.numeral_step * (line // self.every)
        return str(value if self.numeral_modulo is None else value % self.numeral_modulo)


@dataclass(frozen=True, slots=True)
class Sleeve:
    """The lines along the sleeve, `line_every_divisions` thimble divisions of travel apart."""

    line_every_divisions: int
    rules: tuple[SleeveRule, ...]

    def rule_of(self, line: int) -> SleeveRule:
        """Return the rule that decides how sleeve line number `line` looks."""
        return next(rule for rule in self.rules if rule.fits(line))


@dataclass(frozen=True, slots=True)
class Sizes:
    """Real sizes in millimetres, as drawn at 1:1 (common practice, no source, where no other is named)."""

    thimble_edge_diameter_mm: float
    sleeve_diameter_mm: float
    body_diameter_mm: float
    bevel_length_mm: float
    land_length_mm: float
    line_width_mm: float
    thimble_line_mm: float  # length of an ordinary thimble line from the edge
    thimble_line_long_mm: float  # length of a numbered thimble line
    thimble_numeral_height_mm: float
    sleeve_numeral_height_mm: float
    sleeve_before_zero_mm: float  # bare sleeve to the left of the zero line
    vernier_line_mm: float = 0.0
    numeral_stroke_mm: float = 0.22


@dataclass(frozen=True, slots=True)
class Micrometer:
    """A kind of micrometer from the catalogue.

    `base` and `pitch` are exact decimals in the instrument's unit; `turns` is the travel.
    """

    name: str
    title: str
    unit: Unit
    kind: Kind
    base: Decimal
    pitch: Decimal
    turns: int
    divisions: int
    thimble_numeral_every: int
    sleeve: Sleeve
    sizes: Sizes
    vernier: Vernier | None = None

    @property
    def division_um(self) -> float:
        """Return the spindle travel of one thimble division, in micrometres: 10 or 25.4 as a rule."""
        return float(self.pitch * MM_PER_UNIT[self.unit] * 1000 / self.divisions)

    @property
    def tenth_um(self) -> float:
        """Return a tenth of a division, in micrometres."""
        return self.division_um / 10

    @property
    def division_mm(self) -> float:
        """Return the spindle travel of one thimble division, in millimetres."""
        return self.division_um / 1000

    @property
    def pitch_mm(self) -> float:
        """Return the spindle travel of one turn, in millimetres."""
        return float(self.pitch * MM_PER_UNIT[self.unit])

    @property
    def direction(self) -> int:
        """Return +1 where larger thimble numbers stand above the index line, -1 where below (depth)."""
        return 1 if self.kind == "outside" else -1

    @property
    def turn_tenths(self) -> float:
        """Return one turn of the thimble, in tenths."""
        return 10.0 * self.divisions

    @property
    def travel_tenths(self) -> float:
        """Return the whole travel, in tenths."""
        return self.turn_tenths * self.turns

    @property
    def travel_mm(self) -> float:
        """Return the whole travel, in millimetres."""
        return self.pitch_mm * self.turns

    @property
    def sleeve_line_tenths(self) -> float:
        """Return the distance of neighbouring sleeve lines, in tenths."""
        return 10.0 * self.sleeve.line_every_divisions

    @property
    def sleeve_lines(self) -> int:
        """Return the number of the last sleeve line; the zero line is number 0."""
        return self.turns * self.divisions // self.sleeve.line_every_divisions

    @property
    def division_arc_mm(self) -> float:
        """Return the length of one division along the thimble's edge, in millimetres."""
        return math.pi * self.sizes.thimble_edge_diameter_mm / self.divisions

    @property
    def division_rad(self) -> float:
        """Return the angle of one division round the thimble, in radians."""
        return 2 * math.pi / self.divisions

    @property
    def tenths_per_unit(self) -> int:
        """Return how many tenths make one unit: 1000 per mm, 10000 per inch as a rule."""
        return int(10 * self.divisions / self.pitch)

    @property
    def decimals(self) -> int:
        """Return the decimals of a reading to a tenth: 3 in millimetres, 4 in inches as a rule."""
        return max(0, math.ceil(math.log10(self.tenths_per_unit) - 1e-9))

    @property
    def low(self) -> Decimal:
        """Return the smallest reading, in the instrument's unit."""
        return self.base

    @property
    def high(self) -> Decimal:
        """Return the largest reading, in the instrument's unit."""
        return self.base + self.pitch * self.turns

    def reading_of(self, position_tenths: float) -> Decimal:
        """Return the reading in the instrument's unit that belongs to a position, exactly."""
        return self.base + Decimal(position_tenths) / self.tenths_per_unit

    def position_of(self, reading: Decimal | str | int) -> float:
        """Return the position, in tenths, that belongs to a reading in the instrument's unit."""
        return float((Decimal(reading) - self.base) * self.tenths_per_unit)

    def format_reading(self, position_tenths: float, decimals: int | None = None) -> str:
        """Return a position as the instrument's reading with `decimals` decimals, without the unit.

        The default is one decimal more than a tenth of a division needs, since truths are continuous.
        """
        places = self.decimals + 1 if decimals is None else decimals
        return f"{self.reading_of(position_tenths):z.{places}f}"  # z: nought has no sign

    def holds(self, position_tenths: float) -> bool:
        """Return whether a position lies within the travel."""
        return 0 <= position_tenths <= self.travel_tenths


@dataclass(frozen=True, slots=True)
class Faults:
    """What is wrong with one instrument; all zero by default.

    The scale shows the true position plus `zero_tenths`, plus `progressive_tenths_per_turn` for each
    turn, plus a periodic part of amplitude `periodic_tenths` once a turn. `edge_offset_mm` moves the
    thimble's edge along the sleeve against what the thimble shows, so that a sleeve line comes into
    view early (positive) or late.
    """

    zero_tenths: float = 0.0
    progressive_tenths_per_turn: float = 0.0
    periodic_tenths: float = 0.0
    periodic_phase_turns: float = 0.0
    edge_offset_mm: float = 0.0

    def offset_tenths(self, position_tenths: float, turn_tenths: float) -> float:
        """Return what the scale shows minus the true position."""
        turns = position_tenths / turn_tenths
        periodic = self.periodic_tenths * math.sin(2 * math.pi * (turns + self.periodic_phase_turns))
        return self.zero_tenths + self.progressive_tenths_per_turn * turns + periodic


@dataclass(frozen=True, slots=True)
class State:
    """One micrometer with its faults, standing at a true position."""

    micrometer: Micrometer
    position_tenths: float
    faults: Faults = field(default_factory=Faults)

    @property
    def shown_tenths(self) -> float:
        """Return the position that the scales show, in tenths."""
        micrometer = self.micrometer
        return self.position_tenths + self.faults.offset_tenths(self.position_tenths, micrometer.turn_tenths)

    @property
    def edge_mm(self) -> float:
        """Return how far the thimble's edge stands from the sleeve's zero line of the shown position.

        On an outside micrometer that is to the right of the zero line; on a depth micrometer the zero
        line lies at the far end and the edge moves to the left as the reading grows.
        """
        travelled = self.shown_tenths * self.micrometer.tenth_um / 1000
        along = travelled if self.micrometer.kind == "outside" else self.micrometer.travel_mm - travelled
        return along + self.faults.edge_offset_mm

    def sleeve_line_mm(self, line: int) -> float:
        """Return where sleeve line number `line` stands along the sleeve, in the terms of `edge_mm`."""
        along = line * self.micrometer.sleeve_line_tenths * self.micrometer.tenth_um / 1000
        return along if self.micrometer.kind == "outside" else self.micrometer.travel_mm - along
