"""Coaching: one or two sentences after a drill, from the numbers, on what to change and what to take next."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.instrument.sentence import joined
from trainer.practice.path import next_on_path, plan_name, stem_of
from trainer.practice.wording import percent
from trainer.practice.words import tell
from trainer.scoring.words import misread_words

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

SLIP_REMEDY = {  # what trains against a kind of misread; the remedy itself is a sentence of that name
    "half-millimetre": "half-line",
    "turn": "half-line",
    "graduation": "full-reading",
    "wrong-side": "first-tenths",
    "swapped-digits": "full-reading",
}


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
        return Coaching((tell("coach.few", n=score.used),), plan_taken)
    onward = plan_name(next_on_path(stem_of(plan_taken)), plan_taken)
    return Coaching((tell("coach.go-on"),), onward)


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
    train = SLIP_REMEDY.get(worst, "full-reading")
    total = score.misreads.total
    entry = "coach.slip" if worst == "unexplained" else "coach.slip.named"
    sentence = tell(
        f"{entry}.one" if total == 1 else entry,
        of=score.readings, n=total, kind=misread_words(worst),
        remedy=tell(f"coach.remedy.{worst if worst in SLIP_REMEDY else 'other'}"),
    )  # fmt: skip
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
    where = "sitting" if score.one_session else "whole"
    sentence = tell(f"coach.bias.{_way(bias.value)}.{where}", tenths=f"{abs(bias.value):.1f}")
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
    entry = f"coach.profile.{_way(mean)}" + (".apart" if bias else "")
    sentence = tell(entry, tenths=f"{abs(mean):.1f}", first=first, last=last)
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
    digits = joined([str(digit) for digit in habit.favoured], "and")
    cost = habit.spread_cost_tenths or 0.0
    share = cost / spread if spread else 0.0
    entry = "coach.digits.share" if share >= 0.1 else "coach.digits"
    sentence = tell(entry, share=share_words(share), digits=digits)
    return [Point(cost**2 + 0.05, sentence, "half-tenths")]


def share_words(share: float) -> str:
    """Return a share in words where there is a plain one, else in per cent.

    >>> share_words(0.48), share_words(0.26), share_words(0.4)
    ('Half', 'A quarter', '40 %')
    """
    for value, name in ((0.25, "quarter"), (1 / 3, "third"), (0.5, "half"), (2 / 3, "two-thirds")):
        if abs(share - value) <= 0.04:
            return tell(f"coach.share.{name}")
    return percent(share)


def _spread(score: "PersonScore") -> list[Point]:
    spread = score.spread_tenths.value
    if spread is None or spread < GREAT_SPREAD_TENTHS:
        return []
    sentence = tell("coach.spread", tenths=f"{spread:.1f}")
    return [Point(spread**2 - GREAT_SPREAD_TENTHS**2, sentence, "first-tenths")]


def _drift(score: "PersonScore") -> list[Point]:
    drift = score.drift
    if drift.slope_tenths_per_100 is None or drift.p_value is None or drift.p_value > SURE_DRIFT_P:
        return []
    slope = drift.slope_tenths_per_100
    sentence = tell("coach.drift.up" if slope > 0 else "coach.drift.down", tenths=f"{abs(slope):.1f}")
    return [Point((slope / 4) ** 2, sentence, "full-reading")]


def _missed(score: "PersonScore") -> list[Point]:
    missed = score.skipped + score.timed_out
    if missed <= MANY_MISSED * (score.readings + missed):
        return []
    sentence = tell("coach.missed.one" if missed == 1 else "coach.missed", n=missed)
    return [Point(0.1, sentence, "full-reading")]


def coach_judging(fitted: "Judgement", plan_taken: str) -> Coaching:
    """Return what to change and what to take next, for judgements of overlap (tenths from the limit)."""
    threshold = fitted.threshold_tenths
    again = plan_name("judge", plan_taken)
    if threshold is None or threshold.value is None:
        why = fitted.reasons.get("threshold_tenths", tell("coach.judge.few"))
        return Coaching((tell("coach.judge.none", why=why),), again)
    if _sure(threshold.value, threshold.low, threshold.high):
        entry = "coach.judge.beyond" if threshold.value > 0 else "coach.judge.within"
        said = tell(entry, tenths=f"{abs(threshold.value):.1f}")
        return Coaching((said,), plan_name("size-it", plan_taken))
    width = fitted.width_tenths
    if width is not None and width.value is not None and width.value > GREAT_SPREAD_TENTHS / 2:
        said = tell("coach.judge.wavers", tenths=f"{width.value:.1f}")
        return Coaching((said,), plan_name("size-it", plan_taken))
    onward = plan_name(next_on_path(stem_of(plan_taken)), plan_taken)
    return Coaching((tell("coach.judge.agrees"),), onward)
