"""A rectangle of the picture that is redrawn often: ground times ink, plus rounding, cast to 8 bits."""

import numpy as np
from numpy.typing import NDArray

from trainer.drawing.light import CODE_OFFSET, Floats, thresholds

Pixels = NDArray[np.uint8]
Rect = tuple[int, int, int, int]  # left, top, width, height


class Region:
    """A rectangle of the picture that is redrawn, with its ground as offset code values."""

    def __init__(self, coded: Floats, rows: slice, columns: slice, picture: Pixels) -> None:
        self.rows, self.columns = rows, columns
        width = columns.stop - columns.start
        self.coded = np.ascontiguousarray(coded[rows, columns]).reshape(-1, 3 * width)
        rounding = thresholds(rows, columns) - np.float32(CODE_OFFSET)
        self.rounding = np.repeat(rounding, 3, axis=1)
        flat = picture.reshape(picture.shape[0], -1)
        self.pixels = flat[rows, 3 * columns.start : 3 * columns.stop]
        self.work = np.empty((64, 3 * width), dtype=np.float32)

    def lay(self, rows: slice, columns: slice, passed: Floats) -> None:
        """Redraw part of the region, given in the picture's rows and columns, with ink that passes light.

        `passed` is what ink multiplies the offset code values by: (rows, columns), or (columns,) if all
        rows are alike.
        """
        left, right = 3 * (columns.start - self.columns.start), 3 * (columns.stop - self.columns.start)
        top, bottom = rows.start - self.rows.start, rows.stop - self.rows.start
        tripled = np.repeat(passed, 3, axis=-1)
        for start in range(top, bottom, 64):
            part = slice(start, min(start + 64, bottom))
            work = self.work[: part.stop - part.start, left:right]
            factor = tripled if tripled.ndim == 1 else tripled[start - top : part.stop - top]
            np.multiply(self.coded[part, left:right], factor, out=work)
            work += self.rounding[part, left:right]
            self.pixels[part, left:right] = work
