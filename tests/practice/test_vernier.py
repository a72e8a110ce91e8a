"""The vernier and self-check drills, against the examples of government manuals."""

import math
from dataclasses import replace

import numpy as np
import pytest

from trainer.drawing.eyesight import parallax_tenths
from trainer.drawing.viewing import Viewing
from trainer.instrument import catalogue
from trainer.instrument.typed import UnreadableAnswer
from trainer.practice.asking import asked, sight
from trainer.practice.deal import deal
from trainer.practice.items import Answer, Item
from trainer.practice.results import rows
from trainer.practice.session import Begun, Edited, Entered, Left, start, step
from trainer.practice.telling import told, told_of
from trainer.practice.vernier import coincidence, read_line

INCH, METRIC = catalogue.load("inch-vernier"), catalogue.load("metric-vernier")
AT = "2026-01-05T08:00:00Z"

# Army TM 9-243 p. 7-5: vernier line 2 coincides, 0.2862 in; the others follow from the construction told
# there (ten spaces over nine divisions, each 0.0001 in short)
MANUAL = [("0.2862", 2), ("0.2860", 0), ("0.2869", 9), ("0.0005", 5)]


@pytest.mark.parametrize(("reading", "line"), MANUAL)
def test_the_line_of_the_manuals_coincides_and_is_the_right_answer(reading, line):
    position = INCH.position_of(reading)
    stands = coincidence(position, INCH)
    assert stands.best[0] == line
    assert stands.offsets_tenths[line] == pytest.approx(0, abs=1e-9)
    item = Item(1, position, "vernier")
    assert read_line(str(line), item, INCH, False) == pytest.approx(position)


def test_the_neighbours_of_the_manuals_line_are_a_tenth_off_on_either_side():
    # TM 9-243 p. 7-5: the difference of a vernier and a thimble space is 0.0001 in
    beside = coincidence(INCH.position_of("0.2862"), INCH).beside(2)
    assert beside == pytest.approx({1: -1.0, 2: 0.0, 3: 1.0})


def test_the_first_and_last_line_coincide_together():
    stands = coincidence(2860.0, INCH)
    assert stands.best == (0, 10)
    assert not stands.tie
    item = Item(1, 2859.8, "vernier")
    assert read_line("0", item, INCH, False) == read_line("10", item, INCH, False) == pytest.approx(2860.0)


@pytest.mark.parametrize(("position", "line", "error"), [(2862.4, "2", -0.4), (2862.4, "3", 0.6),
                                                         (2869.6, "0", 0.4), (2862.4, "6", 3.6)])  # fmt: skip
def test_the_error_is_counted_round_the_vernier(position, line, error):
    assert read_line(line, Item(1, position, "vernier"), INCH, False) - position == pytest.approx(error)


@pytest.mark.parametrize("text", ["11", "-1", "2.5", "two", ""])
def test_what_is_no_vernier_line_is_refused(text):
    with pytest.raises(UnreadableAnswer):
        read_line(text, Item(1, 2862.4, "vernier"), INCH, False)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_the_plans_share_of_items_are_near_ties_and_every_line_comes_up(share, plan, chance):
    items = deal(plan("vernier", "metric-vernier", 100, near_ties=share), METRIC, chance)
    away = np.array([abs((item.position_tenths + 0.5) % 1 - 0.5) for item in items])
    assert np.mean(away > 0.34) == pytest.approx(share, abs=1e-9)
    assert np.all((away <= 0.2 + 1e-9) | (away > 0.34))
    lines = np.bincount([round(item.position_tenths) % 10 for item in items], minlength=10)
    assert list(lines) == [10] * 10
    assert np.mean([coincidence(i.position_tenths, METRIC).tie for i in items]) == pytest.approx(share)
    assert all(METRIC.holds(item.position_tenths) for item in items)


def test_near_ties_lie_on_either_side_from_0_35_tenth_on(plan, chance):
    """Of 100 drawn evenly over 0.35 to 0.5 one lies below 0.37 but for 6 in ten million; 4 SE of 50."""
    items = deal(plan("vernier", "metric-vernier", 100, near_ties=1.0), METRIC, chance)
    beyond = np.array([(item.position_tenths + 0.5) % 1 - 0.5 for item in items])
    assert 0.35 - 1e-9 <= np.abs(beyond).min() < 0.37
    assert 30 <= (beyond > 0).sum() <= 70


def test_a_wrong_line_is_told_with_its_neighbours_offsets():
    item = Item(1, 2862.1, "vernier")
    wrong = told_of(item, Answer(1, "5", read_line("5", item, INCH, False), "answered", 2.0, AT), INCH)
    assert wrong.right is False
    assert wrong.lines == (
        "Offset of the nearest graduation, in tenths: line 4: +1.9, line 5: +2.9, line 6: +3.9; "
        "line 2 fits best.",
    )
    right = told_of(item, Answer(1, "2", read_line("2", item, INCH, False), "answered", 2.0, AT), INCH)
    assert (right.right, right.lines, right.truth) == (True, (), "line 2")


def test_in_a_near_tie_both_lines_are_right_and_it_is_said():
    item = Item(1, 2862.45, "vernier")
    for text in ("2", "3"):
        answer = Answer(1, text, read_line(text, item, INCH, False), "answered", 2.0, AT)
        feedback = told_of(item, answer, INCH)
        assert feedback.right
        assert feedback.lines == ("A near-tie: lines 2 and 3 coincide about equally well.",)


def test_a_self_check_keeps_the_estimate_before_the_vernier_shows(plan, chance):
    wanted = plan("self-check", "metric-vernier", 2)
    session = start(wanted, deal(wanted, METRIC, chance))
    assert [item.asks for item in session.items] == ["estimate", "self-check"] * 2
    session = step(session, Begun(0.0))
    seen = sight(session)
    assert (seen.micrometer.vernier, seen.turned_to_vernier) == (None, False)
    question = asked(session)
    assert question.unit == "tenth"
    assert question.particulars["upper_line"] == (question.particulars["lower_line"] + 1) % 50
    session = step(step(session, Edited("4")), Entered(3.0, AT))
    assert [answer.typed for answer in session.answers] == ["4"]  # kept, and no event changes it
    assert session.phase == "reading", "no feedback before the vernier was read"
    assert sight(session).turned_to_vernier
    assert sight(session).micrometer.vernier is not None
    assert session.items[0].position_tenths == session.items[1].position_tenths
    left = step(session, Left(4.0))
    assert [answer.typed for answer in left.answers] == ["4"]
    tenth = str(round(session.items[1].position_tenths % 10))
    session = step(step(session, Edited(tenth)), Entered(5.0, AT))
    assert session.phase == "feedback"
    assert told(session).right


def test_a_self_check_gives_scoring_two_rows_that_stay_apart(plan, take, chance):
    session = take(
        plan("self-check", "inch-vernier", 10), lambda s: str(round(s.item.position_tenths % 10)), chance
    )
    both = rows("inch-vernier", session.items, session.answers)
    assert [row["drill"] for row in both] == ["estimate", "self-check"] * 10
    estimates = rows("inch-vernier", session.items, session.answers, of="reading")
    assert len(estimates) == 10
    assert all(abs(row["answer_tenths"] - row["truth_tenths"]) <= 0.5 for row in both)


def test_a_wrong_view_angle_moves_the_coincident_line_by_the_computed_amount():
    # By similar triangles: a graduation h above the vernier's plane, seen by an eye e aside at distance D,
    # is displaced by h e / D. With a step of 0.4 mm, e = 125 mm, D = 250 mm that is 0.2 mm, on the vernier
    # instrument's own division so many tenths; the line that seems to coincide is so many lines further.
    aside = Viewing(20.0, distance_mm=250.0, eye_offset_mm=125.0)
    sizes = METRIC.sizes
    stepped = replace(METRIC, sizes=replace(sizes, sleeve_diameter_mm=sizes.thimble_edge_diameter_mm - 0.8))
    shift = parallax_tenths(stepped, aside)
    radius = sizes.thimble_edge_diameter_mm / 2
    by_hand = 10 * math.asin(0.2 / radius) / (2 * math.pi / METRIC.divisions)
    assert shift == pytest.approx(by_hand)
    assert abs(shift) > 1, "more than a whole vernier line"
    for tenths in range(10):
        straight = coincidence(4320.0 + tenths, METRIC)
        seen = coincidence(4320.0 + tenths + shift, METRIC)
        moved = (seen.best[0] - straight.best[0]) % 10
        assert moved in (math.floor(shift) % 10, math.ceil(shift) % 10)
    # the shipped vernier instruments lie almost in one plane (a step of 0.02 mm, so 0.01 mm): no line moves
    flat = parallax_tenths(METRIC, aside)
    assert flat == pytest.approx(10 * math.asin(0.01 / radius) / (2 * math.pi / METRIC.divisions))
    for tenths in range(10):
        assert coincidence(4320.0 + tenths + flat, METRIC).best[0] == tenths
