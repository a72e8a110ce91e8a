"""Under what conditions a session was seen, told from what was kept with it."""

import json
from functools import lru_cache

from trainer.drawing.eyesight import division_arcmin
from trainer.drawing.viewing import UnusableViewing, Viewing
from trainer.instrument import catalogue
from trainer.practice.conditions import SCREEN, words

NAMED = "conditions"  # where the viewing of a session from a file keeps the words of its conditions


@lru_cache(maxsize=4096)
def conditions(viewing: str, plan: str) -> str:
    """Return the conditions of a session in words, from its viewing and plan as kept (JSON).

    "clear" is sight without any; empty where the archive does not know (a bench check, a printed sheet,
    a file that does not say).
    """
    seen = json.loads(viewing)
    if NAMED in seen:
        return str(seen[NAMED])
    return words(seen, json.loads(plan)) if seen else ""


def angle_arcmin(viewing: str, instrument: str) -> float | None:
    """Return the visual angle of a division in minutes of arc, None where it is not known.

    It hangs on the distance and on how many times larger than the instrument the picture was: by the scale
    of the screen where a window kept it, else the picture counts as one of true size.
    """
    seen = json.loads(viewing)
    screen = seen.pop(SCREEN, seen.get("px_per_mm"))
    if not seen.get("distance_mm") or screen is None or instrument not in catalogue.names():
        return None
    try:
        return division_arcmin(catalogue.load(instrument), Viewing.from_dict(seen), screen)
    except UnusableViewing:  # a viewing of another version, which this one cannot draw
        return None
