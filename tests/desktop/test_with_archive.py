"""The window on the real archive: the protocol it was written to and the archive agree."""

from player import Player
from trainer.desktop import events
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.home import Home
from trainer.desktop.screens.progress import Progress
from trainer.desktop.screens.result import Result
from trainer.desktop.screens.team import TeamView
from trainer.records.archive import Archive


def test_the_whole_job_on_a_real_archive(tmp_path):
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        player = Player(archive)
        player.type("Ada Example")
        player.press("enter")
        assert player.app.desk.person.name == "Ada Example"
        player.press("enter", "enter")
        player.answer_all([0.3, -0.4], until=7)
        player.send(events.CloseAsked(player.clock(), at_once=True))

        player = Player(archive)  # the next morning
        assert isinstance(player.screen, Home)
        assert player.focus == "resume"
        player.press("enter")
        assert isinstance(player.screen, Drill)
        player.press("enter")
        assert player.screen.session.item.number == 8
        player.answer_all([0.3, -0.4])
        assert isinstance(player.screen, Result)
        score = player.screen.result.score
        assert (score.person, score.readings) == ("Ada Example", 20)
        stored = archive.unfinished("Ada Example")
        assert stored == []
        frame = archive.answers(person="Ada Example")
        assert list(frame["item"]) == list(range(1, 21))
        session = archive.session(str(frame["session"].iloc[0]))
        assert session.ended_how == "finished"
        assert [note.kind for note in session.notes] == ["window-closed"]

        player.press("4", ctrl=True)
        assert isinstance(player.screen, Progress)
        assert [line.cells[2] for line in player.screen.lines] == ["20/20"]
        player.picture()
        player.press("5", ctrl=True)
        assert isinstance(player.screen, TeamView)
        assert [line.person for line in player.screen.shown()] == ["Ada Example"]
        player.press("2", ctrl=True)
        player.tab_to("rename")
        player.press("enter")
        player.type("Ada Renamed")
        player.press("enter")
        assert [p.name for p in archive.people()] == ["Ada Renamed"]
        assert player.app.desk.person.name == "Ada Renamed"
        player.tab_to("archive")
        player.press("enter", "tab")
        player.click("ok")
        assert archive.people() == []
        assert player.app.desk.person is None


def test_a_name_the_archive_will_not_keep_gets_its_sentence(tmp_path):
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        player = Player(archive)
        player.type("Ada Example")
        player.press("enter")
        player.press("2", ctrl=True)
        player.tab_to("add")
        player.press("enter")
        player.type("ada example")
        player.press("enter")
        assert "already a person called" in player.placed("name").node.reason
