"""The set-to drills: a continuous position by events, and the way of approach kept beside it."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.instrument import catalogue
from trainer.practice.asking import asked, sight
from trainer.practice.deal import deal
from trainer.practice.items import Item
from trainer.practice.results import TYPED_TURNS, rows
from trainer.practice.session import Advanced, Begun, Edited, Entered, Paused, Resumed, Turned, start, step
from trainer.practice.telling import told
from trainer.practice.turning import Turning

METRIC = catalogue.load("metric")
AT = "2026-01-05T08:00:00Z"


@pytest.fixture
def begun(plan):
    items = [Item(n, 7384.0, "set-to", {"scale_tenths": 7350.0}) for n in (1, 2)]
    return step(start(plan("set-to"), items), Begun(0.0))


def test_the_thimble_starts_elsewhere_and_follows_the_turning(begun):
    assert sight(begun).position_tenths == 7350.0
    assert asked(begun).question == "Set the thimble to 7.384 mm."
    turned = step(begun, Turned(7361.25, 0.5))
    assert sight(turned).position_tenths == 7361.25
    assert turned.answers == ()


def test_what_is_set_is_recorded_with_the_way_of_approach(begun):
    session = begun
    for position, at_s in ((7380.0, 1.0), (7390.0, 1.5), (7386.0, 2.0), (7384.37, 2.5)):
        session = step(session, Turned(position, at_s))
    session = step(session, Entered(3.0, AT))
    (answer,) = session.answers
    assert (answer.answer_tenths, answer.typed, answer.seconds) == (
        7384.37,
        "7.38437",
        3.0,
    )
    assert answer.extra == {
        "by": "turning",
        "approach": "falling",
        "reversals": 1,
        "turns": 4,
        "run_tenths": pytest.approx(5.63),
    }
    feedback = told(session)
    assert feedback.error_tenths == pytest.approx(0.37)
    assert feedback.lines == (
        "You set it 0.4 tenths (0.4 µm) high.",
        "You came to it with the reading falling, turning back once.",
    )
    assert sight(session).position_tenths == 7384.37, "feedback shows what was set"
    following = step(session, Advanced(4.0))
    assert sight(following).position_tenths == 7350.0


def test_a_thimble_that_was_not_turned_is_no_answer(begun):
    session = step(begun, Entered(1.0, AT))
    assert session.answers == ()
    assert session.complaint == "the thimble has not been turned; set it first, or skip the item"
    assert step(session, Turned(7351.0, 1.5)).complaint is None


def test_turning_is_ignored_while_paused_and_kept_over_the_pause(begun):
    session = step(begun, Turned(7360.0, 1.0))
    paused = step(session, Paused(1.5))
    assert step(paused, Turned(9000.0, 2.0)) == paused
    assert sight(step(paused, Resumed(3.0))).position_tenths == 7360.0


def test_turning_stops_at_the_ends_of_the_travel_and_ignores_what_is_no_number(begun):
    assert sight(step(begun, Turned(1e9, 1.0))).position_tenths == METRIC.travel_tenths
    assert sight(step(begun, Turned(-5.0, 1.0))).position_tenths == 0.0
    assert step(begun, Turned(float("nan"), 1.0)) == begun


def test_turning_means_nothing_to_a_reading_drill(plan):
    session = step(start(plan("full-reading"), [Item(1, 7384.0, "full-reading")]), Begun(0.0))
    assert step(session, Turned(1.0, 1.0)) == session


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 8000).map(lambda n: n / 8), min_size=1, max_size=20))
def test_reversals_are_the_changes_of_way(positions):
    turning = Turning(500.0)
    for position in positions:
        turning = turning.to(position, 25_000.0)
    steps = [b - a for a, b in zip([500.0, *positions], positions, strict=False)]
    ways = [1 if moved > 0 else -1 for moved in steps if abs(moved) >= 1e-9]
    assert turning.reversals == sum(a != b for a, b in pairwise(ways))
    assert turning.way == (ways[-1] if ways else 0)
    assert turning.turns == len(ways)


def test_without_a_window_turns_are_typed_and_never_pooled_with_real_ones(begun):
    session = step(step(begun, Edited("+3,5 -0.1")), Entered(4.0, AT))
    (answer,) = session.answers
    assert answer.answer_tenths == pytest.approx(7384.0)
    assert (answer.extra["by"], answer.extra["approach"]) == ("typed", "falling")
    assert rows("metric", session.items, session.answers)[0]["drill"] == TYPED_TURNS
    refused = step(step(begun, Edited("three")), Entered(4.0, AT))
    assert refused.answers == ()
    assert "is not a number" in refused.complaint


@pytest.mark.parametrize("name", catalogue.names())
@pytest.mark.parametrize("drill", ["set-to", "set-line"])
def test_targets_and_starts_lie_in_the_travel_on_both_sides(name, drill, plan, chance):
    micrometer = catalogue.load(name)
    items = deal(plan(drill, name, 60), micrometer, chance)
    starts = [item.extra["scale_tenths"] - item.position_tenths for item in items]
    assert all(10 <= abs(away) <= 80 for away in starts)
    assert 20 <= sum(away > 0 for away in starts) <= 40
    for item in items:
        assert micrometer.holds(item.position_tenths)
        assert micrometer.holds(item.extra["scale_tenths"])
        assert item.position_tenths % (1 if drill == "set-to" else 10) == 0


def test_a_far_start_beyond_an_end_of_the_travel_is_on_the_other_side(plan, chance):
    inch = catalogue.load("inch")
    items = deal(plan("set-line", "inch", 60, start_divisions=200.0), inch, chance)
    away = [item.extra["scale_tenths"] - item.position_tenths for item in items]
    assert all(inch.holds(item.extra["scale_tenths"]) for item in items)
    assert all(10 <= abs(one) <= 2000 for one in away)
    near = [(item, one) for item, one in zip(items, away, strict=True) if item.position_tenths - abs(one) < 0]
    assert near
    assert all(one > 0 for _, one in near)


def test_the_zero_line_is_among_the_lines_to_be_set(plan, chance):
    items = deal(plan("set-line", "metric", 100), METRIC, chance)
    zeros = sum(item.position_tenths % METRIC.turn_tenths == 0 for item in items)
    assert 10 <= zeros <= 45  # a quarter of 100, more than 3 sigma either way
    at = {item.position_tenths for item in items if item.position_tenths % METRIC.turn_tenths == 0}
    assert len(at) >= 7, "all along the travel of fifty turns"
    session = step(start(plan("set-line"), [Item(1, 500.0, "set-line", {"scale_tenths": 530.0})]), Begun(0.0))
    assert asked(session).question == "Set line 0 of the thimble exactly on the index line (0.50 mm)."
