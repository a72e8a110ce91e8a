"""How an instrument is looked at: scale, turn of the instrument, distance and conditions."""

import math
from dataclasses import asdict, dataclass, fields
from typing import Any, Self

from trainer.instrument.micrometer import Micrometer
from trainer.instrument.refusal import Refusal

SMALLEST_PX_PER_MM, LARGEST_PX_PER_MM = 0.5, 1000.0
SMALLEST_SIDE_PX, LARGEST_SIDE_PX = 64, 8192
LARGEST_ROLL_DEG = 80.0


class UnusableViewing(Refusal):
    """A viewing cannot be drawn; the sentence names the field, the value and the remedy."""


USUAL_DISTANCE_MM = 250.0  # the conventional reading distance of magnifier makers (common practice)
RANGES: dict[str, tuple[float, float]] = {
    "px_per_mm": (SMALLEST_PX_PER_MM, LARGEST_PX_PER_MM),
    "roll_deg": (-LARGEST_ROLL_DEG, LARGEST_ROLL_DEG),
    "distance_mm": (50.0, 5000.0),
    "magnification": (1.0, 20.0),
    "blur_mm": (0.0, 2.0),
    "contrast": (0.03, 1.0),
    "glare": (0.0, 1.0),
    "wear": (0.0, 1.0),
    "dirt": (0.0, 1.0),
    "eye_offset_mm": (-500.0, 500.0),
}


@dataclass(frozen=True, slots=True)
class Viewing:
    """The scale of a picture and the conditions under which it is seen.

    `px_per_mm` is pixels to a millimetre of the instrument, before any loupe of `magnification`. `plain`
    leaves out texture, shading, numerals and knurl. `roll_deg` turns the instrument about its axis,
    positive lifts the index line. `distance_mm` is from the eye to the picture, None where it is not
    known.

    `blur_mm` is the diameter, on the instrument, of the disc that a point is spread over by defocus.
    `contrast` is the share of its full strength that ink has. `glare` is a lamp's reflection over the
    scale, as light added to the metal and the ink, 1 being white metal's own light. `wear` is the share
    of their ink that lines have lost at their worst places, `dirt` the share of light that smudges take
    at theirs. `eye_offset_mm` is how far the eye stands above the perpendicular on the index line.
    """

    px_per_mm: float
    plain: bool = False
    roll_deg: float = 0.0
    distance_mm: float | None = None
    magnification: float = 1.0
    blur_mm: float = 0.0
    contrast: float = 1.0
    glare: float = 0.0
    wear: float = 0.0
    dirt: float = 0.0
    eye_offset_mm: float = 0.0

    def __post_init__(self) -> None:
        if not isinstance(self.plain, bool):
            raise UnusableViewing(f"plain is {self.plain!r}; it must be true or false")
        for name, (low, high) in RANGES.items():
            value = getattr(self, name)
            if value is not None or name != "distance_mm":
                _within(name, value, low, high)

    @property
    def shown_px_per_mm(self) -> float:
        """Return pixels to a millimetre of the instrument as pictured, through the loupe if there is one."""
        return self.px_per_mm * self.magnification

    @property
    def needs_whole_light(self) -> bool:
        """Return whether a condition forbids redrawing only what moves: light spreads or lines differ."""
        return self.blur_mm > 0 or self.glare > 0 or self.wear > 0 or self.dirt > 0

    @property
    def conditions(self) -> dict[str, float]:
        """Return the conditions that differ from clear sight straight ahead, by name."""
        clear = {"magnification": 1.0, "contrast": 1.0}
        names = ("magnification", "blur_mm", "contrast", "glare", "wear", "dirt", "eye_offset_mm")
        return {name: getattr(self, name) for name in names if getattr(self, name) != clear.get(name, 0.0)}

    def to_dict(self) -> dict[str, Any]:
        """Return the fields as plain values, for records and plans."""
        return asdict(self)

    @classmethod
    def from_dict(cls, table: dict[str, Any]) -> Self:
        """Return the viewing that `to_dict` wrote; raise `UnusableViewing` on an unknown field."""
        known = {field.name for field in fields(cls)}
        for name in table:
            if name not in known:
                raise UnusableViewing(
                    f"viewing has no field {name!r}; choose from {', '.join(sorted(known))}"
                )
        if "px_per_mm" not in table:
            raise UnusableViewing("viewing needs px_per_mm, the pixels to a millimetre of the instrument")
        return cls(**table)


def _within(name: str, value: float, low: float, high: float) -> None:
    """Refuse a value that is no finite number between two limits."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise UnusableViewing(f"{name} is {value}; it must be a number from {low:g} to {high:g}")


def vernier_roll_deg(micrometer: Micrometer) -> float:
    """Return the turn that brings a vernier's lines evenly round the middle of the view, 0 without one."""
    if micrometer.vernier is None:
        return 0.0
    span = micrometer.vernier.over_divisions * 360 / micrometer.divisions
    return -micrometer.direction * span / 2


def checked_size(size_px: tuple[int, int]) -> tuple[int, int]:
    """Return a picture size, width and height in pixels, or refuse one that cannot be meant."""
    for name, side in zip(("width", "height"), size_px, strict=True):
        if not SMALLEST_SIDE_PX <= side <= LARGEST_SIDE_PX:
            raise UnusableViewing(
                f"the picture's {name} is {side} px; it must be from {SMALLEST_SIDE_PX} to {LARGEST_SIDE_PX}"
            )
    return size_px


def fitting_size(micrometer: Micrometer, px_per_mm: float) -> tuple[int, int]:
    """Return the width and height, in pixels, that show the whole scale, however far it is turned."""
    sizes = micrometer.sizes
    width = (micrometer.travel_mm + 6.0) / EDGE_SHARE * px_per_mm
    height = sizes.body_diameter_mm * 1.16 * px_per_mm
    return (
        int(min(max(2 * math.ceil(width / 2), SMALLEST_SIDE_PX), LARGEST_SIDE_PX)),
        int(min(max(2 * math.ceil(height / 2), SMALLEST_SIDE_PX), LARGEST_SIDE_PX)),
    )


EDGE_SHARE = 0.6  # the thimble's edge stands at this share of the picture's width
