"""The reading drills: the tenth between a given pair of lines, and the whole reading."""

from typing import TYPE_CHECKING

import numpy as np

from trainer.instrument import typed
from trainer.instrument.micrometer import Micrometer
from trainer.practice.items import Item
from trainer.practice.kind import Kind
from trainer.practice.strata import graduations, stratified_tenths

if TYPE_CHECKING:
    from trainer.practice.plan import Plan


def read_tenths(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    """Return the position for an estimate, in tenths beyond the lower line of the pair."""
    return float(item.extra["line_tenths"]) + typed.tenths(text, halves=halves)


def read_full(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    """Return the position for a whole reading."""
    return typed.reading(text, micrometer)


def deal_readings(plan: "Plan", micrometer: Micrometer, chance: np.random.Generator) -> tuple[Item, ...]:
    """Return readings over the whole travel, stratified in tenths.

    Every item lies within the travel; the graduation and the turn are uniform; neighbours differ in
    graduation and in tenth.
    """
    tenths = stratified_tenths(plan.items, chance)
    lines = graduations(plan.items, micrometer, chance)
    positions = lines * 10.0 + tenths + chance.random(plan.items)
    return tuple(
        reading_item(plan.drill, number, position, micrometer)
        for number, position in enumerate(positions.tolist(), 1)
    )


def reading_item(drill: str, number: int, position_tenths: float, micrometer: Micrometer) -> Item:
    """Return one reading to make; the tenths drill names the graduation below."""
    if drill != "tenths":
        return Item(number, position_tenths, drill)
    return Item(number, position_tenths, drill, {"line_tenths": 10.0 * (position_tenths // 10)})


TENTHS = Kind(
    "tenths",
    "the pair of lines is given; estimate how many tenths the index line stands beyond the lower one",
    "How many tenths beyond the lower line?",
    read_tenths,
    clipped=True,
    deal=deal_readings,
    unit="tenths",
    adaptive=True,
)
FULL_READING = Kind(
    "full-reading",
    "read the whole scale, to a tenth of a division",
    "What does the micrometer read?",
    read_full,
    deal=deal_readings,
    adaptive=True,
)
