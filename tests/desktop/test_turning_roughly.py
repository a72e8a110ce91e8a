"""Turning the thimble with what is at hand: no wheel, a held key, a resized window, two answers at once."""

import pytest

from player import Player
from tour import Stubborn
from trainer.desktop import events
from trainer.desktop.app import applied
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.plans import run
from trainer.desktop.screens.rooms import ROOMS
from trainer.instrument import catalogue
from trainer.practice.plan import Plan

METRIC = catalogue.load("metric")


def begun(items=3, feedback=True, drill="set-to", **kind):
    player = Player(Stubborn(["Ada Example"]), **kind)
    plan = Plan("try", "Try", drill, "metric", items, feedback=feedback)
    player.app, effects = applied(player.app, 0, run(plan, player.app.desk), player.fitter, ROOMS)
    player.perform(effects)
    assert isinstance(player.screen, Drill)
    player.press("enter")
    return player


def position(player):
    return player.screen.session.turning.position_tenths


def drag(player, dy):
    x, y = player.placed("thimble").rect.center
    player.send(events.PointerDown(x, y, player.clock()))
    step = 1 if dy > 0 else -1
    for k in range(1, abs(dy) + 1):
        player.send(events.PointerMoved(x, y + step * k, player.clock(), held=True))
    player.send(events.PointerUp(x, y + dy, player.clock()))


def test_a_mouse_without_a_wheel_sets_a_reading_by_dragging_to_a_pixel():
    player = begun()
    target = player.screen.session.item.position_tenths
    px = player.screen.sitting.viewing["px_per_mm"]
    tenths_a_px = 10 / (px * METRIC.division_arc_mm)
    for _ in range(40):
        left = (target - position(player)) / tenths_a_px
        if abs(left) <= 0.5 + 1e-6:
            break
        drag(player, max(-150, min(150, round(left))))
    assert abs(target - position(player)) <= (0.5 + 1e-6) * tenths_a_px


def test_a_key_held_turns_step_by_step_and_stops_at_the_end_of_the_travel():
    player = begun()
    before = position(player)
    for _ in range(30):  # a second of key repeat
        player.press("up", repeat=True)
    assert position(player) == pytest.approx(before + 30)
    for _ in range(3000):
        player.press("pageup", repeat=True)
        if position(player) == METRIC.travel_tenths:
            break
    assert position(player) == METRIC.travel_tenths
    player.press("up", repeat=True)
    assert position(player) == METRIC.travel_tenths


def test_enter_held_down_answers_one_item_only():
    player = begun(feedback=False)
    player.press("up")
    player.press("enter")
    for _ in range(60):
        player.press("enter", repeat=True)
    assert len(player.store.kept_sessions[0].answers) == 1


def test_two_answers_in_one_frame_leave_the_second_unturned_and_unrecorded():
    player = begun(feedback=False)
    player.press("up")
    player.press("enter", "enter")
    assert len(player.store.kept_sessions[0].answers) == 1
    assert player.screen.session.item.number == 2
    assert "has not been turned" in player.screen.session.complaint


def test_a_window_resized_in_mid_turn_keeps_where_the_thimble_stands():
    player = begun()
    player.press("up", "up")
    before = position(player)
    item = player.screen.session.item
    player.resize(900, 600)
    assert (position(player), player.screen.session.item) == (before, item)
    assert player.picture().get_size() == (900, 600)
    player.press("up")
    assert position(player) == pytest.approx(before + 1)
