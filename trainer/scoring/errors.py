"""Errors of reading: answer minus truth, in tenths of a division; positive reads high."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trainer.instrument.refusal import Refusal

Floats = NDArray[np.float64]

HAIR_TENTHS = 1e-6  # what double precision adds to a decimal reading of some metres; far below real errors
MISREAD_TENTHS = 5.0  # an error above half a division is never interpolation; design study, fixed rule


class UnscorableAnswers(Refusal):
    """The answers cannot be scored as asked; the text says which and what to do."""


def error_tenths(answer_tenths: ArrayLike, truth_tenths: ArrayLike) -> Floats:
    """Return answer minus truth in tenths; positive means the person read high.

    >>> error_tenths([7384.0, 21.0], [7383.6, 21.4]).round(6).tolist()
    [0.4, -0.4]
    """
    return np.asarray(np.subtract(answer_tenths, truth_tenths, dtype=float))


def within_division(truth_tenths: ArrayLike) -> Floats:
    """Return where in its division each position lies, in tenths, from 0 up to but not including 10.

    >>> within_division([7383.6, -0.5]).round(6).tolist()
    [3.6, 9.5]
    """
    inside = np.mod(np.asarray(truth_tenths, float), 10.0)
    # a position a hair below a graduation (7.399999... of a decimal reading) stands on it
    return np.asarray(np.where(inside > 10.0 - 1e-9, 0.0, inside), float)


def tenth_of(inside_tenths: Floats) -> NDArray[np.int64]:
    """Return the number, 0 to 9, of the tenth in which each position within a division lies.

    >>> tenth_of(np.array([0.0, 3.6, 9.99])).tolist()
    [0, 3, 9]
    """
    return np.minimum(np.floor(inside_tenths + 1e-9), 9.0).astype(np.int64)


def or_none(number: Any) -> float | None:
    """Return a plain float, or None for what is not finite (a value that cannot be had)."""
    return float(number) if np.isfinite(number) else None


def listed(numbers: Floats) -> list[float | None]:
    """Return plain floats, with None for what is not finite."""
    return [
        number if ok else None
        for number, ok in zip(numbers.tolist(), np.isfinite(numbers).tolist(), strict=True)
    ]
