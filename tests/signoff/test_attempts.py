"""No way round an attempt without success: another text of a criterion has to be opened as a new attempt is.

The rule is the program's own (docs/methods/signoff.md); there is no outside source for it. Dates are worked
out by hand from the first check, 2026-03-02 08:00 UTC, and the criterion's waiting time of 7 days.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from trainer.signoff.attempts import Elsewhere, Opening, history, opens_at
from trainer.signoff.criteria import find
from trainer.signoff.evidence import CheckSession
from trainer.signoff.waiting import waited_for

FIRST = find("first-level-metric")
START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def day(number):
    return START + timedelta(days=number)


def check(number, error=0.1):
    errors = tuple(error + (0.4 if k % 2 else -0.4) for k in range(20))
    return CheckSession(f"s{number:g}", day(number).isoformat(), errors, seed=str(number))


def elsewhere(number, signed=None):
    signed_at = None if signed is None else day(signed)
    return Elsewhere(f"e{number}", day(number), "another text of own", signed_at)


def opening(number):
    return Opening({}, "kim", FIRST.name, day(number), "two weeks of drills")


def counted(found):
    return [[one.id for one in attempt.sessions] for attempt in found.attempts]


def test_checks_after_one_for_another_text_count_only_from_an_opening_on():
    checks = [check(number) for number in (1, 9, 11, 12)]
    found = history(FIRST, checks, [opening(10)], elsewhere=[elsewhere(0)])
    assert counted(found) == [["s11", "s12"]]
    assert found.last.opening.reason == "two weeks of drills"
    assert [one.id for one in found.refused] == ["s1", "s9"]
    assert found.refused[0].reason == (
        "it was taken after check e0, opened for another text of own, which led to no sign-off, "
        "and before a new attempt was opened"
    )


def test_without_an_opening_nothing_counts():
    found = history(FIRST, [check(1), check(2)], elsewhere=[elsewhere(0)])
    assert counted(found) == [[]]
    assert found.may_open(day(2))


def test_an_opening_before_the_other_check_does_not_serve_after_it():
    found = history(FIRST, [check(3)], [opening(1)], elsewhere=[elsewhere(0), elsewhere(2)])
    assert counted(found) == [[]]
    assert found.barred_by(day(4)) == elsewhere(2)


def test_a_check_that_led_to_a_sign_off_bars_nothing_from_then_on():
    assert counted(history(FIRST, [check(3)], elsewhere=[elsewhere(0, signed=2)])) == [["s3"]]
    later = history(FIRST, [check(1), check(3)], elsewhere=[elsewhere(0, signed=2)])
    assert counted(later) == [["s3"]]  # when s1 was taken it had led to none: that stands for good


def test_an_attempt_under_way_goes_on_whatever_is_taken_for_another_text():
    found = history(FIRST, [check(0), check(2)], elsewhere=[elsewhere(1)])
    assert counted(found) == [["s0", "s2"]]
    assert not found.may_open(day(3))


def test_after_a_failed_attempt_of_its_own_one_opening_is_enough():
    failing = [check(number, error=2.5) for number in (10, 11, 12, 13)]
    first = history(FIRST, failing, [opening(8)], elsewhere=[elsewhere(0)])
    assert first.last.decision.ended
    assert list(first.last.decision.sessions) == ["s10", "s11"]
    assert first.last.ended_at == day(11)  # two and a half tenths high are seen in two checks
    assert history(FIRST, failing[:1]).last.ended_at is None
    assert first.barred_by(day(14)) is None
    assert first.may_open(day(14))
    found = history(FIRST, [*failing, check(25)], [opening(8), opening(24)], elsewhere=[elsewhere(0)])
    assert counted(found)[-1] == ["s25"]
    assert [one.opening.at for one in found.attempts] == [day(8), day(24)]


@pytest.mark.parametrize("days", [0, 7, 30])
def test_the_waiting_time_runs_from_the_last_check_for_another_text(days):
    rule = replace(FIRST, waiting_days=days)
    found = history(rule, [], elsewhere=[elsewhere(0), elsewhere(3)])
    assert opens_at(rule, found, day(4)) == day(3 + days)


def test_what_is_waited_for_is_told_with_the_check_it_comes_from():
    found = history(FIRST, [], elsewhere=[elsewhere(0)])
    assert waited_for(FIRST, found, day(1)) == (
        "training; a supervisor can open a new attempt from 2026-03-09 08:00 UTC (in 6 days), with a reason "
        "(check e0, opened for another text of own, has led to no sign-off)"
    )
    opened = history(FIRST, [], [opening(8)], elsewhere=[elsewhere(0)])
    assert waited_for(FIRST, opened, day(8)) == "a first check, at any time"
