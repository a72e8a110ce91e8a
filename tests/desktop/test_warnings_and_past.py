"""What pictures cannot show is told and kept before a drill; placement looks back on earlier sittings."""

from dataclasses import replace

import pytest

from player import Player
from tour import Stubborn
from trainer.desktop.app import applied
from trainer.desktop.desk import Desk
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.plans import run
from trainer.desktop.screens.rooms import ROOMS
from trainer.desktop.sittings import BeginSitting, DealNext, past_of, warnings_of
from trainer.desktop.store import NotKept
from trainer.practice import plans, session
from trainer.practice.items import Answer

WHEN = "2026-03-01T08:00:05Z"


def header(px_per_mm, started_at="2026-03-02T08:00:00Z", **viewing):
    shown = {"px_per_mm": px_per_mm, **viewing}
    return {
        "viewing": shown,
        "px_per_mm": px_per_mm,
        "station": "bench 3",
        "program_version": "0.1.0",
        "drawing_version": "1",
        "started_at": started_at,
    }


@pytest.fixture
def player():
    return Player(Stubborn(["Ada Example"]))


def sat(player, plan, **kind):
    return BeginSitting(player.app.desk.person, plan, header(20.0, **kind)).run(player.services)


def test_a_picture_too_coarse_for_a_tenth_is_warned_of_and_the_warning_is_kept(player):
    plan = plans.find("first-tenths-metric")
    sitting = BeginSitting(player.app.desk.person, plan, header(5.0)).run(player.services)
    notes = player.store.session(sitting.session_id).notes
    assert [kind for kind, _, _ in notes] == ["warning"]
    assert "so a tenth of it is less than one" in notes[0][2]
    shown = Drill.of(sitting).view(player.app.desk)
    told = [text for text in all_texts(shown) if "so a tenth of it is less than one" in text]
    assert len(told) == 1
    assert told[0].startswith("A division is ")


def all_texts(node):
    """Yield every text of a view."""
    if isinstance(getattr(node, "text", None), str):
        yield node.text
    for name in ("children", "body", "strip", "content", "foot"):
        inside = getattr(node, name, ())
        for child in inside if isinstance(inside, tuple) else (inside,):
            yield from all_texts(child)


def test_from_too_far_away_is_warned_of_and_a_usual_place_is_not():
    plan = plans.find("first-tenths-metric")
    assert "minutes of arc" in warnings_of(plan, {"distance_mm": 9000.0}, 20.0)[0]
    assert warnings_of(plan, {"distance_mm": 500.0}, 20.0) == ()


def test_placement_is_given_what_was_answered_in_earlier_sittings_and_not_in_later_ones(player):
    plan = plans.find("weak-spots-metric")
    assert plan.serial
    first = sat(player, plan, started_at="2026-03-01T08:00:00Z")
    second = sat(player, plan, started_at="2026-03-02T08:00:00Z")
    third = sat(player, plan, started_at="2026-03-03T08:00:00Z")
    for sitting, error in ((first, 1.0), (third, 2.0)):
        rules = session.start(sitting.plan, sitting.items)
        _, item = DealNext(sitting.session_id, rules, sitting.seed).run(player.services)
        given = Answer(
            item.number, "x", item.position_tenths + error, "answered", 3.0, "2026-03-01T08:00:05Z"
        )
        player.store.save_answer(sitting.session_id, given)
    position = player.store.session(first.session_id).items[0]["position_tenths"]
    assert past_of(player.store, first.session_id) == ()
    assert past_of(player.store, second.session_id) == ((position, position + 1.0),)


def test_of_judgements_the_past_is_the_offset_and_what_was_said(player):
    plan = plans.find("judge-metric")
    first = sat(player, plan, started_at="2026-03-01T08:00:00Z")
    second = sat(player, plan, started_at="2026-03-02T08:00:00Z")
    rules = session.start(first.plan, first.items)
    _, item = DealNext(first.session_id, rules, first.seed).run(player.services)
    player.store.save_answer(first.session_id, Answer(item.number, "out", None, "answered", 3.0, WHEN))
    assert past_of(player.store, second.session_id) == ((item.extra["offset_tenths"], 1.0),)


def test_a_sitting_dealt_as_one_goes_says_of_how_many_and_nothing_where_that_hangs_on_the_answers(player):
    spots = sat(player, plans.find("weak-spots-metric"), started_at="2026-03-01T08:00:00Z")
    assert spots.total == 40
    assert len(spots.items) < spots.total
    whole = sat(player, plans.find("calibration-by-hand-metric"), started_at="2026-03-02T08:00:00Z")
    assert whole.total is None
    assert "Answers kept: 0 of 40. You can go on later, or close it now." in leave_words(spots)
    assert "Answers kept: 0. You can go on later, or close it now." in leave_words(whole)


def test_an_item_that_cannot_be_dealt_is_not_told_as_an_answer_lost():
    class Full(Stubborn):
        full = True

        def deal_more(self, session, items):
            if self.full:
                raise NotKept("the disk is full")
            super().deal_more(session, items)

    store = Full(["Ada Example"])
    player = Player(store)
    wanted = plans.find("weak-spots-metric")
    player.app, effects = applied(player.app, 0, run(wanted, player.app.desk), player.fitter, ROOMS)
    player.perform(effects)
    assert player.screen.refused == "the disk is full"
    assert "The next item is not dealt yet" in player.texts
    assert not any("answer is not on disk" in text for text in player.texts)
    store.full = False
    player.press("enter")
    assert not player.screen.refused


def leave_words(sitting):
    """Return the texts of the question whether to leave a sitting."""
    drill = replace(Drill.of(sitting), leaving=True)
    return list(all_texts(drill.view(Desk())))
