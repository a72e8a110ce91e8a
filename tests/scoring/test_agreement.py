"""Kappa statistics and decision rates, against statsmodels, scipy and simulation."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest
from statsmodels.stats import inter_rater

from trainer.scoring import agreement

TABLES = st.integers(2, 4).flatmap(
    lambda k: st.lists(st.lists(st.integers(0, 30), min_size=k, max_size=k), min_size=k, max_size=k)
)


@given(TABLES, st.sampled_from([None, "linear", "squared"]))
@settings(max_examples=60, deadline=None)
def test_cohen_agrees_with_statsmodels(table, weights):
    counts = np.array(table)
    # statsmodels divides by zero where a person never used any category but one
    assume((counts.sum(axis=0) > 0).all() and (counts.sum(axis=1) > 0).all())
    wt = {None: None, "linear": "linear", "squared": "quadratic"}[weights]
    mine, theirs = agreement.cohen_kappa(counts, weights), inter_rater.cohens_kappa(counts, wt=wt)
    assert mine.kappa.value == pytest.approx(theirs.kappa, abs=1e-9)
    assert mine.se**2 == pytest.approx(theirs.var_kappa, abs=1e-9)
    assert mine.se_chance**2 == pytest.approx(theirs.var_kappa0, abs=1e-9)


@given(st.lists(st.lists(st.integers(0, 4), min_size=5, max_size=5), min_size=3, max_size=20))
@settings(max_examples=60, deadline=None)
def test_fleiss_agrees_with_statsmodels(judgements):
    counts, _ = inter_rater.aggregate_raters(np.array(judgements), n_cat=5)
    mine = agreement.fleiss_kappa(counts)
    if mine.kappa is None:
        assert mine.reason
        assert len({v for row in judgements for v in row}) == 1
        return
    assert mine.kappa == pytest.approx(inter_rater.fleiss_kappa(counts), abs=1e-9)
    assert mine.kappa_free == pytest.approx(inter_rater.fleiss_kappa(counts, method="randolph"), abs=1e-9)


def test_the_better_null_error_is_the_one_of_1979(chance):
    # Fleiss, Nee and Landis 1979 corrected Fleiss 1971; simulation under chance tells which is right
    p, items, judges, runs = [0.6, 0.3, 0.1], 60, 5, 1500
    kappas = [agreement.fleiss_kappa(chance.multinomial(judges, p, items)).kappa for _ in range(runs)]
    found = agreement.fleiss_kappa(chance.multinomial(judges, p, items))
    assert np.std(kappas) == pytest.approx(found.se_chance, rel=0.12)
    assert abs(np.std(kappas) - found.se_chance) < abs(np.std(kappas) - found.se_1971)


def test_cohens_interval_holds(chance):
    p = np.array([[0.35, 0.08], [0.07, 0.5]])
    rows = p.sum(axis=1) @ p.sum(axis=0)
    truth = (p.trace() - rows) / (1 - rows)
    runs = 1500
    tables = chance.multinomial(150, p.ravel(), runs).reshape(runs, 2, 2)
    found = [agreement.cohen_kappa(t).kappa for t in tables]
    held = np.mean([k.low <= truth <= k.high for k in found])
    assert held == pytest.approx(0.945, abs=4 * math.sqrt(0.05 * 0.95 / runs))


def test_agreement_that_chance_would_give_as_well_has_no_kappa():
    both = agreement.cohen_kappa([[9, 0], [0, 0]])
    assert both.kappa.value is None
    assert both.z is None
    assert both.reason
    several = agreement.fleiss_kappa([[3], [3]])  # one judgement was possible
    assert (several.kappa, several.kappa_free) == (None, 1.0)
    assert several.reason
    perfect = agreement.cohen_kappa([[5, 0], [0, 4]])
    assert perfect.kappa.value == 1
    assert perfect.kappa.high == 1


def test_decision_rates_are_told_with_exact_intervals():
    outside = np.array([True] * 30 + [False] * 50)
    said = np.array([True] * 27 + [False] * 3 + [True] * 5 + [False] * 45)
    found = agreement.decision_rates(said, outside)
    assert found.false_accept.value == pytest.approx(0.1)
    assert found.false_reject.value == pytest.approx(0.1)
    assert found.right.value == pytest.approx(72 / 80)
    theirs = binomtest(3, 30).proportion_ci(0.95, "exact")
    assert (found.false_accept.low, found.false_accept.high) == pytest.approx((theirs.low, theirs.high))


def test_a_rate_without_such_items_is_none_with_the_reason():
    found = agreement.decision_rates([False, False], [False, False])
    assert found.false_accept is None
    assert "outside" in found.reasons["false_accept"]
    assert found.false_reject.value == 0
    assert found.false_reject.high > 0.5  # nought of two is no proof
    rates = found.summary()
    assert rates.loc["false_reject"].tolist() == [0, 0, found.false_reject.high]
    assert rates.loc["false_accept"].tolist() == [None] * 3
    other = agreement.decision_rates([True, False], [True, True])
    assert other.false_accept.value == 0.5
    assert other.false_reject is None
    assert "inside" in other.reasons["false_reject"]


def test_tables_are_made_of_pairs():
    categories, table = agreement.table_of(["in", "out", "in"], ["in", "in", "out"])
    assert categories == ("in", "out")
    assert table.tolist() == [[1, 1], [1, 0]]


@pytest.mark.parametrize(
    "fault",
    [
        lambda: agreement.cohen_kappa([[1, 2]]),
        lambda: agreement.cohen_kappa([[0, 0], [0, 0]]),
        lambda: agreement.cohen_kappa([[1, -1], [0, 1]]),
        lambda: agreement.cohen_kappa([[1, math.nan], [0, 1]]),
        lambda: agreement.cohen_kappa([[1, 2], [3, 4]], "cubic"),
        lambda: agreement.cohen_kappa([[1, 2], [3, 4]], [[1.0]]),
        lambda: agreement.fleiss_kappa([[3, 0], [2, 0]]),
        lambda: agreement.fleiss_kappa([[1, 0], [0, 1]]),
        lambda: agreement.fleiss_kappa([[3, 0]]),
        lambda: agreement.decision_rates([True], [True, False]),
        lambda: agreement.decision_rates([], []),
        lambda: agreement.table_of([], []),
    ],
)
def test_unusable_judgements_are_refused_in_a_sentence(fault):
    with pytest.raises(agreement.UnusableRatings, match=r"\w+ \w+ \w+"):
        fault()
