"""Digit preference: do answers fall on 0 and 5 more often than positions and the reader's curve explain.

Under stratified truths the counts of digits are nearly fixed, so a chi-square on them is wrong whatever
its null (simulated size 0.1 to 100 % at nominal 5 %). The test here is conditional on every position
shown: a smooth reader is fitted, the probability that he answers 0, 5 or 10 is summed over the readings,
and the observed number is compared with that sum. It is made with two curves, a constant with two
harmonics and a constant with the power model, and preference is reported only if both agree.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import special

from trainer.scoring.errors import Floats, listed, or_none
from trainer.scoring.interpolation import (
    ROUNDING_VARIANCE,
    Sample,
    binned,
    fit_harmonics,
    fit_power,
    readings,
)
from trainer.scoring.stacks import Bools, Stack

FEWEST = 20  # below this a curve of five terms says nothing; from here on the size holds, power comes later
SHARPEST_TENTHS = 0.05  # a fitted noise below this is rounding of the sum of squares, not a sharper eye
PULLED_EXCESS = 0.8  # one reading pulled to 0/5/10 adds this to their count: the rest would fall there anyway
COARSE_VARIANCE = 25 / 12 - 1 / 12  # tenths squared: rounding to 5 tenths instead of to 1
CLEAR_Z = 2.81  # of one digit among ten: two-sided 5 %, divided by ten (Bonferroni)
CLIPPED_REFITS = 4  # steps of the refit for answers that cannot leave their pair of lines
# Readings from which it is worth it: below, it takes a part of the habit for noise (power at n = 100 falls
# from 84 to 75 %); above, size would grow to 9 % without it. Simulation, docs/methods/scoring.md.
REFIT_FROM = 300
BINNED_FROM = 500  # readings from which the 201 nodes are less work than the readings

Columns = dict[str, Floats]


@dataclass(frozen=True, slots=True)
class DigitPreference:
    """How answers use the digits.

    `statistic`: the smaller of the two z values; `p_value`: one-sided; `counts`: whole answers by last
    digit, 0 to 9. `expected`: the same for a smooth reader with this person's curve and noise shown the
    same positions. `favoured`, `shunned`: digits clearly more or less used. `index`: estimated share of
    readings pulled to 0, 5 or 10. `spread_cost_tenths`: what the habit adds to the spread.
    """

    statistic: float | None
    p_value: float | None
    counts: tuple[int, ...]
    expected: tuple[float | None, ...] = ()
    favoured: tuple[int, ...] = ()
    shunned: tuple[int, ...] = ()
    index: float | None = None
    spread_cost_tenths: float | None = None

    def summary(self) -> pd.DataFrame:
        """Return one row a digit: answered, expected without habit, favoured or shunned."""
        expected = self.expected or (None,) * 10
        marks = [
            "favoured" if d in self.favoured else "shunned" if d in self.shunned else "" for d in range(10)
        ]
        return pd.DataFrame(
            {"digit": range(10), "count": self.counts, "expected": expected, "preference": marks}
        )

    def to_dict(self) -> dict[str, object]:
        """Return the values by name, ready for JSON."""
        return {
            "statistic": self.statistic,
            "p_value": self.p_value,
            "counts": list(self.counts),
            "expected": list(self.expected),
            "favoured": list(self.favoured),
            "shunned": list(self.shunned),
            "index": self.index,
            "spread_cost_tenths": self.spread_cost_tenths,
        }


def digit_columns(stack: Stack, clipped: Bools) -> Columns:
    """Return the columns of digit preference; `clipped` (people,) says whose answers stay within the pair.

    Answers must be whole or half tenths; a person with others gets NaN.
    """
    answer = stack.relative_answer
    twice = np.rint(2 * answer)
    whole = (np.mod(twice, 2) == 0) & stack.held
    near = np.abs(2 * answer - twice) < 1e-4
    rounded = (near | ~stack.held).all(axis=1)
    counts = _digit_counts(stack, twice / 2, whole)
    halves = (stack.held & ~whole).sum(axis=1)
    tested = rounded & (stack.n >= FEWEST)
    columns: Columns = {
        "digits": counts.astype(float),
        "halves": halves.astype(float),
        "rounded": rounded.astype(float),
    }
    columns |= _against_smooth(stack, clipped, np.where(halves > 0, 0.25, 0.5), twice / 2, counts)
    for name in ("digit_z", "digit_p", "digit_index"):
        columns[name] = np.where(tested, columns[name], np.nan)
    for name in ("digits_expected", "digits_z"):
        columns[name] = np.where(tested[:, None], columns[name], np.nan)
    return columns


def _against_smooth(
    stack: Stack, clipped: Bools, half_cell: Floats, answer: Floats, digits: NDArray[np.int64]
) -> Columns:
    """Return the columns that compare the answers with a smooth reader's, for both curves.

    Single digits are compared with the curve that fits better, 0, 5 and 10 together with both.
    """
    seen = ((answer == 0) | (answer == 5) | (answer == 10)) & stack.held
    observed = seen.sum(axis=1)
    refit = clipped & (stack.n >= REFIT_FROM)
    sample = binned(stack) if stack.n.min() >= BINNED_FROM and not refit.any() else readings(stack)
    fits = [
        smooth_reader(stack, sample, kind, half_cell, answer, refit if refit.any() else None)
        for kind in ("harmonics", "power")
    ]
    power_first = fits[1][1] <= fits[0][1]
    columns: Columns = {}
    zs, excesses = [], []
    for first in (power_first, ~power_first):
        curve = np.where(first[:, None], fits[1][0], fits[0][0])
        sigma = np.where(first, fits[1][1], fits[0][1])
        cells = Cells(sample.inside + curve, sigma, half_cell, clipped)
        z, excess = _excess(observed, sample.weight, cells.chance(0) + cells.chance(5) + cells.chance(10))
        zs.append(z)
        excesses.append(excess)
        if not columns:
            columns = _each_digit(sample, cells, digits)
    z = np.minimum(*zs)
    index = np.minimum(*excesses) / (PULLED_EXCESS * np.maximum(stack.n, 1))
    return columns | {
        "digit_z": z,
        "digit_p": special.ndtr(-z),
        "digit_index": np.clip(index, 0.0, 1.0),
    }


def _excess(observed: Floats | NDArray[np.int64], weight: Floats, p: Floats) -> tuple[Floats, Floats]:
    """Return how far a count exceeds its expectation, in standard deviations and in counts."""
    weighted = weight * p
    expected = weighted.sum(axis=1)
    variance = expected - np.einsum("ij,ij->i", weighted, p)
    excess = observed - expected
    return np.asarray(excess / np.sqrt(np.where(variance > 1e-9, variance, np.inf)), float), excess


def _digit_counts(stack: Stack, answer: Floats, whole: Bools) -> NDArray[np.int64]:
    """Return how often each person gave each last digit, of shape (people, 10); half tenths are left out."""
    trash = 10 * len(stack.n)
    rows = np.arange(len(stack.n))[:, None] * 10
    flat = np.where(whole & stack.held, rows + np.mod(answer, 10).astype(np.int64), trash).ravel()
    return np.bincount(flat, minlength=trash + 1)[:-1].reshape(-1, 10)


# the chance of an answer beyond the upper line by one tenth and by more, and short of the lower one
BEYOND: dict[int, Callable[["Cells"], Floats]] = {
    1: lambda cells: cells.below(11, +1) - cells.below(10, +1),
    2: lambda cells: 1 - cells.below(11, +1),
    9: lambda cells: cells.below(0, -1) - cells.below(-1, -1),
    8: lambda cells: cells.below(-1, -1),
}


def _each_digit(sample: Sample, cells: "Cells", digits: NDArray[np.int64]) -> Columns:
    """Return the expected counts of the ten digits and how far the counts lie from them."""
    expected, z = np.empty(digits.shape), np.empty(digits.shape)
    for digit in range(10):
        p = cells.chance(digit)
        if digit == 0:
            p = p + cells.chance(10)
        elif digit in BEYOND:  # what lies beyond the pair of lines has these last digits
            p = p + np.where(cells.clipped, 0.0, BEYOND[digit](cells))
        z[:, digit], excess = _excess(digits[:, digit], sample.weight, p)
        expected[:, digit] = digits[:, digit] - excess
    return {"digits_expected": expected, "digits_z": z}


def smooth_reader(
    stack: Stack,
    sample: Sample,
    kind: str,
    half_cell: Floats,
    answer: Floats,
    refit: Bools | None,
) -> tuple[Floats, Floats]:
    """Return the fitted curve at the sample's places and the noise (people,) of a reader without habits.

    Noise is the residual variance less that of rounding (Sheppard; exact for continuous truths). For the
    people in `refit` the fit is repeated on the expected unrounded answers; places are then the readings.
    """
    free = 5 if kind == "harmonics" else 2
    df = np.maximum(stack.n - free, 1)
    curve, rss = _fit(sample, kind)
    sigma = np.sqrt(np.maximum(rss / df - ROUNDING_VARIANCE * (2 * half_cell) ** 2, SHARPEST_TENTHS**2))
    if refit is None:
        return curve, sigma
    plain = curve
    for _ in range(CLIPPED_REFITS):
        target, left = _expected_unrounded(stack, curve, sigma, half_cell, answer)
        curve, rss = _fit(readings(stack, target), kind)
        refined = np.sqrt(np.maximum((rss + left) / df, SHARPEST_TENTHS**2))
        sigma = np.where(refit, refined, sigma)
    return np.where(refit[:, None], curve, plain), sigma


def _fit(sample: Sample, kind: str) -> tuple[Floats, Floats]:
    return fit_harmonics(sample) if kind == "harmonics" else fit_power(sample)[:2]


def _expected_unrounded(
    stack: Stack, curve: Floats, sigma: Floats, half_cell: Floats, answer: Floats
) -> tuple[Floats, Floats]:
    """Return expected errors before rounding and clipping, and the summed variance left in them (EM step)."""
    centre = stack.inside + curve
    s = sigma[:, None]
    low = np.where(answer <= 0, -8.0, (answer - half_cell[:, None] - centre) / s)
    high = np.where(answer >= 10, 8.0, (answer + half_cell[:, None] - centre) / s)
    low, high = np.clip(low, -8.0, 8.0), np.clip(high, -8.0, 8.0)
    mass = np.maximum(special.ndtr(high) - special.ndtr(low), 1e-12)
    at_low = np.exp(-(low**2) / 2) / np.sqrt(2 * np.pi)
    at_high = np.exp(-(high**2) / 2) / np.sqrt(2 * np.pi)
    shift = np.clip((at_low - at_high) / mass, -8.0, 8.0)
    variance = np.clip(1 + (low * at_low - high * at_high) / mass - shift**2, 0.0, 1.0)
    left = (np.where(stack.held, variance, 0.0)).sum(axis=1) * sigma**2
    return np.where(stack.held, curve + s * shift, 0.0), left


class Cells:
    """Chances of each answer when the eye puts the line at `centre` with noise `sigma`.

    Edges of cells are worked out once and kept, since neighbouring whole tenths share them. For answers
    kept within the pair of lines, 0 and 10 also take what would have fallen outside.
    """

    def __init__(self, centre: Floats, sigma: Floats, half_cell: Floats, clipped: Bools) -> None:
        self.centre, self.scale = centre, 1 / sigma[:, None]
        self.half_cell, self.clipped = half_cell[:, None], clipped[:, None]
        self.whole = bool((half_cell == 0.5).all())
        self.known: dict[float, Floats] = {}

    def below(self, edge: float, half: float = 0.0) -> Floats:
        """Return the chance to see less than `edge`, moved by `half` (-1 or 1) half cells."""
        at = edge + half * 0.5 if self.whole else None
        if at is not None and at in self.known:
            return self.known[at]
        value = np.asarray(special.ndtr((edge + half * self.half_cell - self.centre) * self.scale), float)
        if at is not None:
            self.known[at] = value
        return value

    def chance(self, answer: int) -> Floats:
        """Return the chance of an answer of 0 to 10 whole tenths, at every reading."""
        low = self.below(answer, -1)
        high = self.below(answer, +1)
        if answer == 0:
            low = np.where(self.clipped, 0.0, low)
        if answer == 10:
            high = np.where(self.clipped, 1.0, high)
        return high - low


def digit_preference(columns: Columns, row: int) -> DigitPreference:
    """Return one person's `DigitPreference` from the columns of a table."""
    index, sd = or_none(columns["digit_index"][row]), columns["sd"][row]
    cost = None
    if index is not None and np.isfinite(sd):
        cost = float(sd - np.sqrt(max(sd**2 - COARSE_VARIANCE * index, 0.0)))
    z = columns["digits_z"][row]
    shown = columns["digit_p"][row] < 0.05
    return DigitPreference(
        statistic=or_none(columns["digit_z"][row]),
        p_value=or_none(columns["digit_p"][row]),
        counts=tuple(int(c) for c in columns["digits"][row]),
        expected=tuple(listed(columns["digits_expected"][row])),
        favoured=tuple(d for d in range(10) if shown and z[d] > CLEAR_Z),
        shunned=tuple(d for d in range(10) if shown and z[d] < -CLEAR_Z),
        index=index,
        spread_cost_tenths=cost,
    )
