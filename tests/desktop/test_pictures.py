"""Pictures for the window: built in threads, never many at once, and the same pixels as the painter's own."""

import threading
import time
from dataclasses import replace

import numpy as np
import pygame
import pytest

from player import Player
from tour import Stubborn
from trainer.desktop import events, pictures, window
from trainer.desktop.app import applied
from trainer.desktop.pictures import Gallery, Shot, drill_size, fitting_px_per_mm, viewing_of
from trainer.desktop.screens.plans import run
from trainer.desktop.screens.rooms import ROOMS
from trainer.drawing.painter import Painter
from trainer.instrument import catalogue
from trainer.practice.plan import Plan

SHOT = Shot("metric", 7386.0)


def test_the_window_shows_the_painters_own_pixels():
    """No scaling, no conversion: what was calibrated is what is seen."""
    size = (640, 360)
    image = pygame.Surface(size)
    picture = Gallery(in_thread=False).surface(SHOT, size)
    assert picture is not None
    image.blit(picture, (0, 0))
    shown = np.transpose(pygame.surfarray.array3d(image), (1, 0, 2))
    own = Painter(catalogue.load("metric"), None, viewing_of(SHOT, size), size).paint(7386.0)
    assert np.array_equal(shown, own)


@pytest.mark.parametrize("viewing", [(), (("blur_mm", 0.25), ("glare", 0.4)), (("roll_deg", 10.0),)])
def test_a_turned_thimble_shows_the_painters_own_pixels_at_every_place(viewing):
    """Only what changes is brought to the window; nothing of an earlier position stays."""
    size, gallery = (640, 360), Gallery(in_thread=False)
    for position in (7386.0, 7386.4, 7390.0, 7386.4, 9999.5, 50.0, 50.0, 7386.0):
        shot = Shot("metric", position, viewing=viewing)
        picture = gallery.surface(shot, size)
        shown = np.transpose(pygame.surfarray.array3d(picture), (1, 0, 2))
        own = Painter(catalogue.load("metric"), None, viewing_of(shot, size), size).paint(position)
        assert np.array_equal(shown, own), position


def test_a_window_dragged_through_many_sizes_builds_few_painters_at_a_time():
    gallery, most, before = Gallery(), 0, threading.active_count()
    for step in range(30):
        gallery.surface(SHOT, (400 + step, 300))
        most = max(most, threading.active_count() - before)
    assert 1 <= most <= pictures.AT_ONCE
    until = time.monotonic() + 20
    while gallery.surface(SHOT, (429, 300)) is None:
        assert time.monotonic() < until
        time.sleep(0.02)


def test_what_goes_wrong_in_the_thread_is_raised_at_the_next_picture():
    gallery = Gallery()
    broken = Shot("no such instrument", 0.0)
    assert gallery.surface(broken, (400, 300)) is None
    until = time.monotonic() + 20
    while gallery.fault is None and time.monotonic() < until:
        time.sleep(0.01)
    with pytest.raises(ValueError, match="no such instrument"):
        gallery.surface(SHOT, (400, 300))


def test_painters_of_large_pictures_are_not_hoarded():
    gallery = Gallery(in_thread=False)
    for width in (3000, 3100, 3200, 3300):
        gallery.surface(SHOT, (width, 2000))
    assert sum(key[-1][0] * key[-1][1] for key in gallery._painters) <= pictures.KEPT_PX


@pytest.mark.parametrize("name", catalogue.names())
@pytest.mark.parametrize("window", [(1024, 640), (1280, 720), (1920, 1080), (640, 480)])
def test_the_nearest_sleeve_numeral_and_the_thimbles_numerals_are_in_sight(name, window):
    micrometer = catalogue.load(name)
    size = drill_size(window, 1.0)
    px = fitting_px_per_mm(micrometer, size)
    assert size[0] * 0.6 / px >= pictures.LEFT_MM - 0.01
    assert size[0] * 0.4 / px >= micrometer.sizes.bevel_length_mm
    assert micrometer.sizes.body_diameter_mm * px <= size[1]


def test_frames_drawn_one_over_the_other_are_the_frames_drawn_anew():
    """Only what changed is laid; after turning, feedback, dialogs, tips and other rooms nothing old stays."""
    player, gallery = Player(Stubborn(["Ada Example"]), size=(1024, 640)), Gallery(in_thread=False)
    window_surface = pygame.Surface(player.app.desk.size)
    plan = Plan("try", "Try", "set-to", "metric", 3)
    app, effects = applied(player.app, 0, run(plan, player.app.desk), player.fitter, ROOMS)
    player.app = app
    player.perform(effects)
    laid_little = 0

    def same(what):
        nonlocal laid_little
        before = gallery._laid
        window.draw(player.app, window_surface, player.fitter, gallery)
        laid_little += before is not None and gallery._before is not None
        anew = pygame.Surface(player.app.desk.size)
        window.draw(player.app, anew, player.fitter, Gallery(in_thread=False))
        assert np.array_equal(pygame.surfarray.array3d(window_surface), pygame.surfarray.array3d(anew)), what

    same("ready")
    player.press("enter")
    same("first item")
    x, y = player.placed("thimble").rect.center
    steps = "up up wheel down pageup tab wheel tab shift up escape escape enter up f3 f3 up enter enter up up"
    for step in steps.split():
        if step == "wheel":
            player.send(events.Wheel(x, y, 1.0, player.clock()))
        elif step == "shift":
            player.press("tab", shift=True)
        else:
            player.press(step)
        same(step)
    player.app = replace(player.app, toast="A word", toast_until_s=player.clock() + 5)
    same("toast")
    player.app = replace(player.app, toast="")
    same("toast gone")
    player.resize(1100, 700)
    window_surface = pygame.Surface(player.app.desk.size)
    same("resized")
    assert laid_little > 5
