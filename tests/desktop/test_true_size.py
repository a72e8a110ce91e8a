"""Pictures of true size, and the visual angle of a division as it really was before the eye."""

import json

import pytest

from player import Player
from tour import Stubborn
from trainer.desktop.app import applied
from trainer.desktop.pictures import drill_size, fitting_px_per_mm
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.plans import run
from trainer.desktop.screens.rooms import ROOMS
from trainer.desktop.settings import Display, Settings
from trainer.instrument import catalogue
from trainer.practice.plan import Plan
from trainer.records.viewed import angle_arcmin

METRIC = catalogue.load("metric")
SET_UP = Display(px_per_mm=10.0, distance_mm=400.0, set_at="2026-01-01T00:00:00Z", resolution=(0, 0))


def begun(plan, display=SET_UP, **kind):
    settings = Settings(displays={} if display is None else {"display": display})
    player = Player(Stubborn(["Ada Example"]), settings=settings, **kind)
    player.app, effects = applied(player.app, 0, run(plan, player.app.desk), player.fitter, ROOMS)
    player.perform(effects)
    assert isinstance(player.screen, Drill)
    return player


def plan_of(*, true_size):
    return Plan("true", "True size", "full-reading", "metric", 3, true_size=true_size)


def angle_kept(player):
    return angle_arcmin(json.dumps(dict(player.store.kept_sessions[0].header.viewing)), "metric")


def warned(player):
    return [detail for kind, _, detail in player.store.kept_sessions[0].notes if kind == "warning"]


def test_a_plan_of_true_size_is_drawn_at_the_displays_own_scale():
    player = begun(plan_of(true_size=True))
    assert player.screen.sitting.viewing["px_per_mm"] == 10.0
    player.press("enter")
    assert player.screen.shot(player.clock()).px_per_mm == 10.0
    player.picture()
    # by hand: a division of 16 pi / 50 = 1.0053 mm seen from 400 mm is 8.64 minutes of arc
    assert angle_kept(player) == pytest.approx(8.640, abs=0.001)
    assert warned(player) == []


def test_the_angle_of_a_picture_that_fills_the_window_is_that_of_the_picture():
    player = begun(plan_of(true_size=False))
    px = player.screen.sitting.viewing["px_per_mm"]
    assert px > 20
    # seen under so many times the angle as the picture is larger than the instrument (small angles)
    assert angle_kept(player) == pytest.approx(8.640 * px / 10, rel=1e-3)


def test_a_window_too_small_for_true_size_is_told_with_the_number_and_that_is_kept():
    player = begun(plan_of(true_size=True), Display(60.0, 400.0, "2026-01-01T00:00:00Z", (0, 0)))
    px = player.screen.sitting.viewing["px_per_mm"]
    (told,) = warned(player)
    assert told == (
        f"the window holds {px:.2f} pixels a millimetre and true size takes 60.00, "
        f"so the picture is {100 * px / 60:.0f} % of true size; enlarge the window"
    )
    assert any("enlarge the window" in text for text in player.texts)
    assert angle_kept(player) == pytest.approx(8.640 * px / 60, rel=1e-3)


def test_without_a_set_up_display_true_size_and_angle_are_not_known():
    player = begun(plan_of(true_size=True), None)
    assert warned(player) == [
        "this display was not set up, so its true size is not known; set it up before the drill"
    ]
    assert angle_kept(player) is None


def test_a_window_made_smaller_in_mid_item_never_cuts_the_instrument():
    player = begun(plan_of(true_size=True))
    player.press("enter")
    item = player.screen.session.item
    player.resize(500, 400)
    assert player.picture().get_size() == (500, 400)
    assert player.screen.session.item is item
    assert player.app.toast == ""  # ten pixels a millimetre are there still


def test_a_window_made_smaller_in_mid_item_is_told_at_once_and_kept_with_the_answer():
    player = begun(plan_of(true_size=True), Display(20.0, 400.0, "2026-01-01T00:00:00Z", (0, 0)))
    player.press("enter")
    assert warned(player) == []
    player.resize(700, 400)
    assert player.app.toast == "The picture is smaller now than when the sitting began; enlarge the window."
    player.resize(1280, 720)  # the item was seen small, whatever came after
    player.type("7.384")
    player.press("enter")
    if player.screen.session.complaint:
        player.press("enter")
    size = drill_size((700, 400), 1.0)
    px = fitting_px_per_mm(METRIC, size)
    assert px < 20
    assert warned(player) == [
        f"item 1: the window held {px:.2f} pixels a millimetre and 20.00 when the sitting began, "
        f"so the picture was {100 * px / 20:.0f} % as large",
        f"item 1: the window holds {px:.2f} pixels a millimetre and true size takes 20.00, "
        f"so the picture is {100 * px / 20:.0f} % of true size; enlarge the window",
    ]
    player.answer_all()
    assert len(warned(player)) == 2  # the others were seen at full size


def test_a_sitting_gone_on_with_in_a_smaller_window_says_so_of_every_answer():
    player = begun(plan_of(true_size=False))
    px = player.screen.sitting.px_per_mm
    player.resize(700, 400)
    player.answer_all()
    small = [one for one in warned(player) if "when the sitting began" in one]
    assert [one.split(":")[0] for one in small] == ["item 1", "item 2", "item 3"]
    assert all(f"and {px:.2f} when the sitting began" in one for one in small)
