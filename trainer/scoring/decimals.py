"""Numbers taken as the decimals they were typed as, so that sums of squares lose no digit.

A reading of 107.8681568 is the nearest double to that decimal; its digits beyond the ninth are noise of
storage, and differences of two such numbers carry it. Every finite double prints as the shortest decimal
that returns to it, and that decimal is what was measured. Summing those decimals as whole numbers is exact.
"""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction


def as_integers(values: Iterable[float]) -> tuple[list[int], int]:
    """Return whole numbers and the power of ten that divides them: value = integer / 10**places.

    >>> as_integers([0.25, 3.0])
    ([25, 300], 2)
    """
    parts = [Decimal(repr(float(v))).as_tuple() for v in values]
    places = max((-int(p.exponent) for p in parts), default=0)
    places = max(places, 0)
    integers = []
    for part in parts:
        whole = int("".join(map(str, part.digits))) * 10 ** (places + int(part.exponent))
        integers.append(-whole if part.sign else whole)
    return integers, places


def sum_of_squares(integers: Sequence[int]) -> Fraction:
    """Return the sum of squared deviations from the mean, exactly.

    >>> sum_of_squares([1, 2, 3])
    Fraction(2, 1)
    """
    count, total = len(integers), sum(integers)
    return Fraction(count * sum(v * v for v in integers) - total * total, count)


def sum_of_products(first: Sequence[int], second: Sequence[int]) -> Fraction:
    """Return the sum of products of deviations from the two means, exactly."""
    count = len(first)
    products = sum(a * b for a, b in zip(first, second, strict=True))
    return Fraction(count * products - sum(first) * sum(second), count)
