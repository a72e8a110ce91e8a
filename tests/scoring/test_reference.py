"""The reference's part of a bench check, by hand and by simulation."""

import math

import numpy as np
import pandas as pd
import pytest

from trainer.scoring.intervals import Interval
from trainer.scoring.reference import ReferenceUncertainty, bench_result, without
from trainer.scoring.table import score_people


def test_parts_of_a_reference_by_hand():
    # JCGM 100:2008 F.2.2.1: step/sqrt(12) = 0.29 step; 4.3.7: half-width/sqrt(3)
    display = ReferenceUncertainty(step_tenths=0.5, accuracy_tenths=1.0, zero_u_tenths=0.1, zero_df=4)
    assert display.resolution_u_tenths == pytest.approx(0.1443, abs=5e-5)
    assert display.accuracy_u_tenths == pytest.approx(0.5774, abs=5e-5)
    # zero: s = 0.1 sqrt(5), so rounding is averaged out but for exp(-2 (pi s/step)^2) = exp(-3.948)
    assert display.zero_resolution_u_tenths == pytest.approx(0.1443 * math.exp(-3.948), rel=1e-3)
    assert display.u_tenths == pytest.approx(math.sqrt(0.5**2 / 12 + 1 / 3 + 0.01 + 0.00278**2), rel=1e-6)


def test_a_zero_that_never_moves_is_known_no_better_than_the_step():
    still = ReferenceUncertainty(step_tenths=2.0, zero_u_tenths=0.0, zero_df=4)
    assert still.zero_resolution_u_tenths == pytest.approx(2 / math.sqrt(12))
    vernier = ReferenceUncertainty(step_tenths=2.0)  # which has no zero to set
    assert vernier.zero_resolution_u_tenths == 0.0


@pytest.mark.parametrize("scatter_in_steps", [0.0, 0.15, 0.25, 0.4])
def test_what_rounding_leaves_of_a_zero_is_as_large_as_said(chance, scatter_in_steps):
    # many observations, so that their own scatter averages out and only rounding remains
    offsets = chance.uniform(-0.5, 0.5, 400)
    seen = np.rint(offsets[:, None] + chance.normal(0, scatter_in_steps, (400, 4000)))
    left = float(np.std(seen.mean(axis=1) - offsets))
    said = ReferenceUncertainty(1.0, zero_u_tenths=scatter_in_steps / math.sqrt(5), zero_df=4)
    own = scatter_in_steps / math.sqrt(4000)
    assert left <= 1.15 * math.hypot(said.zero_resolution_u_tenths, own) + 0.005
    assert left >= 0.7 * said.zero_resolution_u_tenths


def test_degrees_of_freedom_join_by_welch_and_satterthwaite():
    """JCGM 100:2008, G.4.1: u^4 over the sum of u_i^4/nu_i, where certain parts have no share."""
    zeroed = ReferenceUncertainty(step_tenths=1e-9, accuracy_tenths=0.6, zero_u_tenths=0.2, zero_df=4)
    u, df = zeroed.widened(0.3, 9.0)
    assert u == pytest.approx(math.sqrt(0.3**2 + 0.6**2 / 3 + 0.2**2))
    assert df == pytest.approx(u**4 / (0.3**4 / 9 + 0.2**4 / 4))
    assert ReferenceUncertainty(step_tenths=0.5).widened(0.0, math.inf)[1] == math.inf


def test_taking_a_part_out_of_a_spread():
    taken = without(Interval(0.5, 0.4, 0.65), 0.3)
    assert taken.value == pytest.approx(0.4)
    assert taken.low == pytest.approx(math.sqrt(0.07))
    assert without(Interval(0.2, 0.1, 0.4), 0.3).value == 0.0
    assert without(Interval(None), 0.3) == Interval(None)


def simulated_check(chance, readings, *, bias, sigma, step, zero):
    """Return the bench result of a reader with known bias and spread against a stepped display."""
    truth = chance.uniform(0, 10_000, readings)
    estimate = np.round(truth + bias + chance.normal(0, sigma, readings))
    display = np.round((truth + zero) / step) * step
    zeros = np.round((zero + chance.normal(0, 0.2, 8)) / step) * step
    reference = ReferenceUncertainty(step, 0.0, float(zeros.std(ddof=1) / math.sqrt(8)), 7.0)
    answers = pd.DataFrame(
        {
            "person": "P",
            "truth_tenths": display - zeros.mean(),
            "answer_tenths": estimate,
            "instrument": "inch",
        }
    )
    return bench_result(score_people(answers).people[0], reference)


def test_a_known_reader_is_recovered_and_the_intervals_hold(chance):
    # display step 0.00005 in = 0.5 tenth, zero offset 1.3 tenths; rounding to a tenth is part of the reader
    bias, sigma = 0.3, 0.6
    own = math.sqrt(sigma**2 + 1 / 12)
    results = [simulated_check(chance, 60, bias=bias, sigma=sigma, step=0.5, zero=1.3) for _ in range(400)]
    spreads = [result.spread_tenths for result in results]
    biases = [result.bias_tenths for result in results]
    assert np.mean([s.value for s in spreads]) == pytest.approx(own, abs=0.02)
    assert np.mean([b.value for b in biases]) == pytest.approx(bias, abs=0.03)
    held_spread = np.mean([s.low <= own <= s.high for s in spreads])
    held_bias = np.mean([b.low <= bias <= b.high for b in biases])
    assert held_spread == pytest.approx(0.95, abs=0.044)  # 4 standard errors of 400 trials
    assert held_bias >= 0.95 - 0.044


def test_a_coarse_reference_is_said_to_be_one(chance):
    coarse = simulated_check(chance, 60, bias=0.0, sigma=0.3, step=1.0, zero=0.0)
    assert coarse.ratio is not None
    assert coarse.ratio < 4
    assert any("not good enough" in caution for caution in coarse.cautions)
    assert any("against this reference only" in caution for caution in coarse.cautions)


def test_a_reference_between_good_and_poor_is_said_to_be_taken_out(chance):
    """A spread of 0.6 and rounding, 0.66, against a step of 0.35 (0.10, and what the zero adds)."""
    fair = simulated_check(chance, 200, bias=0.0, sigma=0.6, step=0.35, zero=0.0)
    assert 4 < fair.ratio < 10
    (said,) = [caution for caution in fair.cautions if "to 1" in caution]
    times = f"{math.floor(10 * fair.ratio) / 10:.1f}"
    assert said.startswith(f"the reference beats the spread {times} to 1, less than 10 to 1;")


def test_one_reading_gives_no_false_number():
    answers = pd.DataFrame({"person": ["P"], "truth_tenths": [10.2], "answer_tenths": [10.0]})
    result = bench_result(score_people(answers).people[0], ReferenceUncertainty(0.5))
    assert result.spread_tenths == Interval(None)
    assert result.ratio is None
