"""The calibration run: a virtual instrument with a hidden error curve, read at gauge blocks and judged.

Metric blocks: the customary series 2.5 to 25 mm, which samples the thimble all round in steps of a fifth of
a turn (DIN 863-1 and ISO 3611:1978 annex, from memory; the thimble positions are recomputed in the tests).
Inch blocks: the customary equivalents, with the same steps (common practice, no source).
"""

from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from trainer.instrument import typed
from trainer.instrument.micrometer import Faults, Micrometer, State
from trainer.practice.items import Answer, Item
from trainer.practice.kind import Kind, Setting
from trainer.practice.overlap import LARGEST_TENTHS
from trainer.practice.words import tell

if TYPE_CHECKING:
    from trainer.practice.plan import Plan

Verdict = Literal["accept", "reject"]

BLOCKS_MM = (2.5, 5.1, 7.7, 10.3, 12.9, 15.0, 17.6, 20.2, 22.8, 25.0)
BLOCKS_INCH = (0.105, 0.210, 0.315, 0.420, 0.500, 0.605, 0.710, 0.815, 0.920, 1.000)
MOST_READINGS = 5  # of one block
AGAIN = ("again", "repeat")

# 4 µm for 0 to 25 mm: ISO 3611:1978 and DIN 863-1, from memory; later editions leave it to the user
MPE = Setting("mpe_tenths", "the maximum permissible error (tenths: 1 µm or 0.0001 in)", 4.0, 0.5, 30.0)
BLOCKS = Setting("blocks", "the lengths of the gauge blocks", ())
SCATTER = Setting("scatter_tenths", "the scatter from seating a block again (tenths)", 0.3, 0.0, 3.0)
BY_HAND = Setting("errors_by_hand", "whether the person works out each error", False)


def blocks_tenths(plan: "Plan", micrometer: Micrometer) -> tuple[float, ...]:
    """Return the positions at which an errorless instrument would stand on each block, in tenths."""
    lengths = plan.setting("blocks")
    if lengths:
        return tuple(micrometer.position_of(str(length)) for length in lengths)
    series = BLOCKS_MM if micrometer.unit == "mm" else BLOCKS_INCH
    above = float(micrometer.base)  # larger ranges are checked by the same series on top of the base
    return tuple(round(micrometer.position_of(str(above + length)), 6) for length in series)


def draw_faults(mpe_tenths: float, blocks: Sequence[float], micrometer: Micrometer,
                chance: np.random.Generator) -> Faults:  # fmt: skip
    """Return a hidden error curve whose largest error at the blocks is 0.4 to 1.6 times the limit.

    Zero, progressive and periodic parts share it in random proportion; half of the instruments conform.
    """
    shape = Faults(
        zero_tenths=float(chance.normal()),
        progressive_tenths_per_turn=float(chance.normal()) / micrometer.turns,
        periodic_tenths=float(chance.normal()),
        periodic_phase_turns=float(chance.random()),
    )
    largest = max(abs(shape.offset_tenths(block, micrometer.turn_tenths)) for block in blocks)
    scale = mpe_tenths * float(chance.uniform(0.4, 1.6)) / largest
    return replace(
        shape,
        zero_tenths=scale * shape.zero_tenths,
        progressive_tenths_per_turn=scale * shape.progressive_tenths_per_turn,
        periodic_tenths=scale * shape.periodic_tenths,
    )


def due(plan: "Plan", items: Sequence[Item], answers: Sequence[Answer]) -> bool:
    """Return whether something of the run is still to be dealt: it ends with the last verdict."""
    return sum(item.asks == "verdict" for item in items) < plan.items


def next_of_run(
    plan: "Plan",
    items: Sequence[Item],
    answers: Sequence[Answer],
    micrometer: Micrometer,
    chance: np.random.Generator,
) -> Item:
    """Return what comes next: the same block again if that was asked for, the next block, or the verdict.

    The truth of a verdict is the largest error at the blocks, in tenths.
    """
    number = len(items) + 1
    blocks = blocks_tenths(plan, micrometer)
    last = items[-1] if items else None
    if last is None or last.asks == "verdict":
        faults = draw_faults(plan.setting("mpe_tenths"), blocks, micrometer, chance)
        run = 1 if last is None else last.extra["run"] + 1
        extra = {"run": run, "mpe_tenths": float(plan.setting("mpe_tenths")), "faults": asdict(faults)}
        return _block_item(plan, number, blocks, 0, 1, extra, micrometer, chance)
    if last.asks == "block-reading" and plan.setting("errors_by_hand"):
        return Item(number, last.position_tenths, "block-error", last.extra)
    shared = {name: last.extra[name] for name in ("run", "mpe_tenths", "faults")}
    place, reading = last.extra["block"], last.extra["reading"]
    asked_since = 2 if plan.setting("errors_by_hand") else 1  # either may ask for the block again
    if wants_again(answers[-asked_since:]) and reading < MOST_READINGS:
        return _block_item(plan, number, blocks, place, reading + 1, shared, micrometer, chance)
    if place + 1 < len(blocks):
        return _block_item(plan, number, blocks, place + 1, 1, shared, micrometer, chance)
    faults = Faults(**shared["faults"])
    largest = max(abs(faults.offset_tenths(block, micrometer.turn_tenths)) for block in blocks)
    return Item(number, largest, "verdict", {**shared, "scale_tenths": last.position_tenths})


def _block_item(plan: "Plan", number: int, blocks: Sequence[float], place: int, reading: int,
                shared: dict[str, object], micrometer: Micrometer,
                chance: np.random.Generator) -> Item:  # fmt: skip
    faults = shared["faults"]
    assert isinstance(faults, dict)
    stands = State(micrometer, blocks[place], Faults(**faults)).shown_tenths
    scatter = plan.setting("scatter_tenths") * float(chance.normal())
    extra = {**shared, "block": place, "block_tenths": blocks[place], "reading": reading}
    return Item(number, stands + scatter, "block-reading", extra)


def wants_again(answers: Sequence[Answer]) -> bool:
    """Return whether the newest reading among these answers asks for the block again."""
    return any(answer.typed.strip().lower().endswith(AGAIN) for answer in answers)


def without_again(text: str) -> str:
    """Return typed text without the word that asks for the block again."""
    trimmed = text.strip()
    for word in AGAIN:
        if trimmed.lower().endswith(word):
            return trimmed[: -len(word)].rstrip(" ,;")
    return trimmed


def read_block(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    """Return the position for a reading at a block, the word "again" left aside."""
    return typed.reading(without_again(text), micrometer)


def read_error(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    """Return the position for an error worked out by hand, in tenths (µm or 0.0001 in) with its sign."""
    value = float(typed.number(text))
    limit = 20 * LARGEST_TENTHS
    if abs(value) > limit:
        told = tell("not-taken.large-error", text=text.strip(), limit=f"{limit:g}")
        raise typed.UnreadableAnswer(told)
    return float(item.extra["block_tenths"]) + value


def verdict(text: str) -> Verdict:
    """Return "accept" or "reject" for a typed verdict.

    >>> verdict(" R"), verdict("accept")
    ('reject', 'accept')
    """
    word = text.strip().lower()
    if word and "accept".startswith(word):
        return "accept"
    if word and "reject".startswith(word):
        return "reject"
    if not word:
        raise typed.UnreadableAnswer(tell("not-taken.verdict.none"))
    raise typed.UnreadableAnswer(tell("not-taken.verdict", text=text.strip()[:40]))


def read_verdict(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    """Return the largest error nearest to the true one that agrees with a verdict, in tenths.

    So the error of a right verdict is 0, and that of a wrong one how far beyond the limit it went.
    """
    largest, limit = item.position_tenths, float(item.extra["mpe_tenths"])
    return min(largest, limit) if verdict(text) == "accept" else max(largest, limit)


CALIBRATION = Kind(
    "calibration",
    "read a virtual instrument with a hidden error curve at the gauge blocks, then accept or reject it",
    "What does the micrometer read on this block?",
    read_block,
    deal=lambda plan, micrometer, chance: (),
    due=due,
    settings=(MPE, BLOCKS, SCATTER, BY_HAND),
    serial=True,
    tells=False,
    recordable=False,
)
BLOCK_READING = Kind(
    "block-reading",
    "a reading of the calibration run; put the word again after it to seat the block once more",
    "What does the micrometer read on this block?",
    read_block,
    tells=False,
    bounded=False,
)
BLOCK_ERROR = Kind(
    "block-error",
    "the error of that reading, worked out by hand",
    "What is the error: reading minus block, with sign?",
    read_error,
    scored="none",
    unit="length",
    tells=False,
    bounded=False,
)
VERDICT = Kind(
    "verdict",
    "accept or reject the instrument against its maximum permissible error",
    "Accept or reject?",
    read_verdict,
    scored="none",
    unit="words",
    bounded=False,
)
