"""Intervals against scipy and statsmodels on random data, and where they have nothing to say."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from trainer.scoring import intervals, tolerance
from trainer.scoring.intervals import Interval


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 5000), st.data())
def test_exact_and_score_intervals_agree_with_statsmodels(of, data):
    count = data.draw(st.integers(0, of))
    confidence = data.draw(st.sampled_from([0.9, 0.95, 0.99]))
    for ours, method in ((intervals.clopper_pearson, "beta"), (intervals.wilson, "wilson")):
        low, high = ours(count, of, confidence)
        expected = proportion_confint(count, of, 1 - confidence, method)
        assert float(low) == pytest.approx(max(expected[0], 0), abs=1e-9)
        assert float(high) == pytest.approx(min(expected[1], 1), abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 400), st.data())
def test_wilson_with_continuity_agrees_with_scipy(of, data):
    count = data.draw(st.integers(0, of))
    low, high = intervals.wilson(count, of, continuity=True)
    expected = stats.binomtest(count, of).proportion_ci(0.95, "wilsoncc")
    assert (float(low), float(high)) == pytest.approx((expected.low, expected.high), abs=1e-12)


def test_exact_interval_holds_at_least_its_confidence_for_every_rate():
    """The definition of Clopper and Pearson: coverage never below 95 %, by summing the binomial."""
    n = 60
    low, high = intervals.clopper_pearson(np.arange(n + 1), n)
    for rate in np.linspace(0.001, 0.999, 97):
        held = (low <= rate) & (rate <= high)
        assert stats.binom.pmf(np.arange(n + 1)[held], n, rate).sum() >= 0.95 - 1e-12


def test_mean_interval_is_students(chance):
    errors = chance.normal(0.3, 0.8, 37)
    low, high = intervals.mean_t(errors.mean(), errors.var(ddof=1), 37, 36)
    expected = stats.t.interval(0.95, 36, errors.mean(), stats.sem(errors))
    assert (float(low), float(high)) == pytest.approx(expected, rel=1e-12)


def test_chi_square_interval_of_a_standard_deviation_inverts_its_distribution():
    low, high = intervals.sd_chi_square(1.3, 12)
    assert stats.chi2.sf(11 * 1.3**2 / low**2, 11) == pytest.approx(0.025)
    assert stats.chi2.cdf(11 * 1.3**2 / high**2, 11) == pytest.approx(0.025)


def test_bonett_is_its_formula():
    """Bonett 2006, worked through with numbers in the order of the paper's formula."""
    n, g4, sd, z = 100, 4.2, 0.9, stats.norm.ppf(0.975)
    c = n / (n - z)
    se = c * ((g4 - (n - 3) / n) / (n - 1)) ** 0.5
    expected = [np.exp(np.log(c * sd**2) + side * z * se) ** 0.5 for side in (-1, 1)]
    assert [float(x) for x in intervals.bonett(sd, g4, n)] == pytest.approx(expected, rel=1e-12)


def test_one_sided_bonett_bound_is_the_end_of_a_ninety_percent_interval_up_to_its_c():
    """At one-sided 95 % z is 1.645, as in a two-sided 90 % interval; c follows z."""
    assert intervals.bonett_upper(1, 3, 50) == pytest.approx(intervals.bonett(1, 3, 50, 0.90)[1])
    assert intervals.bonett_lower(1, 3, 50) == pytest.approx(intervals.bonett(1, 3, 50, 0.90)[0])


def test_bonett_and_chi_square_agree_for_many_normal_errors():
    ours, classic = intervals.bonett(1.0, 3.0, 5000), intervals.sd_chi_square(1.0, 5000)
    np.testing.assert_allclose(ours, classic, rtol=1e-3)


def test_the_interval_of_a_root_mean_square_is_its_formula():
    """The delta method on the logarithm: var(ln ms) = 2 / df (JCGM 100:2008, G.3), with Bonett's factor c."""
    n, df, rms, z = 60, 41.5, 0.8, stats.norm.ppf(0.975)
    c = n / (n - z)
    half = z * c * np.sqrt(2 / df)
    expected = [np.sqrt(c * rms**2 * np.exp(side * half)) for side in (-1, 1)]
    assert [float(x) for x in intervals.rms_log_delta(rms, df, n)] == pytest.approx(expected, rel=1e-12)
    for nothing in ((0.0, df, n), (rms, 0.0, n), (rms, df, 4)):
        assert np.isnan(intervals.rms_log_delta(*nothing)).all()
    assert np.isfinite(intervals.rms_log_delta(rms, df, 5)).all()


@pytest.mark.parametrize("n", [0, 1, 2, 4])
def test_too_few_readings_have_no_spread_interval(n):
    assert np.isnan(intervals.bonett(1.0, 3.0, n)).all()
    assert np.isnan(intervals.rms_log_delta(1.0, 3.0, n)).all()


def test_nothing_is_known_of_a_rate_without_readings():
    assert np.isnan(intervals.clopper_pearson(0, 0)).all()
    assert np.isnan(intervals.wilson(0, 0)).all()


def test_equal_errors_have_no_interval():
    assert np.isnan(intervals.mean_t(0.5, 0.0, 10, 9)).all()
    assert np.isnan(intervals.bonett(0.0, np.nan, 50)).all()


def test_an_interval_shows_what_cannot_be_had_as_none():
    value = intervals.interval(np.float64(0.2), (np.float64("nan"), np.float64("nan")))
    assert value == Interval(0.2, None, None)
    assert value.to_dict() == {"value": 0.2, "low": None, "high": None}


def test_exact_tolerance_factor_covers_as_it_says(chance):
    """By simulation, 40,000 samples of 15: SE of the confidence 0.11 points, tolerance 4.5 SE."""
    samples = chance.standard_normal((40_000, 15))
    mean, sd = samples.mean(axis=1), samples.std(axis=1, ddof=1)
    k = tolerance.exact_factor(15)
    covered = stats.norm.cdf(mean + k * sd) - stats.norm.cdf(mean - k * sd)
    assert np.mean(covered >= 0.95) == pytest.approx(0.95, abs=0.005)


def test_howes_factor_is_close_to_the_exact_one():
    for n in (20, 50, 100):
        assert float(tolerance.howe_factor(n)) == pytest.approx(tolerance.exact_factor(n), rel=0.004)


def test_the_one_sided_approximation_is_close_to_the_exact_factor_and_none_where_it_has_none():
    for n in (20, 50, 100):
        exact = float(tolerance.exact_factor_one_sided(n))
        assert float(tolerance.howe_factor_one_sided(n)) == pytest.approx(exact, rel=0.01)
    assert np.isnan(tolerance.howe_factor_one_sided([1, 2])).all()  # its divisor is below nought there


@pytest.mark.parametrize("n", [59, 93, 124, 150, 500, 1000])
def test_readings_outside_free_limits_agree_with_the_binomial(n):
    """59, 93, 124: the published smallest numbers for 0, 1, 2 outside (Wilks; design study)."""
    m = int(tolerance.outside_allowed(n))
    assert stats.binom.sf(m - 1, n, 0.05) >= 0.95
    assert stats.binom.sf(m, n, 0.05) < 0.95
    if n in (59, 93, 124):
        assert tolerance.outside_allowed(n - 1) == m - 1


def test_free_limits_hold_their_share_for_a_skew_distribution(chance):
    """Exponential errors, 4,000 samples of 100, by score: 95 % or more; 4 SE is 1.4 points."""
    from trainer.scoring.central import central
    from trainer.scoring.stacks import Stack

    errors = chance.exponential(1.0, (4000, 100))
    columns = central(Stack(np.arange(4000), np.full(4000, 100), errors, np.full((4000, 100), 5.0)))
    covered = stats.expon.cdf(columns["tolerance_high"]) - stats.expon.cdf(columns["tolerance_low"])
    assert np.mean(covered >= 0.95) > 0.95 - 0.014
    assert np.isnan(columns["tolerance_factor"]).all()
