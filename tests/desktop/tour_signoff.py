"""Every screen of the sign-off once, as values: an invented bench with two supervisors and five people."""

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
from office import BEN, PHRASES, RUTH, Bench, quick_keys, who

from player import Player
from trainer.desktop.app import App

PEOPLE = ("Ada Example", "Bea Sample", "Carl Instance", "Dora Case", "Emil Invented")
RULE = "first-level-metric"


@cache
def signoff_tour() -> dict[str, App]:
    """Return the window at each screen of the sign-off."""
    seen: dict[str, App] = {}
    with quick_keys(), tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder), PEOPLE)
        bench.office._out = Path("Documents", "Tenthwise")  # shown, never written to
        _before_accounts(bench, seen)
        bench.accounts(RUTH, BEN)
        _evidence(bench)
        _rooms(bench, seen)
        _check(bench, seen)
        bench.archive.close()
    return seen


def _before_accounts(bench: Bench, seen: dict[str, App]) -> None:
    bench.office._key_path = lambda account: Path("keys", f"{account}.key")
    player = bench.open()
    player.press("6", ctrl=True)
    seen["signoff-nobody"] = player.app
    player.press("enter")
    player.type(RUTH)
    player.press("enter")
    player.type("password 1234")
    seen["signoff-first"] = player.app
    player.press("enter", "enter")
    seen["signoff-weak"] = player.app
    keys = Path(tempfile.mkdtemp())
    bench.office._key_path = lambda account: keys / f"{account}.key"


def _evidence(bench: Bench) -> None:
    """Ada is signed off and due again, Bea may be signed, Carl failed, Dora is on the way; Emil is new."""
    chance = np.random.default_rng(11)
    for _ in range(4):
        bench.check("Ada Example", chance, 0.1, 0.4)
    ada = bench.archive.person("Ada Example")
    rule = bench.office._rule(RULE)
    from trainer.records import office

    key = bench.office._unlock(bench.archive, who(RUTH))
    office.sign(bench.archive, key, RUTH, rule, ada.id, conditions=["with the loupe"])
    bench.later(days=24)
    for _ in range(3):
        bench.check("Carl Instance", chance, 0.4, 1.7, 0.1)
    for _ in range(4):
        bench.check("Bea Sample", chance, 0.0, 0.4)
    for _ in range(2):
        bench.check("Dora Case", chance, 0.3, 0.8, 0.02)


def _to(player: Player, row: int) -> None:
    player.press("6", ctrl=True)
    player.tab_to("standing")
    player.press("home", *["down"] * row)


def _rooms(bench: Bench, seen: dict[str, App]) -> None:
    player = bench.open()
    seen["home-reminder"] = player.app
    _to(player, 1)
    seen["signoff"] = player.app
    names = [line.cells[0] for line in player.screen.lines]
    for name, person in (("shown", "Bea"), ("failed", "Carl"), ("signed", "Ada"), ("not-yet", "Dora")):
        _to(player, next(i for i, one in enumerate(names) if one.startswith(person)))
        player.press("enter")
        seen[f"signoff-{name}"] = player.app
        if name == "shown":
            player.press("enter")
            seen["signoff-sign"] = player.app
            player.press("escape")
        if name == "failed":
            player.click("attempt")
            player.press("enter")
            seen["signoff-reason"] = player.app
            player.press("escape")
        if name == "signed":
            key = next(p.key for p in player.layout.focusable if p.key.startswith("files:"))
            player.click(key)
            seen["signoff-files"] = player.app
            player.press("escape")
    player.press("6", ctrl=True)
    player.click("accounts")
    seen["signoff-accounts"] = player.app
    player.press("enter")
    seen["signoff-add"] = player.app
    player.press("escape")
    player.press("5", ctrl=True)
    seen["team-signed"] = player.app
    player.tab_to("view")
    player.press("right")
    seen["team-signed-table"] = player.app


def _check(bench: Bench, seen: dict[str, App]) -> None:
    player = bench.open()
    player.press("6", ctrl=True)
    player.click("check")
    seen["signoff-check"] = player.app
    player.click("accept")
    player.click("go")
    player.press("enter")
    player.type("harbour")
    seen["signoff-unlock"] = player.app
    player.press("enter")
    seen["signoff-wrong"] = player.app
    for _ in range(3):
        player.press("a", ctrl=True)
        player.type("harbour")
        player.press("enter")
    seen["signoff-wait"] = player.app
    bench.later(minutes=20)
    player.press("a", ctrl=True)
    player.type(PHRASES[BEN])
    player.press("enter", "enter")
    player.answer_all([0.2, -0.3])
    seen["signoff-attest"] = player.app
    player.press("enter")
    seen["signoff-kept"] = player.app
    assert not replace(player.app, toast="").toast
