"""Instruments with faults: a sleeve line just showing or hidden, the zero offset, reversed numbering."""

import numpy as np
import pytest

from trainer.instrument import catalogue
from trainer.instrument.micrometer import State
from trainer.instrument.scale import showing
from trainer.instrument.typed import UnreadableAnswer
from trainer.practice.asking import asked, sight_of
from trainer.practice.deal import deal
from trainer.practice.items import Answer, Item
from trainer.practice.telling import told_of
from trainer.practice.traps import read_zero

METRIC = catalogue.load("metric")
AT = "2026-01-05T08:00:00Z"


@pytest.mark.parametrize("name", ["metric", "inch", "depth-metric", "depth-inch", "metric-1mm-pitch"])
def test_half_line_items_lie_by_a_sleeve_line_that_shows_early_or_late(name, plan, chance):
    micrometer = catalogue.load(name)
    items = deal(plan("half-line", name, 60), micrometer, chance)
    trapped, after = 0, 0
    for item in items:
        turn = micrometer.sleeve_line_tenths
        away = (item.position_tenths + turn / 2) % turn - turn / 2
        assert -40 <= away < 40
        after += away >= 0
        seen = sight_of(item, micrometer)
        shown = showing(State(seen.micrometer, seen.position_tenths, seen.faults)).sleeve_line
        trapped += shown != int(item.position_tenths // turn)
    assert after == 30
    assert trapped >= 10, "the sleeve line misleads in a good part of them"


def test_half_line_items_keep_to_their_side_and_are_numbered(plan, chance):
    """Of 400 about five lie within a tenth of the line on either side; none strays over it."""
    items = deal(plan("half-line", items=400), METRIC, chance)
    away = np.array([(item.position_tenths + 250) % 500 - 250 for item in items])
    assert (away >= 0).sum() == 200
    assert -40 <= away.min() < -35
    assert 35 < away.max() < 40
    assert list(np.bincount(np.floor(away).astype(int) % 10)) == [40] * 10
    assert [item.number for item in items] == list(range(1, 401))


def test_without_an_edge_offset_the_sleeve_line_never_misleads(plan, chance):
    for item in deal(plan("half-line", items=40, edge_offset_mm=0.0), METRIC, chance):
        shown = showing(State(METRIC, item.position_tenths)).sleeve_line
        assert shown == item.position_tenths // 500
        assert item.extra == {}


def test_the_half_millimetre_slip_is_named():
    item = Item(1, 7483.0, "half-line", {"edge_offset_mm": 0.05})
    slipped = told_of(item, Answer(1, "7.983", 7983.0, "answered", 3.0, AT), METRIC)
    assert slipped.right is False
    assert slipped.figures == {"misread": "half-millimetre"}
    assert slipped.lines == (
        "That is a misread (half-millimetre), counted apart from your spread.",
        "The thimble stands at 48, short of its zero, so the sleeve line at its edge does not count.",
    )


def test_zero_offsets_are_looked_at_first_and_corrected_for_afterwards(plan, chance):
    items = deal(plan("zero-offset", items=8), METRIC, chance)
    assert [item.asks for item in items] == (["zero-look"] + ["zero-offset"] * 4) * 2
    zeros = {item.extra["zero_tenths"] for item in items}
    assert len(zeros) == 2
    assert min(zeros) < 0 < max(zeros)
    for item in items:
        zero, scale = item.extra["zero_tenths"], sight_of(item, METRIC).position_tenths
        assert 1 <= abs(zero) <= 8
        assert scale - item.position_tenths == pytest.approx(zero if item.asks == "zero-offset" else 0)


def test_a_reader_who_corrects_is_right_and_one_who_forgets_is_off_by_the_offset(plan, take, chance):
    zero = {}

    def corrects(session):
        item = session.item
        if item.asks == "zero-look":
            zero["seen"] = round(item.extra["scale_tenths"])
            return f"{zero['seen']:+d}"
        return f"{(round(item.extra['scale_tenths']) - zero['seen']) / 1000:.3f}"

    session = take(plan("zero-offset", items=12), corrects, chance)
    errors = [
        a.answer_tenths - i.position_tenths for i, a in zip(session.items, session.answers, strict=True)
    ]
    assert max(map(abs, errors)) <= 1.0

    def forgets(session):
        item = session.item
        return "0" if item.asks == "zero-look" else f"{round(item.extra['scale_tenths']) / 1000:.3f}"

    session = take(plan("zero-offset", items=12), forgets, chance)
    for item, answer in zip(session.items, session.answers, strict=True):
        if item.asks == "zero-offset":
            error = answer.answer_tenths - item.position_tenths
            assert error == pytest.approx(item.extra["zero_tenths"], abs=0.5)


def test_the_zero_is_asked_in_tenths_with_sign():
    item = Item(1, -3.2, "zero-look", {"scale_tenths": -3.2, "zero_tenths": -3.2})
    assert read_zero("−3", item, METRIC, False) == -3.0
    assert read_zero("+2,5", item, METRIC, False) == 2.5
    with pytest.raises(UnreadableAnswer, match="more than five divisions"):
        read_zero("60", item, METRIC, False)
    assert read_zero("-50", item, METRIC, False) == -50


def test_a_corrected_reading_is_told_with_the_offset():
    item = Item(1, 7384.0, "zero-offset", {"scale_tenths": 7387.0, "zero_tenths": 3.0})
    feedback = told_of(item, Answer(1, "7.387", 7387.0, "answered", 3.0, AT), METRIC)
    assert feedback.error_tenths == 3.0
    assert feedback.lines == (
        "The scale stands at 7.3870 and shows +3.0 tenths when closed: take 3.0 off.",
        "You read 3.0 tenths (3.0 µm) high.",
    )


def test_a_zero_not_reached_is_added():
    item = Item(1, 7384.0, "zero-offset", {"scale_tenths": 7381.0, "zero_tenths": -3.0})
    (said,) = told_of(item, Answer(1, "7.384", 7384.0, "answered", 3.0, AT), METRIC).lines
    assert said == "The scale stands at 7.3810 and shows −3.0 tenths when closed: add 3.0."


def test_depth_numbering_is_read_from_what_is_covered(plan, take, chance):
    # Navy 14310 fig. 2-30: 0.400 and 0.025 covered, thimble line 10: 0.435 in
    depth = catalogue.load("depth-inch")
    assert showing(State(depth, depth.position_of("0.435"))).sleeve_line == 17
    session = take(
        plan("full-reading", "depth-inch", 10),
        lambda s: s.micrometer.format_reading(s.item.position_tenths, 4),
        chance,
    )
    errors = [
        a.answer_tenths - i.position_tenths for i, a in zip(session.items, session.answers, strict=True)
    ]
    assert np.max(np.abs(errors)) <= 0.5 + 1e-9


def test_prompts_name_what_is_wanted(plan, chance):
    from trainer.practice.session import Begun, start, step

    session = step(start(plan("zero-offset"), deal(plan("zero-offset"), METRIC, chance)), Begun(0.0))
    assert asked(session).to_dict() == {
        "item": 1,
        "of": 25,
        "asks": "zero-look",
        "unit": "tenth",
        "question": "Closed: how many tenths does it read, with sign?",
    }
