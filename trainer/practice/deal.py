"""Dealing: the positions of a sitting's items, stratified so that no tenth is missed.

The position within the division is (j + U)/10 with every tenth j once in each block of ten and U uniform:
a known continuous truth, so that rounding is measured and not hidden (stratified sampling, Cochran 1977;
measured in docs/methods).
"""

import numpy as np

from trainer.instrument.micrometer import Micrometer
from trainer.practice.items import Item
from trainer.practice.plan import Plan

BLOCK = 10  # items; each tenth of the division once


def deal(plan: Plan, micrometer: Micrometer, chance: np.random.Generator) -> tuple[Item, ...]:
    """Return the items of a sitting, reproducible from the generator's seed.

    Every item lies within the travel; the graduation and the turn are uniform; neighbours differ in
    graduation and in tenth.
    """
    tenths = stratified_tenths(plan.items, chance)
    lines = _lines(plan.items, micrometer, chance)
    positions = lines * 10.0 + tenths + chance.random(plan.items)
    return tuple(
        Item(number, float(position), plan.drill, _extra(plan, line))
        for number, position, line in zip(range(1, plan.items + 1), positions, lines.tolist(), strict=True)
    )


def stratified_tenths(count: int, chance: np.random.Generator) -> np.ndarray:
    """Return `count` tenths (0 to 9), each once in every block of ten, no two alike in a row."""
    blocks: list[int] = []
    while len(blocks) < count:
        block = chance.permutation(BLOCK)
        if blocks and block[0] == blocks[-1]:
            block = np.roll(block, 1 + int(chance.integers(BLOCK - 1)))
        blocks.extend(int(tenth) for tenth in block)
    return np.array(blocks[:count])


def _lines(count: int, micrometer: Micrometer, chance: np.random.Generator) -> np.ndarray:
    """Return the graduation below each position, counted from zero over all turns."""
    last = micrometer.turns * micrometer.divisions  # positions end below the travel's last line
    lines = chance.integers(last, size=count)
    for i in range(1, count):
        while lines[i] % micrometer.divisions == lines[i - 1] % micrometer.divisions:
            lines[i] = chance.integers(last)
    return lines


def _extra(plan: Plan, line: int) -> dict[str, float]:
    return {"line_tenths": 10.0 * line} if plan.drill == "tenths" else {}
