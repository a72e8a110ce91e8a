"""Where a person errs most: which tenths, and which spots near a sleeve line; and dealing more of them.

For practice only. A check is stratified, since a measure of a person must not hang on what they got wrong.
The tenth is drawn by top-two Thompson sampling: the tenth that looks worst in a draw of what is known, or, as
often, the next worst (D. Russo, Operations Research 68 (2020) 1625); one item in five goes to the tenth seen
least, so that nothing is forgotten.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.instrument.micrometer import Micrometer
from trainer.scoring.misreads import is_misread

Pair = tuple[float, float]
"""A truth and an answer, in tenths."""

TENTHS = 10
SPREAD_BEFORE_TENTHS = 0.7  # of a reader of whom nothing is known yet, rounding included
READINGS_BEFORE = 5.0  # how many readings that guess weighs as
LEAST_SEEN_SHARE = 0.2
SPOT_DIVISIONS = 2  # a spot is so many divisions on either side of a sleeve line
SPOT_SHARES = (0.15, 0.6)  # least and greatest share of items at spots
FULL_EXCESS = 0.1  # so much more often slips come at spots when the greatest share is dealt there
SLIPS_BEFORE = (0.5, 9.5)  # slips and readings without, of which nothing is known yet


@dataclass(frozen=True, eq=False)
class Weakness:
    """What is known of one person's errors, by tenth of the division and by spot.

    `counts`, `means_tenths` have shape (10,), misreads left out; `spread_tenths` is pooled over the tenths.
    `slips` and `steady` count misreads and other readings, first away from sleeve lines, then at spots.
    """

    counts: NDArray[np.int64]
    means_tenths: NDArray[np.float64]
    spread_tenths: float
    slips: tuple[int, int]
    steady: tuple[int, int]

    def sureness(self) -> NDArray[np.float64]:
        """Return each tenth's mean error over its standard error, with sign, shape (10,)."""
        return self.means_tenths * np.sqrt(self.counts) / self.spread_tenths


def weakness(pairs: Sequence[Pair], micrometer: Micrometer) -> Weakness:
    """Return what pairs of truth and answer tell of a person's weak places."""
    both = np.asarray(pairs, dtype=np.float64).reshape(-1, 2)
    truth, error = both[:, 0], both[:, 1] - both[:, 0]
    slip = is_misread(error, truth % 10)
    spot = at_spot(truth, micrometer)
    slips = (int((slip & ~spot).sum()), int((slip & spot).sum()))
    steady = (int((~slip & ~spot).sum()), int((~slip & spot).sum()))
    return by_cell((truth % 10).astype(np.int64)[~slip], error[~slip], slips, steady)


def by_cell(
    cell: NDArray[np.int64],
    error_tenths: NDArray[np.float64],
    slips: tuple[int, int] = (0, 0),
    steady: tuple[int, int] = (0, 0),
) -> Weakness:
    """Return what errors tell of ten cells, be they tenths of the division or steps of an offset."""
    counts = np.bincount(cell, minlength=TENTHS)
    means = np.bincount(cell, error_tenths, minlength=TENTHS) / np.maximum(counts, 1)
    within = float(((error_tenths - means[cell]) ** 2).sum())
    freedom = max(len(error_tenths) - int((counts > 0).sum()), 0)
    spread = ((within + READINGS_BEFORE * SPREAD_BEFORE_TENTHS**2) / (freedom + READINGS_BEFORE)) ** 0.5
    return Weakness(counts, means, spread, slips, steady)


def at_spot(truth_tenths: NDArray[np.float64], micrometer: Micrometer) -> NDArray[np.bool_]:
    """Return which positions lie close to where a sleeve line comes into view."""
    line = micrometer.sleeve_line_tenths
    away = np.abs((truth_tenths + line / 2) % line - line / 2)
    return np.asarray(away < 10 * SPOT_DIVISIONS)


def next_position(known: Weakness, micrometer: Micrometer, chance: np.random.Generator) -> float:
    """Return where the next item lies, in tenths, continuous within its tenth."""
    return 10.0 * _graduation(known, micrometer, chance) + next_tenth(known, chance) + float(chance.random())


def next_tenth(known: Weakness, chance: np.random.Generator) -> int:
    """Return the tenth of the next item: one that seems weak, or the one seen least."""
    if chance.random() < LEAST_SEEN_SHARE:
        least = np.flatnonzero(known.counts == known.counts.min())
        return int(chance.choice(least))
    first = _worst_in_a_draw(known, chance)
    if chance.random() < 0.5:
        return first
    for _ in range(20):
        other = _worst_in_a_draw(known, chance)
        if other != first:
            return other
    return _worst_in_a_draw(known, chance, beside=first)  # so sure of the worst that no draw has another


def _worst_in_a_draw(known: Weakness, chance: np.random.Generator, beside: int | None = None) -> int:
    """Draw each tenth's mean from what is known of it and return the largest in size, `beside` left out."""
    weight = known.counts + 1.0  # as if one reading without error had been seen at each
    middle = known.means_tenths * known.counts / weight
    draw = np.abs(middle + known.spread_tenths / np.sqrt(weight) * chance.normal(size=TENTHS))
    if beside is not None:
        draw[beside] = -1.0
    return int(np.argmax(draw))


def spot_share(known: Weakness) -> float:
    """Return the share of items to be dealt at spots: the more, the more often slips come there.

    >>> spot_share(by_cell(np.zeros(0, np.int64), np.zeros(0)))
    0.15
    """
    elsewhere, there = (
        (slips + SLIPS_BEFORE[0]) / (slips + steady + sum(SLIPS_BEFORE))
        for slips, steady in zip(known.slips, known.steady, strict=True)
    )
    low, high = SPOT_SHARES
    return float(np.clip(low + (high - low) * (there - elsewhere) / FULL_EXCESS, low, high))


def _graduation(known: Weakness, micrometer: Micrometer, chance: np.random.Generator) -> int:
    """Return the graduation below the next item, at a spot or anywhere."""
    last = micrometer.turns * micrometer.divisions
    if chance.random() >= spot_share(known):
        return int(chance.integers(last))
    line = int(chance.integers(1, micrometer.sleeve_lines)) * micrometer.sleeve.line_every_divisions
    return line + int(chance.integers(-SPOT_DIVISIONS, SPOT_DIVISIONS))
