"""Drills on what trips people: a sleeve line just showing or just hidden, and an instrument off its zero."""

from typing import TYPE_CHECKING

import numpy as np

from trainer.instrument import typed
from trainer.instrument.micrometer import Micrometer
from trainer.practice.items import Item
from trainer.practice.kind import Kind, Setting
from trainer.practice.readings import read_full
from trainer.practice.strata import balanced_signs, graduations, stratified_shares, stratified_tenths
from trainer.practice.words import tell

if TYPE_CHECKING:
    from trainer.practice.plan import Plan

NEAR_DIVISIONS = 4  # how far from a sleeve line an item of the half-line drill lies, at most

EDGE = Setting(
    "edge_offset_mm", "how far the thimble's edge may stand from where it should (mm)", 0.06, 0.0, 0.3
)
ZERO = Setting("zero_tenths", "the largest zero offset (tenths)", 8.0, 1.0, 40.0)
READINGS = Setting("readings_each", "the number of readings after each look at the zero", 4, 1, 20)


def deal_half_lines(plan: "Plan", micrometer: Micrometer, chance: np.random.Generator) -> tuple[Item, ...]:
    """Return readings close to where a sleeve line comes into view, half before and half after it.

    The thimble's edge stands early or late by up to the plan's `edge_offset_mm`, so that the line may show
    although the thimble has not come to zero, or be hidden although it has: the thimble decides.
    """
    largest_mm = plan.setting("edge_offset_mm")
    after = balanced_signs(plan.items, chance)
    tenths = stratified_tenths(plan.items, chance) + chance.random(plan.items)
    away = chance.integers(0, NEAR_DIVISIONS, plan.items)
    lines = chance.integers(1, micrometer.sleeve_lines, plan.items)
    shares = stratified_shares(plan.items, chance)
    items = []
    for i in range(plan.items):
        division = away[i] if after[i] > 0 else -1 - away[i]
        position = float(lines[i] * micrometer.sleeve_line_tenths + 10 * division + tenths[i])
        # the sleeve line shows too early before the thimble's zero, too late after it
        late = -after[i] * micrometer.direction * largest_mm * shares[i]
        extra = {"edge_offset_mm": float(late)} if largest_mm else {}
        items.append(Item(i + 1, position, plan.drill, extra))
    return tuple(items)


def read_zero(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    """Return a signed zero offset in tenths of a division."""
    value = float(typed.number(text))
    if abs(value) > 50:
        raise typed.UnreadableAnswer(tell("not-taken.zero", text=text.strip()))
    return value


def deal_zero_offsets(plan: "Plan", micrometer: Micrometer, chance: np.random.Generator) -> tuple[Item, ...]:
    """Return looks at the closed micrometer, each followed by readings to be corrected for what was seen.

    `items` of the plan counts the readings. The truth of a corrected reading is what the scale shows
    minus the zero offset.
    """
    each = int(plan.setting("readings_each"))
    looks = -(-plan.items // each)
    sizes = 1 + (plan.setting("zero_tenths") - 1) * stratified_shares(looks, chance)
    zeros = sizes * balanced_signs(looks, chance)
    tenths = stratified_tenths(plan.items, chance) + chance.random(plan.items)
    lines = graduations(plan.items, micrometer, chance, margin=5)
    items: list[Item] = []
    for i in range(plan.items):
        zero = float(zeros[i // each])
        if i % each == 0:
            extra = {"scale_tenths": zero, "zero_tenths": zero}
            items.append(Item(len(items) + 1, zero, "zero-look", extra))
        scale = float(10 * lines[i] + tenths[i])
        extra = {"scale_tenths": scale, "zero_tenths": zero}
        items.append(Item(len(items) + 1, scale - zero, plan.drill, extra))
    return tuple(items)


HALF_LINE = Kind(
    "half-line",
    "read where a sleeve line is just showing or just hidden: the thimble decides whether it counts",
    "What does the micrometer read?",
    read_full,
    deal=deal_half_lines,
    settings=(EDGE,),
)
ZERO_LOOK = Kind(
    "zero-look",
    "the micrometer is closed; say how far it stands from zero",
    "Closed: how many tenths does it read, with sign?",
    read_zero,
    unit="tenths",
    tells=False,
    bounded=False,
)
ZERO_OFFSET = Kind(
    "zero-offset",
    "find the zero offset of the closed micrometer, then give readings corrected for it",
    "What is the reading, corrected for the zero offset?",
    read_full,
    deal=deal_zero_offsets,
    settings=(ZERO, READINGS),
)
