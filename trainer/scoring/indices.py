"""Published indices of digit preference, for comparison with other fields; scores use `habits`.

They compare counts of final digits with equal shares. Under stratified truths that null is wrong (see
`habits`), so no decision rests on them.
"""

import numpy as np
from numpy.typing import ArrayLike

from trainer.scoring.errors import Floats


def whipple(counts: ArrayLike, digits: tuple[int, ...] = (0, 5), *, first: int = 25, last: int = 60) -> float:
    """Return Whipple's index of counts by age (or reading): 1 without preference, not times 100.

    Sum over values from `first` to `last` that end in `digits`, over the sum from first - 2 to last + 2,
    times 10 over the number of digits.
    """
    values = np.asarray(counts, float)
    span = np.arange(first, last + 1)
    chosen = span[np.isin(span % 10, digits)]
    low, high = (first - 2, last + 2) if set(digits) == {0, 5} else (int(chosen[0]) - 7, int(chosen[-1]) + 2)
    return float(10 / len(digits) * values[chosen].sum() / values[low : high + 1].sum())


def myers_shares(counts: ArrayLike, *, first: int = 10, last: int = 89) -> Floats:
    """Return Myers' blended share of each final digit, 0 to 9, adding up to 1.

    For digit d with place w = 1 to 10 from the first value: w times the sum over all decades but the
    last plus 10 - w times the sum over all but the first.
    """
    decades = np.asarray(counts, float)[first : last + 1].reshape(-1, 10)
    weight = np.arange(1, 11)
    blended = weight * decades[:-1].sum(axis=0) + (10 - weight) * decades[1:].sum(axis=0)
    return np.asarray(np.roll(blended, first % 10) / blended.sum())


def myers(counts: ArrayLike, *, first: int = 10, last: int = 89) -> float:
    """Return Myers' blended index: half the summed differences from 10 %, in percent (0 to 90)."""
    return float(50 * np.abs(myers_shares(counts, first=first, last=last) - 0.1).sum())


def preference_score(counts_of_digits: ArrayLike) -> float:
    """Return the digit preference score of the WHO MONICA study, 100 sqrt(chi2 / (N 9)), from ten counts.

    >>> round(preference_score([133, 108, 103, 64, 38, 55, 75, 47, 81, 92]), 2)
    11.86
    """
    counts = np.asarray(counts_of_digits, float)
    total = counts.sum()
    chi_square = ((counts - total / 10) ** 2 / (total / 10)).sum()
    return float(100 * np.sqrt(chi_square / (total * 9)))
