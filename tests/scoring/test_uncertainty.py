"""Pieces of an uncertainty statement, sums in exact decimals, the straight line: against other judges."""

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels import api as sm

from trainer.scoring import anova, decimals, line, uncertainty

FINITE = st.floats(allow_nan=False, allow_infinity=False, min_value=-1e12, max_value=1e12)


@given(st.lists(FINITE, min_size=1, max_size=20))
@settings(max_examples=60, deadline=None)
def test_integers_stand_for_the_decimals_as_typed(values):
    integers, places = decimals.as_integers(values)
    assert [Decimal(i).scaleb(-places) for i in integers] == [Decimal(repr(v)) for v in values]


def test_sums_of_squares_lose_nothing_where_doubles_lose_everything():
    # NIST SmLs07-09 in little: spread 0.1 on 10^12; the textbook formula in doubles gives nonsense
    groups = [
        [1000000000000.4, 1000000000000.3, 1000000000000.5],
        [1000000000000.2, 1000000000000.4, 1000000000000.3],
    ]
    small = [[0.4, 0.3, 0.5], [0.2, 0.4, 0.3]]
    assert anova.one_way(groups).f == anova.one_way(small).f


@given(st.lists(st.tuples(st.integers(-500, 500), st.integers(-500, 500)), min_size=3, max_size=15))
@settings(max_examples=60, deadline=None)
def test_a_line_agrees_with_scipy(pairs):
    x, y = [a / 8 for a, _ in pairs], [b / 8 for _, b in pairs]
    if len(set(y)) < 2:
        y[0] += 1.0  # scipy has no error of the slope where y does not vary
    if len(set(x)) < 2:
        with pytest.raises(line.UnusablePairs, match="at least two different"):
            line.fit(x, y)
        return
    mine, theirs = line.fit(x, y), stats.linregress(x, y)
    assert mine.slope == pytest.approx(theirs.slope, rel=1e-9, abs=1e-9)
    assert mine.intercept == pytest.approx(theirs.intercept, rel=1e-9, abs=1e-8)
    assert mine.u_slope == pytest.approx(theirs.stderr, rel=1e-4, abs=1e-5)
    assert mine.u_intercept == pytest.approx(theirs.intercept_stderr, rel=1e-4, abs=1e-4)


def test_the_uncertainty_of_a_prediction_agrees_with_statsmodels(chance):
    x = chance.uniform(0, 10, 25)
    y = 1 + 2 * x + chance.standard_normal(25)
    fit = sm.OLS(y, sm.add_constant(x)).fit()
    theirs = fit.get_prediction(np.array([[1.0, 12.0]])).summary_frame()
    for origin in (0.0, 5.0):
        value, u = line.fit(x.tolist(), y.tolist(), origin).at(12.0)
        assert value == pytest.approx(theirs["mean"].iloc[0], rel=1e-9)
        assert u == pytest.approx(theirs["mean_se"].iloc[0], rel=1e-9)


@pytest.mark.parametrize(
    ("x", "y"), [([1, 2], [1, 2]), ([1, 2, 3], [1, 2]), ([1, 2, math.nan], [1, 2, 3]), ([1, 1, 1], [1, 2, 3])]
)
def test_pairs_that_make_no_line_are_refused(x, y):
    with pytest.raises(line.UnusablePairs, match=r"\w+"):
        line.fit(x, y)


def test_a_perfect_line_has_no_f_and_no_nan():
    fit = line.fit([1.0, 2.0, 3.0], [2.0, 4.0, 6.0])
    assert fit.f is None
    assert fit.u_slope == 0
    assert line.fit([1.0, 2.0, 3.0], [2.0, 2.0, 2.0]).r_squared is None


@given(st.lists(st.floats(0.01, 100), min_size=1, max_size=8), st.data())
@settings(max_examples=60, deadline=None)
def test_effective_degrees_of_freedom_lie_between_the_least_and_the_sum(contributions, data):
    # GUM G.4.1: the effective degrees of freedom never exceed the sum
    dfs = data.draw(st.lists(st.integers(1, 50), min_size=len(contributions), max_size=len(contributions)))
    df = uncertainty.welch_satterthwaite(contributions, dfs)
    assert min(dfs) * (1 - 1e-9) <= df <= sum(dfs) * (1 + 1e-9)


def test_without_limited_degrees_of_freedom_there_are_none():
    assert uncertainty.welch_satterthwaite([1.0, 2.0], [None, math.inf]) is None
    assert uncertainty.welch_satterthwaite([0.0], [5]) is None
    assert uncertainty.coverage_factor(0.95, None) == uncertainty.coverage_factor(0.95, math.inf)
    assert uncertainty.whole_df(16.75) == 16  # GUM G.4.1, Note 1, and H.1.6
    assert uncertainty.whole_df(0.4) == 1
    assert uncertainty.whole_df(None) is None


@pytest.mark.parametrize("df", [1, 2.5, 19, 400])
@pytest.mark.parametrize("probability", [0.5, 0.95, 0.9973])
def test_coverage_factors_agree_with_scipy(probability, df):
    assert uncertainty.coverage_factor(probability, df) == pytest.approx(
        stats.t.ppf(0.5 + probability / 2, df)
    )


def test_distributions_have_the_spread_of_their_draws(chance):
    n = 400_000
    u = chance.random((2, n))
    cases = {
        uncertainty.rectangular(2.0): 2 * (2 * u[0] - 1),
        uncertainty.triangular(2.0): 2 * (u[0] - u[1]),
        uncertainty.arcsine(2.0): 2 * np.sin(2 * np.pi * u[0]),
        uncertainty.trapezoidal(2.0, 0.5): 2 * (1.5 * u[0] + 0.5 * u[1] - 1),
        uncertainty.curvilinear(2.0, 0.5): (2 + 0.5 * (2 * u[0] - 1)) * (2 * u[1] - 1),
        uncertainty.resolution(4.0): 2 * (2 * u[0] - 1),
    }
    for stated, drawn in cases.items():
        assert drawn.std() == pytest.approx(stated, rel=0.006)


def test_one_reading_has_no_scatter_and_says_so():
    found = uncertainty.type_a([3.0])
    assert (found.sd, found.u) == (None, None)
    assert "at least 2" in found.reason


def test_numbers_are_summed_from_their_middle():
    # NIST NumAcc4: 10000000.2 alternating by 0.1; mean and s are 10000000.2 and 0.1 exactly
    values = [10000000.2] + [10000000.1, 10000000.3] * 500
    found = uncertainty.type_a(values)
    assert found.mean == pytest.approx(10000000.2, rel=1e-15)
    assert found.sd == pytest.approx(0.1, rel=1e-7)


@pytest.mark.parametrize(
    "fault",
    [
        lambda: uncertainty.rectangular(-1.0),
        lambda: uncertainty.resolution(math.nan),
        lambda: uncertainty.trapezoidal(1.0, 2.0),
        lambda: uncertainty.curvilinear(1.0, 2.0),
        lambda: uncertainty.from_expanded(1.0, 0.0),
        lambda: uncertainty.relative_u_of_sd(1),
        lambda: uncertainty.df_from_reliability(0.0),
        lambda: uncertainty.welch_satterthwaite([1.0], [0]),
        lambda: uncertainty.welch_satterthwaite([1.0], []),
        lambda: uncertainty.coverage_factor(1.0, 5),
        lambda: uncertainty.coverage_factor(0.95, -1),
        lambda: uncertainty.type_a([]),
        lambda: uncertainty.type_a([1.0, math.inf]),
    ],
)
def test_what_cannot_be_an_uncertainty_is_refused_in_a_sentence(fault):
    with pytest.raises(uncertainty.UnusableUncertainty, match=r"\w+ \w+ \w+"):
        fault()
