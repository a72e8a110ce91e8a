"""Plans of one's own: copied, changed in place, deleted after a question; files never lost to another."""

from pathlib import Path

import pytest

from player import Player
from trainer.commands.own_plans import all_plans, delete_plan, save_plan
from trainer.desktop.screens.plan_form import DeletePlanDialog
from trainer.desktop.screens.plans import Plans
from trainer.desktop.store import MemoryStore
from trainer.desktop.work import Services
from trainer.instrument.refusal import Refusal
from trainer.practice import plans


def own_player(folder: Path) -> Player:
    store = MemoryStore(["Ada Example"])
    services = Services(
        lambda: store,
        lambda: 7,
        save_plan=lambda made, replaces: save_plan(folder, made, replaces),
        delete_plan=lambda gone: delete_plan(folder, gone),
    )
    return Player(store, services=services)


def copied(player: Player, title: str) -> None:
    player.press("3", ctrl=True)
    player.click("copy")
    player.press("a", ctrl=True)
    player.type(title)
    player.press("enter")


def to_own(player: Player) -> None:
    player.tab_to("plans")
    player.press("end")


def test_a_copy_is_changed_in_place_and_deleted_by_keyboard(tmp_path):
    player = own_player(tmp_path)
    copied(player, "Five after lunch")
    count = len(player.app.desk.plans)
    assert [p.name for p in tmp_path.iterdir()] == ["five-after-lunch.toml"]
    to_own(player)
    player.tab_to("edit")
    player.press("enter")
    player.press("a", ctrl=True)
    player.type("Ten after lunch")
    player.tab_to("items")
    player.press("right")
    player.tab_to("ok")
    player.press("enter")
    assert isinstance(player.screen, Plans)
    assert [p.name for p in tmp_path.iterdir()] == ["five-after-lunch.toml"]
    usable, troubles, own = all_plans(tmp_path)
    assert (own, troubles) == (("five-after-lunch",), ())
    kept = next(p for p in usable if p.name == own[0])
    assert kept.title == "Ten after lunch"
    assert kept in player.app.desk.plans
    assert len(player.app.desk.plans) == count
    to_own(player)
    player.tab_to("delete")
    player.press("enter")
    assert isinstance(player.screen, DeletePlanDialog)
    assert player.focus == "cancel"  # Enter alone deletes nothing
    player.press("enter")
    assert list(tmp_path.iterdir())
    player.tab_to("delete")
    player.press("enter")
    player.tab_to("ok")
    player.press("enter")
    assert not list(tmp_path.iterdir())
    assert len(player.app.desk.plans) == count - 1


def test_a_shipped_plan_has_neither_change_nor_delete(tmp_path):
    player = own_player(tmp_path)
    player.press("3", ctrl=True)
    assert player.layout.find("edit") is None
    assert player.layout.find("delete") is None


def test_a_file_changed_meanwhile_is_neither_replaced_nor_deleted(tmp_path):
    player = own_player(tmp_path)
    copied(player, "Mine")
    path = tmp_path / "mine.toml"
    by_hand = path.read_text(encoding="utf-8").replace("Mine", "Mine, by hand")
    path.write_text(by_hand, encoding="utf-8")
    to_own(player)
    player.tab_to("delete")
    player.press("enter")
    player.tab_to("ok")
    player.press("enter")
    assert isinstance(player.screen, DeletePlanDialog)
    assert "changed by another program" in player.screen.reason
    player.press("escape")
    player.tab_to("edit")
    player.press("enter", "enter")
    assert "changed by another program" in player.screen.reason
    assert path.read_text(encoding="utf-8") == by_hand


def test_an_own_file_never_takes_the_place_of_another(tmp_path):
    first = plans.find("full-reading-metric")
    kept = save_plan(tmp_path, first)  # titled, so not named as the shipped one
    with pytest.raises(Refusal, match="there already"):
        save_plan(tmp_path, first)
    (tmp_path / "check-metric.toml").write_bytes((tmp_path / f"{kept.name}.toml").read_bytes())
    usable, troubles, own = all_plans(tmp_path)
    assert own == (kept.name,)
    assert len({p.name for p in usable}) == len(usable)
    assert "comes with the program" in troubles[0]


def test_an_own_plan_whose_file_is_gone_is_told(tmp_path):
    kept = save_plan(tmp_path, plans.find("full-reading-metric"))
    delete_plan(tmp_path, kept)
    with pytest.raises(Refusal, match="is gone"):
        delete_plan(tmp_path, kept)
    with pytest.raises(Refusal, match="is gone"):
        save_plan(tmp_path, kept, kept)
