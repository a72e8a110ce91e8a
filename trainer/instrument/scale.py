"""A position and what the scales show of it, in both directions."""

import math
from dataclasses import dataclass

from trainer.instrument.micrometer import Micrometer, State


@dataclass(frozen=True, slots=True)
class Showing:
    """What a reader takes off the scales.

    `sleeve_line` counts sleeve lines from zero: the last one in view, or covered on a depth
    micrometer. `thimble_line` is the graduation that the index line has reached or passed and
    `tenths` how far it stands beyond, from 0 up to 10. `vernier_line` is the vernier line that
    coincides best, where there is a vernier.
    """

    sleeve_line: int
    thimble_line: int
    tenths: float
    vernier_line: int | None = None


def showing(state: State) -> Showing:
    """Return what the scales of an instrument show in its state.

    >>> from trainer.instrument import catalogue
    >>> showing(State(catalogue.load("inch-vernier"), 2862.0))
    Showing(sleeve_line=11, thimble_line=11, tenths=2.0, vernier_line=2)
    """
    micrometer = state.micrometer
    shown = state.shown_tenths
    within_turn = shown % micrometer.turn_tenths
    line = math.floor(within_turn / 10)
    tenths = within_turn - 10 * line
    vernier = None if micrometer.vernier is None else round(tenths * micrometer.vernier.lines / 10)
    return Showing(visible_sleeve_line(state), line % micrometer.divisions, tenths, vernier)


def visible_sleeve_line(state: State) -> int:
    """Return the last sleeve line that the thimble's edge has passed, with any edge offset."""
    micrometer = state.micrometer
    edge_tenths = (
        state.shown_tenths + micrometer.direction * state.faults.edge_offset_mm * 1000 / micrometer.tenth_um
    )
    line = math.floor(edge_tenths / micrometer.sleeve_line_tenths)
    return min(max(line, 0), micrometer.sleeve_lines)


def position_from(showing: Showing, micrometer: Micrometer) -> float:
    """Return the position, in tenths, that a showing stands for.

    Where a sleeve line marks a turn the showing is the plain sum; where sleeve lines stand closer or
    wider the thimble's line decides within the turn.

    >>> from trainer.instrument import catalogue
    >>> position_from(Showing(44, 36, 0.0), catalogue.load("metric"))  # 22.36 mm
    22360.0
    """
    whole_turns = math.floor(showing.sleeve_line * micrometer.sleeve_line_tenths / micrometer.turn_tenths)
    return whole_turns * micrometer.turn_tenths + 10.0 * showing.thimble_line + showing.tenths


def coincidence_tenths(state: State, vernier_line: int) -> float:
    """Return how far a vernier line stands from its nearest graduation, in tenths, signed.

    Positive means the nearest graduation stands above the vernier line. The best line has the
    smallest size of this.
    """
    vernier = state.micrometer.vernier
    if vernier is None:
        raise ValueError(f"{state.micrometer.name} has no vernier")
    place_divisions = state.shown_tenths / 10 + vernier_line * vernier.spacing_divisions
    return 10 * (round(place_divisions) - place_divisions)
