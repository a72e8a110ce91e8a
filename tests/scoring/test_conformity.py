"""Conformance probabilities, guard bands and risks, against scipy's distributions and simulation."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from trainer.scoring import conformity
from trainer.scoring.conformity import Tolerance

BOTH = Tolerance(-1.0, 1.0)


@given(st.floats(-5, 5), st.floats(0.01, 3))
@settings(max_examples=60, deadline=None)
def test_conformance_probability_is_that_of_a_normal(measured, u):
    theirs = stats.norm.cdf(1, measured, u) - stats.norm.cdf(-1, measured, u)
    assert conformity.conformance_probability(measured, u, BOTH) == pytest.approx(theirs, abs=1e-12)


def test_far_tails_keep_their_digits():
    # 12 u outside the lower limit: about 1.8e-33, which a plain difference of two ones would lose
    far = conformity.conformance_probability(13.0, 1.0, BOTH)
    assert far == pytest.approx(stats.norm.sf(12) - stats.norm.sf(14), rel=1e-9)


@given(st.floats(0.05, 1.0), st.floats(0.02, 0.6), st.floats(-0.1, 0.4), st.floats(-0.2, 0.2))
@settings(max_examples=25, deadline=None)
def test_risks_agree_with_the_bivariate_normal(prior_sd, u, guard, bias):
    # true and measured are bivariate normal: scipy integrates it another way
    risks = conformity.global_risks(0.1, prior_sd, u, BOTH, guard, bias)
    total = math.hypot(prior_sd, u)
    mean, cov = [0.1, 0.1 + bias], [[prior_sd**2, prior_sd**2], [prior_sd**2, total**2]]
    joint = stats.multivariate_normal(mean, cov, seed=1)
    low, high = -1 + guard, 1 - guard
    both = joint.cdf([1.0, high], lower_limit=[-1.0, low])
    accepted = stats.norm.cdf(high, mean[1], total) - stats.norm.cdf(low, mean[1], total)
    conforming = stats.norm.cdf(1, 0.1, prior_sd) - stats.norm.cdf(-1, 0.1, prior_sd)
    assert risks.accepted == pytest.approx(accepted, abs=1e-9)
    assert risks.conforming == pytest.approx(conforming, abs=1e-9)
    assert risks.false_accept == pytest.approx(accepted - both, abs=1e-4)
    assert risks.false_reject == pytest.approx(conforming - both, abs=1e-4)


def test_risks_agree_with_simulation(chance):
    n, prior_sd, u = 400_000, 0.6, 0.2
    true = chance.normal(0.0, prior_sd, n)
    accepted = np.abs(true + chance.normal(0.0, u, n)) <= 0.9
    risks = conformity.global_risks(0.0, prior_sd, u, BOTH, 0.1)
    inside = np.abs(true) <= 1
    for stated, seen in (
        (risks.false_accept, accepted & ~inside),
        (risks.false_reject, ~accepted & inside),
        (risks.false_accept_of_accepted, (~inside)[accepted]),
        (risks.false_reject_of_rejected, inside[~accepted]),
    ):
        assert seen.mean() == pytest.approx(stated, abs=4 * math.sqrt(stated * (1 - stated) / len(seen)))


@pytest.mark.parametrize(
    ("mean", "sd", "u", "guard", "bias"),
    [
        (0.3, 0.5, 0.2, 0.1, 0.05), (0.0, 2.0, 0.003, 0.0, 0.0), (-0.4, 0.05, 1.5, 0.3, -0.2),
        (0.9, 0.3, 0.1, -0.2, 0.1),
    ],
)  # fmt: skip
def test_risks_agree_with_scipys_adaptive_quadrature(mean, sd, u, guard, bias):
    def density(x):
        accepted = stats.norm.cdf((1 - guard - x - bias) / u) - stats.norm.cdf((-1 + guard - x - bias) / u)
        return stats.norm.pdf(x, mean, sd) * accepted

    points = sorted({limit - bias + k * u for limit in (-1 + guard, 1 - guard) for k in (-6, -2, 2, 6)})
    theirs = 0.0
    for start, end in ((mean - 10 * sd, -1.0), (1.0, mean + 10 * sd)):
        inner = [start, *(p for p in points if start < p < end), end]
        theirs += sum(integrate.quad(density, a, b)[0] for a, b in pairwise(inner)) if start < end else 0.0
    found = conformity.global_risks(mean, sd, u, BOTH, guard, bias).false_accept
    assert found == pytest.approx(theirs, rel=1e-7, abs=1e-12)


def test_limits_that_nearly_meet_give_no_trouble():
    # scipy's adaptive rule warns on the sliver between tolerance and acceptance limit
    hair, none = (conformity.global_risks(0.0, 1.0, 0.5, BOTH, guard) for guard in (1e-14, 0.0))
    assert hair.false_accept == pytest.approx(none.false_accept, rel=1e-12)
    assert hair.false_reject == pytest.approx(none.false_reject, rel=1e-12)


def test_one_limit_is_a_limit_far_away_on_the_other_side():
    one = conformity.global_risks(0.5, 0.4, 0.1, Tolerance(None, 1.0), 0.05)
    two = conformity.global_risks(0.5, 0.4, 0.1, Tolerance(-50.0, 1.0), 0.05)
    assert one.false_accept == pytest.approx(two.false_accept, rel=1e-9)
    assert one.false_reject == pytest.approx(two.false_reject, rel=1e-9)


def test_a_sharp_measurement_has_almost_no_risk_and_quadrature_does_not_miss_it():
    # u a thousandth of the production's spread: both risks near u * density at the limits / sqrt(2 pi)
    risks = conformity.global_risks(0.0, 1.0, 0.001, BOTH)
    near = 2 * stats.norm.pdf(1) * 0.001 / math.sqrt(2 * math.pi)
    assert risks.false_accept == pytest.approx(near, rel=0.01)
    assert risks.false_reject == pytest.approx(near, rel=0.01)


@given(st.floats(0.001, 0.2))
@settings(max_examples=20, deadline=None)
def test_a_guard_band_for_a_risk_keeps_exactly_that_risk(risk):
    guard = conformity.guard_band_for(risk, 0.0, 0.7, 0.2, BOTH)
    found = conformity.global_risks(0.0, 0.7, 0.2, BOTH, guard).false_accept
    if guard == 0:
        assert found <= risk
    else:
        assert found == pytest.approx(risk, rel=1e-6)


def test_a_guard_band_at_one_limit_keeps_the_specific_risk():
    guard = conformity.guard_band(0.05, 0.05)
    at_edge = conformity.conformance_probability(1.0 - guard, 0.05, Tolerance(None, 1.0))
    assert at_edge == pytest.approx(0.95)
    assert conformity.guard_band(0.05, 0.5) == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize(
    ("measured", "guard", "accepted"),
    [(0.5, 0.0, True), (0.95, 0.0, True), (0.95, 0.1, False), (1.2, 0.0, False)],
)
def test_the_risk_of_one_decision(measured, guard, accepted):
    found = conformity.specific_risk(measured, 0.1, BOTH, guard)
    inside = stats.norm.cdf(1, measured, 0.1) - stats.norm.cdf(-1, measured, 0.1)
    assert found[0] is accepted
    assert found[1] == pytest.approx(1 - inside if accepted else inside, abs=1e-12)


def test_knowledge_of_the_production_draws_the_value_in():
    # equal spreads: half way, and u/sqrt 2 (product of two normal densities)
    mean, u = conformity.after_prior(2.0, 1.0, 0.0, 1.0)
    assert (mean, u) == pytest.approx((1.0, math.sqrt(0.5)))


def test_ratios():
    # tolerance 4 um wide, U = 0.5 um: 4:1 in the customary sense
    assert conformity.test_uncertainty_ratio(Tolerance(-2.0, 2.0), 0.5) == pytest.approx(4)
    assert conformity.capability_index(Tolerance(-2.0, 2.0), 0.25) == pytest.approx(4)


def test_averaging_stops_at_what_does_not_average():
    assert conformity.averaged(0.6, 0.3, 1) == pytest.approx(math.hypot(0.6, 0.3))
    assert conformity.averaged(0.6, 0.3, 10**6) == pytest.approx(0.3, rel=1e-5)
    assert conformity.readings_needed(0.6, 0.3, 0.5) == 3  # 0.36/0.16 = 2.25
    assert conformity.readings_needed(0.6, 0.3, 0.3) is None
    assert conformity.readings_needed(0.6, 0.0, 0.3) == 4
    assert conformity.readings_needed(0.0, 0.3, 0.4) == 1
    for wanted in (0.31, 0.35, 0.6):
        n = conformity.readings_needed(0.6, 0.3, wanted)
        assert conformity.averaged(0.6, 0.3, n) <= wanted * (1 + 1e-9)
        assert n == 1 or conformity.averaged(0.6, 0.3, n - 1) > wanted


@pytest.mark.parametrize(
    "fault",
    [
        lambda: Tolerance(None, None),
        lambda: Tolerance(1.0, -1.0),
        lambda: Tolerance(math.nan, 1.0),
        lambda: BOTH.guarded(1.5),
        lambda: conformity.conformance_probability(math.nan, 1.0, BOTH),
        lambda: conformity.conformance_probability(0.0, 0.0, BOTH),
        lambda: conformity.global_risks(0.0, -1.0, 0.1, BOTH),
        lambda: conformity.global_risks(0.0, 1.0, 0.1, BOTH, math.inf),
        lambda: conformity.guard_band(0.1, 0.0),
        lambda: conformity.guard_band_for(1e-9, 0.0, 5.0, 3.0, BOTH),
        lambda: conformity.capability_index(Tolerance(None, 1.0), 0.1),
        lambda: conformity.averaged(-1.0, 0.0, 1),
        lambda: conformity.averaged(1.0, 0.0, 0),
        lambda: conformity.readings_needed(1.0, 0.0, 0.0),
    ],
)
def test_questions_without_an_answer_are_refused_in_a_sentence(fault):
    with pytest.raises(conformity.UnusableTolerance, match=r"\w+ \w+ \w+"):
        fault()


def test_nothing_accepted_is_none_not_nan():
    risks = conformity.global_risks(1e4, 1.0, 0.1, BOTH)
    assert risks.accepted == 0
    assert risks.false_accept_of_accepted is None
    assert risks.summary().loc[0, "false_accept_of_accepted"] is None
