"""Light as numbers: linear luminance, its sRGB code values, and what engraved ink does to them.

The picture is computed in linear light. Engraved ink keeps a fraction of the light, so that on the
power segment of sRGB it is one multiplication of the code value plus its offset:
`enc(L t) = (enc(L) + 0.055) t^(1/2.4) - 0.055`. Hence the painter caches `(enc(L) + 0.055) * 255`.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float32]

SRGB_OFFSET = 0.055  # IEC 61966-2-1
SRGB_EXPONENT = 1 / 2.4  # IEC 61966-2-1
SRGB_TOE_LINEAR = 0.0031308  # IEC 61966-2-1: below this the code value is 12.92 L
CODE_OFFSET = 255 * SRGB_OFFSET
INK_STRENGTH = 0.93  # the light that full ink takes away
GROUND_HUE = (3.5, 6.5)  # grey levels less red and more blue in the ground
SIDE_STEPS = 2000  # entries of the table of line sides, for each pixel of the tent's two
INK_STEPS = 4096  # entries of the ink table: a quarter of a percent of a grey level


def encode(linear: ArrayLike) -> NDArray[np.float64]:
    """Return the sRGB code value, 0 to 255 and not rounded, of linear luminance 0 to 1.

    >>> float(round(encode(0.2140)[()], 2)), float(encode(1.0)[()].round(6))
    (127.49, 255.0)
    """
    light = np.asarray(linear, dtype=np.float64)
    power = 1.055 * np.maximum(light, SRGB_TOE_LINEAR) ** SRGB_EXPONENT - SRGB_OFFSET
    return np.asarray(255 * np.where(light <= SRGB_TOE_LINEAR, 12.92 * light, power))


def decode(code: ArrayLike) -> NDArray[np.float64]:
    """Return the linear luminance, 0 to 1, of sRGB code values 0 to 255.

    >>> float(decode(255)[()]), float(decode(10)[()].round(6))
    (1.0, 0.003035)
    """
    value = np.asarray(code, dtype=np.float64) / 255
    return np.asarray(np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4))


def encode_with_offset(linear: Floats) -> Floats:
    """Return `(enc(L) + 0.055) * 255` in single precision: what ink multiplies.

    Luminance is taken to lie on the power segment, as all grounds and metals of the painter do.
    """
    coded = np.maximum(linear, np.float32(SRGB_TOE_LINEAR))
    np.power(coded, np.float32(SRGB_EXPONENT), out=coded)
    coded *= np.float32(255 * 1.055)
    return coded


def ink_table(strength: float) -> Floats:
    """Return `(1 - strength c)^(1/2.4)` for coverages c from 0 to 1 in `INK_STEPS` steps.

    >>> table = ink_table(0.9)
    >>> float(table[0]), round(float(table[-1]), 4)
    (1.0, 0.3831)
    """
    coverage = np.linspace(0.0, 1.0, INK_STEPS)
    return ((1 - strength * coverage) ** SRGB_EXPONENT).astype(np.float32)


@lru_cache(maxsize=16)
def side_table(strength: float) -> Floats:
    """Return what passes at distances from a wide line's side, from 1 px outside it to 1 px inside.

    It is the ink of the tent's coverage, `(1 - strength T(d))^(1/2.4)`, in `2 SIDE_STEPS + 1` steps.
    """
    inside = np.linspace(-1.0, 1.0, 2 * SIDE_STEPS + 1)
    coverage = 0.5 + inside - 0.5 * inside * np.abs(inside)
    return np.asarray((1 - strength * coverage) ** SRGB_EXPONENT, dtype=np.float32)


def transmission(coverage: Floats, table: Floats) -> Floats:
    """Return what ink of these coverages multiplies the offset code value by."""
    steps = np.multiply(coverage, np.float32(INK_STEPS - 1))
    steps += np.float32(0.5)
    return np.asarray(table.take(steps.astype(np.intp), mode="clip"))


def thresholds(rows: slice, columns: slice) -> Floats:
    """Return the rounding threshold of each pixel, 0 to 1, shape (rows, columns).

    A two-dimensional golden-ratio sequence: along any row or column the thresholds are spread
    evenly, so that the mean of a line's pixels keeps what rounding to 8 bits would lose.
    """
    y = np.arange(rows.start, rows.stop, dtype=np.float64)[:, None] * 0.5698402909980532
    x = np.arange(columns.start, columns.stop, dtype=np.float64)[None, :] * 0.7548776662466927
    value = y - np.floor(y) + (x - np.floor(x))
    value -= np.floor(value)
    return value.astype(np.float32)


def row_hues(rows: int, plain: bool) -> NDArray[np.uint8]:
    """Return the grey levels that are added to each colour of a row, shape (rows, 3), none if plain.

    The light goes from cool above to warm below; green, which carries most of the light, gains nothing
    on either.
    """
    if plain:
        return np.zeros((rows, 3), dtype=np.uint8)
    down = np.linspace(-1.0, 1.0, rows)[:, None]
    return np.asarray(np.rint(2 + down * np.array([1.6, 0.0, -2.0])), dtype=np.uint8)
