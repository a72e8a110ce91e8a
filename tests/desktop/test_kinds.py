"""Every kind of drill is taken in the window by keyboard alone, from its first item to its result."""

import pygame
import pytest

from player import Player, typed_answer
from tour import Stubborn
from trainer.desktop import events, paint
from trainer.desktop.app import applied
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.plans import run
from trainer.desktop.screens.result import Result
from trainer.desktop.screens.rooms import ROOMS
from trainer.instrument import catalogue
from trainer.practice import plans
from trainer.practice.kinds import DRILLS
from trainer.practice.plan import Plan
from trainer.practice.vernier import coincidence

ITEMS = 4


def begun(plan, **kind):
    """Return a player in front of the first item of a plan."""
    player = Player(Stubborn(["Ada Example"]), **kind)
    app, effects = applied(player.app, 0, run(plan, player.app.desk), player.fitter, ROOMS)
    player.app = app
    player.perform(effects)
    assert isinstance(player.screen, Drill)
    player.press("enter")
    return player


def plan_of(drill):
    instrument = "metric-vernier" if DRILLS[drill].needs_vernier else "metric"
    return Plan(f"try-{drill}", f"Try {drill}", drill, instrument, ITEMS)


def answer(player):
    """Answer the present item as somebody would who sees it exactly; return what was done."""
    session, item = player.screen.session, player.screen.session.item
    micrometer = catalogue.load(session.plan.instrument)
    kind = session.kind
    if session.turning is not None:
        for _ in range(400):
            left = item.position_tenths - player.screen.session.turning.position_tenths
            if abs(left) < 0.05:
                break
            big = {"shift": True} if abs(left) >= 10 else {} if abs(left) >= 1 else {"ctrl": True}
            player.press("up" if left > 0 else "down", **big)
        player.press("enter")
        return
    if kind.unit == "words":
        player.press("enter")
        return
    text = {
        "reading": lambda: micrometer.format_reading(item.position_tenths),
        "tenths": lambda: str(round(item.position_tenths - item.extra.get("line_tenths", 0.0))),
        "line": lambda: str(coincidence(item.position_tenths, micrometer).best[0]),
        "length": lambda: f"{item.extra.get('offset_tenths', 0.0):.1f}",
    }[kind.unit]()
    player.clock.now_s += 2.0
    player.type(text)
    player.press("enter")


@pytest.mark.parametrize("drill", list(DRILLS))
def test_every_kind_of_drill_is_taken_by_keyboard(drill):
    player = begun(plan_of(drill))
    for _ in range(200):
        if not isinstance(player.screen, Drill):
            break
        phase = player.screen.session.phase
        complaint = player.screen.session.complaint
        if phase == "feedback":
            player.picture()
            player.press("enter")
        else:
            assert phase == "reading", phase
            assert complaint is None, complaint
            answer(player)
    assert isinstance(player.screen, Result), player.screen.session
    kept = player.store.kept_sessions[0]
    assert kept.ended_how == "finished"
    assert len(kept.answers) == len(kept.items)
    assert {a.outcome for a in kept.answers} == {"answered"}
    player.picture()


def test_a_thimble_is_turned_by_wheel_and_drag_too():
    player = begun(plan_of("set-to"))
    before = player.screen.session.turning.position_tenths
    x, y = player.placed("thimble").rect.center
    player.send(events.Wheel(x, y, 1.0, player.clock()))
    assert player.screen.session.turning.position_tenths == pytest.approx(before + 1.0)
    player.send(events.PointerDown(x, y, player.clock()))
    player.send(events.PointerMoved(x, y + 30, player.clock(), held=True))
    micrometer = catalogue.load("metric")
    px = player.screen.sitting.viewing["px_per_mm"]
    # on an outside micrometer larger numbers stand above: pulled down, they come to the index line
    moved = 30 / px / micrometer.division_arc_mm * 10
    assert player.screen.session.turning.position_tenths == pytest.approx(before + 1.0 + moved, rel=1e-9)


def test_a_short_exposure_hides_the_picture_by_itself():
    plan = Plan("flash", "Flash", "full-reading", "metric", 3, exposure_seconds=1.5)
    player = begun(plan)

    def hidden():
        return next(p.node.spec.hidden for p in player.layout.placed if type(p.node).__name__ == "Picture")

    assert not hidden()
    assert player.screen.tick_s(player.app.desk) == pytest.approx(1.5, abs=0.05)
    player.wait(1.51)
    assert hidden()
    player.type("7.384")
    player.press("enter")
    assert not hidden()


def test_an_adaptive_plan_deals_as_one_goes_and_keeps_each_item_before_it_is_shown():
    plan = Plan("own-weak-spots", "Weak spots", "full-reading", "metric", 5, placement="adaptive")
    player = begun(plan)
    numbers = []
    while isinstance(player.screen, Drill):
        numbers.append(len(player.store.kept_sessions[0].items))
        answer(player)
        player.press("enter")
    assert numbers == [1, 2, 3, 4, 5]
    assert len(player.store.kept_sessions[0].answers) == 5


@pytest.mark.parametrize("plan", plans.shipped(), ids=lambda plan: plan.name)
def test_every_shipped_plan_begins_draws_its_item_and_takes_an_answer(plan):
    player = begun(plan, size=(800, 560))
    assert player.screen.session.phase == "reading"
    shown = player.picture()
    pixels = pygame.surfarray.array3d(shown)[:, :400]
    assert pixels.std() > 10  # there is an instrument, not a plain ground
    answer(player)
    assert player.screen.session.answers[0].outcome == "answered", player.screen.session.complaint
    assert len(player.store.kept_sessions[0].answers) == 1
    player.picture()


@pytest.mark.parametrize("mark", [".", ","])
def test_numbers_on_the_magnified_picture_have_the_chosen_mark(mark, monkeypatch):
    player = Player(Stubborn(["Ada Example"]))
    player.set(decimal=mark)
    player.press("enter", "enter")
    item = player.screen.session.item
    player.type(typed_answer(player.screen.session, item, 1.0))
    player.press("enter")
    written = []
    monkeypatch.setattr(paint.Brush, "text", lambda self, text, *rest: written.append(text))
    player.picture()
    within = item.position_tenths - item.extra["line_tenths"]
    assert f"{within:.1f}".replace(".", mark) in written
    assert not any("." in text for text in written if mark == "," and text.replace(".", "").isdigit())
