"""Home: what to do next by coaching and path; refreshers due; answers that wait; a list in one go."""

from dataclasses import replace

import pytest

from player import Player
from tour import take
from trainer.desktop import work
from trainer.desktop.due import day_of
from trainer.desktop.results import History
from trainer.desktop.screens.home import Home
from trainer.desktop.screens.next_plan import next_plan
from trainer.desktop.store import MemoryStore
from trainer.instrument.refusal import Refusal
from trainer.practice.coaching import Coaching
from trainer.practice.path import PATH, next_on_path, plan_name, stem_of
from trainer.practice.refreshers import PLAIN_INTERVAL_DAYS
from trainer.records.archive import Archive


def history(last, coaching=None):
    return History(None, (), (), last_plan=last, coaching=coaching)


@pytest.mark.parametrize("unit", ["metric", "inch"])
def test_the_next_plan_is_the_paths_next_all_the_way_to_the_check(unit):
    desk = Player(MemoryStore(["Ada Example"])).app.desk
    for stem in PATH[:-1]:
        plan, why = next_plan(desk, history(f"{stem}-{unit}"))
        assert plan.name == f"{next_on_path(stem)}-{unit}"
        assert why
    assert "check for the record" in why


def test_what_the_last_sitting_showed_comes_before_the_path():
    desk = Player(MemoryStore(["Ada Example"])).app.desk
    told = Coaching(
        ("You read 0.5 tenths high on the whole: where you waver, take the lower.",), "weak-tenths-metric"
    )
    plan, why = next_plan(
        replace(desk, settings=replace(desk.settings, decimal=",")), history("check-metric", told)
    )
    assert plan.name == "weak-tenths-metric"
    assert why.startswith("You read 0,5 tenths high")
    plan, _ = next_plan(desk, None)
    assert plan == desk.plans[0]


def test_home_follows_the_coaching_of_the_sitting_just_taken():
    player = Player(MemoryStore(["Ada Example"]))
    player.press("3", ctrl=True)
    for _ in range([p.name for p in player.app.desk.plans].index("full-reading-metric")):
        player.press("down")
    player.press("enter", "enter")
    player.answer_all([1.0])
    told = player.screen.result.coaching
    assert told.next_plan == plan_name("weak-tenths", "x-metric")
    player.press("1", ctrl=True)
    plan, why = next_plan(player.app.desk, player.screen.history)
    assert plan.name == told.next_plan
    assert why in player.texts
    assert player.screen.history.last_plan == "full-reading-metric"
    assert stem_of(player.screen.history.last_plan) == "full-reading"


def test_what_speaks_against_a_check_is_told_before_it():
    player = Player(MemoryStore(["Ada Example"]))
    take(player, "Ada Example", "full-reading-metric", [0.9, 0.8, 1.0, 0.7])
    player.press("1", ctrl=True)
    found = replace(player.screen.history, last_plan="true-size-metric", coaching=None)
    plan, why = next_plan(player.app.desk, found)
    assert plan.name == "check-metric"
    told = why.removeprefix("A check for the record is next on the path. What still speaks against it: ")
    few, bias = told.split("; the bias is ")
    assert few == "there are 20 readings; the figures are firm from 50 on"
    assert bias.endswith("tenths; a sign-off usually asks for less than 0.5.")


def test_a_plan_is_taken_again_until_its_figures_are_firm_and_then_the_path_goes_on():
    player = Player(MemoryStore(["Ada Example"]))
    offered = []
    for _ in range(4):
        plan = next(p for p in player.app.desk.plans if p.name == "full-reading-metric")
        take(player, "Ada Example", plan.name, [0.3, -0.3, 0.1, -0.2])
        player.press("1", ctrl=True)
        offered.append(next_plan(player.app.desk, player.screen.history)[0].name)
    assert offered[:2] == ["full-reading-metric"] * 2  # 20 and 40 readings
    assert offered[2:] == ["half-line-metric"] * 2


def test_a_refresher_is_due_after_the_interval_and_not_before():
    player = Player(MemoryStore(["Ada Example"]))
    player.press("enter", "enter")
    player.answer_all([0.2])
    player.press("1", ctrl=True)
    assert not any("refresher" in text for text in player.texts)
    later = player.clock.now_s + PLAIN_INTERVAL_DAYS * 86400 + 10
    player.clock.now_s = later
    player.press("1", ctrl=True)
    lines = [text for text in player.texts if "refresher" in text]
    assert len(lines) == 1
    due = player.screen.history.due["metric"].due_day
    assert due <= day_of(player.app.desk.utc(later))
    assert "0–25 mm" in lines[0]


class Away(MemoryStore):
    """A store that keeps answers until its archive is back."""

    count = 12

    def waiting(self):
        return self.count


def test_answers_that_wait_are_told_quietly_and_the_line_goes_when_none_is_left():
    player = Player(Away(["Ada Example"]))
    assert "12 answers wait for the archive." in player.texts
    assert player.screen.tick_s(player.app.desk) is not None
    player.store.count = 1
    player.wait(6.0)
    assert "1 answer waits for the archive." in player.texts
    player.store.count = 0
    player.wait(6.0)
    assert not any("for the archive" in text for text in player.texts)
    assert player.screen.tick_s(player.app.desk) is None
    plain = Player(MemoryStore(["Ada Example"]))
    assert isinstance(plain.screen, Home)
    assert plain.screen.waiting == 0


def test_a_list_is_added_in_one_go_and_what_cannot_be_is_told(tmp_path):
    path = tmp_path / "names.txt"
    names = [f"Person {n}" for n in range(200)]
    path.write_text("\n".join([*names, "person 7", "x" * 201, "bad\x07name"]), encoding="utf-8")
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        archive.add_person("Person 3")
        player = Player(archive)
        player.press("2", ctrl=True)
        player.click("import")
        player.type(str(path))
        player.press("enter")
        assert len(player.app.desk.people) == 200
        assert player.app.toast.startswith("199 added; 4 not: ")


class Slow(MemoryStore):
    """A store whose archive refuses the list as a whole."""

    def add_people(self, names):
        raise Refusal("The archive can only be looked at.")


def test_a_list_that_is_refused_as_a_whole_is_told_in_the_dialog_and_can_be_tried_again(tmp_path):
    path = tmp_path / "names.txt"
    path.write_text("Bea Sample\n", encoding="utf-8")
    player = Player(Slow(["Ada Example"]))
    player.press("2", ctrl=True)
    player.click("import")
    player.type(str(path))
    player.press("enter")
    assert player.placed("path").node.reason == "The archive can only be looked at."
    assert player.placed("ok").node.enabled


def test_while_a_list_is_added_it_cannot_be_added_a_second_time(tmp_path):
    player = Player(MemoryStore(["Ada Example"]))
    player.press("2", ctrl=True)
    player.click("import")
    player.type("names.txt")
    asked = []
    player.perform = asked.extend  # nothing is done yet
    player.press("enter", "enter")
    assert [type(e) for e in asked] == [work.ImportPeople]
    assert not player.placed("ok").node.enabled
