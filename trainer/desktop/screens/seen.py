"""How large a tenth was before the eye: what a sitting keeps of its display, and its result tells of it."""

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from trainer.desktop.desk import Desk
from trainer.desktop.words import say
from trainer.instrument import catalogue

if TYPE_CHECKING:
    from trainer.desktop.results import SittingResult


def arc_minutes(mm: float, distance_mm: float) -> float:
    """Return the angle that a length fills at a distance, in arc minutes.

    >>> round(arc_minutes(1.0, 500.0), 2)
    6.88
    """
    return math.degrees(2 * math.atan(mm / (2 * distance_mm))) * 60


def display_of(desk: Desk) -> Mapping[str, Any] | None:
    """Return how the display is set up, as it is kept with a sitting; None where it is not."""
    display = desk.display
    if display is None:
        return None
    return {
        "name": desk.display_name,
        "px_per_mm": display.px_per_mm,
        "distance_mm": display.distance_mm,
        "set_at": display.set_at,
        "alignment": list(display.alignment) if display.alignment is not None else None,
    }


def seen(result: "SittingResult", desk: Desk) -> str:
    """Return how large a tenth was on the display, and under which angle, where both are known."""
    display, px = result.display, result.px_per_mm
    if not px or result.instrument not in catalogue.names():
        return ""
    tenth_px = catalogue.load(result.instrument).division_arc_mm / 10 * px
    told = say("seen.px", px=desk.number(f"{tenth_px:.1f}"))
    if display is None:
        return f"{told} {say('seen.unknown')}"
    tenth_mm, far = tenth_px / float(display["px_per_mm"]), display.get("distance_mm")
    told = say("seen.mm", px=desk.number(f"{tenth_px:.1f}"), mm=desk.number(f"{tenth_mm:.2f}"))
    if far:
        angle = desk.number(f"{arc_minutes(tenth_mm, float(far)):.1f}")
        told += " " + say("seen.angle", mm=desk.number(f"{far:g}"), angle=angle)
    return told
