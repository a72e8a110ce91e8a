"""The bounds of the decision by hand, from the errors themselves, in the words of docs/methods/signoff.md.

Student's t, the normal quantile and the moments come from scipy; Bonett's bound is written out in the order
of his formula (Comput. Statist. Data Anal. 50 (2006) 775, from memory).
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from trainer.signoff.bounds import look, moments
from trainer.signoff.criteria import find
from trainer.signoff.decision import FAILED, NOT_YET, SHOWN, decide
from trainer.signoff.evidence import CheckSession, stack, sums
from trainer.signoff.rules import Points, Rules

FIRST = find("first-level-metric")
RULES = Rules.of(FIRST)


def days(chance, count=5, bias=0.3, spread=0.7, drift=0.2):
    """Return the errors of so many sittings of twenty, whose biases go up and down by the drift."""
    return [bias + drift * (-1) ** n + spread * chance.standard_normal(20) for n in range(count)]


def totals_of(sittings):
    made = [CheckSession(f"s{n}", "2026-03-02T08:00:00Z", tuple(e)) for n, e in enumerate(sittings)]
    return stack([sums(made, range(len(made)))])


def test_moments_from_sums_of_powers_are_those_of_the_errors(chance):
    sittings = days(chance)
    errors, found = np.concatenate(sittings), moments(totals_of(sittings))
    assert found.mean[0] == pytest.approx(errors.mean(), rel=1e-12)
    assert found.sd[0] == pytest.approx(stats.tstd(errors), rel=1e-12)
    assert found.kurtosis[0] == pytest.approx(stats.kurtosis(errors, fisher=False), rel=1e-10)
    means = [one.mean() for one in sittings]
    assert found.sitting_mean[0] == pytest.approx(np.mean(means), rel=1e-12)
    assert found.sitting_variance[0] == pytest.approx(np.var(means, ddof=1), rel=1e-10)


@pytest.mark.parametrize("drift", [0.0, 0.5])  # the pooled bound is the larger one, then that over sittings
def test_the_bound_of_the_bias_is_the_larger_of_two_of_students(drift, chance):
    sittings = days(chance, drift=drift)
    errors, means = np.concatenate(sittings), [one.mean() for one in sittings]
    pooled = abs(errors.mean()) + stats.t.ppf(0.99, 99) * stats.sem(errors)
    by_sitting = abs(np.mean(means)) + stats.t.ppf(0.99, 4) * stats.sem(means)
    found = look(totals_of(sittings), RULES)
    assert found.bias_bound[0] == pytest.approx(max(pooled, by_sitting), rel=1e-10)
    for limit, shown in ((found.bias_bound[0] + 1e-9, True), (found.bias_bound[0] - 1e-9, False)):
        assert look(totals_of(sittings), replace(RULES, bias_tenths=limit)).bias_shown[0] == shown


def test_the_bound_over_sittings_is_not_asked_for_where_one_sitting_is_enough(chance):
    errors = days(chance, drift=0.5)
    alone = look(totals_of(errors), replace(RULES, sittings=1)).bias_bound[0]
    together = np.concatenate(errors)
    assert alone == pytest.approx(
        abs(together.mean()) + stats.t.ppf(0.99, 99) * stats.sem(together), rel=1e-10
    )
    assert alone < look(totals_of(errors), replace(RULES, sittings=2)).bias_bound[0]


def bonett(errors, confidence, side):
    """Return one end of Bonett's interval of the standard deviation; the kurtosis about the mean."""
    n, z = errors.size, stats.norm.ppf(confidence)
    c = n / (n - z)
    se = c * np.sqrt((stats.kurtosis(errors, fisher=False) - (n - 3) / n) / (n - 1))
    return float(np.sqrt(np.exp(np.log(c * errors.var(ddof=1)) + side * z * se)))


def test_the_spread_is_shown_below_its_upper_and_fails_above_its_lower_bound(chance):
    sittings = days(chance)
    errors = np.concatenate(sittings)
    upper, lower = bonett(errors, 0.995, +1), bonett(errors, 0.9985, -1)
    found = look(totals_of(sittings), RULES)
    assert found.spread_bound[0] == pytest.approx(upper, rel=1e-9)
    for limit, shown, failed in ((upper + 1e-6, True, False), (upper - 1e-6, False, False),
                                 (lower + 1e-6, False, False), (lower - 1e-6, False, True)):  # fmt: skip
        found = look(totals_of(sittings), replace(RULES, spread_tenths=limit))
        assert (found.spread_shown[0], found.spread_failed[0]) == (shown, failed)


@pytest.mark.parametrize("drift", [0.0, 0.5])
def test_a_bias_fails_above_both_of_its_lower_bounds(drift, chance):
    """A sitting's mean varies as seen, and with 8 degrees of freedom as expected: a drift of 0.2."""
    sittings = days(chance, bias=1.2, drift=drift)
    errors, means, k = np.concatenate(sittings), [one.mean() for one in sittings], 5
    expected = errors.var(ddof=1) / 20 + 0.2**2
    variance = (8 * expected + (k - 1) * np.var(means, ddof=1)) / (8 + k - 1)
    by_sitting = abs(np.mean(means)) - stats.t.ppf(0.997, 8 + k - 1) * np.sqrt(variance / k)
    pooled = abs(errors.mean()) - stats.t.ppf(0.997, 99) * stats.sem(errors)
    least = min(pooled, by_sitting)
    for limit, failed in ((least - 1e-9, True), (least + 1e-9, False)):
        assert look(totals_of(sittings), replace(RULES, bias_tenths=limit)).bias_failed[0] == failed


def test_a_bias_that_is_low_is_as_bad_as_one_that_is_high(chance):
    sittings = days(chance, bias=1.2)
    high, low = look(totals_of(sittings), RULES), look(totals_of([-one for one in sittings]), RULES)
    assert high.bias_failed[0]
    assert low.bias_failed[0]
    assert low.bias_bound[0] == pytest.approx(high.bias_bound[0], rel=1e-12)


# --- When an attempt ends ---------------------------------------------------------------------------------


def checks(*misreads, each=20):
    """Return one check a day, each reading well but for so many misreads."""
    return [
        CheckSession(f"s{n}", f"2026-03-{n + 1:02d}T08:00:00Z", (0.3, -0.3) * ((each - bad) // 2)
                     + (0.0,) * ((each - bad) % 2), bad, seed=str(n))
        for n, bad in enumerate(misreads)
    ]  # fmt: skip


def test_one_sitting_is_enough_where_the_criterion_says_so():
    one_day = [
        replace(one, started_at=f"2026-03-02T{8 + n:02d}:00:00Z") for n, one in enumerate(checks(0, 0, 0, 0))
    ]
    assert decide(FIRST, one_day).verdict == NOT_YET
    alone = replace(FIRST, sittings_at_least=1)
    assert decide(alone, one_day).verdict == SHOWN
    assert decide(alone, one_day).readings == 80  # 65 points are there at 80 readings, at 60 not yet


def test_an_attempt_whose_points_are_out_of_reach_ends_without_a_verdict():
    """Limit 5 %: four misreads take 65 + 4 x 51 = 269 readings, and the attempt has 260 (Points.of)."""
    three = decide(FIRST, checks(1, 0, 0, 0, 1, 0, 0, 0, 1))
    assert (three.verdict, three.ended) == (NOT_YET, False)  # 218 readings, so 220
    four = decide(FIRST, checks(1, 0, 0, 0, 1, 0, 0, 0, 1, 1))
    assert (four.verdict, four.ended, four.readings) == (NOT_YET, True, 200)
    assert four.sentence == (
        "not shown, and no longer to be shown, after 200 of at most 260 readings: "
        "train first, then open a new attempt"
    )
    assert decide(replace(FIRST, readings_at_most=268), checks(1, 0, 0, 0, 1, 0, 0, 0, 1, 1)).ended
    assert not decide(replace(FIRST, readings_at_most=269), checks(1, 0, 0, 0, 1, 0, 0, 0, 1, 1)).ended


def test_points_out_of_reach_do_not_end_an_attempt_that_is_on_its_way_to_fail():
    """Wald's ratio of 15 % to 5 %: a clean one adds ln(0.85/0.95), a misread ln 3; ln 60 shows to fail."""
    clean, bad = np.log(0.85 / 0.95), np.log(3.0)
    assert 55 * clean + 5 * bad > -np.log(20)  # five of sixty: three times the limit is still possible
    five = decide(FIRST, checks(2, 2, 1))
    assert (five.verdict, five.ended) == (NOT_YET, False)
    later = decide(FIRST, checks(2, 2, 1, 0, 0))
    assert 95 * clean + 5 * bad < -np.log(20)
    assert (later.verdict, later.ended, later.readings) == (NOT_YET, True, 100)


def test_a_misread_rate_is_shown_to_fail_when_the_ratio_reaches_sixty():
    weights = Points.of(0.05, 0.95).fail_weights
    assert weights == pytest.approx((np.log(0.85 / 0.95), np.log(3.0), np.log(60.0)))
    # 40 readings: m misreads give (40 - m) ln(0.85/0.95) + m ln 3, which reaches ln 60 = 4.09 at m = 8
    assert min(m for m in range(20) if (40 - m) * weights[0] + m * weights[1] >= weights[2]) == 8
    assert decide(FIRST, checks(4, 3)).verdict == NOT_YET
    failed = decide(FIRST, checks(4, 4))
    assert (failed.verdict, failed.readings) == (FAILED, 40)
    assert [one.name for one in failed.limits if one.verdict == FAILED] == ["misreads"]


def test_the_first_look_is_where_the_points_can_be_there_and_the_sittings_are():
    """65 points for 5 %, 165 for 2 % (Wald 1945; the study's first looks of 80 and 180); four sittings."""
    second = Rules.of(find("second-level-metric"))
    assert (RULES.first_look, second.first_look) == (80, 180)
    assert Rules.of(replace(FIRST, sittings_at_least=6)).first_look == 120
    assert (
        Rules.of(find("judging-metric")).first_look == 300
    )  # no misreads there; three sittings of a hundred


def test_nobody_is_shown_to_fail_before_two_blocks():
    one = decide(FIRST, checks(20))
    assert one.verdict == NOT_YET
    assert {limit.verdict for limit in one.limits} == {NOT_YET}
    assert decide(FIRST, checks(20, 0)).verdict == FAILED


def test_the_attempt_ends_at_its_most_readings():
    slow = [
        replace(one, errors_tenths=tuple(2.4 * e for e in one.errors_tenths)) for one in checks(*[0] * 13)
    ]
    spread = 2.4 * 0.3  # with its upper bound above the limit below, and its lower bound not
    tight = replace(FIRST, spread_tenths=spread * 1.01)
    assert [decide(tight, slow[:count]).ended for count in (12, 13)] == [False, True]
    assert decide(tight, slow).verdict == NOT_YET


def test_the_figures_printed_are_ordinary_intervals_and_the_bounds_of_the_decision(chance):
    sittings = days(chance, count=4, bias=0.1, spread=0.6, drift=0.0)
    errors = np.concatenate(sittings)
    made = [
        CheckSession(f"s{n}", f"2026-03-{n + 1:02d}T08:00:00Z", tuple(e), seed=str(n))
        for n, e in enumerate(sittings)
    ]
    bias, spread, misreads = decide(FIRST, made).limits
    found = look(totals_of(sittings), RULES)
    assert (bias.estimate.low, bias.estimate.high) == pytest.approx(
        stats.t.interval(0.95, 79, errors.mean(), stats.sem(errors)), rel=1e-9
    )
    assert (spread.estimate.low, spread.estimate.high) == pytest.approx(
        (bonett(errors, 0.975, -1), bonett(errors, 0.975, +1)), rel=1e-9
    )
    exact = stats.binomtest(0, 80).proportion_ci(0.95, "exact")
    assert (misreads.estimate.low, misreads.estimate.high) == pytest.approx((exact.low, exact.high))
    assert (bias.bound, spread.bound) == (found.bias_bound[0], found.spread_bound[0])
    assert (misreads.bound, misreads.needed, misreads.count, misreads.of) == (80, 65, 0, 80)
    assert (bias.of, spread.of) == (80, 80)
    nothing = decide(FIRST, []).limits
    assert [one.bound for one in nothing[:2]] == [None, None]
