"""The overlap drills: judging a small offset of a graduation from the index line by how much they overlap.

Where the graduation is as wide as the index line their edges meet at an offset of one line width; half
overlap is half of it (common practice, no source). On a division of 1 mm with lines of 0.2 mm that is a
fifth of a division: 2 µm.
"""

from typing import TYPE_CHECKING

import numpy as np

from trainer.instrument import typed
from trainer.instrument.micrometer import Micrometer
from trainer.practice.items import Item
from trainer.practice.kind import Kind, Setting, length_words
from trainer.practice.strata import balanced_signs, graduations, stratified_shares
from trainer.practice.words import tell

if TYPE_CHECKING:
    from trainer.practice.plan import Plan

LARGEST_TENTHS = 5.0  # half a division: beyond it another graduation is nearer

TOLERANCE = Setting(  # at most two thirds of the largest offset, as a plan's check asks
    "tolerance_tenths", "the tolerance on each side (tenths: 1 µm or 0.0001 in)", 2.0, 0.1, 3.3
)
RANGE = Setting("range_tenths", "the largest offset (tenths)", 4.0, 0.2, LARGEST_TENTHS)

IN_WORDS = frozenset({"in", "within", "i", "y", "yes", "ok"})
OUT_WORDS = frozenset({"out", "outside", "o", "n", "no"})


def judged(text: str) -> str:
    """Return "in" or "out" for a typed judgement; y and n answer the question "within?".

    >>> judged(" Y "), judged("out")
    ('in', 'out')
    """
    word = text.strip().lower()
    if word in IN_WORDS:
        return "in"
    if word in OUT_WORDS:
        return "out"
    if not word:
        raise typed.UnreadableAnswer(tell("not-taken.judgement.none"))
    raise typed.UnreadableAnswer(tell("not-taken.judgement", text=text.strip()[:40]))


def read_judgement(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    """Return the position nearest to the truth that agrees with a judgement.

    So the error of a right judgement is 0, and that of a wrong one how far beyond the limit it went.
    """
    offset, tolerance = float(item.extra["offset_tenths"]), float(item.extra["tolerance_tenths"])
    size = min(abs(offset), tolerance) if judged(text) == "in" else max(abs(offset), tolerance)
    return item.position_tenths - offset + (-size if offset < 0 else size)


def read_size(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    """Return the position for a signed offset: in µm, or in inches (0.0002) or ten-thousandths (2).

    A unit may follow. Positive means that the graduation has passed the index line: it reads high.
    """
    figures, unit = _figures(text)
    value = float(typed.number(figures))
    if micrometer.unit == "mm":
        if unit not in ("", "um"):
            raise typed.UnreadableAnswer(tell("not-taken.offset", text=text.strip()))
        offset = value / micrometer.tenth_um
    else:
        if unit not in ("", "in"):
            raise typed.UnreadableAnswer(tell("not-taken.offset.inch", text=text.strip()))
        offset = value * micrometer.tenths_per_unit if unit == "in" or abs(value) < 0.01 else value
    if abs(offset) > LARGEST_TENTHS:
        most = length_words(LARGEST_TENTHS, micrometer, signed=False)
        raise typed.UnreadableAnswer(tell("not-taken.offset.large", text=text.strip(), most=most))
    return float(item.extra["line_tenths"]) + offset


def _figures(text: str) -> tuple[str, str]:
    """Split the unit off a typed length: "", "um" or "in", or what else was written."""
    trimmed = text.strip().lower().replace("µm", "um").replace("μm", "um").replace('"', "in")
    for unit in ("um", "in"):
        if trimmed.endswith(unit):
            return trimmed[: -len(unit)].rstrip(), unit
    return trimmed, ""


def deal_offsets(plan: "Plan", micrometer: Micrometer, chance: np.random.Generator) -> tuple[Item, ...]:
    """Return offsets evenly spread from zero to the plan's range, on both sides equally often."""
    sizes = plan.setting("range_tenths") * stratified_shares(plan.items, chance)
    offsets = sizes * balanced_signs(plan.items, chance)
    lines = graduations(plan.items, micrometer, chance, margin=1)
    return tuple(
        offset_item(plan, number, int(line), float(offset))
        for number, (line, offset) in enumerate(zip(lines, offsets, strict=True), 1)
    )


def offset_item(plan: "Plan", number: int, line: int, offset_tenths: float) -> Item:
    """Return one offset to judge or to size: the graduation `line` stands that far past the index line."""
    extra = {"line_tenths": 10.0 * line, "offset_tenths": offset_tenths}
    if plan.drill == "judge":
        extra["tolerance_tenths"] = float(plan.setting("tolerance_tenths"))
    return Item(number, 10.0 * line + offset_tenths, plan.drill, extra)


def truth_of(item: Item) -> str:
    """Return what a judgement should have been; on the limit itself is within."""
    return "in" if abs(item.extra["offset_tenths"]) <= item.extra["tolerance_tenths"] else "out"


def overlap_share(offset_tenths: float, micrometer: Micrometer) -> float:
    """Return how much of the lines' width overlaps at an offset: 1 in line, 0 from edge contact on.

    >>> from trainer.instrument import catalogue
    >>> round(overlap_share(1.0, catalogue.load("metric")), 2)  # 1 µm: about half
    0.5
    """
    offset_mm = abs(offset_tenths) / 10 * micrometer.division_arc_mm
    return max(0.0, 1 - offset_mm / micrometer.sizes.line_width_mm)


JUDGE = Kind(
    "judge",
    "say whether an offset lies within the tolerance, from the overlap of two lines alone",
    "Within the tolerance? Type in or out.",
    read_judgement,
    deal=deal_offsets,
    settings=(TOLERANCE, RANGE),
    scored="judgement",
    unit="words",
    adaptive=True,
)
SIZE_IT = Kind(
    "size-it",
    "give the size of an offset, with its sign, from the overlap of two lines",
    "How large is the offset, with sign? Plus: the line has passed the index line.",
    read_size,
    deal=deal_offsets,
    settings=(RANGE,),
    unit="length",
    adaptive=True,
)
