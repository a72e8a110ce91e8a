"""Viewing conditions of a plan: checked before use, and warned of where a picture cannot carry the drill."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from trainer.drawing.eyesight import visual_angle_arcmin
from trainer.drawing.viewing import UnusableViewing, Viewing
from trainer.instrument.micrometer import Micrometer
from trainer.practice.kind import length_words
from trainer.practice.wording import percent
from trainer.practice.words import tell

if TYPE_CHECKING:
    from trainer.practice.plan import Plan

ANY_PX_PER_MM = 20.0  # stands in for the screen's own scale while a plan is checked
FEWEST_DIVISION_PX = 10.0  # below, a tenth of a division is less than a pixel
SMALLEST_TOLERANCE_PX = 1.0
ALMOST_TRUE_SIZE = 0.995  # a picture smaller than this share of the instrument is told of
SCREEN = "screen_px_per_mm"  # where a kept viewing has the screen's own scale, None where it is not known
NOT_SET_UP = tell("screen.not-set-up")
LEAST_DIVISION_ARCMIN = 1.0  # resolution acuity of 20/20 (from memory)


def faults(viewing: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return (field, what is wrong with it) for every fault in a plan's `[viewing]` table."""
    found: list[tuple[str, str]] = []
    for name, value in viewing.items():
        if name == "px_per_mm":
            found.append(
                (name, "is set by the window; leave it out, and write true_size = true for true size")
            )
            continue
        try:
            Viewing.from_dict({"px_per_mm": ANY_PX_PER_MM, name: value})
        except UnusableViewing as fault:
            found.append((name, str(fault).removeprefix(f"{name} ").removeprefix("viewing ")))
    if not found:
        try:
            Viewing.from_dict({"px_per_mm": ANY_PX_PER_MM, **viewing})
        except UnusableViewing as fault:
            found.append(("all", str(fault)))
    return found


def words(viewing: Mapping[str, Any], plan: Mapping[str, Any]) -> str:
    """Return the conditions of a sitting in words, "clear" where there is none; the same words every time.

    `viewing` and `plan` are plain values as the archive keeps them; of the plan a short exposure and a time
    limit count, since they are conditions of reading too.

    >>> words({"px_per_mm": 20.0, "blur_mm": 0.1, "glare": 0.3}, {"seconds_each": 12})
    'blur 0.1 mm, glare 0.3, 12 s each'
    """
    found = []
    for name, usual, text in CONDITION_WORDS:
        value = viewing.get(name, usual)
        if value is not None and value != usual:
            found.append(text.format(float(value)))
    for name, text in (("exposure_seconds", "seen for {:g} s"), ("seconds_each", "{:g} s each")):
        if plan.get(name) is not None:
            found.append(text.format(float(plan[name])))
    return ", ".join(found) or CLEAR


CLEAR = "clear"
CONDITION_WORDS = (
    ("magnification", 1.0, "loupe {:g}x"),
    ("blur_mm", 0.0, "blur {:g} mm"),
    ("contrast", 1.0, "contrast {:g}"),
    ("glare", 0.0, "glare {:g}"),
    ("wear", 0.0, "wear {:g}"),
    ("dirt", 0.0, "dirt {:g}"),
    ("eye_offset_mm", 0.0, "eye off by {:+g} mm"),
)  # the fields of `Viewing.conditions`, in its order


def shrunk(px_per_mm: float, begun_px_per_mm: float) -> str:
    """Return the sentence about a picture smaller than the sitting began with, "" for one that is not.

    >>> shrunk(10.0, 20.0)[-32:]
    'so the picture was 50 % as large'
    >>> shrunk(19.95, 20.0)
    ''
    """
    share = px_per_mm / begun_px_per_mm
    if share >= ALMOST_TRUE_SIZE:
        return ""
    return (
        f"the window held {px_per_mm:.2f} pixels a millimetre and {begun_px_per_mm:.2f} when the sitting "
        f"began, so the picture was {percent(share)} as large"
    )


def warnings(
    plan: "Plan",
    micrometer: Micrometer,
    px_per_mm: float,
    distance_mm: float | None = None,
    screen_px_per_mm: float | None = None,
) -> tuple[str, ...]:
    """Return what a screen of this scale cannot show of a plan, one sentence each, to be stored too.

    `px_per_mm` is the scale of the picture, `screen_px_per_mm` that of the screen, without which pictures
    are taken to be of true size. `distance_mm` is from the eye to the screen, where the plan's own viewing
    does not set it.
    """
    found: list[str] = []
    loupe = float(plan.viewing.get("magnification", 1.0))
    division_mm = micrometer.division_arc_mm * loupe
    division_px = division_mm * px_per_mm
    if division_px < 1:
        found.append(tell("screen.division.one", px=f"{division_px:.2f}"))
    elif division_px < FEWEST_DIVISION_PX:
        found.append(tell("screen.division", px=f"{division_px:.1f}"))
    enlarged = px_per_mm / (screen_px_per_mm or px_per_mm)
    distance_mm = plan.viewing.get("distance_mm", distance_mm)
    if distance_mm is not None:
        seen_arcmin = visual_angle_arcmin(division_mm * enlarged, distance_mm)
        if seen_arcmin < LEAST_DIVISION_ARCMIN:
            least = f"{LEAST_DIVISION_ARCMIN:g}"
            found.append(
                tell("screen.angle", distance=f"{distance_mm:g}", seen=f"{seen_arcmin:.2f}", least=least)
            )
    if plan.true_size and screen_px_per_mm is not None and enlarged < ALMOST_TRUE_SIZE:
        held, wanted = f"{px_per_mm:.2f}", f"{screen_px_per_mm:.2f}"
        found.append(tell("screen.true-size", held=held, wanted=wanted, share=percent(enlarged)))
    if plan.drill == "judge":
        tolerance = plan.setting("tolerance_tenths")
        tolerance_px = division_px * tolerance / 10
        if tolerance_px < SMALLEST_TOLERANCE_PX:
            size = length_words(tolerance, micrometer, signed=False)
            found.append(tell("screen.tolerance", tolerance=size, px=f"{tolerance_px:.2f}"))
    return tuple(found)
