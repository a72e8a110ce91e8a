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
from trainer.practice.words import tell

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
        return Coaching((tell("coach.few-answers"),), again)
    onward = plan_name(next_on_path(stem_of(plan_taken)), unit)
    return Coaching((tell("coach.go-on"),), onward)


def _sure(values: Sequence[float]) -> float | None:
    """Return the mean where it is notable and surely not zero, else None."""
    if len(values) < FEWEST:
        return None
    mean, error = float(np.mean(values)), float(np.std(values, ddof=1)) / sqrt(len(values))
    return mean if abs(mean) >= NOTABLE_TENTHS and abs(mean) > SURE * error else None


def _setting(sitting: KeptSitting) -> list[str]:
    every = skills.settings([sitting], sitting.drill)
    kept = [one for one in every if abs(one.placed.error_tenths) <= WRONG_LINE_TENTHS]
    found: list[str] = []
    missed = len(every) - len(kept)
    if missed:
        found.append(tell("coach.set.far.one" if missed == 1 else "coach.set.far", n=missed, of=len(every)))
    found += _ways([one for one in kept if one.way is not None])
    errors = [one.placed.error_tenths for one in kept]
    bias = _sure(errors)
    if bias is not None:
        entry = "coach.set.high" if bias > 0 else "coach.set.low"
        found.append(tell(entry, tenths=f"{abs(bias):.1f}"))
    if len(errors) >= FEWEST and float(np.std(errors, ddof=1)) > GREAT[sitting.drill]:
        found.append(tell("coach.set.scatter", tenths=f"{np.std(errors, ddof=1):.1f}"))
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
    return [tell("coach.way.higher" if apart > 0 else "coach.way.lower", tenths=f"{abs(apart):.1f}")]


def _sizing(sitting: KeptSitting) -> list[str]:
    pairs = skills.sizes([sitting])
    micrometer = catalogue.load(sitting.instrument)
    wrong = sum(offset * said < 0 and abs(said - offset) > 1.0 for offset, said in pairs)
    found: list[str] = []
    if wrong:
        found.append(tell("coach.size.side.one" if wrong == 1 else "coach.size.side", n=wrong, of=len(pairs)))
    right = [abs(said) - abs(offset) for offset, said in pairs if offset * said > 0]
    larger = _sure(right)
    if larger is not None:
        edge = length_words(
            10 * micrometer.sizes.line_width_mm / micrometer.division_arc_mm, micrometer, signed=False
        )
        entry = "coach.size.larger" if larger > 0 else "coach.size.smaller"
        found.append(tell(entry, tenths=f"{abs(larger):.1f}", edge=edge))
    return found


def _vernier(sitting: KeptSitting) -> list[str]:
    said = skills.lines_said([sitting], "vernier")
    return _lines(said)


def _lines(said: Sequence[skills.LineSaid]) -> list[str]:
    wrong = [one for one in said if not one.right]
    if not wrong:
        return []
    beside = sum(one.away == 1 for one in wrong)
    if 2 * beside >= len(wrong):
        return [tell("coach.line.beside", n=beside, of=len(said))]
    return [tell("coach.line.far", n=len(wrong) - beside, of=len(said))]


def _self_check(sitting: KeptSitting) -> list[str]:
    pairs = skills.self_checks([sitting])
    found: list[str] = []
    away = _sure([one.estimate_tenths - one.vernier_tenths for one in pairs])
    if away is not None:
        found.append(tell("coach.self.above" if away > 0 else "coach.self.below", tenths=f"{abs(away):.1f}"))
    near = sum(abs(one.estimate_tenths - one.vernier_tenths) <= 1.0 + 1e-9 for one in pairs)
    if pairs and near < GOOD_SHARE * len(pairs):
        found.append(tell("coach.self.far", n=len(pairs) - near, of=len(pairs)))
    return found + _lines(skills.lines_said([sitting], "self-check"))


def _calibration(sitting: KeptSitting) -> list[str]:
    runs = skills.calibrations([sitting])
    wrong = [run for run in runs if run.said != run.truth]
    by_rule = sum(run.said != run.recorded for run in runs if run.recorded is not None)
    found: list[str] = []
    if by_rule:
        found.append(tell("coach.run.rule", n=by_rule, of=len(runs)))
    by_reading = sum(run.said == run.recorded for run in wrong)
    if by_reading:
        found.append(tell("coach.run.reading", n=by_reading, of=len(runs)))
    return found


_SKILLS: dict[str, Callable[[KeptSitting], list[str]]] = {
    "set-to": _setting,
    "set-line": _setting,
    "size-it": _sizing,
    "vernier": _vernier,
    "self-check": _self_check,
    "calibration": _calibration,
}
