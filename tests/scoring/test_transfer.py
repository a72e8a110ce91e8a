"""Screen against bench: by hand, in words, and by simulated readers with a known reference."""

import math

import numpy as np
import pandas as pd
import pytest

from tests.benchmarks.bench_transfer import coverage
from trainer.scoring.intervals import Interval
from trainer.scoring.pairs import Side, UnusablePair
from trainer.scoring.reference import ReferenceUncertainty
from trainer.scoring.transfer import compare, of_sides

EXACT = ReferenceUncertainty(step_tenths=0.0)


def side(name="Kim", *, used=50, bias=0.1, se=0.08, df=49.0, sd=0.6, kurtosis=3.0, sessions=1, **more):
    values = {"misreads": 0, "session_mean": bias, "session_sd": None} | more
    return Side(
        name, used=used, bias=bias, se=se, df=df, sd=sd, kurtosis=kurtosis, sessions=sessions, **values
    )


def test_the_difference_is_bench_less_screen_with_the_common_parts_in_its_interval():
    # by hand: se^2 = 0.06^2 + 0.08^2 + 0.05^2 (zero) + 0.3^2/3 (accuracy); JCGM 100:2008, G.4.1 for its df
    reference = ReferenceUncertainty(0.5, 0.3, 0.05, 4.0)
    zero_step = reference.zero_resolution_u_tenths
    found = of_sides(side(bias=0.1, se=0.06, df=99.0), side(bias=0.3, se=0.08, df=49.0), reference)
    difference = found.bias_difference_tenths
    whole = math.sqrt(0.06**2 + 0.08**2 + 0.05**2 + 0.03 + zero_step**2)
    assert difference.value == pytest.approx(0.2)
    half = difference.high - difference.value
    assert 1.96 * whole < half < 2.0 * whole
    assert found.bias_differs is False


def test_the_reference_is_taken_out_of_the_bench_spread():
    reference = ReferenceUncertainty(0.5)
    found = of_sides(side(sd=0.6), side(sd=math.hypot(0.6, 0.5 / math.sqrt(12))), reference)
    assert found.spread_ratio.value == pytest.approx(1.0)
    assert found.bench.sd == pytest.approx(0.6)
    assert found.observed_bench_sd > 0.6


def test_with_an_exact_reference_the_ends_are_those_of_bonett_squared_and_added():
    # Zou and Donner 2008: the distances of both intervals from their values, on a log scale
    found = of_sides(side(used=100), side(used=100), EXACT).spread_ratio
    low, high = 0.8753, 1.1654  # Bonett 2006 for s = 1, kurtosis 3, n = 100; as in trainer.scoring.intervals
    assert found.low == pytest.approx(math.exp(-math.hypot(math.log(low), math.log(high))), abs=2e-4)
    assert found.high == pytest.approx(1 / found.low)


def test_the_finding_is_said_in_a_sentence():
    found = of_sides(side(bias=0.0), side(bias=0.123), EXACT)
    bias, spread = found.sentences()
    assert bias.startswith(
        "on the bench Kim reads 0.12 tenths higher than on the screen (95 %: -0.10 to 0.35)"
    )
    assert bias.endswith(": no difference shown")
    assert spread.startswith("the spread on the bench is 1.00 times that on the screen (95 %: ")
    shown = of_sides(side(bias=0.0, sd=0.4), side(bias=-0.9, sd=0.9), EXACT)
    assert shown.bias_differs
    assert shown.spread_differs
    assert "0.90 tenths lower" in shown.sentences()[0]
    assert all(text.endswith("a difference is shown") for text in shown.sentences())


def test_a_reference_as_coarse_as_the_scatter_gives_no_spread_of_its_own():
    found = of_sides(side(), side(sd=0.5), ReferenceUncertainty(2.0))
    assert found.spread_ratio.value == 0.0
    assert found.spread_ratio.low == 0.0
    assert "reference's step" in found.reasons["spread_ratio"]


def test_too_few_bench_readings_give_a_ratio_without_an_interval():
    found = of_sides(side(), side(used=12), EXACT)
    assert found.spread_ratio == Interval(pytest.approx(1.0))
    assert "12 readings; an interval for a spread needs 20" in found.sentences()[1]
    assert found.spread_differs is None


def test_equal_errors_on_one_side_are_told():
    found = of_sides(side(sd=0.0, se=None, df=None), side(), EXACT)
    assert found.spread_ratio is None
    assert "gave equal errors only" in found.reasons["spread_ratio"]
    assert "without an interval" in found.sentences()[0]


def test_other_days_carry_the_accuracy_that_no_number_of_days_averages_out():
    days = {"sessions": 4, "session_sd": 0.2}
    narrow = of_sides(side(**days), side(**days), EXACT).across_sessions_tenths
    wide = of_sides(side(**days), side(**days), ReferenceUncertainty(0.5, 1.0)).across_sessions_tenths
    assert wide.high - wide.low == pytest.approx(
        2 * math.hypot(narrow.high - narrow.value, 1.96 / math.sqrt(3)), rel=1e-4
    )


def test_no_readings_on_a_side_is_refused():
    with pytest.raises(UnusablePair, match="Kim has no bench readings left"):
        of_sides(side(), side(used=0, bias=None), EXACT)


def table(person, n, bias, rng):
    truth = rng.uniform(0, 9000, n)
    return pd.DataFrame({"person": person, "truth_tenths": truth, "answer_tenths": np.rint(truth + bias)})


def test_tables_of_one_person_are_compared_and_of_several_refused(chance):
    found = compare(table("Kim", 200, 0.0, chance), table("Kim", 60, 1.0, chance), EXACT, instrument="metric")
    assert found.bias_difference_tenths.value == pytest.approx(1.0, abs=0.3)
    assert found.bias_differs
    plain = found.to_dict()
    assert plain["bias_difference_tenths"]["low"] < 1.0 < plain["bias_difference_tenths"]["high"]
    assert plain["sentences"] == list(found.sentences())
    assert found.summary().loc["spread_ratio", "value"] == found.spread_ratio.value
    two = pd.concat([table("Kim", 30, 0.0, chance), table("Ola", 30, 0.0, chance)])
    with pytest.raises(UnusablePair, match="by 2 people"):
        compare(two, table("Kim", 30, 0.0, chance), EXACT)


@pytest.mark.parametrize(
    "case",
    [(100, 50, 0.6, 0.6, 0.5, 0.0), (100, 50, 0.6, 0.9, 0.5, 0.5), (100, 50, 0.6, 0.6, 2.0, 0.0)],
    ids=["same", "differs", "coarse step"],
)
def test_intervals_hold_for_simulated_readers(case):
    # 400 trials: 4 standard errors are 4.4 points; tests/benchmarks/bench_transfer.py has the long run
    got = coverage(case, 400, np.random.default_rng(7))
    assert got["bias_held"] >= 0.95 - 0.044
    assert got["ratio_held"] == pytest.approx(0.95, abs=0.044)
    assert got["bias"] == pytest.approx(0.2, abs=0.1)
    assert got["ratio"] == pytest.approx(got["true_ratio"], rel=0.06)
