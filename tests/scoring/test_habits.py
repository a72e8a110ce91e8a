"""Digit preference: the size of the test for readers without habits, its power, and what it reports."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from trainer.scoring.simulated import SimulatedReader, stratified_positions
from trainer.scoring.table import score_people, score_readings

HONEST = (
    SimulatedReader("sharp", sigma_tenths=0.15),
    SimulatedReader("biased", bias_tenths=0.4, sigma_tenths=0.5),
    SimulatedReader("cyclic", sigma_tenths=0.6, exponent=0.75),
    SimulatedReader("cyclic the other way", sigma_tenths=0.5, exponent=1.3),
    SimulatedReader("two cycles", sigma_tenths=0.5, exponent=1.4, cycles=2),
    SimulatedReader("uneven", bias_tenths=0.5, sigma_tenths=0.95, uneven=True),
    SimulatedReader("long tails", sigma_tenths=0.8, tails_df=4),
)


def columns(reader, people, readings, chance, *, clipped=False, step=None):
    truth = np.concatenate([stratified_positions(readings, chance) for _ in range(people)])
    frame = pd.DataFrame(
        {
            "person": np.repeat(np.arange(people), readings),
            "truth_tenths": truth,
            "answer_tenths": reader.answers(truth, chance, clipped=clipped),
            "drill": "tenths" if clipped else "full-reading",
        }
    )
    return score_people(frame).columns


@pytest.mark.parametrize("clipped", [False, True], ids=["full readings", "tenths only"])
@pytest.mark.parametrize("reader", HONEST, ids=lambda reader: reader.name)
def test_an_honest_reader_is_seldom_accused(reader, clipped, chance):
    """Nominal size 5 %. The study's worst null is 4.2 % at n = 200; 1,500 readers: 4 SE is 2.1 points."""
    accused = np.mean(columns(reader, 1500, 200, chance, clipped=clipped)["digit_p"] < 0.05)
    assert accused < 0.05 + 0.021


@pytest.mark.parametrize(
    ("readings", "share"),
    [
        (100, 0.84),
        (200, 0.986),
    ],  # power of the study for 20 % coarse pull, noise 0.6, answers within the pair
)
def test_a_digit_habit_is_found_as_often_as_the_study_says(readings, share, chance):
    """800 readers, 4 SE: 5 and 2 points; this test may be better than the study's, not worse."""
    reader = SimulatedReader("habit", sigma_tenths=0.6, pull=0.2)
    found = np.mean(columns(reader, 800, readings, chance, clipped=True)["digit_p"] < 0.05)
    assert found > share - 4 * (share * (1 - share) / 800) ** 0.5


def test_the_index_recovers_most_of_the_pull(chance):
    """Design study: 0.166 for a true 0.20, since the fit takes a part for noise."""
    habit = columns(SimulatedReader("habit", sigma_tenths=0.6, pull=0.2), 400, 500, chance)
    assert habit["digit_index"].mean() == pytest.approx(0.17, abs=0.02)


def test_what_the_habit_costs_is_near_the_true_cost(chance):
    truth = stratified_positions(5000, chance)
    with_habit = score_readings(
        truth, SimulatedReader("h", sigma_tenths=0.6, pull=0.25).answers(truth, chance)
    )
    without = SimulatedReader("n", sigma_tenths=0.6).true_values().spread_tenths
    cost = with_habit.digit_preference.spread_cost_tenths
    assert cost == pytest.approx(with_habit.spread_tenths.value - without, rel=0.35)


def test_favoured_and_shunned_digits_are_named(chance):
    truth = stratified_positions(600, chance)
    score = score_readings(truth, SimulatedReader("h", sigma_tenths=0.5, pull=0.4).answers(truth, chance))
    digits = score.digit_preference
    assert digits.favoured == (0, 5)
    assert set(digits.shunned) <= {1, 2, 3, 4, 6, 7, 8, 9}
    assert digits.shunned
    for (
        digit
    ) in digits.shunned:  # beyond 2.81 standard deviations, which are a little below a Poisson count's
        assert digits.counts[digit] < digits.expected[digit] - 2.5 * digits.expected[digit] ** 0.5
    assert sum(digits.counts) == score.used
    words = dict(digits.summary()[["digit", "preference"]].itertuples(index=False))
    told = {"favoured": digits.favoured, "shunned": digits.shunned}
    assert words == {d: next((word for word, ones in told.items() if d in ones), "") for d in range(10)}


@pytest.mark.parametrize("clipped", [False, True], ids=["full readings", "tenths only"])
@pytest.mark.parametrize(
    "reader",
    [SimulatedReader("curved", 0.2, 0.6, exponent=0.8), SimulatedReader("wide", 0.1, 0.95)],
    ids=lambda reader: reader.name,
)
def test_the_expected_counts_are_those_of_a_reader_without_the_habit(reader, clipped, chance):
    """Against 8 simulations of the same reader at the same 100,000 positions: within 1.5 % of each count."""
    truth = stratified_positions(100_000, chance)
    frame = pd.DataFrame({"person": "a", "truth_tenths": truth, "drill": "tenths" if clipped else "x"})
    (score,) = score_people(frame.assign(answer_tenths=reader.answers(truth, chance, clipped=clipped))).people
    digits = [
        np.mod(np.rint(reader.answers(truth, chance, clipped=clipped)), 10).astype(int) for _ in range(8)
    ]
    simulated = np.mean([np.bincount(d, minlength=10) for d in digits], axis=0)
    np.testing.assert_allclose(score.digit_preference.expected, simulated, rtol=0.015)


def test_many_clipped_answers_accuse_no_more_honest_readers_than_few(chance):
    """From 300 readings on the fit is made on the answers before they were clipped; 400 readers, 4 SE."""
    reader = SimulatedReader("biased", bias_tenths=0.4, sigma_tenths=0.9)
    accused = np.mean(columns(reader, 400, 600, chance, clipped=True)["digit_p"] < 0.05)
    assert accused < 0.05 + 4 * (0.05 * 0.95 / 400) ** 0.5


def test_the_statistic_is_its_definition_for_a_known_reader(chance):
    """With thousands of readings the fit is the truth: z from the true probabilities is close to it."""
    reader = SimulatedReader("flat, so that both curves hold", 0.1, 0.6)
    truth = stratified_positions(20_000, chance)
    answer = reader.answers(truth, chance)
    inside = np.mod(truth, 10)
    relative = np.rint(answer - truth + inside)
    centre = inside + 0.1
    cells = [
        stats.norm.cdf((k + 0.5 - centre) / 0.6) - stats.norm.cdf((k - 0.5 - centre) / 0.6)
        for k in (0, 5, 10)
    ]
    p = sum(cells)
    z = (np.isin(relative, (0, 5, 10)).sum() - p.sum()) / np.sqrt((p * (1 - p)).sum())
    assert score_readings(truth, answer).digit_preference.statistic == pytest.approx(z, abs=0.6)


def test_half_tenths_are_tested_in_cells_of_half_a_tenth(chance):
    honest = SimulatedReader("halves", sigma_tenths=0.4, step_tenths=0.5)
    accused = np.mean(columns(honest, 600, 200, chance)["digit_p"] < 0.05)
    assert accused < 0.05 + 4 * 0.009
    truth = stratified_positions(300, chance)
    score = score_readings(truth, honest.answers(truth, chance))
    assert sum(score.digit_preference.counts) < score.used  # half tenths have no last digit of their own


def test_answers_finer_than_half_tenths_have_no_digits_to_prefer(chance):
    truth = stratified_positions(200, chance)
    score = score_readings(truth, truth + chance.normal(0, 0.3, 200))
    assert score.digit_preference.statistic is None
    assert score.reasons["digit_preference"] == "answers are not in whole or half tenths"


def test_too_few_readings_are_not_tested():
    score = score_readings(np.arange(19.0), np.arange(19.0) % 3 + np.arange(19.0))
    assert score.digit_preference.p_value is None
    assert "at least 20" in score.reasons["digit_preference"]


def test_many_readings_are_put_on_nodes_without_changing_the_result(chance, monkeypatch):
    """A person with 500 readings or more is worked out on 201 nodes: within 0.02 of z, 0.2 of a count."""
    from trainer.scoring import habits

    for reader in (SimulatedReader("curved", 0.3, 0.4, exponent=0.7), SimulatedReader("h", pull=0.2)):
        truth = stratified_positions(900, chance)
        answer = reader.answers(truth, chance)
        nodes = score_readings(truth, answer).digit_preference
        with monkeypatch.context() as patch:
            patch.setattr(habits, "BINNED_FROM", 10**9)
            direct = score_readings(truth, answer).digit_preference
        assert nodes.statistic == pytest.approx(direct.statistic, abs=0.02)
        np.testing.assert_allclose(nodes.expected, direct.expected, atol=0.2)
        assert nodes.statistic != direct.statistic  # the two ways were taken
