"""Equivalence by two one-sided tests against statsmodels, and sequential bounds against simulation."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats import weightstats

from trainer.scoring import equivalence, sequential, uncertainty


@given(
    st.integers(0, 2**32 - 1), st.integers(4, 40), st.integers(4, 40), st.sampled_from(["pooled", "unequal"])
)
@settings(max_examples=40, deadline=None)
def test_two_samples_agree_with_statsmodels(seed, n, m, usevar):
    rng = np.random.default_rng(seed)
    first, second = rng.normal(0.1, 1.0, n), rng.normal(0.0, 1.5, m)
    a, b = uncertainty.type_a(first.tolist()), uncertainty.type_a(second.tolist())
    mine = equivalence.two_samples(
        (a.mean, b.mean), (a.sd, b.sd), (n, m), -0.8, 0.8, pooled=usevar == "pooled"
    )
    p, lower, upper = weightstats.ttost_ind(first, second, -0.8, 0.8, usevar=usevar)
    assert mine.p_value == pytest.approx(p, rel=1e-7, abs=1e-12)
    assert (mine.t_lower, mine.p_lower, mine.df) == pytest.approx(lower, rel=1e-7)
    assert (mine.t_upper, mine.p_upper, mine.df) == pytest.approx(upper, rel=1e-7)


@given(st.integers(0, 2**32 - 1), st.integers(3, 40))
@settings(max_examples=40, deadline=None)
def test_pairs_agree_with_statsmodels(seed, n):
    rng = np.random.default_rng(seed)
    first = rng.normal(0.0, 1.0, n)
    second = 0.7 * first + rng.normal(0.0, 0.5, n)
    mine = equivalence.paired((first - second).tolist(), -0.5, 0.5)
    p, _, _ = weightstats.ttost_paired(first, second, -0.5, 0.5)
    assert mine.p_value == pytest.approx(p, rel=1e-7, abs=1e-12)
    r = float(np.corrcoef(first, second)[0, 1])
    means, sds = (first.mean(), second.mean()), (first.std(ddof=1), second.std(ddof=1))
    assert equivalence.paired_summary(means, sds, r, n, -0.5, 0.5).p_value == pytest.approx(
        p, rel=1e-6, abs=1e-10
    )


@given(st.floats(-2, 2), st.floats(0.05, 2), st.integers(2, 100))
@settings(max_examples=60, deadline=None)
def test_equivalent_means_that_the_interval_lies_inside(difference, u, df):
    found = equivalence.from_difference(difference, u, df, -1.0, 1.0)
    assert found.equivalent == (found.low > -1.0 and found.high < 1.0)


@pytest.mark.parametrize(
    "fault",
    [
        lambda: equivalence.from_difference(0.0, 0.0, 5, -1, 1),
        lambda: equivalence.from_difference(math.nan, 1.0, 5, -1, 1),
        lambda: equivalence.from_difference(0.0, 1.0, 5, 1, -1),
        lambda: equivalence.from_difference(0.0, 1.0, 5, -1, 1, 0.7),
        lambda: equivalence.one_sample(0.0, 1.0, 1, -1, 1),
        lambda: equivalence.paired([1.0], -1, 1),
        lambda: equivalence.paired([1.0, 1.0], -1, 1),
        lambda: equivalence.two_samples((0, 0), (0, 0), (5, 5), -1, 1),
        lambda: equivalence.paired_summary((0, 0), (1, 1), 2.0, 5, -1, 1),
    ],
)
def test_what_cannot_be_judged_is_refused_in_a_sentence(fault):
    with pytest.raises(equivalence.UnusableEquivalence, match=r"\w+ \w+ \w+"):
        fault()


# --- Sequential --------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [0.05, 0.20])
def test_walds_test_keeps_its_risks(rate, chance):
    # Wald's inequalities: actual risks together not above alpha + beta; mean length close to his formula
    test = sequential.rate_test(0.05, 0.20, 0.05, 0.10)
    runs, most = 4000, 400
    events = np.cumsum(chance.random((runs, most)) < rate, axis=1)
    n = np.arange(1, most + 1)
    over, under = events >= test.upper(n), events <= test.lower(n)
    first_over, first_under = (np.where(hit.any(axis=1), hit.argmax(axis=1), most) for hit in (over, under))
    wrong = (first_over < first_under).mean() if rate == 0.05 else (first_under < first_over).mean()
    assert wrong <= (0.05 if rate == 0.05 else 0.10) + 0.02
    length = np.minimum(first_over, first_under).mean() + 1
    # his formula leaves out by how much the last step overshoots, which lengthens a test on whole counts
    assert 0.98 <= length / test.expected_trials(rate) <= 1.3


@pytest.mark.parametrize("spend", [sequential.obrien_fleming_spent, sequential.pocock_spent])
def test_boundaries_spend_what_they_should(spend, chance):
    shares = [0.1, 0.5, 0.7, 1.0]
    spent = [spend(s) for s in shares]
    limits = sequential.boundaries(spent, shares)
    steps = chance.standard_normal((200_000, 4)) * np.sqrt(np.diff([0.0, *shares]))
    z = np.cumsum(steps, axis=1) / np.sqrt(shares)
    crossed = np.maximum.accumulate(np.abs(z) > limits, axis=1).mean(axis=0)
    assert crossed == pytest.approx(spent, abs=4 * math.sqrt(0.05 * 0.95 / 200_000))


@pytest.mark.parametrize(
    "fault",
    [
        lambda: sequential.wald_bounds(0.6, 0.5),
        lambda: sequential.rate_test(0.2, 0.1, 0.05, 0.05),
        lambda: sequential.rate_test(0.05, 0.2, 0.05, 0.1).expected_trials(0.5),
        lambda: sequential.boundaries([0.01], [0.5, 1.0]),
        lambda: sequential.boundaries([0.01, 0.05], [1.0, 0.5]),
        lambda: sequential.boundaries([0.05, 0.01], [0.5, 1.0]),
    ],
)
def test_risks_that_make_no_test_are_refused(fault):
    with pytest.raises(sequential.UnusableRisk, match=r"\w+ \w+ \w+"):
        fault()
