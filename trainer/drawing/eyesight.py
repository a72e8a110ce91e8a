"""What reaches the eye: visual angles, and the parallax of an eye off the perpendicular."""

import math

from trainer.drawing.viewing import USUAL_DISTANCE_MM, Viewing
from trainer.instrument.micrometer import Micrometer


def visual_angle_arcmin(length_mm: float, distance_mm: float) -> float:
    """Return the angle under which a length is seen straight ahead, in minutes of arc.

    By trigonometry, `2 atan(s / 2 D)`.

    >>> round(visual_angle_arcmin(1.0, 250.0), 3)
    13.751
    """
    return math.degrees(2 * math.atan(length_mm / (2 * distance_mm))) * 60


def division_arcmin(
    micrometer: Micrometer, viewing: Viewing, screen_px_per_mm: float | None = None
) -> float | None:
    """Return the visual angle of a division on the screen, None where the distance is not known.

    `screen_px_per_mm` is the screen's own scale; without it the picture is taken to be at true size
    before magnification. A tenth of a division is seen under a tenth of the angle.
    """
    if viewing.distance_mm is None:
        return None
    enlarged = viewing.shown_px_per_mm / (screen_px_per_mm or viewing.px_per_mm)
    return visual_angle_arcmin(micrometer.division_arc_mm * enlarged, viewing.distance_mm)


def division_px(micrometer: Micrometer, viewing: Viewing) -> float:
    """Return the length of a division along the thimble's edge, in pixels."""
    return micrometer.division_arc_mm * viewing.shown_px_per_mm


def too_small(micrometer: Micrometer, viewing: Viewing) -> str | None:
    """Return a sentence to show with a picture whose divisions are smaller than a pixel, else None."""
    size = division_px(micrometer, viewing)
    if size >= 1:
        return None
    return (
        f"a division of {micrometer.name} is {size:.2f} pixels in this picture, less than one; "
        "nothing between its lines can be shown, so enlarge the picture"
    )


def step_mm(micrometer: Micrometer) -> float:
    """Return how far the thimble's edge stands out above the sleeve."""
    return (micrometer.sizes.thimble_edge_diameter_mm - micrometer.sizes.sleeve_diameter_mm) / 2


def parallax_mm(micrometer: Micrometer, viewing: Viewing) -> float:
    """Return how far the index line seems moved upwards along the thimble's edge.

    The sleeve lies a step g behind the edge; an eye that stands e above the perpendicular at a distance
    D from the sleeve sees the index line cross the edge's plane `g e / D` higher (similar triangles).
    Without a distance the eye is taken to be at `USUAL_DISTANCE_MM`.
    """
    distance = viewing.distance_mm or USUAL_DISTANCE_MM
    return step_mm(micrometer) * viewing.eye_offset_mm / distance


def parallax_tenths(micrometer: Micrometer, viewing: Viewing) -> float:
    """Return by how much parallax makes the scale read high, in tenths; the index line faces the eye."""
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    turn = math.asin(parallax_mm(micrometer, viewing) / radius)
    return 10 * micrometer.direction * turn / micrometer.division_rad


def sleeve_rad(micrometer: Micrometer, viewing: Viewing) -> float:
    """Return the angle at which the index line is seen on the thimble's edge: its roll and its parallax."""
    radius = micrometer.sizes.thimble_edge_diameter_mm / 2
    sine = math.sin(math.radians(viewing.roll_deg)) + parallax_mm(micrometer, viewing) / radius
    return math.asin(min(max(sine, -1.0), 1.0))
