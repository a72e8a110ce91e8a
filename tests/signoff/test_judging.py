"""Judging in or out: what counts, at what risk, and that a criterion's pace limit decides."""

import dataclasses

import numpy as np
import pytest

from trainer.scoring.intervals import clopper_pearson
from trainer.signoff import criteria
from trainer.signoff.cost import outcome, typical_readers
from trainer.signoff.criterion import parse
from trainer.signoff.decision import FAILED, NOT_YET, SHOWN, decide
from trainer.signoff.evidence import check_session, judging_session, not_evidence
from trainer.signoff.judges import Judge, rates, simulated_judgements, with_rate
from trainer.signoff.monitoring import chart
from trainer.signoff.rules import Rules

METRIC, INCH = criteria.find("judging-metric"), criteria.find("judging-inch")
PLAN = {"feedback": False, "placement": "stratified", "settings": {"tolerance_tenths": 2.0}}


def taken(day, offsets, said, criterion=METRIC):
    """Return a check of judging on a day of March."""
    return judging_session(
        criterion,
        id=f"S{day}",
        started_at=f"2026-03-{day:02d}T08:00:00Z",
        offsets_tenths=offsets,
        said_in=said,
        seconds=[3.0] * len(offsets),
        seed=str(day),
    )


def a_day(day, false_accepts=0, false_rejects=0):
    """Return a check with a hundred even offsets, judged right but for these."""
    offsets = (np.arange(100) + 0.5) / 25
    said = [bool(size <= 2.0) for size in offsets]
    for number in range(false_accepts):
        said[99 - number] = True
    for number in range(false_rejects):
        said[number] = False
    return taken(day, offsets * np.where(np.arange(100) % 2, 1, -1), said)


def test_offsets_count_by_their_size_on_either_side_and_those_near_the_limit_do_not():
    found = taken(
        1,
        [3.0, -3.5, 4.0, 4.1, 2.9, 1.1, 1.0, -0.2, 0.0],
        [True, False, True, True, True, False, False, True, True],
    )
    assert (found.judged, found.false_accepts, found.inside, found.false_rejects) == (3, 2, 3, 1)
    assert (found.judgements, found.readings, found.misreads) == (9, 9, 0)


def test_a_judgement_not_given_counts_as_the_wrong_one():
    found = taken(1, [3.5, 0.5, 2.0], [None, None, None])
    assert (found.false_accepts, found.false_rejects, found.not_given, found.readings) == (1, 1, 3, 3)


def test_three_days_without_a_fault_show_it_and_one_false_accept_takes_two_more():
    days = [a_day(day) for day in range(1, 7)]
    assert [decide(METRIC, days[:count]).verdict for count in (1, 2, 3)] == [NOT_YET, NOT_YET, SHOWN]
    # Points.of(0.05, 0.95): 65 clean ones, and 50 more for each fault (Wald 1945); 25 count in a check
    slipped = [a_day(1, false_accepts=1), *days[1:]]
    found = decide(METRIC, slipped)
    assert (found.verdict, found.readings) == (SHOWN, 500)
    assert [(one.name, one.count, one.of) for one in found.limits] == [
        ("judgement", 1, 125),
        ("rejects", 0, 125),
    ]
    # 16 points are missing, 49 come of a hundred that count at the present rate: 131 more, so two checks
    assert decide(METRIC, slipped[:4]).forecast.least == 200


def test_whoever_rejects_or_accepts_everything_is_shown_to_fail():
    assert decide(METRIC, [a_day(day, false_rejects=25) for day in (1, 2)]).verdict == FAILED
    assert decide(METRIC, [a_day(day, false_accepts=25) for day in (1, 2)]).verdict == FAILED


def test_one_day_is_one_sitting_for_judging_too():
    same = [dataclasses.replace(a_day(1), id=f"S{n}", seed=str(n)) for n in range(4)]
    assert decide(METRIC, same).verdict == NOT_YET
    assert decide(METRIC, same).sittings == 1


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"placement": "adaptive"}, "wavered"),
        ({"settings": {"tolerance_tenths": 1.0}}, "tolerance was 1 tenths"),
        ({"settings": {"range_tenths": 5.0}}, "largest offset was 5 tenths"),
        ({"feedback": True}, "feedback"),
    ],
)
def test_judgements_dealt_otherwise_are_no_evidence(changed, words):
    def why_not(plan, drill="judge"):
        return not_evidence(METRIC, instrument="metric", drill=drill, for_record=True, plan=plan, viewing={})

    assert why_not(PLAN) == ""
    assert words in why_not({**PLAN, **changed})
    assert "its drill is full-reading" in why_not(PLAN, "full-reading")


def test_the_simulated_judge_has_the_rates_that_were_asked_for():
    rules = Rules.of(METRIC)
    judge = with_rate(rules, 2.0, 0.05, accepts=True)
    assert rates(judge, rules)[0] == pytest.approx(0.05, abs=1e-6)
    found = simulated_judgements(judge, rules, 2000, 2, np.random.default_rng(3))
    share = float(found.false_accepts[:, -1].sum() / found.judged[:, -1].sum())
    assert share == pytest.approx(0.05, abs=4 * (0.05 * 0.95 / 100_000) ** 0.5)  # 2,000 x 50 judgements


@pytest.mark.parametrize("criterion", [METRIC, INCH], ids=lambda one: one.name)
def test_at_either_limit_at_most_one_in_twenty_passes_and_the_good_do(criterion):
    """2,000 people a case; tests/benchmarks/bench_signoff.py has 20,000."""
    rules = Rules.of(criterion)
    for number, (name, judge, at_limit) in enumerate(typical_readers(criterion)):
        found = outcome(name, judge, rules, people=2000, chance=np.random.default_rng((17, number)))
        if at_limit:
            assert clopper_pearson(found.passed, found.people, 0.9999)[0] <= 0.05, name
        elif name == "good":
            assert found.pass_rate >= 0.95
        elif name in ("poor", "rejects everything"):
            assert found.passed == 0
            assert found.failed / found.people >= 0.95


def test_monitoring_sees_who_begins_to_accept_what_is_out():
    rules = Rules.of(METRIC)
    assert rates(Judge(2.0, 0.4), rules)[0] < 0.01
    assert chart(METRIC, [a_day(day) for day in range(1, 13)]).alarms == []
    drifted = chart(METRIC, [a_day(1), *(a_day(day, false_accepts=6) for day in range(2, 6))])
    assert drifted.alarms[0][1] == "false accepts"
    assert drifted.to_dict()["charts"].keys() == {"false accepts", "false rejects"}


PACED = parse(
    criteria.find("first-level-metric").text.replace(
        "[scope]", "[pace]\nseconds = 10.0\nslow_rate = 0.10\n\n[scope]"
    ),
    "paced",
)


def paced(day, slow):
    """Return a check read well within the limits; `slow` readings of twenty took longer than the pace."""
    chance = np.random.default_rng(day)
    truth = 1000 + 10 * np.arange(20) + chance.random(20) * 10
    return check_session(
        PACED, id=f"S{day}", started_at=f"2026-03-{day:02d}T08:00:00Z", instrument="metric",
        truth_tenths=truth, answer_tenths=np.rint(truth + 0.4 * chance.standard_normal(20)).tolist(),
        outcomes=["answered"] * 20, seconds=[10.1] * slow + [10.0] * (20 - slow), seed=str(day),
    )  # fmt: skip


def pace_of(sessions):
    found = decide(PACED, sessions)
    return found.verdict, next(one for one in found.limits if one.name == "pace")


def test_a_pace_limit_takes_part_in_the_decision():
    verdict, limit = pace_of([paced(day, 0) for day in range(1, 6)])
    assert (verdict, limit.verdict, limit.count, limit.of) == (SHOWN, SHOWN, 0, 80)
    # Points.of(0.10, 0.95): 32 are needed and a slow one costs 25, so three among eighty leave 2 of 32
    verdict, limit = pace_of([paced(1, 3), *(paced(day, 0) for day in range(2, 5))])
    assert (verdict, limit.verdict, limit.bound) == (NOT_YET, NOT_YET, 2.0)
    verdict, limit = pace_of([paced(day, 12) for day in range(1, 4)])
    assert (verdict, limit.verdict) == (FAILED, FAILED)
