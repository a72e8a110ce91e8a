"""Several displays: told apart, set up each for itself, asked again when one changes; unplugging one."""

import sys
import threading
from dataclasses import replace

import pygame
import pytest
from pygame import Rect

from player import GALLERY, Player
from trainer.desktop import below, displays, events, window
from trainer.desktop.clock import HandClock
from trainer.desktop.displays import Monitor
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.seen import arc_minutes
from trainer.desktop.settings import USUAL_PX_PER_MM, Display, Settings
from trainer.desktop.store import MemoryStore
from trainer.desktop.work import FullScreen
from trainer.instrument import catalogue
from trainer.records.archive import Archive

LEFT = Monitor("Bench screen", 0, 0, 1920, 1080, 92.0)
TWIN = Monitor("Bench screen", 1920, 0, 1920, 1080, 92.0)
FINE = Monitor("Desk screen", 1920, 0, 3840, 2160, 163.0)


def test_name_density_and_place_tell_displays_of_one_resolution_apart():
    other = replace(TWIN, name="Second screen")
    denser = replace(TWIN, dpi=110.0)
    for pair in ([LEFT, other], [LEFT, denser], [LEFT, TWIN]):
        assert displays.key(pair, pair[0]) != displays.key(pair, pair[1])
    assert displays.key([LEFT, other], LEFT) == displays.key([LEFT], LEFT)  # beside a stranger too


def test_a_window_stands_where_most_of_it_is_and_its_bar_has_to_be_in_reach():
    both = [LEFT, FINE]
    assert displays.under(both, Rect(1000, 100, 1000, 600)) is LEFT
    assert displays.under(both, Rect(1600, 100, 1000, 600)) is FINE
    assert displays.under(both, Rect(-5000, 0, 100, 100)) is LEFT
    assert displays.in_reach(both, Rect(3000, 50, 1280, 720))
    assert not displays.in_reach([LEFT], Rect(3000, 50, 1280, 720))
    assert not displays.in_reach(both, Rect(100, 1060, 1280, 720))  # below the edge of the lower display


def test_the_library_below_tells_what_pygame_tells_and_more():
    pygame.display.init()
    found = displays.connected()
    assert [(m.width, m.height) for m in found] == pygame.display.get_desktop_sizes()
    assert all(m.name for m in found)


def test_without_the_library_sizes_and_order_are_what_is_known(monkeypatch):
    monkeypatch.setattr(below, "library", lambda: None)
    monkeypatch.setattr(pygame.display, "get_desktop_sizes", lambda: [(1920, 1080), (1920, 1080)])
    found = displays.connected()
    assert len({displays.key(found, m) for m in found}) == 2
    assert found[1].left == 1920

    def nothing():
        raise pygame.error("video system not initialized")

    monkeypatch.setattr(pygame.display, "get_desktop_sizes", nothing)
    assert len(displays.connected()) == 1


def test_a_window_moved_or_its_display_unplugged_is_told_once_with_the_scale_that_suits():
    there = [LEFT, FINE]
    shell = window.Window("Tenthwise", (100, 100, 800, 600), False, HandClock(1.0), lambda: there)
    try:
        assert shell.on.name == "Bench screen 1920x1080 92 dpi"
        pygame.event.clear()
        shell.window.position = (2000, 100)
        pygame.event.post(pygame.event.Event(pygame.WINDOWMOVED, x=2000, y=100))
        told = [e for e in shell.poll(0.01) if isinstance(e, events.OnDisplay)]
        assert told == [events.OnDisplay("Desk screen 3840x2160 163 dpi", (3840, 2160), 2.0, 1.0)]
        pygame.event.post(pygame.event.Event(pygame.WINDOWMOVED, x=2010, y=100))
        assert not [e for e in shell.poll(0.01) if isinstance(e, events.OnDisplay)]
        there.remove(FINE)  # unplugged: the system moves the window
        pygame.event.post(pygame.event.Event(pygame.WINDOWDISPLAYCHANGED, display_index=0))
        told = [e for e in shell.poll(0.01) if isinstance(e, events.OnDisplay)]
        assert [(e.name, e.auto_scale) for e in told] == [("Bench screen 1920x1080 92 dpi", 1.0)]
    finally:
        shell.close()
        pygame.display.init()


def test_a_window_whose_display_goes_dark_comes_to_one_that_is_on_and_fits_there():
    there = [LEFT, FINE]
    shell = window.Window("Tenthwise", (2000, 100, 3000, 1800), False, HandClock(1.0), lambda: there)
    try:
        assert tuple(shell.window.size) == (3000, 1800)
        there.remove(FINE)
        pygame.event.post(pygame.event.Event(pygame.WINDOWEXPOSED))
        shell.poll(0.01)
        assert LEFT.rect.contains(Rect(shell.window.position, shell.window.size))
    finally:
        shell.close()
        pygame.display.init()


def test_a_window_dragged_half_away_stays_where_the_hand_left_it():
    clock = HandClock(100.0)
    shell = window.Window("Tenthwise", (100, 100, 800, 600), False, clock, lambda: [LEFT])
    try:
        shell.window.position = (1800, 1000)
        pygame.event.post(pygame.event.Event(pygame.WINDOWMOVED, x=1800, y=1000))
        shell.poll(0.01)
        assert tuple(shell.window.position) == (1800, 1000)
        shell.own(FullScreen(True))
        shell.own(FullScreen(False))  # back to a place out of reach: its display went in the meantime
        shell.window.position = (1800, 1000)
        pygame.event.post(pygame.event.Event(pygame.WINDOWMOVED, x=1800, y=1000))
        shell.poll(0.01)
        assert LEFT.rect.contains(Rect(shell.window.position, shell.window.size))
    finally:
        shell.close()
        pygame.display.init()


def test_a_window_too_large_for_the_displays_there_are_is_made_to_fit():
    assert displays.fitted([LEFT], Rect(100, 100, 3000, 1800)) == Rect(0, 40, 1920, 1040)
    assert displays.fitted([LEFT, FINE], Rect(100, 100, 3000, 1800)) == Rect(100, 100, 3000, 1800)
    assert displays.fitted([FINE], Rect(100, 100, 1280, 720)) == Rect(3200, 740, 1280, 720)
    nothing = Monitor("display", 0, 0, 0, 0)
    assert displays.fitted([nothing], Rect(100, 100, 1280, 720)) == Rect(100, 100, 1280, 720)


def test_what_the_server_says_is_on_corrects_what_was_told_at_the_start():
    left, fine = ("HDMI-1", LEFT.rect), ("DP-1", FINE.rect)
    assert displays.corrected([LEFT, FINE], []) == [LEFT, FINE]  # not known
    assert displays.corrected([LEFT, FINE], [left, fine]) == [LEFT, FINE]
    assert displays.corrected([LEFT, FINE], [left]) == [LEFT]  # switched off
    moved = Rect(0, 0, 3840, 2160)
    (alone,) = displays.corrected([LEFT, FINE], [("DP-1", moved)])
    assert (alone.name, alone.rect, alone.dpi) == ("Desk screen", moved, 163.0)
    coarse = Rect(1920, 0, 1920, 1080)  # the fine one in another mode: its set-up does not hold
    assert [m.name for m in displays.corrected([LEFT, FINE], [left, ("DP-1", coarse)])] == [
        "Bench screen", "DP-1",
    ]  # fmt: skip
    (unsure,) = displays.corrected([LEFT, TWIN], [("DP-1", Rect(0, 500, 1920, 1080))])
    assert unsure.name == "DP-1"


def test_the_place_of_a_maximised_window_is_that_before_and_it_is_maximised_again():
    shell = window.Window("Tenthwise", (100, 100, 800, 600), False, HandClock(1.0), lambda: [LEFT])
    try:
        shell.poll(0.01)
        shell.window.size = (1900, 1000)
        pygame.event.post(pygame.event.Event(pygame.WINDOWSIZECHANGED, x=1900, y=1000))
        pygame.event.post(pygame.event.Event(pygame.WINDOWMAXIMIZED))
        shell.poll(0.01)
        assert shell.maximised
        assert shell.place == (100, 100, 800, 600)
        pygame.event.post(pygame.event.Event(pygame.WINDOWRESTORED))
        shell.poll(0.01)
        assert not shell.maximised
    finally:
        shell.close()
        pygame.display.init()


def test_a_place_on_a_display_that_is_gone_is_not_gone_back_to():
    shell = window.Window("Tenthwise", (3000, 100, 800, 600), False, HandClock(1.0), lambda: [LEFT])
    try:
        assert displays.in_reach([LEFT], Rect(shell.window.position, shell.window.size))
        assert not displays.in_reach([LEFT], Rect(3000, 100, 800, 600))
    finally:
        shell.close()
        pygame.display.init()


def on(monitor, scale=1.0):
    return events.OnDisplay(displays.key([monitor], monitor), (monitor.width, monitor.height), scale)


def test_each_display_keeps_its_own_set_up_and_a_new_one_asks():
    bench = displays.key([LEFT], LEFT)
    kept = Display(3.62, 450.0, "2026-03-01", (1920, 1080))
    player = Player(MemoryStore(["Ada Example"]), settings=Settings(displays={bench: kept}))
    player.send(on(LEFT))
    assert player.app.desk.display == kept
    assert player.app.toast == ""
    player.send(on(FINE, 2.0))
    assert player.app.desk.display is None
    assert player.app.desk.drawn_scale > 1.0
    assert "set it up" in player.app.toast
    player.click("rail:display")
    player.tab_to("save")
    player.press("enter")
    assert set(player.app.desk.settings.displays) == {bench, displays.key([FINE], FINE)}
    player.send(on(LEFT))
    assert player.app.desk.display == kept
    player.send(on(replace(LEFT, width=1280, height=720)))  # the resolution was changed
    assert player.app.desk.display is None


def test_what_was_matched_on_one_display_is_not_kept_for_the_next():
    kept = Display(3.62, 450.5, "2026-03-01", (1920, 1080))
    player = Player(
        MemoryStore(["Ada Example"]),
        settings=Settings(displays={displays.key([LEFT], LEFT): kept}, decimal=","),
    )
    player.send(on(LEFT))
    player.click("rail:display")
    assert player.placed("distance").node.value == "450,5"
    player.press("right", shift=True)
    assert player.screen.scale(player.app.desk) != 3.62
    player.send(on(FINE, 2.0))
    assert player.screen.scale(player.app.desk) == USUAL_PX_PER_MM * 2
    assert player.placed("distance").node.value == ""
    player.send(on(LEFT))
    assert player.screen.scale(player.app.desk) == 3.62


def test_a_sitting_carries_its_display_and_a_move_in_the_middle_is_noted(tmp_path):
    bench = displays.key([LEFT], LEFT)
    kept = Display(4.0, 500.0, "2026-03-01", (1920, 1080), (9, 10))
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        archive.add_person("Ada Example")
        player = Player(archive, settings=Settings(displays={bench: kept}, decimal=","))
        player.send(on(LEFT))
        player.press("enter", "enter")
        assert isinstance(player.screen, Drill)
        player.answer_all(until=3)
        player.send(on(FINE, 2.0))
        player.answer_all()
        result = player.screen.result
        assert result.display["px_per_mm"] == 4.0
        notes = archive.session(result.session_id).notes
        assert [n.detail for n in notes if n.kind == "display-changed"] == [displays.key([FINE], FINE)]
        tenth_px = catalogue.load(result.instrument).division_arc_mm / 10 * result.px_per_mm
        angle = f"{arc_minutes(tenth_px / 4.0, 500.0):.1f}".replace(".", ",")
        assert any(f"that is {angle} minutes of arc" in text for text in player.texts)


@pytest.mark.parametrize("scale", [1.0, 2.0, 3.0])
def test_moving_between_densities_in_a_drill_lays_everything_out_anew(scale):
    player = Player(MemoryStore(["Ada Example"]))
    player.press("enter", "enter")
    player.send(events.Resized(*((1280, 720) if scale < 3 else (1920, 1080)), player.clock()))
    player.send(on(FINE, scale))
    from trainer.desktop.window import draw

    surface = pygame.Surface(player.app.desk.size)
    draw(player.app, surface, player.fitter, GALLERY)
    answer = player.placed("answer")
    assert surface.get_rect().contains(answer.rect)


@pytest.mark.parametrize("there", [True, False])
def test_a_wait_ends_with_its_time_or_with_an_event_of_another_thread(there, monkeypatch):
    if not there:
        monkeypatch.setattr(below, "library", lambda: None)
    shell = window.Window("Tenthwise", (0, 0, 800, 600), False, HandClock(1.0), lambda: [LEFT])
    try:
        pygame.event.clear()
        assert below.wait(1) is there or sys.platform != "linux"
        assert not [e for e in shell.poll(0.01) if isinstance(e, events.Key)]
        threading.Timer(0.05, shell.wake).start()
        shell.poll(None)  # for ever, were it not for the wake
        pygame.event.post(pygame.event.Event(pygame.TEXTINPUT, text="x"))
        assert events.Typed("x", 1.0) in shell.poll(None)
    finally:
        shell.close()
        pygame.display.init()
