"""Each role on a server may do what it needs and nothing more; judged by the server itself."""

import itertools
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from psycopg import sql as safe

from tests.records.conftest import HEADER, ITEMS, PLAN, answer
from trainer.records import documents, roles
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.refusals import ReadOnlyArchive
from trainer.records.take_in import take_in

END = "2026-03-02T10:00:00Z"
COUNT = itertools.count(1)
ROLES = {"one": "station", "two": "station", "boss": "supervisor", "keeper": "keeper", "sums": "statistics"}
Url = Callable[[str], str]
DENIED = (psycopg.errors.InsufficientPrivilege,)
CHAINS = {"one": "STAT0001", "two": "STAT0002", "boss": "STAT0003", "keeper": "STAT0004", "sums": "STAT0005"}


def plain(url: str) -> str:
    return url.replace("postgresql+psycopg://", "postgresql://")


@pytest.fixture
def url(new_database: Callable[[], str]) -> Iterator[Url]:
    """Give the address of an archive with one person for each of five logins, by its short name."""
    place = new_database()
    with Archive.open(place, chain="STAT0000") as archive:
        archive.add_person("Ana")
    tail = f"_{os.getpid()}_{next(COUNT)}"
    owner = place.split("://")[1].split("@")[0].split(":")[0]
    with psycopg.connect(plain(place), autocommit=True) as admin:
        for _ in range(2):  # a second time changes nothing
            admin.execute(roles.sql())
        for login, role in ROLES.items():
            admin.execute(safe.SQL("CREATE ROLE {} LOGIN").format(safe.Identifier(login + tail)))
            granted = safe.SQL("GRANT {} TO {}")
            admin.execute(granted.format(safe.Identifier(f"tenthwise_{role}"), safe.Identifier(login + tail)))
    yield lambda login: place.replace(f"://{owner}", f"://{login}{tail}", 1) if login else place
    with psycopg.connect(plain(place), autocommit=True) as admin:
        for login in ROLES:
            admin.execute(safe.SQL("DROP OWNED BY {}").format(safe.Identifier(login + tail)))
            admin.execute(safe.SQL("DROP ROLE {}").format(safe.Identifier(login + tail)))


def open_as(url: Url, login: str) -> Archive:
    return Archive.open(url(login), create=False, chain=CHAINS[login])


def refused(url: Url, login: str, statement: str) -> bool:
    """Return whether the server refuses a statement to a login; so is an update without rows."""
    with psycopg.connect(plain(url(login))) as connection:
        try:
            met = connection.execute(statement).rowcount
        except DENIED:
            return True
        connection.rollback()
        return met == 0


def take(url: Url, login: str, *, end: bool = True) -> str:
    with open_as(url, login) as archive:
        session = archive.begin_session("Ana", PLAN, ITEMS, HEADER)
        for number in range(1, 6):
            archive.save_answer(session, answer(number))
        archive.note(session, "pause", END)
        if end:
            archive.end_session(session, "finished", END)
    return session


def test_a_station_takes_sessions_and_the_archive_stays_whole(url: Url) -> None:
    for login in ("one", "two", "boss"):
        take(url, login)
    with open_as(url, "one") as archive:
        archive.add_person("Bo")
        assert archive.people()[1].name == "Bo"
    with Archive.open(url(""), create=False) as archive:
        report = check(archive.store)
        assert report.whole, report.findings
        assert len(archive.answers()) == 15


TABLES = ("acts", "answers", "chains", "items", "people", "sessions", "settings", "tallies")
NOBODY = (
    "UPDATE answers SET answer_tenths = 0",
    "DELETE FROM answers",
    "TRUNCATE answers",
    "UPDATE acts SET who = 'x'",
    "DELETE FROM acts",
    "UPDATE items SET position_tenths = 0",
    "DELETE FROM sessions",
    "UPDATE sessions SET person_id = 'x'",
    "UPDATE sessions SET ended_how = 'left', end_chain = 'STAT0001'",
    "DELETE FROM people",
    "UPDATE tallies SET sum_error = 0",
    "DELETE FROM documents",
    "UPDATE tenthwise_archive SET version = 99",
    "UPDATE chains SET seq = 0",
    "INSERT INTO acts VALUES ('STAT0002', 999, '', 'note', '', NULL, NULL, '', NULL, 'x')",
    "ALTER TABLE answers DISABLE ROW LEVEL SECURITY",
    "DROP TABLE answers CASCADE",
    "CREATE TABLE more (a int)",
    "UPDATE tenthwise_roles.owners SET login = 'x'",
    "SELECT tenthwise_roles.give('STAT0002', 'x')",
)
NO_STATION = (
    "UPDATE people SET name = 'x'",
    "INSERT INTO settings VALUES ('a', '1', 'STAT0001', 1)",
    "DELETE FROM settings",
    "INSERT INTO documents VALUES ('STAT0001-9', 'statement', 'a', '{}', 'STAT0001', 9)",
    "INSERT INTO acts VALUES ('STAT0001', 999, '', 'setting', '', NULL, NULL, '', NULL, 'x')",
    "INSERT INTO sessions (id, person_id, instrument, drill, for_record, seed, program_version, "
    "drawing_version, viewing, station, started_at, plan) "
    "SELECT 'STAT0002-99', id, 'm', 'd', 0, '1', '', '', '{}', '', '', '{}' FROM people",
)


def something_everywhere(url: Url) -> None:
    """Let no table be empty: of an empty one nothing can be taken, whatever the rights."""
    with open_as(url, "boss") as archive:
        archive.set_setting("team", {"name": "north"})
        documents.keep(archive, "statement", "X-1", {"body": {}}, who="boss")
    with psycopg.connect(plain(url(""))) as owner:
        for table in (*TABLES, "documents", "tenthwise_roles.owners", "tenthwise_archive"):
            assert owner.execute(f"SELECT count(*) FROM {table}").fetchone() != (0,), table


def test_nobody_changes_what_was_given(url: Url) -> None:
    take(url, "one")
    take(url, "two")
    something_everywhere(url)
    allowed = [(who, one) for who in ("one", "boss", "sums") for one in NOBODY if not refused(url, who, one)]
    assert allowed == []
    with Archive.open(url(""), create=False) as archive:
        assert check(archive.store).whole


def test_a_station_keeps_out_of_what_supervisors_and_other_stations_do(url: Url) -> None:
    take(url, "one")
    take(url, "two")
    with open_as(url, "boss") as archive:
        archive.set_setting("misread_limit", 3)
    assert [one for one in NO_STATION if not refused(url, "one", one)] == []


def test_a_station_cannot_continue_the_chain_of_another(url: Url) -> None:
    take(url, "two")
    with (
        Archive.open(url("one"), create=False, chain=CHAINS["two"]) as archive,
        pytest.raises(ReadOnlyArchive, match="this user may not do that; ask the keeper"),
    ):
        archive.add_person("Eve")


def test_a_chain_begun_before_the_rules_is_given_to_its_station(url: Url) -> None:
    station = url("one")
    with Archive.open(station, create=False, chain="STAT0000") as archive:
        with pytest.raises(ReadOnlyArchive):
            archive.add_person("Bo")
        login = station.split("://")[1].split("@")[0].split(":")[0]
        with psycopg.connect(plain(url("keeper")), autocommit=True) as keeper:
            keeper.execute("SELECT tenthwise_roles.give('STAT0000', %s)", (login,))
        archive.add_person("Bo")


def test_another_station_goes_on_with_an_open_session(url: Url) -> None:
    """Two stations used by one person: the second ends what the first began."""
    with open_as(url, "one") as archive:
        session = archive.begin_session("Ana", PLAN, ITEMS, HEADER)
        archive.save_answer(session, answer(1))
    with open_as(url, "two") as archive:
        archive.save_answer(session, answer(2))
        archive.end_session(session, "left", END)
    with Archive.open(url(""), create=False) as archive:
        assert check(archive.store).whole


def test_a_supervisor_keeps_people_and_settings(url: Url) -> None:
    with open_as(url, "boss") as archive:
        archive.rename_person("Ana", "Ann")
        archive.set_setting("misread_limit", 3)
        archive.set_setting("misread_limit", 4)
        archive.archive_person("Ann")
        assert archive.setting("misread_limit") == 4
    with Archive.open(url(""), create=False) as archive:
        assert check(archive.store).whole


def test_the_reader_of_statistics_sees_tallies_and_no_answer(url: Url) -> None:
    take(url, "one")
    take(url, "two", end=False)
    something_everywhere(url)
    with open_as(url, "sums") as archive:
        row = archive.team().iloc[0]
        assert (row["person"], row["answers"]) == ("Ana", 5)  # of the open session nothing is shown
        assert archive.person("ana").name == "Ana"
        with pytest.raises(ReadOnlyArchive):
            archive.add_person("Eve")
    with psycopg.connect(plain(url("sums"))) as connection:
        assert connection.execute("SELECT count(*) FROM tallies").fetchone() == (1,)
        assert connection.execute("SELECT count(session) FROM answers").fetchone() == (0,)
        assert connection.execute("SELECT count(session) FROM items").fetchone() == (0,)
    for hidden in (
        "SELECT typed FROM answers", "SELECT * FROM acts", "SELECT plan FROM sessions",
        "SELECT * FROM documents", "SELECT * FROM settings", "SELECT salt FROM people",
    ):  # fmt: skip
        assert refused(url, "sums", hidden), hidden


def test_the_keeper_backs_up_and_checks(url: Url, tmp_path: Path) -> None:
    from trainer.records import copying

    take(url, "one")
    with open_as(url, "keeper") as archive:
        counts = copying.backup(archive.store, tmp_path / "backup.tenthwise")
        assert counts["answers"] == 5
        assert check(archive.store).whole
    assert not refused(url, "keeper", "ALTER TABLE answers ADD COLUMN more INTEGER")


@pytest.mark.parametrize("session", ["S1", "OLDCHAIN-3", ""])
def test_a_supervisor_takes_a_file_in_and_a_station_does_not(url: Url, tmp_path: Path, session: str) -> None:
    """A file names its sessions as it likes, an export by the chain of another archive."""
    (tmp_path / "a.csv").write_text(
        f"person,truth_tenths,answer_tenths,session,item\nBo,10.5,10,{session},1\nBo,20.5,,{session},2\n",
        "utf-8",
    )
    with open_as(url, "one") as archive, pytest.raises(ReadOnlyArchive, match="ask the keeper"):
        take_in(archive.store, tmp_path / "a.csv")
    with open_as(url, "boss") as archive:
        assert take_in(archive.store, tmp_path / "a.csv").answers == 2
        assert archive.team()["answers"].tolist() == [0, 2]
    with Archive.open(url(""), create=False) as archive:
        report = check(archive.store)
        assert report.whole, report.findings
