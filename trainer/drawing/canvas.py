"""The picture's frame: where the instrument's axis and the thimble's edge lie in pixels."""

import math
from dataclasses import dataclass

from trainer.drawing.eyesight import sleeve_rad
from trainer.drawing.viewing import EDGE_SHARE, Viewing, checked_size
from trainer.instrument.micrometer import Micrometer


@dataclass(frozen=True, slots=True)
class Canvas:
    """A picture of `width_px` by `height_px`; pixel i covers [i, i + 1).

    The thimble's edge stands on the whole column `edge_px`, so that no pixel mixes sleeve and thimble.
    """

    width_px: int
    height_px: int
    px_per_mm: float
    roll_rad: float
    sleeve_rad: float = 0.0  # angle of the index line: the roll and any parallax
    edge_share: float = EDGE_SHARE
    drop_px: float = 0.0  # how far the instrument's axis lies below the middle of the picture

    @property
    def edge_px(self) -> int:
        """Return the first column of the thimble."""
        return round(self.width_px * self.edge_share)

    @property
    def axis_px(self) -> float:
        """Return the row of the instrument's axis, in the middle of the picture as a rule."""
        return self.height_px / 2 + self.drop_px

    @property
    def left_mm(self) -> float:
        """Return how much of the sleeve fits to the left of the edge."""
        return self.edge_px / self.px_per_mm

    def y_px(self, radius_mm: float, angle_rad: float) -> float:
        """Return the row at which a point on a cylinder is seen."""
        return self.axis_px - self.px_per_mm * radius_mm * math.sin(angle_rad)

    def x_px(self, x_mm: float) -> float:
        """Return the column of a place measured from the thimble's edge."""
        return self.edge_px + self.px_per_mm * x_mm


def canvas(viewing: Viewing, size_px: tuple[int, int], micrometer: Micrometer) -> Canvas:
    """Return the frame of a picture."""
    width, height = checked_size(size_px)
    roll, sleeve = math.radians(viewing.roll_deg), sleeve_rad(micrometer, viewing)
    return Canvas(width, height, viewing.shown_px_per_mm, roll, sleeve)


def index_y_px(frame: Canvas, micrometer: Micrometer) -> float:
    """Return the row of the middle of the index line.

    Ink of the sleeve is seen in the plane of the thimble's edge, so that turning the instrument makes
    no parallax; an eye off the perpendicular does, by what `eyesight` computes.
    """
    return frame.y_px(micrometer.sizes.thimble_edge_diameter_mm / 2, frame.sleeve_rad)
