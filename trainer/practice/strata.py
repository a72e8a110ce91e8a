"""Strata: which tenth and which graduation each item of a sitting gets.

The position within the division is (j + U)/10 with every tenth j once in each block of ten and U uniform:
a known continuous truth, so that rounding is measured and not hidden (stratified sampling, Cochran 1977;
measured in docs/methods).
"""

import numpy as np
from numpy.typing import NDArray

from trainer.instrument.micrometer import Micrometer

BLOCK = 10  # items; each tenth of the division once


def stratified_tenths(count: int, chance: np.random.Generator) -> NDArray[np.int64]:
    """Return `count` tenths (0 to 9), each once in every block of ten, no two alike in a row."""
    blocks: list[int] = []
    while len(blocks) < count:
        block = chance.permutation(BLOCK)
        if blocks and block[0] == blocks[-1]:
            block = np.roll(block, 1 + int(chance.integers(BLOCK - 1)))
        blocks.extend(int(tenth) for tenth in block)
    return np.array(blocks[:count], dtype=np.int64)


def stratified_shares(count: int, chance: np.random.Generator) -> NDArray[np.float64]:
    """Return `count` numbers in [0, 1), one in each of `count` equal strata, in random order."""
    return (chance.permutation(count) + chance.random(count)) / count


def balanced_signs(count: int, chance: np.random.Generator) -> NDArray[np.float64]:
    """Return `count` signs, as many plus as minus (one more of either if odd), in random order."""
    signs = np.where(np.arange(count) % 2 == int(chance.integers(2)), 1.0, -1.0)
    return chance.permutation(signs)


def graduations(
    count: int, micrometer: Micrometer, chance: np.random.Generator, *, margin: int = 0
) -> NDArray[np.int64]:
    """Return the graduation below each position, counted from zero over all turns.

    Neighbours differ on the thimble; `margin` graduations at both ends of the travel are left out.
    """
    low, high = margin, micrometer.turns * micrometer.divisions - margin
    lines = chance.integers(low, high, size=count)
    for i in range(1, count):
        while lines[i] % micrometer.divisions == lines[i - 1] % micrometer.divisions:
            lines[i] = chance.integers(low, high)
    return lines
