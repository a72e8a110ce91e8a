"""Coaching: one or two sentences after a drill, from the numbers, on what to change and what to take next."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.practice.path import next_on_path, plan_name, stem_of
from trainer.practice.wording import percent

if TYPE_CHECKING:
    from trainer.scoring.judgement import Judgement
    from trainer.scoring.person import PersonScore, TenthRow

# From where on a thing is worth a sentence; our convention, in tenths of a division.
NOTABLE_TENTHS = 0.2
GREAT_SPREAD_TENTHS = 1.0  # the usual limit of a sign-off
SURE_P = 0.05
SURE_DRIFT_P = 0.01
SURE_RUN_Z = 3.3  # two-sided 5 % over 55 runs (Bonferroni)
MANY_MISSED = 0.1  # share of items skipped or out of time
MOST_SENTENCES = 2

SLIP_REMEDY = {
    "half-millimetre": ("see whether the thimble has passed zero before counting the half line", "half-line"),
    "turn": ("see whether the thimble has passed zero before counting the sleeve line", "half-line"),
    "graduation": ("say the number of the line just passed before you estimate", "full-reading"),
    "wrong-side": ("count the tenths from the lower line, whichever is nearer", "first-tenths"),
    "swapped-digits": ("read the whole number back from the screen before you enter it", "full-reading"),
}  # fmt: skip
OTHER_REMEDY = ("read the sleeve, then the line, then the tenth, always in that order", "full-reading")


@dataclass(frozen=True, slots=True)
class Point:
    """One thing to change: how much it costs (tenths squared of mean square error), and what trains it."""

    cost: float
    sentence: str
    train: str


@dataclass(frozen=True, slots=True)
class Coaching:
    """One or two sentences, the most useful first, and the name of the plan to take next."""

    sentences: tuple[str, ...]
    next_plan: str


def coach(score: "PersonScore", plan_taken: str) -> Coaching:
    """Return what to change and what to take next, for a score of readings.

    `plan_taken` is the name of the plan just taken; the next one is in its unit.
    """
    points = sorted(found_in(score), key=lambda point: -point.cost)
    if points:
        sentences = tuple(point.sentence for point in points[:MOST_SENTENCES])
        return Coaching(sentences, plan_name(points[0].train, plan_taken))
    if score.provisional:
        few = f"Nothing stands out in {score.used} readings; with 50 or more the figures become firm."
        return Coaching((few,), plan_taken)
    onward = plan_name(next_on_path(stem_of(plan_taken)), plan_taken)
    return Coaching(("Nothing stands out; go on to the next drill.",), onward)


def found_in(score: "PersonScore") -> list[Point]:
    """Return everything in a score that is worth a sentence, in no order."""
    parts: tuple[Callable[[PersonScore], list[Point]], ...] = (
        _slips, _bias, _profile, _digits, _spread, _drift, _missed
    )  # fmt: skip
    return [point for part in parts for point in part(score)]


def _slips(score: "PersonScore") -> list[Point]:
    kinds = {kind: n for kind, n in score.misreads.by_kind.items() if n}
    if not kinds:
        return []
    worst = max(kinds, key=lambda kind: kinds[kind])
    remedy, train = SLIP_REMEDY.get(worst, OTHER_REMEDY)
    total = score.misreads.total
    times = "one reading was a slip" if total == 1 else f"{total} readings were slips"
    named = "" if worst == "unexplained" else f" ({worst.replace('-', ' ')})"
    sentence = f"Of {score.readings}, {times}{named}: {remedy}."
    return [Point(100.0 * total / max(score.readings, 1), sentence, train)]  # a slip costs 5 tenths or more


def _sure(value: float | None, low: float | None, high: float | None) -> bool:
    """Return whether an interval is known and leaves zero out, with a notable value."""
    if value is None or low is None or high is None:
        return False
    return not low <= 0 <= high and abs(value) >= NOTABLE_TENTHS


def _way(value: float) -> str:
    return "high" if value > 0 else "low"


def _bias(score: "PersonScore") -> list[Point]:
    bias = score.bias_tenths
    if bias.value is None or not _sure(bias.value, bias.low, bias.high):
        return []
    where = "in this sitting" if score.one_session else "on the whole"
    remedy = "lower" if bias.value > 0 else "higher"
    read = f"You read {abs(bias.value):.1f} tenths {_way(bias.value)} {where}"
    sentence = f"{read}: where you waver, take the {remedy}."
    return [Point(bias.value**2, sentence, "weak-tenths")]


def _profile(score: "PersonScore") -> list[Point]:
    """Return the run of neighbouring tenths that is read most surely too high or too low.

    The overall bias, where it has a sentence of its own, is taken off. There are 55 runs to choose from,
    so the surest has to stand out by `SURE_RUN_Z` standard errors.
    """
    bias = (score.bias_tenths.value or 0.0) if _bias(score) else 0.0
    spread = score.spread_tenths.value
    rows = [row for row in score.profile if row.bias_tenths is not None and row.n]
    if not spread:
        return []
    runs = [rows[i:j] for i in range(len(rows)) for j in range(i + 1, len(rows) + 1)]
    known = [(z, mean, run) for run in runs if (told := _run(run, bias, spread)) for z, mean in [told]]
    if not known:
        return []
    z, mean, run = max(known, key=lambda one: abs(one[0]))
    if abs(z) < SURE_RUN_Z or abs(mean) < NOTABLE_TENTHS or len(run) == len(rows):
        return []
    first, last = run[0].tenth, run[-1].tenth + 1
    beside = ", the overall bias apart" if bias else ""
    sentence = f"You read {abs(mean):.1f} tenths {_way(mean)} between {first} and {last} tenths{beside}."
    share = sum(row.n for row in run) / max(score.used, 1)
    return [Point(share * mean**2, sentence, "weak-tenths")]


def _run(run: list["TenthRow"], bias_tenths: float, spread_tenths: float) -> tuple[float, float] | None:
    """Return how many standard errors a run's mean error is from the bias, and by how much.

    The standard error is that of the spread over all tenths: two readings at one tenth cannot give their own.
    """
    if run[-1].tenth - run[0].tenth >= len(run):
        return None
    readings = sum(row.n for row in run)
    mean = sum(row.n * ((row.bias_tenths or 0.0) - bias_tenths) for row in run) / readings
    return mean * readings**0.5 / spread_tenths, mean


def _digits(score: "PersonScore") -> list[Point]:
    habit, spread = score.digit_preference, score.spread_tenths.value
    if habit.p_value is None or habit.p_value > SURE_P or not habit.favoured:
        return []
    digits = " and ".join(map(str, habit.favoured))
    cost = habit.spread_cost_tenths or 0.0
    share = cost / spread if spread else 0.0
    words = f"{share_words(share)} of your spread is" if share >= 0.1 else "You are"
    sentence = f"{words} favouring {digits}: decide between the two tenths beside it each time."
    return [Point(cost**2 + 0.05, sentence, "half-tenths")]


def share_words(share: float) -> str:
    """Return a share in words where there is a plain one, else in per cent.

    >>> share_words(0.48), share_words(0.26), share_words(0.4)
    ('Half', 'A quarter', '40 %')
    """
    for value, words in ((0.25, "A quarter"), (1 / 3, "A third"), (0.5, "Half"), (2 / 3, "Two thirds")):
        if abs(share - value) <= 0.04:
            return words
    return percent(share)


def _spread(score: "PersonScore") -> list[Point]:
    spread = score.spread_tenths.value
    if spread is None or spread < GREAT_SPREAD_TENTHS:
        return []
    sentence = f"Your readings scatter by {spread:.1f} tenths: settle on a tenth, look away, and look again."
    return [Point(spread**2 - GREAT_SPREAD_TENTHS**2, sentence, "first-tenths")]


def _drift(score: "PersonScore") -> list[Point]:
    drift = score.drift
    if drift.slope_tenths_per_100 is None or drift.p_value is None or drift.p_value > SURE_DRIFT_P:
        return []
    slope = drift.slope_tenths_per_100
    sentence = (
        f"Within a sitting your readings move {'up' if slope > 0 else 'down'} by {abs(slope):.1f} tenths in "
        "a hundred: take shorter sittings and rest your eyes between them."
    )
    return [Point((slope / 4) ** 2, sentence, "full-reading")]


def _missed(score: "PersonScore") -> list[Point]:
    missed = score.skipped + score.timed_out
    if missed <= MANY_MISSED * (score.readings + missed):
        return []
    items = "One item has" if missed == 1 else f"{missed} items have"
    sentence = f"{items} no answer: answer each, even when unsure, since only answers teach."
    return [Point(0.1, sentence, "full-reading")]


def coach_judging(fitted: "Judgement", plan_taken: str) -> Coaching:
    """Return what to change and what to take next, for judgements of overlap (tenths from the limit)."""
    threshold = fitted.threshold_tenths
    again = plan_name("judge", plan_taken)
    if threshold is None or threshold.value is None:
        why = fitted.reasons.get("threshold_tenths", "too few judgements")
        return Coaching((f"No threshold yet: {why}.",), again)
    if _sure(threshold.value, threshold.low, threshold.high):
        size = f"{abs(threshold.value):.1f} tenths"
        said = (
            f"You begin to say out {size} beyond the tolerance, so you accept what should be rejected."
            if threshold.value > 0
            else f"You begin to say out {size} within the tolerance, so you reject what should be accepted."
        )
        return Coaching((said,), plan_name("size-it", plan_taken))
    width = fitted.width_tenths
    if width is not None and width.value is not None and width.value > GREAT_SPREAD_TENTHS / 2:
        said = f"Your judgement wavers over {width.value:.1f} tenths: compare the overlap with half a line."
        return Coaching((said,), plan_name("size-it", plan_taken))
    onward = plan_name(next_on_path(stem_of(plan_taken)), plan_taken)
    return Coaching(("Your threshold agrees with the tolerance.",), onward)
