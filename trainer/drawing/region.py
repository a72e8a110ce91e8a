"""A rectangle of the picture that is redrawn often: ground times ink, cast to 8 bits.

The rounding threshold is kept with the ground, as part of what ink multiplies, so that a frame streams
one array less; inside ink the thresholds shrink about their middle, which leaves every pixel within a level.
"""

import numpy as np
from numpy.typing import NDArray

from trainer.drawing.light import CODE_OFFSET, Floats, thresholds

Pixels = NDArray[np.uint8]
Rect = tuple[int, int, int, int]  # left, top, width, height
CHUNK = 250_000  # pixels worked on at once: more would leave the processor's cache


class Region:
    """A rectangle of the picture that is redrawn, with its ground as offset code values.

    `coded` and `hues` belong to the whole picture: shape (height, width) and (height, 3). The hue of a
    row is whole grey levels that each colour differs by, so that light is computed only once.
    """

    def __init__(
        self, coded: Floats, hues: NDArray[np.uint8], rows: slice, columns: slice, picture: Pixels
    ) -> None:
        self.rows, self.columns = rows, columns
        self.coded = coded[rows, columns] + (thresholds(rows, columns) - np.float32(0.5))
        self.hues = hues[rows]
        self.pixels = picture[rows, columns]
        self._light = np.empty(max(CHUNK, columns.stop - columns.start), dtype=np.float32)
        self._grey = np.empty(max(CHUNK, columns.stop - columns.start), dtype=np.uint8)

    def lay(self, rows: slice, columns: slice, passed: Floats) -> None:
        """Redraw part of the region, given in the picture's rows and columns, with ink that passes light.

        `passed` is what ink multiplies the offset code values by: shape (rows, columns), or (columns,)
        if all rows are alike.
        """
        left, right = columns.start - self.columns.start, columns.stop - self.columns.start
        top, bottom = rows.start - self.rows.start, rows.stop - self.rows.start
        if right <= left:
            return
        step = max(CHUNK // (right - left), 1)
        for start in range(top, bottom, step):
            part = slice(start, min(start + step, bottom))
            shape = part.stop - start, right - left
            light = self._light[: shape[0] * shape[1]].reshape(shape)
            grey = self._grey[: shape[0] * shape[1]].reshape(shape)
            factor = passed if passed.ndim == 1 else passed[start - top : part.stop - top]
            np.multiply(self.coded[part, left:right], factor, out=light)
            np.subtract(light, np.float32(CODE_OFFSET - 0.5), out=light)
            grey[...] = light
            for colour in range(3):
                hue = self.hues[part, colour : colour + 1]
                np.add(grey, hue, out=self.pixels[part, left:right, colour])
