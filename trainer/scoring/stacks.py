"""Whole populations at once: people with about as many readings are stacked into one matrix.

Every statistic of the score is then one expression over a matrix of people by readings, without a loop
over people; the loop is over stacks of some hundred thousand readings that fit the processor's cache.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from trainer.scoring.errors import Floats, tenth_of

READINGS_PER_STACK = 40_000  # measured: larger stacks fall out of the cache and are slower
WIDTHS = np.unique(np.ceil(8 * 1.25 ** np.arange(90)).astype(np.int64))  # row lengths; the rest is padding

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Stack:
    """Readings of some people as matrices of shape (people, longest); the tail of a row is padding.

    `error` and `inside` (position within the division, 0 up to 10, in tenths) are 0 in the padding.
    """

    people: Ints
    n: Ints  # readings of each person
    error: Floats
    inside: Floats

    @cached_property
    def held(self) -> Bools:
        """Return which places of the matrices hold a reading."""
        return np.arange(self.error.shape[1]) < self.n[:, None]

    @cached_property
    def mean(self) -> Floats:
        """Return the mean error of each person; NaN where there is no reading."""
        return np.where(self.n > 0, self.error.sum(axis=1) / np.maximum(self.n, 1), np.nan)

    @cached_property
    def centred(self) -> Floats:
        """Return the errors less their person's mean; 0 in the padding."""
        return np.where(self.held, self.error - self.mean[:, None], 0.0)

    @cached_property
    def ranked(self) -> Floats:
        """Return the errors of each person in rising order; infinite in the padding."""
        return np.sort(np.where(self.held, self.error, np.inf), axis=1)

    @cached_property
    def relative_answer(self) -> Floats:
        """Return the answers, in tenths from the graduation below the truth."""
        return self.inside + self.error

    @cached_property
    def tenth(self) -> Ints:
        """Return the tenth, 0 to 9, in which each truth lies."""
        return tenth_of(self.inside)

    @cached_property
    def cells(self) -> Ints:
        """Return each reading's cell, person times ten plus tenth; padding has a cell of its own."""
        rows = np.arange(len(self.n))[:, None] * 10
        return np.where(self.held, rows + self.tenth, 10 * len(self.n)).ravel()

    def per_tenth(self, weights: Floats | None = None) -> Floats:
        """Return sums of weights (or counts) per person and tenth, of shape (people, 10)."""
        flat = None if weights is None else weights.ravel()
        sums = np.bincount(self.cells, weights=flat, minlength=10 * len(self.n) + 1)
        return sums[:-1].reshape(-1, 10).astype(float)


def width(counts: Ints) -> Ints:
    """Return the length of the padded row for each number of readings.

    It depends on nothing but the person's own readings, and sums run over the padded row, so that a
    person's score is the same to the last bit whoever else is in the file.
    """
    return WIDTHS[np.searchsorted(WIDTHS, counts)]


def stacked(counts: Ints) -> Iterator[Ints]:
    """Yield the numbers of the people of each stack, shortest first; people without readings are in none."""
    by_length = np.argsort(counts, kind="stable")
    by_length = by_length[counts[by_length] > 0]
    widths = width(counts[by_length])
    for size in np.unique(widths):
        alike = by_length[widths == size]
        most = max(1, READINGS_PER_STACK // int(size))
        for first in range(0, len(alike), most):
            yield alike[first : first + most]


def stack(people: Ints, error: Floats, inside: Floats, starts: Ints, counts: Ints) -> Stack:
    """Return the stack of some people, of whom person i has `counts[i]` readings from `starts[i]` on."""
    n = counts[people]
    places = np.arange(int(width(n).max()))
    held = places < n[:, None]
    rows = np.where(held, starts[people][:, None] + places, 0)
    return Stack(people, n, np.where(held, error[rows], 0.0), np.where(held, inside[rows], 0.0))


def stack_of(error: Floats, inside: Floats) -> Stack:
    """Return one person's readings as a stack of one, without padding."""
    n = np.array([len(error)])
    return Stack(np.array([0]), n, np.asarray(error, float)[None, :], np.asarray(inside, float)[None, :])
