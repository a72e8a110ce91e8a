"""Propagation by chance against exact distributions; agreement with the law of propagation."""

import json
import math

import numpy as np
import pytest
from scipy import stats

from trainer.scoring import budget, component, montecarlo, propagation

SUM = {"model": "a + b", "inputs": {"a": {"value": 1.0, "u": 3.0}, "b": {"value": 2.0, "u": 4.0}}}


@pytest.mark.parametrize(
    ("fields", "distribution"),
    [
        ({"u": 2.0}, stats.norm(1, 2)),
        ({"distribution": "t", "u": 2.0, "df": 6}, stats.t(6, 1, 2)),
        ({"distribution": "rectangular", "half_width": 2.0}, stats.uniform(-1, 4)),
        ({"distribution": "triangular", "half_width": 2.0}, stats.triang(0.5, -1, 4)),
        ({"distribution": "arcsine", "half_width": 2.0}, stats.arcsine(-1, 4)),
        (
            {"distribution": "trapezoid", "half_width": 2.0, "top_ratio": 0.5},
            stats.trapezoid(0.25, 0.75, -1, 4),
        ),
    ],
)
def test_draws_follow_their_distribution(fields, distribution, chance):
    drawn = component.component("x", {"value": 1.0} | fields).draw(20_000, chance)
    assert stats.kstest(drawn, distribution.cdf).pvalue > 1e-4


def test_inexact_limits_widen_a_rectangle(chance):
    fields = {
        "value": 1.0,
        "distribution": "curvilinear-trapezoid",
        "half_width": 2.0,
        "half_width_within": 0.5,
    }
    made = component.component("x", fields)
    drawn = made.draw(200_000, chance)
    assert drawn.std() == pytest.approx(made.u, rel=0.006)
    assert np.abs(drawn - 1.0).max() <= 2.5
    assert (np.abs(drawn - 1.0) > 2.0).any()


def test_a_run_stands_still_to_its_digits_and_says_how_still(chance):
    run = montecarlo.run(budget.from_dict(SUM), chance, digits=2)
    assert run.settled
    assert run.stable_to <= montecarlo.numerical_tolerance(run.u, 2)
    assert run.estimate == pytest.approx(3.0, abs=0.1)
    assert run.u == pytest.approx(5.0, abs=0.1)
    assert run.high - run.low == pytest.approx(2 * 1.96 * 5, rel=0.02)
    assert run.shortest[1] - run.shortest[0] <= run.high - run.low
    assert sum(run.density) * (run.bins[1] - run.bins[0]) == pytest.approx(0.999, abs=0.002)


def test_the_same_seed_gives_the_same_run():
    one, two = (montecarlo.run(budget.from_dict(SUM), np.random.default_rng(7)) for _ in range(2))
    assert one == two


def test_a_run_that_may_not_go_on_says_that_it_did_not_settle(chance):
    run = montecarlo.run(budget.from_dict(SUM), chance, digits=4, most_trials=30_000)
    assert not run.settled
    assert run.trials <= 30_000
    assert "not enough" in run.reasons["settled"]
    result = propagation.evaluate(budget.from_dict(SUM))
    verdict = montecarlo.compare(result, run)
    assert verdict.agrees is None
    assert verdict.sentence.startswith("Not decided")


def test_an_unsteady_run_cries_no_wolf():
    # three short blocks of a linear budget: the intervals do agree, so "does not agree" would be wrong
    made = budget.from_dict(SUM)
    result = propagation.evaluate(made)
    verdicts = []
    for seed in range(200):
        run = montecarlo.run(made, np.random.default_rng(seed), digits=3, most_trials=30_000)
        verdicts.append(montecarlo.compare(result, run).agrees)
    assert False not in verdicts


def test_two_blocks_that_happen_to_agree_do_not_end_a_run(chance):
    run = montecarlo.run(budget.from_dict(SUM), chance, digits=1)
    assert run.blocks >= montecarlo.FEWEST_BLOCKS


def test_a_linear_budget_is_confirmed(chance):
    made = budget.from_dict(SUM)
    run, verdict = montecarlo.validate(made, propagation.evaluate(made), chance, digits=1)
    assert run.settled
    assert verdict.agrees is True
    assert "agrees" in verdict.sentence


def test_a_bent_budget_is_not(chance):
    # y = x^2 at x = 0: the first order has no uncertainty at all, the truth is chi-square
    made = budget.from_dict({"model": "x ** 2", "inputs": {"x": {"value": 0.0, "u": 1.0}}})
    run, verdict = montecarlo.validate(made, propagation.evaluate(made), chance, digits=1)
    assert verdict.agrees is False
    assert "use the Monte Carlo interval" in verdict.sentence
    assert run.estimate == pytest.approx(1.0, abs=0.03)
    assert run.shortest[0] < run.low
    assert run.high == pytest.approx(stats.chi2.ppf(0.975, 1), rel=0.05)


@pytest.mark.parametrize("r", [-1.0, -0.4, 0.7, 1.0])
def test_correlated_normals_are_drawn_correlated(r, chance):
    made = budget.from_dict(SUM | {"correlations": [{"between": ["a", "b"], "r": r}]})
    run = montecarlo.run(made, chance, digits=2)
    assert run.u == pytest.approx(math.sqrt(25 + 24 * r), rel=0.02)


def test_correlated_inputs_that_are_not_normal_are_refused(chance):
    data = {
        "model": "a + b",
        "inputs": {
            "a": {"value": 1.0, "u": 3.0},
            "b": {"value": 2.0, "distribution": "rectangular", "half_width": 1},
        },
        "correlations": [{"between": ["a", "b"], "r": 0.5}],
    }
    with pytest.raises(montecarlo.UnusableMonteCarlo, match="b is correlated but not normal"):
        montecarlo.run(budget.from_dict(data), chance)


def test_a_model_without_value_somewhere_is_refused_without_warning(chance):
    made = budget.from_dict({"model": "sqrt(x)", "inputs": {"x": {"value": 0.1, "u": 1.0}}})
    with pytest.raises(montecarlo.UnusableMonteCarlo, match="no value for"):
        montecarlo.run(made, chance)
    never = budget.from_dict({"model": "x + 1 / 0", "inputs": {"x": {"value": 0.1, "u": 1.0}}})
    with pytest.raises(montecarlo.UnusableMonteCarlo, match="change the formula"):
        montecarlo.run(never, chance)


def test_two_degrees_of_freedom_have_no_standard_deviation(chance):
    fields = {"value": 0.0, "distribution": "t", "u": 1.0, "df": 2}
    made = budget.from_dict({"model": "x", "inputs": {"x": fields}})
    run = montecarlo.run(made, chance, digits=1, most_trials=200_000)
    assert run.u is None
    assert "2 degrees of freedom" in run.reasons["u"]
    assert run.high == pytest.approx(stats.t.ppf(0.975, 2), rel=0.1)


def test_more_than_two_degrees_of_freedom_have_one(chance):
    """Student's t of nu degrees of freedom has variance nu/(nu - 2): a scale of 1 and nu = 10 make 1.118."""
    fields = {"value": 0.0, "distribution": "t", "u": 1.0, "df": 10}
    found = montecarlo.run(budget.from_dict({"model": "x", "inputs": {"x": fields}}), chance, digits=1)
    assert found.u == pytest.approx(math.sqrt(10 / 8), rel=0.02)
    assert "u" not in found.reasons


def test_certainty_has_no_spread_and_no_tolerance(chance):
    made = budget.from_dict({"model": "a", "inputs": {"a": {"value": 1.0, "distribution": "constant"}}})
    run = montecarlo.run(made, chance)
    assert run.settled
    assert (run.u, run.low, run.high) == (0, 1, 1)
    assert run.bins == ()
    with pytest.raises(montecarlo.UnusableMonteCarlo, match="above 0"):
        montecarlo.compare(propagation.evaluate(made), run)


def test_numerical_tolerance_as_in_the_examples():
    # JCGM 101:2008, 7.9.2.1: 0.00035 with two digits is 35e-5, tolerance 0.000005; with one digit 4e-4,
    # 0.00005; 2 K is 2e0, tolerance 0.5 K
    assert montecarlo.numerical_tolerance(0.00035, 2) == pytest.approx(0.000005)
    assert montecarlo.numerical_tolerance(0.00035, 1) == pytest.approx(0.00005)
    assert montecarlo.numerical_tolerance(2.0, 1) == pytest.approx(0.5)
    for fault in (
        lambda: montecarlo.numerical_tolerance(0.0),
        lambda: montecarlo.numerical_tolerance(1.0, 0),
    ):
        with pytest.raises(montecarlo.UnusableMonteCarlo):
            fault()


def test_views_are_json_without_nan(chance):
    made = budget.from_dict(SUM)
    run = montecarlo.run(made, chance, digits=1)
    text = json.dumps(run.to_dict(), allow_nan=False)
    assert json.loads(text)["trials"] == run.trials
    assert "bins" not in run.summary().columns
    assert json.dumps(montecarlo.compare(propagation.evaluate(made), run).to_dict(), allow_nan=False)


@pytest.mark.parametrize("u", [1e200, 1e-200])
def test_numbers_no_double_can_square_are_refused(u, chance):
    made = budget.from_dict({"model": "x", "inputs": {"x": {"value": 0.0, "u": u}}})
    with pytest.raises(montecarlo.UnusableMonteCarlo, match="choose another unit"):
        montecarlo.run(made, chance)


def test_an_extreme_probability_does_not_take_all_memory(chance):
    made = budget.from_dict(SUM | {"probability": 0.99999999})
    run = montecarlo.run(made, chance, digits=1, most_trials=50_000)
    assert run.trials <= 50_000
    assert not run.settled
