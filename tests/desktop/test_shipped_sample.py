"""The sample that comes with the program, in the window: every screen shows something, nothing is kept."""

from contextlib import closing
from pathlib import Path

import pytest

from player import Player
from trainer.commands.limits import limits_of
from trainer.commands.window_signoff import WindowOffice
from trainer.desktop.screens.begin import Begin
from trainer.desktop.screens.signoff_case import CaseView
from trainer.desktop.work import Services
from trainer.records.spool import open_archive

SAMPLE = Path(__file__).parents[2] / "sessions" / "recorded" / "pump-shop.sqlite"
SENTENCE = "this is the shipped sample with its invented people, and can only be looked at"


@pytest.fixture
def player(tmp_path):
    before = SAMPLE.read_bytes()
    with closing(open_archive(str(SAMPLE))) as archive:
        office = WindowOffice(tmp_path / "criteria", tmp_path / "statements")
        yield Player(
            archive,
            services=Services(lambda: archive, lambda: 7, limits=limits_of, open_office=lambda: office),
        )
    assert SAMPLE.read_bytes() == before


def choose(player, name):
    player.press("2", ctrl=True)
    player.tab_to("find")
    player.type(name)
    player.press("enter")
    assert player.app.desk.person.name == name


@pytest.mark.parametrize("number", range(1, 7))
def test_each_inspector_has_figures_on_home_and_under_progress(player, number):
    choose(player, f"Inspector {number}")
    assert "How it stands" in player.texts
    player.press("4", ctrl=True)
    assert player.placed("spread").node.series[0].points
    assert player.placed("sittings").node.lines
    player.picture()


def test_team_and_sign_off_show_who_may_sign(player):
    player.press("5", ctrl=True)
    assert len(player.placed("team").node.series[0].points) == 5
    assert "Inspector 3: 4 checks taken, not signed off" in player.texts
    player.press("6", ctrl=True)
    assert len(player.placed("standing").node.lines) == 6
    player.press("enter")
    assert isinstance(player.screen, CaseView)
    assert "What was found against each limit" in player.texts
    player.picture()


def test_a_drill_is_refused_in_one_sentence_and_cancelled(player):
    choose(player, "Inspector 1")
    player.press("enter")
    assert isinstance(player.screen, Begin)
    assert SENTENCE in player.screen.refused
    player.press("enter")
    assert SENTENCE in player.screen.refused
    player.press("escape")
    assert "How it stands" in player.texts


def test_the_list_of_people_cannot_be_changed(player):
    people = player.app.desk.people
    player.press("2", ctrl=True)
    player.click("add")
    player.type("Ada Example")
    player.press("enter")
    assert SENTENCE in str(player.screen)
    player.press("escape")
    player.click("archive")
    player.click("ok")
    assert SENTENCE in str(player.screen)
    assert player.app.desk.people == people
    player.picture()
