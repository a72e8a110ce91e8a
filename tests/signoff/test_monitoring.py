"""The sums of monitoring by hand, as docs/methods/signoff.md says them, and what standing makes of them.

Cumulative sums after Page, Biometrika 41 (1954) 100 (from memory); the rule worked out is the program's own.
"""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from trainer.signoff.criteria import find
from trainer.signoff.evidence import CheckSession
from trainer.signoff.monitoring import ALARM, Chart, chart
from trainer.signoff.rules import DRIFT_TENTHS
from trainer.signoff.standing import (
    CONDITION,
    DUE,
    EXPIRED,
    REINSTATE,
    SUSPEND,
    SUSPENDED,
    VALID,
    WITHDRAW,
    WITHDRAWN,
    Change,
    standing,
)

FIRST, JUDGING = find("first-level-metric"), find("judging-metric")  # limits 0.5, 1.0, 5 %; 5 % and 10 %
START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def check(day, errors, misreads=0, not_given=0):
    at = (START + timedelta(days=day)).isoformat()
    return CheckSession(f"s{day}", at, tuple(errors), misreads, not_given, seed=str(day))


def even(mean, spread, count=20):
    """Return errors with exactly this mean and this standard deviation."""
    half = spread * np.sqrt((count - 1) / count)
    return mean + half * np.array([1, -1] * (count // 2))


def last(*checks):
    """Return the sums after the last check, by name."""
    found = chart(FIRST, checks)
    return dict(zip(found.names, found.sums[-1], strict=True))


def test_a_check_adds_by_how_many_standard_errors_it_is_beyond_its_limits():
    found = last(check(0, even(1.1, 1.5)))
    # the error of a mean of 20 at the limiting spread of 1, with a drift of 0.2 from day to day
    assert found["bias high"] == pytest.approx((1.1 - 0.5) / np.sqrt(1 / 20 + 0.2**2))
    assert found["bias low"] == 0
    # a variance of 1.5^2 at a limit of 1, in standard errors of a normal variance, sqrt(2/19)
    assert found["spread"] == pytest.approx((1.5**2 - 1) / np.sqrt(2 / 19))
    assert found["misreads"] == 0
    assert last(check(0, even(-1.1, 1.5)))["bias low"] == pytest.approx(found["bias high"])


def test_misreads_and_readings_not_given_are_counted_against_the_rate_of_all():
    # 3 + 2 bad of 20 at 5 %: (5 - 1) / sqrt(20 x 0.05 x 0.95) standard errors of a binomial count
    found = last(check(0, even(0.0, 0.5, 14), misreads=4, not_given=2))
    assert found["misreads"] == pytest.approx((6 - 0.05 * 20) / np.sqrt(20 * 0.05 * 0.95))


def test_sums_run_on_from_check_to_check_and_never_below_nought():
    worse, better = (1.0 - 0.5) / np.sqrt(0.09), (0.2 - 0.5) / np.sqrt(0.09)
    days = [check(n, even(mean, 0.5)) for n, mean in enumerate((0.2, 1.0, 1.0, 0.2, 0.2, 0.2, 0.2, 1.0))]
    wanted, level = [], 0.0
    for step in (better, worse, worse, better, better, better, better, worse):
        level = max(0.0, level + step)
        wanted.append(level)
    assert 0.0 in wanted[1:]  # it was drawn down to nought on the way
    assert chart(FIRST, days).sums[:, 0] == pytest.approx(wanted)


def test_a_check_without_two_clean_readings_says_nothing_of_bias_and_spread():
    found = last(check(0, even(1.1, 1.5)), check(1, [9.0], misreads=19))
    assert found["bias high"] == last(check(0, even(1.1, 1.5)))["bias high"]
    assert found["spread"] == last(check(0, even(1.1, 1.5)))["spread"]
    assert found["misreads"] > 0
    # two: mean 3 is 2.5 above 0.5, with an error of sqrt(1/2 + 0.2^2); DRIFT_TENTHS is the 0.2
    assert last(check(0, [3.0, 3.0]))["bias high"] == pytest.approx(2.5 / np.sqrt(0.5 + DRIFT_TENTHS**2))


def test_the_rates_of_judging_are_summed_as_those_of_misreads():
    made = CheckSession("s", START.isoformat(), (), judged=25, false_accepts=3, inside=30, false_rejects=1,
                        judgements=100)  # fmt: skip
    found = chart(JUDGING, [made])
    assert found.names == ("false accepts", "false rejects")
    assert found.sums[0] == pytest.approx([(3 - 0.05 * 25) / np.sqrt(25 * 0.05 * 0.95), 0.0])


def test_an_alarm_is_the_first_check_whose_sum_is_above_four_the_earliest_first():
    sums = np.array([[0.0, 0.0], [4.0, 4.1], [4.2, 0.0], [9.0, 5.0]])
    assert ALARM == 4.0
    assert Chart(sums, ("one", "two")).alarms == [(2, "two"), (3, "one")]
    assert chart(FIRST, []).alarms == []


# --- Standing -------------------------------------------------------------------------------------------

BODY = {
    "id": "s", "conditions": ["seen at 400 mm"], "person": {"id": "p1", "name": "Kim Vale"},
    "valid_from": START.isoformat(), "valid_until": (START + timedelta(days=365)).isoformat(),
}  # fmt: skip
GOOD, BAD = even(0.1, 0.5), even(3.0, 0.5)


def stands(day, checks=(), changes=(), **more):
    return standing(FIRST, {"body": BODY}, changes, checks, now=START + timedelta(days=day), **more)


def change(kind, day, statement="s"):
    return Change({}, statement, kind, START + timedelta(days=day), f"reason of day {day}", "Ruth")


@pytest.mark.parametrize(
    ("day", "state", "since"),
    [(0, VALID, 0), (29.9, VALID, 0), (30, DUE, 30), (43.9, DUE, 30), (44, SUSPENDED, 44),
     (364.9, SUSPENDED, 44), (365, EXPIRED, 365)],
)  # fmt: skip
def test_a_check_is_due_after_thirty_days_and_missed_after_fourteen_more(day, state, since):
    """The criterion's own monitor_days = 30, grace_days = 14, valid_days = 365."""
    found = stands(day)
    assert (found.state, found.since) == (state, START + timedelta(days=since))
    assert found.in_force is (state in (VALID, DUE))
    assert found.due_at == START + timedelta(days=30)


def test_a_check_keeps_it_in_force_and_one_of_less_than_half_a_block_does_not():
    assert stands(45, [check(20, GOOD)]).due_at == START + timedelta(days=50)
    assert stands(45, [check(20, GOOD)]).state == VALID
    assert stands(45, [check(20, GOOD[:10])]).state == VALID
    assert stands(45, [check(20, GOOD[:9])]).state == SUSPENDED
    assert stands(45, [check(46, GOOD)]).state == SUSPENDED, "a check of tomorrow helps nobody today"


def test_a_small_check_counts_for_the_chart_all_the_same():
    found = stands(25, [check(10, BAD), check(20, BAD[:8])])
    assert [number for number, name in found.chart.alarms if name == "bias high"] == [1]
    assert found.chart.sums.shape == (2, 4)
    assert stands(25, [check(20, BAD[:8])]).chart.sums[0, 0] > 0


def test_an_alarm_suspends_from_its_check_on_until_a_reinstatement_begins_the_chart_afresh():
    bad = [check(10, GOOD), check(12, BAD)]
    found = stands(13, bad)
    assert (found.state, found.since) == (SUSPENDED, START + timedelta(days=12))
    assert found.reason == "monitoring: bias high beyond its limit"
    again = stands(16, bad, [change(REINSTATE, 15)])
    assert (again.state, again.since) == (VALID, START + timedelta(days=15))
    assert again.due_at == START + timedelta(days=45)
    twice = [*bad, check(18, BAD)]
    assert stands(20, twice, [change(REINSTATE, 15)]).state == SUSPENDED
    assert stands(20, twice, [change(REINSTATE, 15), change(REINSTATE, 19)]).state == VALID


def test_a_failed_attempt_suspends_unless_a_reinstatement_came_after_it():
    failed = (START + timedelta(days=10), "attempt 2 was shown to fail")
    assert stands(9, failed=failed).state == VALID
    assert (stands(11, failed=failed).state, stands(11, failed=failed).reason) == (SUSPENDED, failed[1])
    assert stands(21, changes=[change(REINSTATE, 20)], failed=failed).state == VALID
    assert stands(21, changes=[change(REINSTATE, 5)], failed=failed).state == SUSPENDED


def test_what_a_supervisor_did_last_holds_and_a_withdrawal_for_good():
    acts = [change(SUSPEND, 5), change(REINSTATE, 10), change(SUSPEND, 15)]
    states = [stands(day, changes=acts).state for day in (4, 6, 11, 16)]
    assert states == [VALID, SUSPENDED, VALID, SUSPENDED]
    assert stands(16, changes=acts).reason == "reason of day 15; by Ruth"
    gone = [change(WITHDRAW, 6), change(REINSTATE, 10)]
    assert [stands(day, changes=gone).state for day in (5, 7, 11, 400)] == [VALID, *[WITHDRAWN] * 3]
    assert stands(7, changes=[change(WITHDRAW, 6, "another")]).state == VALID


def test_conditions_set_later_stand_beside_the_first_from_their_day_on():
    acts = [change(CONDITION, 5)]
    assert stands(4, changes=acts).conditions == ("seen at 400 mm",)
    assert stands(6, changes=acts).conditions == ("seen at 400 mm", "reason of day 5")
    assert stands(6, changes=acts).state == VALID
