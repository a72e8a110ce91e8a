"""The simulated readers are what they say: bias, spread, habits, slips and drift as asked for."""

import numpy as np
import pytest
from scipy import integrate, stats

from trainer.scoring.errors import within_division
from trainer.scoring.misreads import KINDS, is_misread, kinds, signatures
from trainer.scoring.simulated import SIX_READERS, SimulatedReader, slip, stratified_positions

METRIC = signatures("metric")


def test_a_reader_has_the_bias_and_spread_asked_for(chance):
    """200,000 readings: noise and rounding add in squares (4 SE of the spread 0.004, of the mean 0.005)."""
    truth = stratified_positions(200_000, chance)
    error = SimulatedReader("plain", 0.3, 0.5).answers(truth, chance) - truth
    assert error.mean() == pytest.approx(0.3, abs=0.006)
    assert error.std() == pytest.approx((0.25 + 1 / 12) ** 0.5, abs=0.005)


def test_long_tails_keep_the_standard_deviation(chance):
    truth = stratified_positions(400_000, chance)
    error = SimulatedReader("tails", 0.0, 0.8, tails_df=6).answers(truth, chance) - truth
    assert error.std() == pytest.approx((0.64 + 1 / 12) ** 0.5, rel=0.02)
    assert np.mean(np.abs(error) > 3.2) > 3e-4  # a normal reader: 6e-5 at four standard deviations


def test_pulled_answers_end_in_0_or_5(chance):
    truth = stratified_positions(5000, chance)
    answer = SimulatedReader("always", 0.0, 0.3, pull=1.0).answers(truth, chance)
    assert set(np.mod(answer, 10)) == {0.0, 5.0}


def test_clipped_answers_stay_within_their_pair_of_lines_and_free_ones_do_not(chance):
    truth = stratified_positions(5000, chance)
    base = truth - within_division(truth)
    reader = SimulatedReader("wide", 0.0, 1.0)
    clipped = reader.answers(truth, chance, clipped=True) - base
    free = reader.answers(truth, chance) - base
    assert clipped.min() == 0
    assert clipped.max() == 10
    assert free.min() < 0
    assert free.max() > 10


def test_half_tenths_are_given_where_asked_for(chance):
    answer = SimulatedReader("halves", step_tenths=0.5).answers(stratified_positions(1000, chance), chance)
    assert set(np.mod(answer, 1)) == {0.0, 0.5}


def test_bias_drifts_and_moves_between_sessions_as_asked(chance):
    reader = SimulatedReader("moving", 0.0, 0.2, drift_tenths_per_100=2.0, session_sd_tenths=0.5)
    means, slopes = [], []
    for _ in range(300):
        truth = stratified_positions(100, chance)
        error = reader.answers(truth, chance) - truth
        means.append(error.mean())
        slopes.append(np.polyfit(np.arange(100), error, 1)[0])
    assert np.mean(slopes) == pytest.approx(0.02, abs=0.001)
    assert np.std(means) == pytest.approx(0.5, abs=0.09)


def test_misreads_come_at_their_rates(chance):
    rates = {"graduation": 0.05, "half-millimetre": 0.03, "decimal-or-unit": 0.02}
    truth = stratified_positions(20_000, chance) + 1000
    reader = SimulatedReader("slips", 0.0, 0.4, misread_rates=rates)
    answer = reader.answers(truth, chance, signature=METRIC)
    flagged = is_misread(answer - truth, within_division(truth))
    found = np.bincount(kinds(truth[flagged], answer[flagged], METRIC), minlength=len(KINDS)) / 20_000
    for kind, rate in rates.items():
        assert found[KINDS.index(kind)] == pytest.approx(rate, abs=5 * (rate / 20_000) ** 0.5)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "unexplained"])
def test_every_kind_of_slip_can_be_made(kind):
    truth, answer = np.array([7388.3, 12_341.7]), np.array([7388.0, 12_342.0])
    slipped = slip(kind, answer, truth, np.array([1.0, -1.0]), METRIC)
    moved = slipped != answer
    assert moved.any()
    named = {KINDS[code] for code in kinds(truth[moved], slipped[moved], METRIC)}
    turns = {"turn", "half-millimetre"}  # both are 500 tenths here; whether the millimetre is kept names it
    if kind != "vernier-line":  # which says nothing of a thimble without one
        assert named & (turns if kind in turns else {kind})


def test_an_unknown_slip_is_refused():
    with pytest.raises(ValueError, match="no slip of kind 'yawn'"):
        slip("yawn", np.zeros(1), np.zeros(1), np.ones(1), METRIC)


def test_the_same_seed_gives_the_same_answers():
    truth = stratified_positions(50, np.random.default_rng(1))
    one, two = (SIX_READERS[3].answers(truth, np.random.default_rng(2)) for _ in range(2))
    assert (one == two).all()


def test_positions_are_dealt_evenly_over_the_tenths(chance):
    positions = stratified_positions(105, chance)
    counts = np.bincount(np.mod(positions, 10).astype(int), minlength=10)
    assert set(counts) <= {10, 11}
    assert np.bincount(np.mod(positions[:10], 10).astype(int), minlength=10).tolist() == [1] * 10


def test_true_values_are_those_of_the_formulas():
    """A reader without curve and habit: bias as given, spread sqrt(sigma2 + 1/12)."""
    true = SimulatedReader("plain", 0.2, 0.5).true_values()
    assert true.bias_tenths == pytest.approx(0.2, abs=0.002)
    assert true.spread_tenths == pytest.approx((0.25 + 1 / 12) ** 0.5, rel=0.002)
    assert true.rms_tenths == pytest.approx((0.04 + 0.25 + 1 / 12) ** 0.5, rel=0.002)


@pytest.mark.parametrize("sigma", [0.4, 0.9])
def test_the_true_share_within_a_tenth_is_that_of_noise_and_rounding_together(sigma):
    """A normal error and one even over a tenth, which is the rounding: the share within 1, by quadrature."""
    share = integrate.quad(lambda u: np.diff(stats.norm.cdf([-1 - u, 1 - u], scale=sigma))[0], -0.5, 0.5)[0]
    true = SimulatedReader("plain", 0.0, sigma).true_values()
    assert true.within_one_tenth == pytest.approx(share, abs=0.003)


def test_on_an_inch_instrument_without_half_lines_the_slip_is_a_turn():
    truth, answer = np.array([2783.6]), np.array([2784.0])
    slipped = slip("half-millimetre", answer, truth, np.array([1.0]), signatures("inch"))
    assert abs(slipped - answer).item() == 250.0  # one turn of 0.025 in


def test_true_values_of_clipped_answers_are_those_of_the_study():
    """Design study: noise 0.5 and 0.8 clipped to the pair look like 0.488 and 0.766 beside rounding."""
    for sigma, looks in ((0.5, 0.488), (0.8, 0.766)):
        true = SimulatedReader("clipped", 0.0, sigma).true_values(clipped=True)
        assert (true.spread_tenths**2 - 1 / 12) ** 0.5 == pytest.approx(looks, abs=0.003)
