"""Judgement of overlap: readers recovered, intervals that hold; staircases; maximum likelihood."""

import json
import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr
from statsmodels.genmod import families
from statsmodels.genmod.generalized_linear_model import GLM

from trainer.scoring import judgement, psychometric, staircase

LINKS = {
    "probit": families.links.Probit(),
    "logit": families.links.Logit(),
    "cloglog": families.links.CLogLog(),
}


def trials(chance, n, threshold, width, lapse):
    """Return offsets at nine levels of +-3 and the judgements of a reader with known parameters."""
    x = np.tile(np.linspace(-3, 3, 9), n // 9 + 1)[:n]
    return x, chance.random(n) < lapse + (1 - 2 * lapse) * ndtr((x - threshold) / width)


def test_a_known_reader_is_recovered(chance):
    x, said = trials(chance, 5000, 0.4, 0.8, 0.03)
    found = judgement.fit(x, said)
    for interval, truth in (
        (found.threshold_tenths, 0.4),
        (found.width_tenths, 0.8),
        (found.lapse, 0.03),
    ):
        assert interval.low < truth < interval.high
        assert interval.high - interval.low < 0.2
    assert found.reasons == {}


def test_many_trials_without_lapses_meet_maximum_likelihood(chance):
    # far from the prior's reach both must agree; the other fit has no prior and another search
    x, said = trials(chance, 20_000, -0.3, 1.2, 0.0)
    levels = np.unique(x)
    n = [int((x == v).sum()) for v in levels]
    k = [int(said[x == v].sum()) for v in levels]
    curve = psychometric.fit_curve(levels.tolist(), n, k)
    found = judgement.fit(x, said)
    assert found.threshold_tenths.value == pytest.approx(curve.threshold, abs=0.02)
    assert found.width_tenths.value == pytest.approx(curve.scale, rel=0.03)


@pytest.mark.parametrize(("n", "lapse"), [(50, 0.02), (100, 0.0), (200, 0.05)])
def test_intervals_hold(n, lapse, chance):
    # docs/methods/judgement.md: threshold 93 to 97 %, width 93 to 98 % in 2,000 runs; here 150, 4 sigma
    runs, held, wide = 150, 0, 0
    for _ in range(runs):
        threshold, width = 0.5 * chance.standard_normal(), math.exp(0.3 * chance.standard_normal())
        found = judgement.fit(*trials(chance, n, threshold, width, lapse), width_guess=1.0)
        held += found.threshold_tenths.low <= threshold <= found.threshold_tenths.high
        if n >= 100:
            wide += found.width_tenths.low <= width <= found.width_tenths.high
    slack = 4 * math.sqrt(0.05 * 0.95 / runs)
    assert held / runs >= 0.95 - slack
    if n >= 100:
        assert wide / runs >= 0.95 - slack


def test_scaling_the_offsets_scales_threshold_and_width(chance):
    x, said = trials(chance, 300, 0.2, 1.0, 0.02)
    one, ten = judgement.fit(x, said), judgement.fit(10 * x, said)
    assert ten.threshold_tenths.value == pytest.approx(10 * one.threshold_tenths.value, rel=1e-6)
    assert ten.width_tenths.high == pytest.approx(10 * one.width_tenths.high, rel=1e-6)
    assert ten.lapse.value == pytest.approx(one.lapse.value, rel=1e-6)


def test_very_many_different_offsets_give_what_they_give_together(chance):
    # drawing offsets together in thousandths of the range moves nothing that 5,000 trials can tell
    x = chance.uniform(-3, 3, 5000)
    said = chance.random(5000) < 0.02 + 0.96 * ndtr((x - 0.3) / 0.5)
    many, few = judgement.fit(x, said), judgement.fit(np.round(x, 1), said)
    assert many.threshold_tenths.value == pytest.approx(few.threshold_tenths.value, abs=0.005)
    assert many.width_tenths.value == pytest.approx(few.width_tenths.value, rel=0.02)
    assert many.threshold_tenths.low < 0.3 + 0.03
    assert many.threshold_tenths.high > 0.3 - 0.03


def test_no_width_below_a_hundred_trials_and_nothing_below_twenty(chance):
    some = judgement.fit(*trials(chance, 60, 0.0, 1.0, 0.0))
    assert some.threshold_tenths is not None
    assert some.width_tenths is None
    assert "at least 100" in some.reasons["width_tenths"]
    few = judgement.fit(*trials(chance, 15, 0.0, 1.0, 0.0))
    assert few.threshold_tenths is None
    assert "at least 20" in few.reasons["threshold_tenths"]


@pytest.mark.parametrize("answer", [True, False])
def test_answers_all_alike_have_no_threshold(answer):
    found = judgement.fit(np.linspace(-1, 1, 40), np.full(40, answer))
    assert found.threshold_tenths is None
    assert "every judgement" in found.reasons["threshold_tenths"]
    with pytest.raises(psychometric.UnusableJudgements, match="every judgement"):
        found.chance_beyond(0.0)


def test_one_offset_only_has_no_curve():
    found = judgement.fit(np.zeros(40), np.arange(40) % 2 == 0)
    assert "same offset" in found.reasons["threshold_tenths"]


def test_a_clean_change_still_has_finite_intervals():
    x = np.linspace(-2, 2, 200)
    found = judgement.fit(x, x > 0.1)
    assert found.threshold_tenths.low < 0.1 < found.threshold_tenths.high
    assert 0 < found.width_tenths.low < found.width_tenths.high < 1


def test_chance_of_saying_beyond_is_the_curve(chance):
    x, said = trials(chance, 20_000, 0.2, 0.7, 0.02)
    found = judgement.fit(x, said)
    middle, low, high = found.chance_beyond([-1.0, 0.2, 1.5])
    truth = 0.02 + 0.96 * ndtr((np.array([-1.0, 0.2, 1.5]) - 0.2) / 0.7)
    assert middle == pytest.approx(truth, abs=0.02)
    assert (low <= middle).all()
    assert (middle <= high).all()
    wrong = found.wrong_at(1.5)
    assert wrong.value == pytest.approx(1 - truth[2], abs=0.02)
    assert found.wrong_at(-1.0).value == pytest.approx(truth[0], abs=0.02)


def test_decision_risks_agree_with_simulation(chance):
    x, said = trials(chance, 20_000, 0.3, 0.6, 0.01)
    found = judgement.fit(x, said).decision_risks(-0.5, 1.0)
    items = chance.normal(-0.5, 1.0, 400_000)
    rejected = chance.random(len(items)) < 0.01 + 0.98 * ndtr((items - 0.3) / 0.6)
    assert found.outside == pytest.approx((items > 0).mean(), abs=0.004)
    assert found.false_accept.value == pytest.approx((~rejected & (items > 0)).mean(), abs=0.005)
    assert found.false_reject.value == pytest.approx((rejected & (items <= 0)).mean(), abs=0.005)
    assert found.false_accept.low < found.false_accept.value < found.false_accept.high


@pytest.mark.parametrize(
    "fault",
    [
        lambda: judgement.fit([0.0, 1.0], [True]),
        lambda: judgement.fit([0.0, math.nan], [True, False]),
        lambda: judgement.fit([0.0, 1.0], [0.5, 1]),
        lambda: judgement.fit([0.0, 1.0], [True, False], width_guess=0.0),
        lambda: judgement.fit(np.linspace(-1, 1, 40), np.linspace(-1, 1, 40) > 0).decision_risks(0.0, 0.0),
        lambda: psychometric.fit_link([1, 2], [5, 5], [0, 5]),
        lambda: psychometric.fit_link([1, 2, 3], [5, 5, 5], [0, 2, 6]),
        lambda: psychometric.fit_link([1, 2, 3], [5, 5, 5], [-1, 2, 5]),
        lambda: psychometric.fit_link([1, 2, 3], [0, 5, 5], [0, 2, 5]),
        lambda: psychometric.fit_link([1, 1, 1], [5, 5, 5], [0, 2, 5]),
        lambda: psychometric.fit_link([1, 2, 3], [5, 5, 5], [1, 2, 5], "cauchit"),
        lambda: psychometric.fit_curve([1, 2, 3], [5, 5, 5], [0, 0, 5]),
        lambda: psychometric.fit_curve([1, 2, 3], [5, 5, 5], [1, 2, 4], guess=0.6, lapse=0.5),
        lambda: psychometric.fit_curve([1, 2, 3], [5, 5, 5], [1, 2, 4], shape="step"),
    ],
)
def test_unusable_judgements_are_refused_in_a_sentence(fault):
    with pytest.raises(psychometric.UnusableJudgements, match=r"\w+ \w+ \w+"):
        fault()


def test_ones_and_noughts_are_judgements_like_true_and_false(chance):
    x, said = trials(chance, 60, 0.0, 1.0, 0.0)
    assert judgement.fit(x, said.astype(int)).to_dict() == judgement.fit(x, said).to_dict()


def test_views_are_json_without_nan(chance):
    found = judgement.fit(*trials(chance, 60, 0.0, 1.0, 0.0))
    assert json.loads(json.dumps(found.to_dict(), allow_nan=False))["width_tenths"] is None
    assert found.summary().loc["width_tenths", "value"] is None
    written, own = found.to_dict()["threshold_tenths"], found.threshold_tenths
    assert (written["value"], written["low"], written["high"]) == (own.value, own.low, own.high)


# --- Maximum likelihood --------------------------------------------------------------------------------


@given(st.integers(0, 2**32 - 1), st.sampled_from(sorted(LINKS)))
@settings(max_examples=40, deadline=None)
def test_link_fits_agree_with_statsmodels(seed, link):
    rng = np.random.default_rng(seed)
    x = np.linspace(5.0, 7.0, 7)
    n = rng.integers(10, 60, 7)
    k = rng.binomial(n, LINKS[link].inverse((x - 6.0) / 0.5))
    mine = psychometric.fit_link(x.tolist(), n.tolist(), k.tolist(), link)
    design = np.column_stack([np.ones(7), x])
    theirs = GLM(np.column_stack([k, n - k]), design, family=families.Binomial(link=LINKS[link])).fit(
        tol=1e-12
    )
    assert (mine.intercept, mine.slope) == pytest.approx(tuple(theirs.params), rel=1e-5)
    assert (mine.se_intercept, mine.se_slope) == pytest.approx(tuple(theirs.bse), rel=1e-4)
    assert mine.deviance == pytest.approx(theirs.deviance, rel=1e-6, abs=1e-8)
    assert mine.chi_square == pytest.approx(theirs.pearson_chi2, rel=1e-4)


def test_both_ways_to_the_greatest_likelihood_agree():
    x, n, k = [-2.0, -1.0, 0.0, 1.0, 2.0], [40] * 5, [2, 9, 22, 33, 39]
    by_link, by_search = psychometric.fit_link(x, n, k), psychometric.fit_curve(x, n, k)
    assert by_search.threshold == pytest.approx(by_link.median, abs=1e-6)
    assert by_search.scale == pytest.approx(1 / by_link.slope, rel=1e-6)
    assert by_search.deviance == pytest.approx(by_link.deviance, rel=1e-8)
    assert by_link.summary().loc[0, "median"] == by_link.median


# --- Staircases ---------------------------------------------------------------------------------------


@given(st.lists(st.booleans(), min_size=1, max_size=60), st.integers(1, 3))
@settings(max_examples=60, deadline=None)
def test_a_staircase_turns_between_peaks_and_dips(responses, in_a_row):
    found = staircase.follow(responses, in_a_row=in_a_row)
    assert len(found.offsets) == len(responses)
    values = found.reversal_values
    signs = [b > a for a, b in pairwise(values)]
    assert all(one != two for one, two in pairwise(signs))
    assert list(found.reversal_trials) == sorted(found.reversal_trials)


@pytest.mark.parametrize("in_a_row", [1, 2, 3])
def test_a_staircase_settles_where_levitt_says(in_a_row, chance):
    # rates .5, .707, .794: the offset with that rate on a reader of threshold 0 and width 1
    offset, responses, step = 0.0, [], 0.1
    streak = 0
    for _ in range(30_000):
        positive = bool(chance.random() < ndtr(offset))
        responses.append(positive)
        streak = streak + 1 if positive else 0
        if not positive:
            offset += step
        elif streak == in_a_row:
            offset, streak = offset - step, 0
    found = staircase.follow(responses, step=step, in_a_row=in_a_row)
    settled = np.mean(found.reversal_values[200:])
    assert ndtr(settled) == pytest.approx(staircase.convergence(in_a_row), abs=0.015)


def test_a_staircase_without_enough_reversals_says_so():
    found = staircase.follow([True, False])
    assert found.mean_of_last(2) is None
    assert found.summary().shape == (1, 2)
    for fault in (
        lambda: found.mean_of_last(3),
        lambda: staircase.follow([]),
        lambda: staircase.convergence(0),
    ):
        with pytest.raises(staircase.UnusableStaircase):
            fault()
