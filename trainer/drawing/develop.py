"""From offset code values to the 8-bit picture: rounding, the hue of the light and of the ground."""

import numpy as np
from numpy.typing import NDArray

from trainer.drawing.light import CODE_OFFSET, GROUND_HUE, Floats, row_hues, thresholds

ROWS_AT_ONCE = 128


def develop(coded: Floats, filled: Floats, plain: bool, picture: NDArray[np.uint8]) -> None:
    """Round offset code values into `picture`, shape (height, width, 3).

    `filled` is how much of each pixel the instrument fills; the rest is ground.
    """
    height, width = coded.shape
    hues = row_hues(height, plain)
    for top in range(0, height, ROWS_AT_ONCE):
        rows = slice(top, min(top + ROWS_AT_ONCE, height))
        light = thresholds(rows, slice(0, width))
        light -= np.float32(0.5)
        light += coded[rows]
        light -= np.float32(CODE_OFFSET - 0.5)  # in the order of `region`, to round alike
        grey = light.astype(np.uint8)
        for colour in range(3):
            np.add(grey, hues[rows, colour : colour + 1], out=picture[rows, :, colour])
        if not plain:
            bare = 1 - filled[rows]
            picture[rows, :, 0] -= (bare * np.float32(GROUND_HUE[0])).astype(np.uint8)
            picture[rows, :, 2] += (bare * np.float32(GROUND_HUE[1])).astype(np.uint8)
