"""Intervals hold the truth as often as they say: a small version of tests/benchmarks/bench_coverage.py.

Tolerances are 4 Monte Carlo standard errors around the figures printed in docs/methods/scoring.md, which
the benchmark script writes from many more readers.
"""

import numpy as np
import pandas as pd
import pytest

from trainer.scoring.simulated import SIX_READERS, SimulatedReader, stratified_positions
from trainer.scoring.table import score_people

PEOPLE = 1500
SLACK = 4 * (0.95 * 0.05 / PEOPLE) ** 0.5  # 2.3 points


def columns(reader, people, n, chance, *, random_truths=False, sessions=1):
    truth, answer = [], []
    for _ in range(people * sessions):
        size = n // sessions
        dealt = 20_000 * chance.random(size) if random_truths else stratified_positions(size, chance)
        truth.append(dealt)
        answer.append(reader.answers(dealt, chance))
    frame = pd.DataFrame(
        {
            "person": np.repeat(np.arange(people), n),
            "truth_tenths": np.concatenate(truth),
            "answer_tenths": np.concatenate(answer),
            "session": np.tile(np.repeat(np.arange(sessions), n // sessions), people),
        }
    )
    return score_people(frame).columns


def held(c, name, value):
    low, high = c[f"{name}_low"], c[f"{name}_high"]
    exists = np.isfinite(low)
    return np.mean(((low <= value) & (value <= high))[exists])


@pytest.mark.parametrize("n", [20, 50, 100])
@pytest.mark.parametrize("reader", SIX_READERS, ids=lambda reader: reader.name)
def test_intervals_of_bias_spread_and_rms_hold_their_promise(reader, n, chance):
    """Promise: 94 to 96.5 %; long tails 90 % (spread and rms), habits 93 % at n = 20 (design study)."""
    truth = reader.true_values(readings=500_000)
    c = columns(reader, PEOPLE, n, chance)
    attained = 0.90 if reader.tails_df else 0.925 if n == 20 else 0.94
    assert 0.94 - SLACK < held(c, "bias", truth.bias_tenths) < 0.965 + SLACK
    assert attained - SLACK < held(c, "sd", truth.spread_tenths) < 0.97 + SLACK
    assert attained - SLACK < held(c, "rms", truth.rms_tenths) < 0.97 + SLACK


@pytest.mark.parametrize("reader", [SIX_READERS[1], SIX_READERS[2]], ids=lambda reader: reader.name)
def test_truths_dealt_by_chance_do_not_spoil_the_bias_interval(reader, chance):
    c = columns(reader, PEOPLE, 60, chance, random_truths=True)
    assert held(c, "bias", reader.true_values(readings=500_000).bias_tenths) == pytest.approx(0.95, abs=SLACK)


def test_rates_hold_at_least_their_confidence(chance):
    slips = SimulatedReader("slips", 0.1, 0.5, misread_rates={"turn": 0.03})
    c = columns(slips, PEOPLE, 100, chance)
    assert held(c, "misread", 0.03) > 0.95 - SLACK
    assert held(c, "within", slips.true_values(readings=500_000).within_one_tenth) > 0.95 - SLACK


def test_only_session_means_hold_the_long_run_bias(chance):
    """Bias moving by 0.2 between 5 sessions of 20: 94.8 to 95.2 % against 78 % (design study)."""
    reader = SimulatedReader("drifting", 0.2, 0.6, session_sd_tenths=0.2)
    c = columns(reader, PEOPLE, 100, chance, sessions=5)
    assert held(c, "session", 0.2) == pytest.approx(0.95, abs=SLACK)
    assert held(c, "bias", 0.2) == pytest.approx(0.779, abs=0.045)


def test_degrees_of_freedom_tell_how_well_u_reading_is_known(chance):
    """2 / df is the relative variance of u2 (GUM G.3): against its spread over readers, 20 % of df."""
    for reader in (SIX_READERS[0], SIX_READERS[1], SIX_READERS[3]):
        c = columns(reader, 3000, 100, chance)
        square = c["u"] ** 2
        real = 2 * square.mean() ** 2 / square.var(ddof=1)
        assert np.median(c["u_df"]) == pytest.approx(real, rel=0.2)
