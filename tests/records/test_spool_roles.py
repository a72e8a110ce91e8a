"""A station with the least rights delivers what waited; what the rules forbid it cannot deliver either."""

from pathlib import Path

import pytest

from tests.records.conftest import HEADER, ITEMS, PLAN, answer
from tests.records.line import Line
from tests.records.test_roles import END, Url, open_as, url  # noqa: F401 (a fixture)
from trainer.records import documents
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.spool import Spooled


@pytest.fixture
def line(url: Url) -> Line:  # noqa: F811
    """Give a line to the archive, for the station "one"."""
    opened = Line(url("one"))
    opened.url = opened.url.replace("postgres@", url("one").split("://")[1].split("@")[0].split(":")[0] + "@")
    return opened


def begin(line: Line, spool: Path, address: str = "") -> Spooled:
    return Spooled.begin(
        address or line.url, spool=spool, create=False, busy_s=2, courier=False, chain="STAT0001"
    )


def test_a_station_of_least_rights_delivers_what_waited(url: Url, line: Line, tmp_path: Path) -> None:  # noqa: F811
    begin(line, tmp_path / "s").close()
    line.cut()
    with begin(line, tmp_path / "s") as archive:
        session = archive.begin_session("Ana", PLAN, ITEMS[:3], HEADER)
        archive.deal_more(session, ITEMS[3:])
        for number in (1, 2, 4):
            archive.save_answer(session, answer(number))
        archive.note(session, "pause", END)
        archive.end_session(session, "left", END)
    line.mend()
    with begin(line, tmp_path / "s") as archive:
        assert archive.waiting() == 0, archive.trouble
        online = archive.begin_session("Ana", {**PLAN, "ticket": "k7"}, ITEMS, HEADER)
        line.cut()
        archive.save_answer(online, answer(1))
        documents.keep(archive, "check-end", "Ana", {"session": online})
        line.mend()
        assert archive.reach(), archive.trouble
    with Archive.open(url(""), create=False) as archive:
        assert check(archive.store).findings == []
        assert len(archive.answers()) == 4
        assert len(documents.listed(archive, "check-end")) == 1
    line.close()


def test_a_station_that_signs_in_as_somebody_else_delivers_in_a_chain_of_that_login(
    url: Url,  # noqa: F811
    line: Line,
    tmp_path: Path,
) -> None:
    with begin(line, tmp_path / "s") as archive:
        session = archive.begin_session("Ana", PLAN, ITEMS, HEADER)
        line.cut()
        archive.save_answer(session, answer(1))
        line.mend()
        assert archive.reach()
        line.cut()
        archive.save_answer(session, answer(2))
    with Spooled.begin(
        url("two"), spool=tmp_path / "s", create=False, busy_s=2, courier=False, chain="STAT0002"
    ) as archive:
        assert archive.waiting() == 0, archive.trouble
    with open_as(url, "two") as archive:
        assert [one.number for one in archive.session(session).answers] == [1, 2]
    with Archive.open(url(""), create=False) as archive:
        assert check(archive.store).findings == []
    line.close()
