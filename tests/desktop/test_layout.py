"""Measured layout of every screen: nothing overlaps, nothing is cut off, text can be read, focus is seen."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pygame
import pytest

from player import GALLERY
from tour import seen_at, tour
from trainer.desktop import nodes, window
from trainer.desktop.app import Fitter
from trainer.desktop.hands import column_widths
from trainer.desktop.look import DARK, LIGHT, STARK, contrast, luminance
from trainer.desktop.nodes import Gap, Label, Stack

NAMES = (
    "home-nobody", "home-refusal", "home-first", "drill-ready", "drill-item", "drill-paused", "drill-leave",
    "drill-complaint", "drill-feedback", "drill-keypad", "drill-refused", "result", "result-table",
    "result-inch", "home", "people", "people-add", "people-archive", "people-import", "plans", "plans-copy",
    "progress", "team", "team-table", "display", "alignment", "settings", "help-keys", "help-words",
    "help-method", "who", "crash", "bench-setup", "bench-zero", "bench-estimate", "bench-reference",
    "bench-result", "bench-past", "progress-table", "plans-own", "plans-change", "plans-delete",
    "signoff-nobody", "signoff-first", "signoff-weak", "home-reminder", "signoff", "signoff-shown",
    "signoff-sign", "signoff-failed", "signoff-reason", "signoff-signed", "signoff-files", "signoff-not-yet",
    "signoff-accounts", "signoff-add", "team-signed", "team-signed-table", "signoff-check", "signoff-unlock",
    "signoff-wrong", "signoff-wait", "signoff-attest", "signoff-kept",
)  # fmt: skip
SIZES = (
    ((1024, 640), 1.0), ((1280, 720), 1.0), ((1920, 1080), 1.0), ((3840, 2160), 1.0), ((3840, 2160), 2.0),
    ((640, 480), 1.0), ((1280, 720), 1.25), ((1920, 1080), 3.0),
)  # fmt: skip
FITTER = Fitter()


def test_the_tour_has_every_screen():
    assert set(NAMES) == set(tour())


@pytest.fixture(params=NAMES)
def app(request):
    return tour()[request.param]


def leaves(layout):
    return [p for p in layout.placed if not isinstance(p.node, Stack | Gap)]


@pytest.mark.parametrize(("size", "scale"), SIZES)
def test_nothing_overlaps_and_nothing_leaves_the_window_sideways(app, size, scale):
    there = seen_at(app, size, scale, "light")
    layout = FITTER.layout(there.top, there.desk)
    assert leaves(layout)
    for placed in leaves(layout):
        assert placed.rect.left >= placed.clip.left, placed
        assert placed.rect.right <= placed.clip.right, placed
        assert placed.rect.w > 0, placed
        assert placed.rect.h > 0, placed
    for one, two in combinations(leaves(layout), 2):
        assert not one.rect.clip(one.clip).colliderect(two.rect.clip(two.clip)), (one, two)


@pytest.mark.parametrize(("size", "scale"), SIZES)
def test_no_text_of_a_button_choice_or_heading_is_cut(app, size, scale):
    there = seen_at(app, size, scale, "light")
    measure = FITTER.measure(there.desk)
    for placed in leaves(FITTER.layout(there.top, there.desk)):
        for text, style, room in texts_of(placed, measure):
            assert measure.type.width(text, style) <= room, (text, room, size, scale)


def texts_of(placed, measure):
    """Yield the texts of a widget that must be whole, with the pixels there are for each."""
    node, rect = placed.node, placed.rect
    if isinstance(node, nodes.Button) and node.text:
        if node.kind == "rail":
            if rect.w > measure.px(80):
                yield node.text, "strong", rect.w - measure.px(48)
            return
        icon = measure.px(26) if node.icon else 0
        yield node.text, "body", rect.w - icon - measure.px(6)
    elif isinstance(node, nodes.Choice) and node.key != "instrument":  # titles of instruments are data
        for _, text in node.options:
            yield text, "body", rect.w // len(node.options) - measure.px(8)
    elif isinstance(node, Label) and not node.wrap and node.style != "title":  # titles may be names of people
        yield node.text, node.style, rect.w
    elif isinstance(node, nodes.Field | nodes.Stepper) and node.label:
        yield node.label, "small", rect.w


def test_no_cell_of_a_table_is_cut_at_1280(app):
    there = seen_at(app, (1280, 720), 1.0, "light")
    measure = FITTER.measure(there.desk)
    for placed in leaves(FITTER.layout(there.top, there.desk)):
        if isinstance(placed.node, nodes.Table):
            rooms = [width - measure.px(28) for width in column_widths(placed.node, placed.rect.w)]
            for line in placed.node.lines:
                for text, room in zip(line.cells, rooms, strict=True):
                    assert measure.type.width(text, "body") <= room, text


@pytest.mark.parametrize("said", ["not yet shown (480 to 960 more)", "not yet shown (over 500 more)"])
def test_the_longest_verdict_fits_its_column(said):
    there = seen_at(tour()["signoff"], (1280, 720), 1.0, "light")
    measure = FITTER.measure(there.desk)
    found = FITTER.layout(there.top, there.desk).find("standing")
    assert measure.type.width(said, "body") <= column_widths(found.node, found.rect.w)[2] - measure.px(28)


@pytest.mark.parametrize(("size", "scale"), SIZES)
def test_no_word_of_a_text_is_broken_apart(app, size, scale):
    there = seen_at(app, size, scale, "light")
    measure = FITTER.measure(there.desk)
    for placed in leaves(FITTER.layout(there.top, there.desk)):
        node = placed.node
        if isinstance(node, Label) and node.wrap:
            for word in node.text.split():
                assert measure.type.width(word, node.style) <= placed.rect.w, (word, placed.rect, size, scale)


@pytest.mark.parametrize(("size", "scale"), SIZES)
def test_what_has_the_focus_is_in_sight(app, size, scale):
    there = seen_at(app, size, scale, "light")
    layout = FITTER.layout(there.top, there.desk)
    placed = layout.find(there.top.ui.focus)
    assert placed is not None or not layout.focusable, there.top.ui.focus
    if placed is not None and layout.scroll_height <= layout.scroll_rect.h:
        assert placed.clip.contains(placed.rect)


def pixels(app):
    surface = pygame.Surface(app.desk.size)
    window.draw(app, surface, FITTER, GALLERY)
    return surface, np.transpose(pygame.surfarray.array3d(surface), (1, 0, 2))


@pytest.mark.parametrize("ground", ["light", "dark", "contrast"])
def test_text_stands_out_by_4_5_to_1_in_the_pixels(app, ground):
    """Contrast as WCAG 2.2, success criterion 1.4.3, defines it, between the extremes inside each label."""
    there = seen_at(app, (1280, 720), 1.0, ground)
    there = replace(there, toast="", desk=replace(there.desk, now_s=0.0))
    ui = replace(there.top.ui, by_keyboard=False, hover="", focus="")
    there = replace(there, pages=(*there.pages[:-1], replace(there.top, ui=ui)))
    _, image = pixels(there)
    measured = 0
    for placed in leaves(FITTER.layout(there.top, there.desk)):
        seen = placed.rect.clip(placed.clip)
        text = getattr(placed.node, "text", "")
        if not isinstance(placed.node, Label | nodes.Button) or not text.strip() or seen.h < placed.rect.h:
            continue
        if isinstance(placed.node, nodes.Button) and not placed.node.enabled:
            continue  # inactive parts are exempt (WCAG 2.2, 1.4.3); they keep 4.5:1 all the same, see below
        part = image[seen.top : seen.bottom, seen.left : seen.right].reshape(-1, 3)
        light = brightness(part)
        darkest, lightest = part[light.argmin()], part[light.argmax()]
        assert contrast(tuple(darkest.tolist()), tuple(lightest.tolist())) >= 4.5, (text, ground)
        measured += 1
    assert measured >= (1 if "drill" in str(type(there.top.screen)).lower() else 3)


@pytest.mark.parametrize("ground", [LIGHT, DARK, STARK], ids=lambda g: g.name)
def test_every_tone_keeps_4_5_to_1_on_every_surface_it_stands_on(ground):
    for surface in (ground.paper, ground.sheet, ground.field, ground.wash):
        for tone in (ground.ink, ground.soft, ground.accent):
            assert contrast(tone, surface) >= 4.5
    for surface in (ground.rail, ground.rail_light):
        assert contrast(ground.ink, surface) >= 4.5
    assert contrast(ground.brass, ground.brass_wash) >= 4.5
    assert contrast(ground.brass, ground.sheet) >= 4.5
    assert contrast(ground.accent_ink, ground.accent) >= 4.5
    assert contrast(ground.paper, ground.ink) >= 4.5  # a slip is ink with paper for its text
    for surface in (ground.paper, ground.sheet, ground.field):
        assert contrast(ground.edge, surface) >= 3.0  # outlines of controls: WCAG 2.2, 1.4.11


def test_luminance_meets_the_published_definition():
    """White is 1, black 0 (WCAG 2.2, relative luminance); grey 119 on white gives 4.48 (from memory)."""
    assert luminance((255, 255, 255)) == pytest.approx(1.0)
    assert luminance((0, 0, 0)) == 0
    assert contrast((119, 119, 119), (255, 255, 255)) == pytest.approx(4.48, abs=0.01)


def of_each_kind():
    """Return one widget of each kind that can have the focus: screen, key, by type and kind."""
    found = {}
    for name, there in tour().items():
        layout = FITTER.layout(there.top, seen_at(there, (1280, 720), 1.0, "light").desk)
        for placed in layout.focusable:
            if placed.rect.inflate(16, 16).clip(placed.clip).h >= 20:
                found.setdefault(
                    (type(placed.node).__name__, getattr(placed.node, "kind", "")), (name, placed.key)
                )
    return found


def test_every_kind_of_widget_is_on_the_tour():
    kinds = {"Button", "Field", "Choice", "Plot", "Table", "Stepper", "Toggle", "Ruler"}
    assert {name for name, _ in of_each_kind()} == kinds
    assert {kind for name, kind in of_each_kind() if name == "Button"} >= {
        "rail",
        "main",
        "quiet",
        "plain",
        "keycap",
    }


@pytest.mark.parametrize("ground", ["light", "dark", "contrast"])
def test_the_focus_is_seen_on_every_kind_of_widget(ground):
    """Two pictures, with and without the focus: the ring's pixels differ by 3:1 (WCAG 2.2, 2.4.13)."""
    for kind, (name, key) in of_each_kind().items():
        there = replace(seen_at(tour()[name], (1280, 720), 1.0, ground), toast="")
        placed = FITTER.layout(there.top, there.desk).find(key)
        around = placed.rect.inflate(16, 16).clip(placed.clip)
        pictures = []
        for focus in ("", key):
            ui = replace(there.top.ui, focus=focus, by_keyboard=False, hover="")
            _, image = pixels(replace(there, pages=(*there.pages[:-1], replace(there.top, ui=ui))))
            pictures.append(image[around.top : around.bottom, around.left : around.right].astype(int))
        one, two = (brightness(p) for p in pictures)
        ratio = (np.maximum(one, two) + 0.05) / (np.minimum(one, two) + 0.05)
        # the ring of the smallest widget, two pixels wide round 40 by 20, has about 300 pixels
        assert (ratio >= 3.0).sum() >= 250, (kind, name, key, ground, int((ratio >= 3.0).sum()))


def brightness(image):
    """Return relative luminance of an image (WCAG 2.2), shape (rows, columns)."""
    share = image / 255
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return linear @ np.array([0.2126, 0.7152, 0.0722])
