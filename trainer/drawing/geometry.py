"""Where things stand in a picture, in pixels: what `draw --json` prints and what records can keep."""

from dataclasses import dataclass

from trainer.drawing import layout
from trainer.drawing.canvas import canvas, index_y_px
from trainer.drawing.eyesight import division_px, parallax_tenths
from trainer.drawing.viewing import Viewing, fitting_size
from trainer.instrument.micrometer import State


@dataclass(frozen=True, slots=True)
class ShownLine:
    """A thimble line near the index line: its number and its row at the thimble's edge."""

    number: int
    y_px: float


@dataclass(frozen=True, slots=True)
class Geometry:
    """Where things stand in a picture; pixel row i covers [i, i + 1)."""

    instrument: str
    reading: float
    unit: str
    px_per_mm: float
    width_px: int
    height_px: int
    division_px: float
    edge_x_px: float
    index_y_px: float
    roll_deg: float
    parallax_tenths: float
    lines: tuple[ShownLine, ...]

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON."""
        return {
            "instrument": self.instrument,
            "reading": self.reading,
            "unit": self.unit,
            "px_per_mm": self.px_per_mm,
            "width_px": self.width_px,
            "height_px": self.height_px,
            "division_px": self.division_px,
            "edge_x_px": self.edge_x_px,
            "index_y_px": self.index_y_px,
            "roll_deg": self.roll_deg,
            "parallax_tenths": self.parallax_tenths,
            "lines": [{"number": line.number, "y_px": line.y_px} for line in self.lines],
        }


def geometry(state: State, viewing: Viewing, size_px: tuple[int, int] | None = None) -> Geometry:
    """Return where the index line, the edge and the thimble lines within two divisions stand in a picture.

    `division_px` is the length of a division along the thimble's edge.
    """
    micrometer = state.micrometer
    frame = canvas(viewing, size_px or fitting_size(micrometer, viewing.shown_px_per_mm), micrometer)
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    near = 2 * micrometer.division_rad * (1 + 1e-12)
    lines = [
        ShownLine(line.number, frame.y_px(radius, line.angle_rad))
        for line in layout.thimble_lines(state, frame.roll_rad)
        if abs(line.angle_rad - frame.sleeve_rad) <= near
    ]
    return Geometry(
        micrometer.name,
        float(micrometer.reading_of(state.position_tenths)),
        micrometer.unit,
        viewing.shown_px_per_mm,
        frame.width_px,
        frame.height_px,
        division_px(micrometer, viewing),
        float(frame.edge_px),
        index_y_px(frame, micrometer),
        viewing.roll_deg,
        parallax_tenths(micrometer, viewing),
        tuple(lines),
    )
