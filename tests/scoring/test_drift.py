"""Drift and pace against scipy, statsmodels and hand-made sessions."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trainer.scoring import drift
from trainer.scoring.simulated import SimulatedReader, stratified_positions


@settings(max_examples=50, deadline=None)
@given(st.lists(st.integers(-5, 5), min_size=3, max_size=60))
def test_the_rank_trend_agrees_with_scipys_kendall_tau(values):
    trend = drift.mann_kendall(values)
    tau = stats.kendalltau(np.arange(len(values)), values).statistic
    if len(set(values)) == 1:
        assert (trend.s, trend.p_value) == (0, None)
        return
    pairs = len(values) * (len(values) - 1) / 2
    ties = sum(n * (n - 1) / 2 for n in np.unique(values, return_counts=True)[1])
    assert trend.s == pytest.approx(tau * np.sqrt(pairs * (pairs - ties)), abs=1e-6)


def test_the_slope_of_all_pairs_agrees_with_scipy(chance):
    for n in (3, 10, 41):
        values = chance.normal(0, 1, n) + 0.1 * np.arange(n) + 20
        assert drift.sen_slope(values) == pytest.approx(stats.theilslopes(values).slope)


def test_many_values_are_ranked_by_sorting_with_the_same_result(chance, monkeypatch):
    values = np.rint(chance.normal(0, 3, 500))
    full = drift.mann_kendall(values)
    monkeypatch.setattr(drift, "PAIRS_IN_FULL", 100)
    assert drift.mann_kendall(values) == full


def test_the_rank_test_keeps_its_size_and_finds_a_trend(chance):
    """5 % of 600 quiet sessions within 4 SE (3.6 points); a drift of 1 tenth in 100 readings mostly."""
    quiet = [drift.mann_kendall(chance.normal(0, 0.6, 60)).p_value < 0.05 for _ in range(600)]
    assert np.mean(quiet) == pytest.approx(0.05, abs=0.036)
    reader = SimulatedReader("tiring", 0.0, 0.5, drift_tenths_per_100=1.0)
    found = []
    for _ in range(60):
        truth = stratified_positions(100, chance)
        found.append(drift.mann_kendall(reader.answers(truth, chance) - truth).p_value < 0.05)
    assert np.mean(found) > 0.85


def test_sessions_are_combined_without_comparing_across_them():
    """A jump between sessions is no trend within them (Hirsch, Slack and Smith 1982)."""
    first, second = np.array([3.0, 1, 2, 4, 0]), np.array([13.0, 11, 12, 14, 10])
    both = drift.combined([first, second])
    assert both.s == 2 * drift.mann_kendall(first).s
    assert both.variance == 2 * drift.mann_kendall(first).variance
    assert drift.mann_kendall(np.concatenate([first, second])).s > both.s


def test_the_regression_agrees_with_scipy(chance):
    place, values = np.arange(40), chance.normal(0, 1, 40) + 0.02 * np.arange(40)
    ours, expected = drift.regression(place, values), stats.linregress(place, values)
    assert ours.slope == pytest.approx(expected.slope, rel=1e-12)
    assert ours.slope_se == pytest.approx(expected.stderr, rel=1e-12)
    assert ours.p_value == pytest.approx(expected.pvalue, rel=1e-10)
    assert ours.intercept_se == pytest.approx(expected.intercept_stderr, rel=1e-12)


def test_the_regression_meets_nist_norris():
    """NIST StRD Norris: certified B1 and its standard deviation, B0, residual standard deviation."""
    from pathlib import Path

    from scipy.stats.tests import __file__ as tests_of_scipy  # the data ship with scipy

    lines = (Path(tests_of_scipy).parent / "data/nist_linregress/Norris.dat").read_text().splitlines()[60:]
    y, x = np.array([line.split() for line in lines if line.strip()], float).T
    fit = drift.regression(x, y)
    assert fit.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert fit.slope_se == pytest.approx(0.429796848199937e-03, rel=1e-12)
    assert fit.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert fit.intercept_se == pytest.approx(0.232818234301152, rel=1e-12)
    assert fit.residual_sd == pytest.approx(0.884796396144373, rel=1e-13)


def test_the_first_five_readings_are_compared_by_welch(chance):
    place = np.tile(np.arange(20), 4)
    error = chance.normal(0, 0.5, 80) + 0.8 * (place < 5)
    result = drift.first_five(error, place)
    expected = stats.ttest_ind(error[place < 5], error[place >= 5], equal_var=False)
    assert result.readings == 20
    assert result.p_value == pytest.approx(expected.pvalue, rel=1e-9)
    ends = expected.confidence_interval()
    assert (result.difference_tenths.low, result.difference_tenths.high) == pytest.approx(
        (ends.low, ends.high)
    )


def test_the_first_five_readings_differ_in_spread_by_the_ratio_of_both(chance):
    place = np.tile(np.arange(20), 4)
    error = chance.normal(0, 0.5, 80) * np.where(place < 5, 2.0, 1.0)
    found = drift.first_five(error, place)
    wanted = error[place < 5].std(ddof=1) / error[place >= 5].std(ddof=1)
    assert found.spread_ratio == pytest.approx(wanted)
    assert found.to_dict()["spread_ratio"] == found.spread_ratio
    assert set(found.to_dict()) == {"difference_tenths", "p_value", "spread_ratio", "readings"}
    alike = drift.first_five(np.where(place < 5, 0.5, 0.2), place)  # without any scatter there is no test
    assert alike.difference_tenths.value == pytest.approx(0.3)
    assert (alike.difference_tenths.low, alike.p_value) == (None, None)


def test_three_readings_have_a_trend_and_a_perfect_line_leaves_no_doubt():
    ours, expected = (
        drift.regression([0, 1, 2], [0.0, 1.0, 0.5]),
        stats.linregress([0, 1, 2], [0.0, 1.0, 0.5]),
    )
    assert (ours.df, ours.p_value) == (1, pytest.approx(expected.pvalue))
    assert drift.regression([0, 1, 2, 3], [0.0, 1.0, 2.0, 3.0]).p_value == 0.0
    flat = drift.regression(np.arange(30), np.full(30, 0.1))  # whose mean in binary numbers is not 0.1
    assert (flat.slope, flat.residual_sd, flat.p_value) == (0.0, 0.0, None)
    assert drift.regression([1, 1, 1], [0.0, 1.0, 0.5]).slope is None


def test_pace_is_spearmans_correlation_of_time_and_size_of_error(chance):
    seconds = chance.gamma(4, 1, 60)
    error = chance.normal(0, 1, 60) / seconds
    result = drift.pace(error, seconds)
    expected = stats.spearmanr(seconds, abs(error - error.mean()))
    assert result.correlation == pytest.approx(expected.statistic, rel=1e-12)
    assert result.p_value == pytest.approx(expected.pvalue, rel=1e-9)
    assert result.median_seconds == np.median(seconds)


def test_bad_times_are_left_out():
    result = drift.pace(np.array([0.1, 0.2, 0.3]), np.array([np.nan, -1.0, 2.0]))
    assert (result.readings, result.median_seconds, result.p_value) == (1, 2.0, None)
    assert drift.pace(np.zeros(2), np.full(2, np.nan)).median_seconds is None


def test_little_data_have_no_trend():
    assert drift.mann_kendall([]).p_value is None
    assert drift.mann_kendall([1.0]).p_value is None
    assert drift.mann_kendall([2.0, 2.0, 2.0]).p_value is None
    assert drift.regression([1, 2], [0, 1]).slope is None
    assert drift.first_five(np.array([0.1, 0.2]), np.array([0, 1])).p_value is None
    assert drift.serial_correlation([1.0, 1.0]) is None
