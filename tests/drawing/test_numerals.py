"""Our numerals: one width, one stroke, the same ink whether sampled or outlined."""

import numpy as np
import pytest

from trainer.drawing import numerals

HEIGHT, STROKE = 1.6, 0.2


def sampled(text, per_mm=80):
    """Return a number's coverage and the size of a sample."""
    width = numerals.width_mm(text, HEIGHT, STROKE)
    x = (np.arange(int((width + 0.4) * per_mm)) + 0.5) / per_mm - 0.2
    y = (np.arange(int((HEIGHT + 0.4) * per_mm)) + 0.5) / per_mm - 0.2
    return numerals.ink(text, HEIGHT, STROKE, x, y, 1 / per_mm), x, y


@pytest.mark.parametrize("digit", "0123456789")
def test_every_digit_fills_its_height_and_stays_in_its_width(digit):
    covered, x, y = sampled(digit)
    rows, columns = np.flatnonzero(covered.any(axis=1)), np.flatnonzero(covered.any(axis=0))
    assert y[rows[0]] == pytest.approx(0, abs=0.02)
    assert y[rows[-1]] == pytest.approx(HEIGHT, abs=0.02)
    assert x[columns[0]] > -0.02
    assert x[columns[-1]] < numerals.width_mm(digit, HEIGHT, STROKE) + 0.02


def test_digits_are_tabular():
    assert len({numerals.width_mm(pair, HEIGHT, STROKE) for pair in ("11", "08", "47")}) == 1


@pytest.mark.parametrize("digit", "0123456789")
def test_outlines_enclose_the_same_ink(digit):
    """Filled by the nonzero rule of ISO 32000-1, 8.5.3.3.2, the outlines are the sampled ink."""
    covered, x, y = sampled(digit, 40)
    inside = windings(numerals.outlines(digit, HEIGHT, STROKE, 96), x, y) != 0
    apart = np.abs(inside - covered)
    assert (apart > 0.75).mean() < 0.001
    assert inside.mean() == pytest.approx(covered.mean(), rel=0.02)


def windings(polygons, x, y):
    """Return the winding number of polygons round each point of a grid, by crossings of a ray."""
    across, down = np.meshgrid(x, y)
    total = np.zeros(across.shape, dtype=int)
    for polygon in polygons:
        for (x0, y0), (x1, y1) in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
            side = (x1 - x0) * (down - y0) - (across - x0) * (y1 - y0)
            total += (y0 <= down) & (down < y1) & (side > 0)
            total -= (y1 <= down) & (down < y0) & (side < 0)
    return total


def test_digits_differ_from_each_other():
    inks = {digit: sampled(digit)[0] for digit in "0123456789"}
    for one in inks:
        for other in inks:
            if one < other:
                assert np.abs(inks[one] - inks[other]).mean() > 0.02, (one, other)


def test_a_letter_is_not_a_digit():
    with pytest.raises(ValueError, match="'a' is not a digit"):
        numerals.strokes("a")
