"""How much of each pixel a line covers, so that its place is kept exactly.

Pixel i is the stretch from i to i + 1 and its centre is i + 1/2. Coverage is seen through a tent
(a box folded with a box): unlike plain area coverage it keeps both the darkness of a line and the
centre of its darkness, for every width and every place between the pixels.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trainer.drawing.light import Floats

Doubles = NDArray[np.floating]


def ramp(distance_px: Floats) -> Floats:
    """Return the tent's running integral `T(t) = 1/2 + t - t|t|/2` on [-1, 1]; overwrites its argument.

    >>> ramp(np.array([-2.0, -1.0, 0.0, 0.5, 1.0, 3.0], dtype=np.float32)).tolist()
    [0.0, 0.0, 0.5, 0.875, 1.0, 1.0]
    """
    np.clip(distance_px, -1, 1, out=distance_px)
    size = np.abs(distance_px)
    size *= np.float32(-0.5)
    size += np.float32(1)
    distance_px *= size
    distance_px += np.float32(0.5)
    return distance_px


def stripe(low_px: float, high_px: float, first: int, count: int) -> Floats:
    """Return the coverage by a stripe from `low_px` to `high_px` of the `count` pixels from `first` on."""
    centres = np.arange(first, first + count, dtype=np.float64) + 0.5
    upper = ramp((high_px - centres).astype(np.float32))
    return upper - ramp((low_px - centres).astype(np.float32))


def combs(places_px: Sequence[Sequence[float]], width_px: float, count: int) -> Floats:
    """Return the coverage of `count` pixels in a row by stripes of equal width, for several sets of stripes.

    `places_px` holds the middles of each set's stripes; the result has shape (sets, count). Stripes that
    lie partly or wholly outside are cut at the ends; stripes of one set do not overlap.
    """
    middles = np.array([place for places in places_px for place in places])
    owners = np.repeat(np.arange(len(places_px)), [len(places) for places in places_px])
    first = np.floor(middles - width_px / 2).astype(np.intp) - 1
    pixels = first[:, None] + np.arange(int(np.ceil(width_px)) + 4, dtype=np.intp)
    offset = middles[:, None] - (pixels + 0.5)
    covered = ramp((offset + width_px / 2).astype(np.float32))
    covered -= ramp((offset - width_px / 2).astype(np.float32))
    inside = (pixels >= 0) & (pixels < count)
    slots = (pixels + owners[:, None] * count)[inside]
    summed = np.bincount(slots, weights=covered[inside], minlength=len(places_px) * count)
    return np.minimum(summed, 1).astype(np.float32).reshape(len(places_px), count)


def united(first: Floats, second: Floats) -> Floats:
    """Return the coverage by two inks that cross: what neither leaves bare."""
    return np.asarray(1 - (1 - first) * (1 - second))


def resampled(summed: Floats, bounds: Doubles) -> Floats:
    """Return the mean of a finely sampled picture between neighbouring bounds, along its first axis.

    `summed` holds running sums with a leading zero row; `bounds` are rows of it, not whole in
    general. Bounds rise; the result has one row fewer: exact area resampling of numerals.
    """
    last = summed.shape[0] - 1
    inside = np.minimum(np.maximum(bounds, 0), last)
    whole = np.minimum(inside.astype(np.intp), last - 1)
    part = (inside - whole).astype(np.float32)[:, None]
    low = summed[whole]
    running = summed[whole + 1]
    running -= low
    running *= part
    running += low
    mean = running[1:] - running[:-1]
    mean *= (1 / np.maximum(bounds[1:] - bounds[:-1], 1e-9)).astype(np.float32)[:, None]
    return np.asarray(mean)
