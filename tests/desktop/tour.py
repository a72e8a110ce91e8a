"""Every screen once, as values: an invented scenario of four people on one bench.

The window is a value, so that one tour serves every size, scale and ground: only the desk is exchanged.
"""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
from tour_signoff import signoff_tour

from player import Player
from trainer.desktop.app import App, applied, opened
from trainer.desktop.limits import Limits
from trainer.desktop.screens.crash import Crash
from trainer.desktop.screens.plans import run
from trainer.desktop.screens.rooms import ROOMS
from trainer.desktop.store import MemoryStore, NotKept
from trainer.instrument import catalogue
from trainer.signoff import criteria

PEOPLE = (
    ("Ada Example", 0.2, 0.7),
    ("Bea Sample", -0.5, 0.5),
    ("Carl Instance", 0.9, 1.2),
    ("Dora Case", 0.0, 0.4),
)
DAY_S = 86_400.0


class Stubborn(MemoryStore):
    """A store that can be told to keep no answers."""

    refuses = False

    def save_answer(self, session_id: Any, answer: Any) -> None:
        if self.refuses:
            raise NotKept("The disk is full: the answer was not written. Free some space, then try again.")
        super().save_answer(session_id, answer)


def limits(store: Any, person: Any, instruments: Any) -> dict[str, Limits]:
    """Return the limits of the first shipped criterion, for every instrument of the invented bench."""
    first = criteria.shipped()[0]
    return {name: Limits(first.title, first.bias_tenths, first.spread_tenths) for name in instruments}


def take(player: Player, name: str, plan: str, errors: list[float]) -> None:
    """Let a person take a plan from beginning to end, and go Home."""
    people = tuple(player.store.people())
    person = next(p for p in people if p.name == name)
    desk = replace(player.app.desk, person=person, people=people)
    player.app = replace(player.app, desk=desk)
    wanted = next(p for p in desk.plans if p.name == plan)
    app, effects = applied(player.app, len(player.app.pages) - 1, run(wanted, desk), player.fitter, ROOMS)
    player.app = app
    player.perform(effects)
    player.answer_all(errors)
    player.clock.now_s += DAY_S
    player.wait(0.0)


def errors(chance: np.random.Generator, bias: float, spread: float, slips: float = 0.03) -> list[float]:
    """Return twenty errors of an invented reader, in tenths, some of them half-millimetre slips."""
    found = chance.normal(bias, spread, 20)
    found[chance.random(20) < slips] += 500.0
    return [float(e) for e in found]


@cache
def tour() -> dict[str, App]:
    """Return the window at each of its screens."""
    assert "metric" in catalogue.names()
    seen: dict[str, App] = {}
    chance = np.random.default_rng(3)
    player = Player(Stubborn())
    player.services.limits = limits

    def snap(name: str) -> None:
        seen[name] = player.app

    snap("home-nobody")
    player.press("enter")
    snap("home-refusal")
    player.type("Ada Example")
    player.press("enter")
    snap("home-first")
    player.press("enter")
    snap("drill-ready")
    player.press("enter")
    snap("drill-item")
    player.press("f3")
    snap("drill-paused")
    player.press("enter")
    player.type("11")
    player.press("enter")
    snap("drill-complaint")
    player.press("backspace", "backspace")
    player.type("7")
    player.press("enter")
    snap("drill-feedback")
    player.press("enter", "escape")
    snap("drill-leave")
    player.press("escape", "enter")
    player.click("keypad")
    snap("drill-keypad")
    player.store.refuses = True
    player.type("3")
    player.press("enter")
    snap("drill-refused")
    player.store.refuses = False
    player.press("enter", "enter")
    player.answer_all([0.4, -0.6, 1.2, 0.0, -0.3, 0.8, 0.2])
    snap("result")
    player.tab_to("show")
    player.press("right")
    snap("result-table")
    player.tab_to("home")
    player.press("enter")
    for name, _, _ in PEOPLE[1:]:
        player.store.add_person(name)
    for name, bias, spread in PEOPLE:
        for sitting in range(3):
            take(player, name, "full-reading-metric", errors(chance, bias, spread * (1.3 - 0.2 * sitting)))
            player.press("1", ctrl=True)
    take(player, "Ada Example", "full-reading-inch", errors(chance, 0.3, 0.6, 0.0))
    snap("result-inch")
    player.press("1", ctrl=True)
    snap("home")
    _rooms(player, snap)
    crash = Crash("ZeroDivisionError: division by zero", "fault-20260302-080100.txt")
    player.app = replace(player.app, pages=(opened(crash, player.app.desk, player.fitter),))
    snap("crash")
    return {**seen, **signoff_tour()}


def _rooms(player: Player, snap: Any) -> None:
    player.press("2", ctrl=True)
    snap("people")
    for key, text in (("add", "Fritz Muster"), ("archive", ""), ("import", "names.txt")):
        player.click(key)
        player.type(text)
        snap(f"people-{key}")
        player.press("escape")
    player.press("3", ctrl=True)
    snap("plans")
    player.click("copy")
    snap("plans-copy")
    player.press("end")
    player.type(", at our bench")
    player.press("enter")
    player.wait(6.0)  # what was told of the plan kept is gone
    player.tab_to("plans")
    player.press("end")
    snap("plans-own")
    for key, name in (("edit", "plans-change"), ("delete", "plans-delete")):
        player.click(key)
        snap(name)
        player.press("escape")
    player.tab_to("plans")
    player.press("home")
    _bench(player, snap)
    for number, room in ((4, "progress"), (5, "team"), (7, "display"), (8, "settings")):
        player.press(str(number), ctrl=True)
        snap(room)
        if room == "progress":
            player.tab_to("show")
            player.press("right")
            snap("progress-table")
            player.tab_to("sittings")
            player.press("enter")
            snap("bench-past")
            player.press("escape")
        if room == "display":
            player.tab_to("save")
            player.press("enter")
            player.wait(6.0)  # what was told of it is gone
            player.tab_to("align")
            player.press("enter")
            snap("alignment")
            player.press("escape")
        if room == "team":
            player.tab_to("view")
            player.press("right")
            snap("team-table")
    player.press("9", ctrl=True)
    for page in ("help-keys", "help-words", "help-method"):
        snap(page)
        player.press("right")
    player.press("1", ctrl=True)
    player.click("other")
    player.type("c")
    snap("who")
    player.press("escape")


def _bench(player: Player, snap: Any) -> None:
    """Take a short bench check on the instrument of the first plan, typing as slowly as fingers do."""
    player.tab_to("bench")
    player.press("enter")
    snap("bench-setup")
    player.type("0.0005")
    player.tab_to("readings")
    player.press("down", "down", "down")
    player.tab_to("begin")
    player.press("enter")
    snap("bench-zero")
    for text in ("0.0000", "0.0005", "0.0000", "0.0000", "-0.0005", ""):
        _enter(player, text)
    snap("bench-estimate")
    for place, error in enumerate((1, -1, 0, 2, 0)):
        _enter(player, f"{1.234 + place * 1.5 + error * 0.001:.3f}")
        if place == 0:
            snap("bench-reference")
        _enter(player, f"{1.234 + place * 1.5:.4f}")
    snap("bench-result")
    player.press("enter")


def _enter(player: Player, text: str) -> None:
    for character in text:
        player.clock.now_s += 0.2
        player.type(character)
    player.press("enter")


def seen_at(app: App, size: tuple[int, int], scale: float, ground: str) -> App:
    """Return the window as it would be at another size, scale and ground."""
    settings = replace(app.desk.settings, ground=ground)
    return replace(app, desk=replace(app.desk, size=size, auto_scale=scale, settings=settings))
