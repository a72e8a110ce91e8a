"""Dealing: every tenth equally often, in the travel, no two alike in a row, the same from the same seed."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.instrument import catalogue
from trainer.practice.deal import deal
from trainer.practice.plan import Plan
from trainer.practice.strata import stratified_tenths

SEEDS = st.integers(0, 2**64 - 1)


def plan(drill="full-reading", instrument="metric", items=20, **more):
    return Plan("test", "A test", drill, instrument, items, **more)


@settings(max_examples=60, deadline=None)
@given(SEEDS, st.integers(1, 60), st.sampled_from(catalogue.names()))
def test_every_tenth_comes_once_in_every_block_of_ten(seed, count, name):
    items = deal(plan(instrument=name, items=count), catalogue.load(name), np.random.default_rng(seed))
    tenths = [int(item.position_tenths % 10) for item in items]
    for first in range(0, count, 10):
        block = tenths[first : first + 10]
        assert len(set(block)) == len(block)
    assert [item.number for item in items] == list(range(1, count + 1))


@settings(max_examples=60, deadline=None)
@given(SEEDS, st.sampled_from(catalogue.names()), st.sampled_from(["tenths", "full-reading"]))
def test_items_lie_in_the_travel_and_neighbours_differ(seed, name, drill):
    micrometer = catalogue.load(name)
    items = deal(plan(drill, name, 60), micrometer, np.random.default_rng(seed))
    assert all(0 <= item.position_tenths < micrometer.travel_tenths for item in items)
    for before, after in itertools.pairwise(items):
        assert int(before.position_tenths % 10) != int(after.position_tenths % 10)
        lines = [int(item.position_tenths // 10) % micrometer.divisions for item in (before, after)]
        assert lines[0] != lines[1]


def test_the_same_seed_deals_the_same_items_and_another_seed_others():
    metric = catalogue.load("metric")
    first, again, other = (deal(plan(), metric, np.random.default_rng(seed)) for seed in (5, 5, 6))
    assert first == again
    assert first != other


def test_the_pair_of_lines_given_in_the_tenths_drill_encloses_the_position(chance):
    for item in deal(plan("tenths", "inch", 50), catalogue.load("inch"), chance):
        assert item.extra["line_tenths"] <= item.position_tenths < item.extra["line_tenths"] + 10
        assert item.extra["line_tenths"] % 10 == 0


def test_a_whole_reading_gives_nothing_away(chance):
    assert {str(item.extra) for item in deal(plan(items=20), catalogue.load("metric"), chance)} == {"{}"}


def test_positions_are_continuous_and_graduations_uniform(chance):
    # 4,000 items: mean and variance of a uniform share of the travel, 5 sigma of the sampling error
    metric = catalogue.load("metric")
    items = [item for _ in range(4) for item in deal(plan(items=1000), metric, chance)]
    share = np.array([item.position_tenths for item in items]) / metric.travel_tenths
    assert share.mean() == pytest.approx(0.5, abs=5 * 12**-0.5 / 4000**0.5)
    within = np.array([item.position_tenths % 1 for item in items])
    assert within.mean() == pytest.approx(0.5, abs=5 * 12**-0.5 / 4000**0.5)
    assert within.var() == pytest.approx(1 / 12, abs=5 * 180**-0.5 / 4000**0.5)
    lines = np.bincount([int(item.position_tenths // 10) % 50 for item in items], minlength=50)
    assert abs(lines - 80).max() < 5 * 80**0.5


def test_stratification_lowers_the_variance_of_a_cyclic_readers_mean(chance):
    # METHODS 0 and 7: x0.22 for a strongly cyclic reader (one-cycle curve, exponent 0.6, noise sd 0.3)
    def mean_error(f):
        curve = f**0.6 / (f**0.6 + (1 - f) ** 0.6)
        answers = np.clip(np.rint(10 * curve + chance.normal(0, 0.3, f.shape)), 0, 10)
        return np.mean(answers - 10 * f, axis=-1)

    stratified = [mean_error((stratified_tenths(20, chance) + chance.random(20)) / 10) for _ in range(2000)]
    random = mean_error(chance.random((2000, 20)))
    # a ratio of two variances of 2,000 each: relative standard error 0.045, so 5 sigma is 0.05 of 0.22
    assert np.var(stratified) / np.var(random) == pytest.approx(0.22, abs=0.06)
