"""The window goes on with a drill when the server of its archive goes away, and says what it cannot do."""

from player import Player
from tests.records.conftest import new_database, postgres_server  # noqa: F401 (fixtures)
from tests.records.line import Line
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.progress import Progress
from trainer.desktop.screens.result import Result
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.spool import Spooled


def test_a_drill_in_the_window_goes_on_without_its_server(new_database, tmp_path):  # noqa: F811
    line = Line(new_database())
    Archive.open(line.url).close()
    with Spooled.begin(line.url, spool=tmp_path / "s" / "s", busy_s=2, courier=False) as archive:
        player = Player(archive)
        player.type("Ada Example")
        player.press("enter")
        player.press("enter", "enter")
        player.answer_all([0.3, -0.4], until=7)
        line.cut()
        assert isinstance(player.screen, Drill)
        player.answer_all([0.3, -0.4])
        assert archive.waiting() == 13
        assert isinstance(player.screen, Result)
        assert player.screen.result.score.readings == 20
        player.press("4", ctrl=True)  # what the person has done so far is with the server
        assert isinstance(player.screen, Progress)
        assert player.screen.history is None
        player.picture()
        line.mend()
        assert archive.reach(), archive.trouble
        assert archive.sessions("Ada Example")["ended_how"].tolist() == ["finished"]
        assert archive.answers("Ada Example")["item"].tolist() == list(range(1, 21))
    with Archive.open(line.url) as whole:
        assert check(whole.store).findings == []
    line.close()
