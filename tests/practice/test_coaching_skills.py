"""Coaching after settings, sizes, vernier lines, self-checks and calibration runs, by simulated people."""

import numpy as np
import pytest

from tests.practice.people import sit
from trainer.practice import plans
from trainer.practice.coaching_skills import coach_skill
from trainer.practice.items import Answer, Item
from trainer.practice.plan import Plan
from trainer.practice.skills import KeptSitting

SKILLS = ("set-to", "set-line", "size-it", "vernier", "self-check", "calibration")


def kept(drill, items, answers, instrument="metric"):
    return KeptSitting("s", drill, instrument, False, "clear", "", tuple(items), tuple(answers))


def taken(drill, chance, items=40, instrument="metric", settings=None, **person):
    if drill in ("vernier", "self-check"):
        instrument += "-vernier"
    session = sit(Plan("t", "T", drill, instrument, items, settings=settings or {}), chance, **person)
    return kept(drill, session.items, session.answers, instrument)


def said(drill, sitting):
    return " ".join(coach_skill(sitting, f"{drill}-metric").sentences)


@pytest.mark.parametrize("drill", SKILLS)
def test_a_sharp_person_is_sent_onwards_in_the_instruments_unit(drill, chance):
    items = 2 if drill == "calibration" else 40
    for instrument, unit in (("metric", "metric"), ("inch", "inch")):
        spread = 0.0 if drill in ("vernier", "self-check") else 0.05
        wide = {"mpe_tenths": 30.0, "scatter_tenths": 0.0} if drill == "calibration" else None
        sitting = taken(drill, chance, items, instrument, wide, spread=spread)
        advice = coach_skill(sitting, f"{drill}-{unit}")
        assert advice.sentences == ("Nothing stands out; go on to the next drill.",)
        assert advice.next_plan.endswith(f"-{unit}")
        assert not advice.next_plan.startswith(drill + "-" + unit)
        assert plans.find(advice.next_plan)


def test_reading_and_judging_have_coaching_of_their_own(chance):
    for drill in ("tenths", "full-reading", "half-line", "judge"):
        assert coach_skill(taken(drill, chance, 10), "mine") is None


def test_few_answers_are_called_few(chance):
    advice = coach_skill(taken("set-to", chance, 4, spread=0.05), "set-to-metric")
    assert "so few answers" in advice.sentences[0]
    assert advice.next_plan == "set-to-metric"


def test_a_biased_setting_and_its_way_of_approach_are_told():
    items = [Item(n, 7000.0, "set-to") for n in range(1, 31)]
    rng = np.random.default_rng(1)

    def sitting(up, down):
        answers = []
        for n in range(1, 31):
            way = "rising" if n % 2 else "falling"
            at = 7000.0 + (up if n % 2 else down) + 0.1 * rng.normal()
            extra = {"by": "turning", "approach": way, "reversals": 0}
            answers.append(Answer(n, "7.0", at, "answered", 5.0, "", extra))
        return kept("set-to", items, answers)

    assert said("set-to", sitting(0.5, 0.5)).startswith("You set 0.5 tenths high on the whole")
    told = said("set-to", sitting(0.6, -0.2))
    assert told.startswith("With the reading rising you stop 0.8 tenths higher than with it falling")
    missed = sitting(0.0, 0.0)
    moved = [*missed.answers[:-1], Answer(30, "7.1", 7010.0, "answered", 5.0, "", {})]
    assert said("set-to", kept("set-to", items, moved)).startswith(
        "1 of 30 settings stands more than half a division off"
    )


def test_sizes_taken_for_larger_and_on_the_wrong_side_are_told():
    def sitting(change):
        items, answers = [], []
        for n in range(1, 41):
            offset = (1 + n % 3) * (1 if n % 2 else -1)
            items.append(
                Item(n, 100.0 + offset, "size-it", {"line_tenths": 100.0, "offset_tenths": float(offset)})
            )
            answers.append(Answer(n, "x", 100.0 + change(offset, n), "answered", 5.0, ""))
        return kept("size-it", items, answers)

    larger = said("size-it", sitting(lambda offset, n: 1.5 * offset))
    assert larger.startswith("You take offsets for 1.0 tenths larger than they are")
    assert (
        "edges just meet it is 2.0 µm" in larger
    )  # 0.2 mm lines on a 0.01 mm scale: common practice, no source
    wrong = said("size-it", sitting(lambda offset, n: -offset if n <= 3 else offset))
    assert wrong.startswith("3 of 40 offsets were given on the wrong side")


def test_wrong_vernier_lines_are_told_as_beside_or_further(chance):
    beside = said("vernier", taken("vernier", chance, spread=0.6))
    assert "lay next to the one that coincides" in beside
    lost = said("vernier", taken("vernier", chance, spread=4.0))
    assert "two or more from the one that coincides" in lost


def test_estimates_away_from_the_vernier_are_told(chance):
    told = said("self-check", taken("self-check", chance, spread=1.5))
    assert "estimates were more than a tenth from the vernier" in told
    items, answers = [], []
    for n in range(1, 41, 2):
        items += [Item(n, 103.0, "estimate"), Item(n + 1, 103.0, "self-check")]
        answers += [
            Answer(n, "4", 104.0, "answered", 5.0, ""), Answer(n + 1, "3", 103.0, "answered", 5.0, ""),
        ]  # fmt: skip
    told = said("self-check", kept("self-check", items, answers, "metric-vernier"))
    assert told == "Your estimates lie 1.0 tenths above the vernier: where you waver, take the lower."


def test_verdicts_turned_by_reading_or_against_the_rule_are_told(chance):
    sitting = taken("calibration", chance, 12, spread=2.5)
    told = said("calibration", sitting)
    assert "Reading errors turned" in told
    assert "average" in told
    flipped = [
        Answer(a.number, "accept" if a.typed == "reject" else "reject", a.answer_tenths, a.outcome, 5.0, "")
        if item.asks == "verdict" else a
        for item, a in zip(sitting.items, sitting.answers, strict=True)
    ]  # fmt: skip
    told = said("calibration", kept("calibration", sitting.items, flipped))
    assert told.startswith("12 of 12 verdicts did not follow from the errors that you recorded")


def test_a_steady_person_rarely_hears_of_a_bias_that_is_not_there():
    rng = np.random.default_rng(7)
    heard = 0
    for _ in range(200):
        items = [Item(n, 7000.0, "set-line") for n in range(1, 21)]
        answers = [
            Answer(n, "x", 7000.0 + 0.3 * rng.normal(), "answered", 5.0, "",
                   {"by": "turning", "approach": "rising" if n % 2 else "falling", "reversals": 0})
            for n in range(1, 21)
        ]  # fmt: skip
        heard += said("set-line", kept("set-line", items, answers)) != (
            "Nothing stands out; go on to the next drill."
        )
    # 1 % two-sided for each of two looks; with t tails of 20 values at most 3 %: 200 x 0.03 + 4 sigma
    assert heard <= 16
