"""Precision in the terms of ISO 5725-2, its intervals, screening and robust values, against other judges."""

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.regression.mixed_linear_model import MixedLM

from trainer.scoring import anova, consistency, precision, robust

READING = st.floats(-50, 50, allow_nan=False).map(lambda v: round(v, 3))
GROUPS = st.lists(st.lists(READING, min_size=2, max_size=8), min_size=2, max_size=8)


@given(GROUPS)
@settings(max_examples=60, deadline=None)
def test_one_way_analysis_agrees_with_scipy(groups):
    mine = anova.one_way(groups)
    if mine.f is None:
        assert mine.reason
        assert all(len(set(group)) == 1 for group in groups)
        return
    if mine.within_ms < 1e-6 * mine.between_ms or len({v for g in groups for v in g}) == 1:
        return  # scipy loses its digits there; the NIST sets show that ours are right
    if mine.f < 1e-9:  # equal means: scipy may find less than nothing between them
        assert mine.p_value == pytest.approx(1.0, abs=1e-6)
        return
    theirs = stats.f_oneway(*groups)
    assert mine.f == pytest.approx(theirs.statistic, rel=1e-6, abs=1e-9)
    assert mine.p_value == pytest.approx(theirs.pvalue, rel=1e-5, abs=1e-12)


def test_the_table_of_an_analysis_by_hand():
    """Two groups, 1, 2, 3 and 4, 5, 6: between 13.5 with 1 degree of freedom, within 4 with 4, F = 13.5."""
    table = anova.one_way([[1, 2, 3], [4, 5, 6]]).summary()
    assert table.loc["between", ["df", "sum_of_squares", "mean_square", "f"]].tolist() == [
        1,
        13.5,
        13.5,
        13.5,
    ]
    assert table.loc["within", ["df", "sum_of_squares", "mean_square", "f"]].tolist() == [4, 4.0, 1.0, None]


@given(GROUPS)
@settings(max_examples=60, deadline=None)
def test_precision_follows_from_the_analysis_of_variance(groups):
    # ISO 5725-2:1994, 7.4.5: s_r^2 is the mean square within, s_L^2 = (mean square between - s_r^2) / n
    table = anova.one_way(groups)
    p = precision.of_groups(groups)
    n = np.array([len(g) for g in groups])
    typical = (n.sum() - (n**2).sum() / n.sum()) / (len(n) - 1)
    between = max((table.between_ms - table.within_ms) / typical, 0.0)
    assert p.repeatability_sd.value**2 == pytest.approx(table.within_ms, rel=1e-6, abs=1e-9)
    assert p.between_sd.value**2 == pytest.approx(between, rel=1e-5, abs=1e-6)
    total = p.repeatability_sd.value**2 + p.between_sd.value**2
    assert p.reproducibility_sd.value**2 == pytest.approx(total, rel=1e-9)
    assert p.repeatability_limit == pytest.approx(2.8 * p.repeatability_sd.value)


@given(st.lists(st.lists(READING, min_size=2, max_size=8), min_size=5, max_size=9))
@settings(max_examples=60, deadline=None)
def test_an_interval_holds_its_own_value_and_is_never_nan(groups):
    p = precision.of_groups(groups)
    for interval in (p.repeatability_sd, p.between_sd, p.reproducibility_sd):
        if interval.low is None:
            assert p.reasons["intervals"]
        else:
            assert 0 <= interval.low <= interval.value <= interval.high < math.inf


def test_balanced_unequal_spread_widens_the_repeatability_interval():
    alike = precision.of_statistics([20] * 6, [0, 0.1, 0.2, -0.1, 0.3, -0.2], [0.5] * 6)
    unlike = precision.of_statistics([20] * 6, [0, 0.1, 0.2, -0.1, 0.3, -0.2], [0.1, 0.1, 0.2, 0.3, 0.8, 1.5])
    assert alike.repeatability_sd.value == pytest.approx(unlike.repeatability_sd.value)
    # alike: the chi-square interval of one common variance with 114 degrees of freedom
    low, high = (math.sqrt(0.5 * 114 / stats.chi2.ppf(p, 114)) for p in (0.975, 0.025))
    assert alike.repeatability_sd.low == pytest.approx(low)
    assert alike.repeatability_sd.high == pytest.approx(high)
    assert unlike.repeatability_sd.high > 1.2 * alike.repeatability_sd.high


def test_the_spread_between_people_may_be_nought_just_where_an_f_test_cannot_tell_it_from_nought():
    """What defines the interval (Burdick, Graybill 1992, 3.3): its ends reach 0 at the quantiles of F."""
    shape = np.array([-1.5, -0.5, 0.0, 0.2, 0.6, 1.2])
    shape = shape / shape.std(ddof=1)

    def ends(f):  # variance of the means over that of a mean of 20 readings of variance 1
        return precision.of_statistics([20] * 6, math.sqrt(f / 20) * shape, [1.0] * 6).between_sd

    low, high = stats.f.ppf(0.025, 5, 114), stats.f.ppf(0.975, 5, 114)
    assert ends(high * 0.999).low == 0 < ends(high * 1.001).low
    assert ends(low * 0.999).high == 0 < ends(low * 1.001).high
    assert ends(low * 1.001).high < 0.02
    assert ends(high * 1.001).low < 0.02


def test_below_five_people_no_interval_and_below_ten_indicative():
    four = precision.of_statistics([20] * 4, [0, 1, 2, 3], [1] * 4)
    assert four.reproducibility_sd.low is None
    assert four.reproducibility_sd.value > 0
    assert "at least 5" in four.reasons["intervals"]
    five = precision.of_statistics([20] * 5, [0, 1, 2, 3, 4], [1] * 5)
    assert five.reproducibility_sd.high is not None
    assert any("indicative" in note for note in five.notes)
    ten = precision.of_statistics([20] * 10, range(10), [1] * 10)
    assert not any("indicative" in note for note in ten.notes)


def test_one_person_and_single_readings_say_why_nothing_can_be_had():
    alone = precision.of_groups([[1.0, 2.0, 4.0]])
    assert alone.repeatability_sd.value == pytest.approx(np.std([1, 2, 4], ddof=1))
    assert alone.between_sd is None
    assert "one person" in alone.reasons["between_sd"]
    singles = precision.of_groups([[1.0], [2.0], [4.0]])
    assert singles.repeatability_sd is None
    assert singles.reproducibility_sd is None
    assert "one reading" in singles.reasons["repeatability_sd"]


def test_a_newcomer_with_one_reading_does_not_take_everybodys_intervals():
    six = ([20] * 6, [0.0, 0.1, 0.2, -0.1, 0.3, -0.2], [0.5] * 6)
    without = precision.of_statistics(*six)
    joined = precision.of_statistics(
        *([*list(values), last] for values, last in zip(six, (1, 0.4, 0.0), strict=True))
    )
    assert joined.people == 7
    assert joined.repeatability_sd == without.repeatability_sd
    assert joined.between_sd.low == pytest.approx(without.between_sd.low)
    assert any("1 person with one reading counts" in note for note in joined.notes)


def test_all_equal_readings_give_zero_and_a_reason_not_a_warning():
    p = precision.of_groups([[3.0, 3.0]] * 6)
    assert p.repeatability_sd.value == p.reproducibility_sd.value == 0
    assert "all equal" in p.reasons["intervals"]
    assert not p.between_seen


def test_a_spread_between_people_that_is_not_seen_is_said():
    p = precision.of_statistics([10] * 6, [0.0, 0.2, -0.2, 0.1, 0.3, -0.2], [1.0] * 6)
    assert p.between_sd.value == 0
    assert p.between_sd.high > 0
    assert json.loads(json.dumps(p.to_dict(), allow_nan=False))["between_sd"]["high"] == p.between_sd.high
    assert any("not distinguishable from 0; could be up to" in note for note in p.notes)


@pytest.mark.parametrize(
    ("groups", "said"),
    [
        ([], "nobody"),
        ([[]], "no readings"),
        ([[1.0, math.inf], [1.0]], "not a finite"),
        ([[math.nan]], "not a finite"),
    ],
)
def test_bad_groups_are_refused_in_a_sentence(groups, said):
    with pytest.raises(precision.UnusablePrecision, match=said):
        precision.of_groups(groups)


def test_reproducibility_interval_covers_in_simulation(chance):
    # docs/methods/comparing.md: 10 people, equal spreads, 95 to 97.5 % in 4,000 runs; here 600, 4 sigma
    people, n, between, within, runs = 10, 30, 0.3, 0.67, 600
    truth, held = math.hypot(between, within), 0
    for _ in range(runs):
        means = between * chance.standard_normal(people) + within / math.sqrt(n) * chance.standard_normal(
            people
        )
        variances = within**2 * chance.chisquare(n - 1, people) / (n - 1)
        interval = precision.of_statistics([n] * people, means, variances).reproducibility_sd
        held += interval.low <= truth <= interval.high
    assert held / runs == pytest.approx(0.96, abs=4 * math.sqrt(0.96 * 0.04 / runs))


def test_balanced_values_are_those_of_restricted_maximum_likelihood(chance):
    # statsmodels' mixed model finds the same variances by another road (equal where s_L is above 0)
    people, n = 8, 30
    groups = 0.8 * chance.standard_normal((people, 1)) + 0.6 * chance.standard_normal((people, n))
    p = precision.of_groups(groups.tolist())
    who = np.repeat(np.arange(people), n)
    fit = MixedLM(groups.ravel(), np.ones((people * n, 1)), who).fit(reml=True)
    assert p.repeatability_sd.value**2 == pytest.approx(fit.scale, rel=1e-3)
    assert p.between_sd.value**2 == pytest.approx(float(fit.cov_re[0, 0]), rel=1e-2)


# --- Screening ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("people", [5, 9, 14, 22, 30])
def test_the_table_for_pairs_of_odd_people_is_confirmed_by_simulation(people, chance):
    # Table 5 holds 1 % and 5 % for both ends together (two-sided), from memory: each end 0.5 % and 2.5 %
    runs = 40_000
    values = np.sort(chance.standard_normal((runs, people)), axis=1)
    kept = values[:, :-2]
    ratio = kept.var(axis=1) * (people - 2) / (values.var(axis=1) * people)
    for critical, rate in zip(consistency.PAIR_CRITICAL[people], (0.005, 0.025), strict=True):
        share = float((ratio < critical).mean())
        digits = 0.1 * rate  # the four printed decimals move the rate by less
        assert share == pytest.approx(rate, abs=4 * math.sqrt(rate / runs) + digits)


def test_mandel_and_cochran_reject_as_often_as_they_say(chance):
    people, n, runs = 8, 20, 4000
    means = chance.standard_normal((runs, people))
    h = np.abs(means - means.mean(axis=1, keepdims=True)) / means.std(axis=1, ddof=1, keepdims=True)
    assert (h[:, 0] > consistency.h_critical(people, 0.05)).mean() == pytest.approx(0.05, abs=0.014)
    variances = chance.chisquare(n - 1, (runs, people))
    k = np.sqrt(variances / variances.mean(axis=1, keepdims=True))
    assert (k[:, 0] > consistency.k_critical(people, n, 0.05)).mean() == pytest.approx(0.05, abs=0.014)
    c = variances.max(axis=1) / variances.sum(axis=1)
    assert (c > consistency.cochran_critical(people, n, 0.05)).mean() == pytest.approx(0.05, abs=0.014)


def test_findings_use_the_words_of_the_standard():
    # ISO 5725-2:1994, 7.3.2.1: correct, straggler beyond 5 %, outlier beyond 1 %
    values = [20.155, 19.5, 20.3, 20.705, 20.1, 20.94, 21.185]
    assert consistency.grubbs(values).finding == "correct"
    assert consistency.grubbs([*values, 30.0]).finding == "outlier"
    assert consistency.grubbs([*values, 30.0]).which == 7
    pair = consistency.grubbs_pair([*values, 30.0, 31.0], low=False)
    assert pair.finding == "outlier"
    assert pair.which == 8  # the highest
    assert consistency.grubbs_pair([*values, 30.0, 31.0], low=True).which == 1  # 19.5, the lowest
    assert pair.small_is_odd
    many = consistency.grubbs_pair([float(i) for i in range(40)], low=True)
    assert many.finding == "not known"
    assert "ends at 30" in many.reason


@pytest.mark.parametrize(
    "fault",
    [
        lambda: consistency.h_values([1.0, 1.0, 1.0]),
        lambda: consistency.h_values([1.0, 2.0]),
        lambda: consistency.h_values([1.0, 2.0, math.nan]),
        lambda: consistency.k_values([0.0, 0.0]),
        lambda: consistency.cochran_critical(5, 1),
        lambda: consistency.grubbs_pair([1.0, 2.0, 3.0], low=True),
    ],
)
def test_screening_without_enough_to_screen_is_refused(fault):
    with pytest.raises(consistency.UnusableScreening, match=r"\w+ \w+ \w+"):
        fault()


# --- Robust -------------------------------------------------------------------------------------------


def test_algorithm_a_ignores_how_far_out_an_outlier_is():
    near = robust.algorithm_a([9.8, 10.0, 10.1, 10.2, 9.9, 12.0])
    far = robust.algorithm_a([9.8, 10.0, 10.1, 10.2, 9.9, 1200.0])
    assert near.mean == pytest.approx(far.mean)
    assert near.sd == pytest.approx(far.sd)
    assert abs(far.mean - 10.0) < 0.2


def test_robust_values_agree_with_ordinary_ones_on_clean_data(chance):
    values = chance.normal(5.0, 2.0, 4000).tolist()
    found = robust.algorithm_a(values)
    assert found.mean == pytest.approx(5.0, abs=4 * 2 / math.sqrt(4000) * 1.1)
    assert found.sd == pytest.approx(2.0, rel=0.06)
    spreads = np.sqrt(chance.chisquare(4, 4000) / 4) * 3.0
    assert robust.algorithm_s(spreads.tolist(), 4) == pytest.approx(3.0, rel=0.03)


@pytest.mark.parametrize("values", [[1.0], [1.0, math.inf], []])
def test_robust_needs_finite_values(values):
    with pytest.raises(robust.UnusableRobust, match=r"\w+"):
        robust.algorithm_a(values)


def test_all_equal_values_have_no_robust_spread():
    assert robust.algorithm_a([2.0, 2.0, 2.0]).sd == 0
