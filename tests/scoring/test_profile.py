"""Interpolation profile: exponents recovered, their intervals, the test against none, honest corrections."""

import numpy as np
import pytest
from scipy import optimize, stats
from statsmodels.api import OLS

from trainer.scoring.interpolation import harmonics, power_curve
from trainer.scoring.profile import interpolation_profile
from trainer.scoring.simulated import SimulatedReader, stratified_positions


def profile_of(reader, chance, readings=300):
    truth = stratified_positions(readings, chance)
    return interpolation_profile(truth, reader.answers(truth, chance))


def test_the_curve_is_symmetric_and_zero_at_the_lines():
    share = np.linspace(0, 1, 101)
    for cycles in (1, 2):
        for exponent in (0.5, 0.8, 1.0, 1.7):
            curve = power_curve(share, exponent, cycles)
            np.testing.assert_allclose(curve[1:50], -curve[99:50:-1], atol=1e-12)
            assert abs(curve[[0, 50, 100]]).max() < 1e-5
    assert np.ptp(power_curve(share, 1.0)) < 1e-11


@pytest.mark.parametrize("cycles", [1, 2])
@pytest.mark.parametrize("exponent", [0.6, 0.8, 1.0, 1.4])
def test_the_exponent_is_recovered(cycles, exponent, chance):
    reader = SimulatedReader("curved", 0.1, 0.4, exponent=exponent, cycles=cycles)
    profile = profile_of(reader, chance, 4000)
    fit = profile.one_cycle if cycles == 1 else profile.two_cycles
    assert fit.exponent.value == pytest.approx(exponent, rel=0.07)
    assert fit.constant_tenths == pytest.approx(0.1, abs=0.05)


def test_the_fit_agrees_with_scipys_curve_fit(chance):
    truth = stratified_positions(250, chance)
    answer = SimulatedReader("curved", 0.2, 0.5, exponent=0.75).answers(truth, chance)

    def model(inside, constant, log_exponent):
        return constant + 10 * power_curve(inside / 10, float(np.exp(log_exponent)))

    inside = np.mod(truth, 10)
    best, covariance = optimize.curve_fit(model, inside, answer - truth, p0=(0.0, 0.0))
    fit = interpolation_profile(truth, answer).one_cycle
    assert fit.exponent.value == pytest.approx(np.exp(best[1]), rel=1e-5)
    assert fit.constant_tenths == pytest.approx(best[0], abs=1e-6)
    half = 1.9695 * covariance[1, 1] ** 0.5  # t(248), two-sided 95 %
    assert np.log(fit.exponent.high / fit.exponent.value) == pytest.approx(half, rel=2e-3)


def test_the_test_against_no_profile_is_an_f_test_of_two_harmonics(chance):
    truth = stratified_positions(200, chance)
    answer = SimulatedReader("curved", 0.2, 0.5, exponent=0.85).answers(truth, chance)
    inside = np.mod(truth, 10)
    fit = OLS(answer - truth, harmonics(inside)).fit()
    profile = interpolation_profile(truth, answer)
    assert profile.f_statistic == pytest.approx(fit.fvalue, rel=1e-6)
    assert profile.p_value == pytest.approx(fit.f_pvalue, rel=1e-6)


@pytest.mark.parametrize("exponent", [0.85, 1.0])
def test_the_p_value_of_a_curve_is_that_of_its_extra_sum_of_squares(exponent, chance):
    """F on 1 and n - 2 degrees of freedom of the fit by scipy, against a constant alone."""
    truth = stratified_positions(200, chance)
    error = SimulatedReader("curved", 0.2, 0.5, exponent=exponent).answers(truth, chance) - truth
    inside = np.mod(truth, 10)

    def model(at, constant, log_exponent):
        return constant + 10 * power_curve(at / 10, float(np.exp(log_exponent)))

    best, _ = optimize.curve_fit(model, inside, error, p0=(0.0, 0.0))
    left = ((error - model(inside, *best)) ** 2).sum()
    f = (((error - error.mean()) ** 2).sum() - left) / (left / 198)
    fit = interpolation_profile(truth, truth + error).one_cycle
    assert fit.p_value == pytest.approx(stats.f.sf(f, 1, 198), rel=1e-3, abs=1e-9)


def test_intervals_of_the_exponent_hold_it_as_often_as_they_say(chance):
    """400 readers of 150 readings: 95 % within 4 SE (4.4 points)."""
    reader = SimulatedReader("curved", 0.1, 0.5, exponent=0.8)
    held = 0
    for _ in range(400):
        interval = profile_of(reader, chance, 150).one_cycle.exponent
        held += interval.low <= 0.8 <= interval.high
    assert held / 400 == pytest.approx(0.95, abs=0.044)


def test_a_flat_reader_is_seldom_given_a_profile(chance):
    """Size 5 % of both tests, 400 readers, 4 SE."""
    profiles = [profile_of(SimulatedReader("flat", 0.2, 0.6), chance, 100) for _ in range(400)]
    assert np.mean([p.p_value < 0.05 for p in profiles]) < 0.05 + 0.044
    assert np.mean([p.one_cycle.p_value < 0.05 for p in profiles]) < 0.05 + 0.044


def test_a_correction_helps_where_there_is_something_to_correct(chance):
    curved = profile_of(SimulatedReader("curved", 0.6, 0.3, exponent=0.6), chance, 400).correction
    assert curved.helps
    assert curved.kind == "by-digit"
    assert curved.gain > 0.2
    # the reading is too high by the bias, so something is taken off nearly everywhere
    assert np.mean(curved.by_digit) < -0.3


def test_the_gain_holds_on_new_readings(chance):
    reader = SimulatedReader("curved", 0.6, 0.3, exponent=0.6)
    correction = profile_of(reader, chance, 400).correction
    truth = stratified_positions(20_000, chance)
    answer = reader.answers(truth, chance)
    corrected = answer + np.array(correction.by_digit)[np.mod(np.rint(answer), 10).astype(int)]
    before, after = (np.sqrt(np.mean((x - truth) ** 2)) for x in (answer, corrected))
    assert 1 - after / before == pytest.approx(correction.gain, abs=4 * correction.gain_se + 0.03)


def test_a_correction_says_so_when_it_does_not_help(chance):
    """At most a few in a hundred unbiased flat readers are advised to correct."""
    corrections = [profile_of(SimulatedReader("flat", 0.0, 0.6), chance, 100).correction for _ in range(200)]
    advised = [c for c in corrections if c.helps]
    assert len(advised) <= 16
    refused = next(c for c in corrections if not c.helps)
    assert refused.kind == "none"
    assert refused.by_digit == (0.0,) * 10
    assert "would not clearly help" in refused.advice


def test_misreads_do_not_bend_the_curve(chance):
    truth = stratified_positions(300, chance)
    answer = SimulatedReader("curved", 0.1, 0.4, exponent=0.8).answers(truth, chance)
    slipped = answer.copy()
    slipped[::10] += 10
    assert interpolation_profile(truth, slipped).readings == 270


def test_too_few_readings_have_no_profile(chance):
    profile = profile_of(SimulatedReader("flat", 0.0, 0.6), chance, 49)
    assert profile.one_cycle.exponent.value is None
    assert profile.p_value is None
    assert "needs at least 50" in profile.correction.advice
    assert profile.to_dict()["correction"]["gain"] is None
