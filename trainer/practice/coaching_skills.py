"""Coaching after the drills that are no readings: settings, sizes, vernier lines, self-checks, calibration.

The remedies are common practice, no source.
"""

from collections.abc import Callable, Sequence
from math import sqrt

import numpy as np

from trainer.instrument import catalogue
from trainer.practice import skills
from trainer.practice.coaching import MOST_SENTENCES, NOTABLE_TENTHS, Coaching
from trainer.practice.kind import length_words
from trainer.practice.path import next_on_path, plan_name, stem_of
from trainer.practice.skills import KeptSitting

SURE = 2.6  # standard errors; two-sided 1 %, since several things are looked at
WRONG_LINE_TENTHS = 5.0  # beyond, another line was set or the offset is no offset of this line
GOOD_SHARE = 0.9  # of vernier lines right, or of estimates within a tenth, to go on
FEWEST = 8  # answers; below, a mean says nothing sure
GREAT = {"set-line": 0.5, "set-to": 1.0}  # tenths of spread worth a sentence; to a tenth one must estimate


def coach_skill(sitting: KeptSitting, plan_taken: str) -> Coaching | None:
    """Return what to change and what to take next; None for drills of reading or judging.

    With a sentence to say the same drill is named again, in the instrument's unit; without one the next of
    the path, once there are enough answers.
    """
    found = _SKILLS.get(sitting.drill)
    if found is None:
        return None
    unit = "-inch" if catalogue.load(sitting.instrument).unit == "in" else "-metric"
    again = plan_name(sitting.drill, unit)  # the shipped plans of these skills bear the drill's name
    sentences = tuple(found(sitting)[:MOST_SENTENCES])
    if sentences:
        return Coaching(sentences, again)
    if len(sitting.answered()) < FEWEST:
        return Coaching(("Nothing stands out in so few answers; take more before you go on.",), again)
    onward = plan_name(next_on_path(stem_of(plan_taken)), unit)
    return Coaching(("Nothing stands out; go on to the next drill.",), onward)


def _sure(values: Sequence[float]) -> float | None:
    """Return the mean where it is notable and surely not zero, else None."""
    if len(values) < FEWEST:
        return None
    mean, error = float(np.mean(values)), float(np.std(values, ddof=1)) / sqrt(len(values))
    return mean if abs(mean) >= NOTABLE_TENTHS and abs(mean) > SURE * error else None


def _setting(sitting: KeptSitting) -> list[str]:
    every = skills.settings([sitting], sitting.drill)
    kept = [one for one in every if abs(one.placed.error_tenths) <= WRONG_LINE_TENTHS]
    found = []
    missed = len(every) - len(kept)
    if missed:
        found.append(
            f"{missed} of {len(every)} settings {'stands' if missed == 1 else 'stand'} more than half a "
            "division off: read the whole number again before you confirm."
        )
    found += _ways([one for one in kept if one.way is not None])
    errors = [one.placed.error_tenths for one in kept]
    bias = _sure(errors)
    if bias is not None:
        way = "high" if bias > 0 else "low"
        found.append(
            f"You set {abs(bias):.1f} tenths {way} on the whole: bring the middle of the line, not its edge, "
            "to the mark."
        )
    if len(errors) >= FEWEST and float(np.std(errors, ddof=1)) > GREAT[sitting.drill]:
        found.append(
            f"Your settings scatter by {np.std(errors, ddof=1):.1f} tenths: make the last turn a small one, "
            "and look again before you confirm."
        )
    return found


def _ways(settings: Sequence[skills.Setting]) -> list[str]:
    """Return whether the way of turning moves the setting."""
    up, down = (
        np.array([one.placed.error_tenths for one in settings if one.way == way])
        for way in ("rising", "falling")
    )
    if min(len(up), len(down)) < FEWEST // 2:
        return []
    apart = float(up.mean() - down.mean())
    error = sqrt(up.var(ddof=1) / len(up) + down.var(ddof=1) / len(down))
    if abs(apart) < NOTABLE_TENTHS or abs(apart) <= SURE * error:
        return []
    return [
        f"With the reading rising you stop {abs(apart):.1f} tenths {'higher' if apart > 0 else 'lower'} than "
        "with it falling: come to every setting from the same side."
    ]


def _sizing(sitting: KeptSitting) -> list[str]:
    pairs = skills.sizes([sitting])
    micrometer = catalogue.load(sitting.instrument)
    wrong = sum(offset * said < 0 and abs(said - offset) > 1.0 for offset, said in pairs)
    found = []
    if wrong:
        found.append(
            f"{wrong} of {len(pairs)} offsets {'was' if wrong == 1 else 'were'} given on the wrong side: "
            "plus means that the line has passed the index line."
        )
    right = [abs(said) - abs(offset) for offset, said in pairs if offset * said > 0]
    larger = _sure(right)
    if larger is not None:
        edge = length_words(
            10 * micrometer.sizes.line_width_mm / micrometer.division_arc_mm, micrometer, signed=False
        )
        found.append(
            f"You take offsets for {abs(larger):.1f} tenths {'larger' if larger > 0 else 'smaller'} than "
            f"they are: where the lines' edges just meet it is {edge}, at half overlap half of that."
        )
    return found


def _vernier(sitting: KeptSitting) -> list[str]:
    said = skills.lines_said([sitting], "vernier")
    return _lines(said)


def _lines(said: Sequence[skills.LineSaid]) -> list[str]:
    wrong = [one for one in said if not one.right]
    if not wrong:
        return []
    beside = sum(one.away == 1 for one in wrong)
    of = f"of {len(said)} lines"
    if 2 * beside >= len(wrong):
        return [
            f"{beside} {of} lay next to the one that coincides: look for the two lines equally far off on "
            "either side; the one in the middle coincides."
        ]
    return [
        f"{len(wrong) - beside} {of} lay two or more from the one that coincides: go along the vernier from "
        "0 until the lines change sides."
    ]


def _self_check(sitting: KeptSitting) -> list[str]:
    pairs = skills.self_checks([sitting])
    found = []
    away = _sure([one.estimate_tenths - one.vernier_tenths for one in pairs])
    if away is not None:
        found.append(
            f"Your estimates lie {abs(away):.1f} tenths {'above' if away > 0 else 'below'} the vernier: "
            f"where you waver, take the {'lower' if away > 0 else 'higher'}."
        )
    near = sum(abs(one.estimate_tenths - one.vernier_tenths) <= 1.0 + 1e-9 for one in pairs)
    if pairs and near < GOOD_SHARE * len(pairs):
        found.append(
            f"{len(pairs) - near} of {len(pairs)} estimates were more than a tenth from the vernier: halve "
            "the division in mind before you name a tenth."
        )
    return found + _lines(skills.lines_said([sitting], "self-check"))


def _calibration(sitting: KeptSitting) -> list[str]:
    runs = skills.calibrations([sitting])
    wrong = [run for run in runs if run.said != run.truth]
    by_rule = sum(run.said != run.recorded for run in runs if run.recorded is not None)
    found = []
    if by_rule:
        found.append(
            f"{by_rule} of {len(runs)} verdicts did not follow from the errors that you recorded: accept "
            "only where every one lies within the limit."
        )
    by_reading = sum(run.said == run.recorded for run in wrong)
    if by_reading:
        found.append(
            f"Reading errors turned {by_reading} of {len(runs)} verdicts: where an error comes near the "
            "limit, seat the block again and average."
        )
    return found


_SKILLS: dict[str, Callable[[KeptSitting], list[str]]] = {
    "set-to": _setting,
    "set-line": _setting,
    "size-it": _sizing,
    "vernier": _vernier,
    "self-check": _self_check,
    "calibration": _calibration,
}
