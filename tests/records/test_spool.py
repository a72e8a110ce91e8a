"""A station goes on when its server is away, and delivers later: exactly once, in order, whatever happens."""

import contextlib
import shutil
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.records.conftest import HEADER, ITEMS, PLAN, HandClock, answer, run_sql
from tests.records.line import Line
from trainer.records import copying, documents, engine, rescue, spool_delivery
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.place import find
from trainer.records.refusals import (
    ArchiveAway,
    DamagedArchive,
    NewerArchive,
    UnknownPerson,
    UnusableArchive,
)
from trainer.records.spool import Spooled, open_archive
from trainer.records.spool_file import SpoolFile, spool_path
from trainer.records.values import StoredSession

END = "2026-03-02T09:05:00Z"


@pytest.fixture
def url(new_database: Callable[[], str]) -> str:
    """Give the address of an archive on a server with Ana in it."""
    made = new_database()
    with Archive.open(made, chain="STAT0000") as archive:
        archive.add_person("Ana")
    return made


@pytest.fixture
def line(url: str) -> Iterator[Line]:
    """Give a line to that archive."""
    opened = Line(url)
    yield opened
    opened.close()


@contextmanager
def station(line: Line, tmp_path: Path, name: str = "one", **given: Any) -> Iterator[Spooled]:
    """Give a station's archive, without a courier, so that the test says when things are delivered."""
    code = {"one": "STAT0001", "two": "STAT0002"}[name[:3]]
    opened = Spooled.begin(
        line.url, spool=tmp_path / "spools" / name, create=False, busy_s=2, courier=False, chain=code, **given
    )
    with opened as archive:
        yield archive


def known(line: Line, tmp_path: Path, *names: str) -> None:
    """Let stations have been there once while the server was up."""
    for name in names or ("one",):
        with station(line, tmp_path, name):
            pass


def whole(url: str) -> Any:
    """Return sessions, answers, and assert that the archive is whole."""
    with Archive.open(url, create=False) as archive:
        assert check(archive.store).findings == []
        return archive.sessions(), archive.answers()


def stored(url: str, session: str | None = None) -> StoredSession:
    """Return a session of the archive; the only one when none is named."""
    with Archive.open(url, create=False) as archive:
        return archive.session(session or archive.sessions()["session"].item())


def test_a_drill_is_taken_while_the_server_is_away_and_delivered_later(
    line: Line, url: str, tmp_path: Path
) -> None:
    known(line, tmp_path)
    line.cut()
    with station(line, tmp_path) as archive:
        assert archive.away
        assert [one.name for one in archive.people()] == ["Ana"]
        session = archive.begin_session("Ana", PLAN, ITEMS[:3], HEADER)
        archive.save_answer(session, answer(1))
        archive.note(session, "pause", END)
        archive.deal_more(session, ITEMS[3:])
        for number in range(2, 6):
            archive.save_answer(session, answer(number))
        archive.end_session(session, "finished", END)
        assert archive.waiting() == 5
        assert len(archive.session(session).answers) == 5
        assert archive.answers(session=session)["answer_tenths"].tolist() == [1e3, 2e3, 3e3, 4e3, 5e3]
        here = archive.session(session)
    line.mend()
    with station(line, tmp_path) as archive:
        assert archive.waiting() == 0
    there = stored(url)
    assert there == here
    assert there.ended_how == "finished"
    _, answers = whole(url)
    assert answers["item"].tolist() == [1, 2, 3, 4, 5]
    with Archive.open(url) as archive:
        assert archive.team()["answers"].tolist() == [5]


def test_an_answer_in_the_middle_of_which_the_server_goes_is_kept_once(
    line: Line, url: str, tmp_path: Path
) -> None:
    with station(line, tmp_path) as archive:
        session = archive.begin_session("Ana", PLAN, ITEMS, HEADER)
        archive.save_answer(session, answer(1))
        line.cut()
        archive.save_answer(session, answer(2))
        archive.save_answer(session, answer(3))
        assert [one.number for one in archive.session(session).answers] == [1, 2, 3]
        assert archive.unfinished("Ana")[0].id == session
        line.mend()
        assert archive.reach()
        archive.save_answer(session, answer(4))
        line.cut()  # once more
        archive.save_answer(session, answer(5))
        archive.end_session(session, "finished", END)
        line.mend()
        assert archive.reach()
        assert archive.session(session).ended_how == "finished"
    there = stored(url, session)
    assert [one.number for one in there.answers] == [1, 2, 3, 4, 5]
    whole(url)


@pytest.mark.parametrize(
    "sign", [b"INSERT INTO sessions", b"INSERT INTO answers", b"items-dealt", b"pause", b"UPDATE sessions"]
)
def test_what_the_server_was_told_and_could_not_confirm_is_there_once(
    line: Line, url: str, tmp_path: Path, sign: bytes
) -> None:
    """The server works, commits, and its reply is lost: the station cannot know, and delivers it again."""
    seen: list[bytes] = []

    def loses(data: bytes) -> bool:
        seen.append(data)
        commits = b"COMMIT" in data or b"WITH fits" in data  # an answer is one statement, without COMMIT
        return commits and any(sign in one for one in seen)

    with station(line, tmp_path) as archive:
        archive.people()
        line.lose_reply_after = loses
        session = archive.begin_session("Ana", PLAN, ITEMS[:2], HEADER)
        archive.save_answer(session, answer(1))
        archive.note(session, "pause", END)
        archive.deal_more(session, ITEMS[2:])
        archive.save_answer(session, answer(3))
        archive.end_session(session, "left", END)
        assert archive.away
        line.mend()
        assert archive.reach(), archive.trouble
        assert len(archive.session(session).answers) == 2
    there = stored(url)
    assert (len(there.items), len(there.answers), there.ended_how) == (5, 2, "left")
    assert [one.kind for one in there.notes if one.kind != "delivered-before"] == ["pause"]
    whole(url)


def offline_session(line: Line, tmp_path: Path, name: str = "one", **changed: Any) -> str:
    """Take a session at a station whose server is away."""
    line.cut()
    with station(line, tmp_path, name) as archive:
        session = archive.begin_session("Ana", PLAN, ITEMS[:2], replace(HEADER, **changed))
        archive.save_answer(session, answer(1))
        archive.deal_more(session, ITEMS[2:3])
        archive.save_answer(session, answer(3))
        archive.note(session, "pause", END)
        archive.end_session(session, "left", END)
    line.mend()
    return session


class Killed(BaseException):
    """The program is killed here."""


@pytest.mark.parametrize("committed", [False, True])
@pytest.mark.parametrize(("together", "fewest"), [(1, 18), (4, 7)])
def test_a_delivery_killed_at_every_write_point_is_finished_by_the_next(
    line: Line,
    url: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    committed: bool,
    together: int,
    fewest: int,
) -> None:
    """Every transaction of a delivery, at the server and in the spool: before or after its commit."""
    monkeypatch.setattr(spool_delivery, "TOGETHER", together)
    known(line, tmp_path)
    points, left = 0, 0
    plain = engine.Store.write

    @contextmanager
    def write(store: engine.Store) -> Iterator[Any]:
        nonlocal left
        with plain(store) as connection:
            yield connection
            left -= 1
            if left == 0 and not committed:
                raise Killed
        if left == 0:
            raise Killed

    sessions = 0
    while True:
        points += 1
        offline_session(line, tmp_path, started_at=f"2026-03-02T09:{points:02d}:00Z")
        sessions += 1
        file = SpoolFile.open(tmp_path / "spools" / "one")
        server = Archive.open(url, create=False, chain="STAT0001")
        left = points
        try:
            with monkeypatch.context() as patch:
                patch.setattr(engine.Store, "write", write)
                spool_delivery.deliver(server.store, file)
            finished = True
        except Killed:
            finished = False
        server.close()
        file.close()
        known(line, tmp_path)  # the next start delivers the rest
        if finished:
            break
    assert points > fewest  # six acts, so many together: the head is looked at, they are written, and noted
    _, answers = whole(url)
    assert answers.shape[0] == 2 * sessions
    assert answers.groupby("session")["item"].apply(list).tolist() == [[1, 3]] * sessions


def test_two_stations_of_one_person_at_once_lose_and_double_nothing(
    line: Line, url: str, tmp_path: Path
) -> None:
    """Both go on with the same session, one of them offline; what contradicts is kept and does not count."""
    with station(line, tmp_path) as one:
        session = one.begin_session("Ana", PLAN, ITEMS[:3], HEADER)
        one.save_answer(session, answer(1))
    other = Line(url)
    with station(line, tmp_path) as one, station(other, tmp_path, "two") as two:
        for archive in (one, two):
            assert [s.id for s in archive.unfinished("Ana")] == [session]
        line.cut()
        one.save_answer(session, answer(2, 2000.5))
        two.save_answer(session, answer(2, 2001.5))
        two.deal_more(session, ITEMS[3:4])
        one.deal_more(session, [{**ITEMS[3], "position_tenths": 7.0}])
        one.save_answer(session, answer(4, 7.5))
        one.save_answer(session, answer(3, 3000.5))
        two.end_session(session, "left", END)
        one.end_session(session, "finished", END)
        line.mend()
        assert one.reach()
    other.close()
    there = stored(url, session)
    assert [(a.number, a.answer_tenths) for a in there.answers] == [(1, 1000.0), (2, 2001.5)]
    assert there.ended_how == "left"
    kept = [n.detail for n in there.notes if n.kind == "not-counted"]
    given = [one["answer"]["answer_tenths"] for one in kept if "answer" in one]
    assert given == [2000.5, 7.5, 3000.5]
    assert len(kept) == 5  # and the item dealt otherwise, and the other end
    whole(url)


def test_clocks_that_differ_and_one_set_back_a_year_leave_the_chain_whole(
    line: Line, url: str, tmp_path: Path
) -> None:
    known(line, tmp_path, "one", "two")
    late, early = HandClock(), HandClock()
    late.now += timedelta(hours=5)
    line.cut()
    with station(line, tmp_path, "two", clock=late) as archive:
        archive.save_answer(archive.begin_session("Ana", PLAN, ITEMS, HEADER), answer(1))
    with station(line, tmp_path, clock=early) as archive:
        session = archive.begin_session("Ana", {**PLAN, "name": "again"}, ITEMS, HEADER)
        archive.save_answer(session, answer(1))
        early.now -= timedelta(days=365)
        for number in (2, 3):
            archive.save_answer(session, answer(number))
    line.mend()
    known(line, tmp_path, "one", "two")
    _, answers = whole(url)
    assert answers.shape[0] == 4
    with Archive.open(url) as archive, archive.store.read() as connection:
        noted = connection.exec_driver_sql("SELECT count(*) FROM acts WHERE kind = 'clock-set-back'").scalar()
    assert noted == 1


def test_a_copied_spool_delivers_what_both_have_once_and_what_each_has_besides(
    line: Line, url: str, tmp_path: Path
) -> None:
    known(line, tmp_path)
    offline_session(line, tmp_path, started_at="2026-03-02T10:00:00Z")
    for end in ("", "-wal", "-shm"):
        if (spool := tmp_path / "spools" / f"one{end}").exists():
            shutil.copy(spool, tmp_path / "spools" / f"two{end}")
    offline_session(line, tmp_path, started_at="2026-03-02T11:00:00Z")
    own = offline_session(line, tmp_path, "two", started_at="2026-03-02T12:00:00Z")
    line.cut()
    with station(line, tmp_path, "two") as archive:
        line.mend()
        known(line, tmp_path, "one")
        assert archive.reach()
        assert len(archive.session(own).answers) == 2  # it has another name by now
    known(line, tmp_path, "two")
    sessions, answers = whole(url)
    assert sorted(sessions["started_at"].astype(str).str[11:13]) == ["10", "11", "12"]
    assert answers.groupby("session")["item"].apply(list).tolist() == [[1, 3]] * 3


def test_a_copied_spool_that_delivers_under_a_new_chain_does_not_double_a_session(
    line: Line, url: str, tmp_path: Path
) -> None:
    """The chains tell nothing here: the session is known by person, moment, seed and plan."""
    known(line, tmp_path)
    offline_session(line, tmp_path)
    shutil.copytree(tmp_path / "spools", tmp_path / "copy")
    known(line, tmp_path)
    file = SpoolFile.open(tmp_path / "copy" / "one")
    with file.write() as connection:
        spool_delivery.spool_tail.begin_anew(connection, file, 0)
    with Archive.open(url, create=False) as server:
        spool_delivery.deliver(server.store, file)
    file.close()
    sessions, answers = whole(url)
    assert (len(sessions), len(answers)) == (1, 2)


def test_a_reinstalled_station_has_another_chain_and_goes_on(line: Line, url: str, tmp_path: Path) -> None:
    known(line, tmp_path)
    first = offline_session(line, tmp_path, started_at="2026-03-02T10:00:00Z")
    known(line, tmp_path)
    shutil.rmtree(tmp_path / "spools")  # the disk is new
    known(line, tmp_path)
    second = offline_session(line, tmp_path, started_at="2026-03-02T11:00:00Z")
    known(line, tmp_path)
    assert first.split("-")[0] != second.split("-")[0]
    sessions, answers = whole(url)
    assert (len(sessions), len(answers)) == (2, 4)


def test_a_server_set_back_to_a_backup_gets_what_waits(line: Line, url: str, tmp_path: Path) -> None:
    known(line, tmp_path)
    offline_session(line, tmp_path, started_at="2026-03-02T10:00:00Z")
    with Archive.open(url, create=False, chain="STAT0000") as archive:
        copying.backup(archive.store, tmp_path / "backup")
    known(line, tmp_path)  # delivered, and lost with the server that had it
    offline_session(line, tmp_path, started_at="2026-03-02T11:00:00Z")
    database = url.split("/")[3].split("?")[0]
    admin = url.replace(f"/{database}?", "/postgres?")
    run_sql(admin, f"DROP DATABASE {database} WITH (FORCE)", f"CREATE DATABASE {database}")
    with Archive.open(tmp_path / "backup", create=False) as archive:
        copying.copy(archive.store, find(url))
    with station(line, tmp_path) as archive:
        assert archive.waiting() == 0, archive.trouble
    sessions, answers = whole(url)
    assert (len(sessions), len(answers)) == (1, 2)


def test_a_refused_delivery_keeps_everything_and_says_why(line: Line, url: str, tmp_path: Path) -> None:
    known(line, tmp_path)
    offline_session(line, tmp_path)
    with Archive.open(url, chain="STAT0000") as archive:
        archive.archive_person("Ana")
    with station(line, tmp_path) as one:
        assert one.waiting() == 2
        assert "Ana took a session offline and has been put away" in one.trouble
        one.add_person("Bo")  # everything else works
        session = one.begin_session("Bo", PLAN, ITEMS, HEADER)
        one.save_answer(session, answer(1))
        assert one.waiting() == 2
    run_sql(url, "UPDATE tenthwise_archive SET version = version + 1")
    with pytest.raises(NewerArchive, match="install the newer program; 2 answers wait at this station"):
        known(line, tmp_path)
    run_sql(url, "UPDATE tenthwise_archive SET version = version - 1")
    stranger = Line(url)
    stranger.url = stranger.url.replace("postgres@", "stranger@")
    with pytest.raises(UnusableArchive, match="user name or password; check both; 2 answers wait"):
        known(stranger, tmp_path)
    stranger.close()
    with Archive.open(url, chain="STAT0000") as archive:
        archive.archive_person("Ana", back=True)
    known(line, tmp_path)
    _, answers = whole(url)
    assert len(answers) == 3


def test_answers_for_one_archive_are_not_delivered_to_another(
    line: Line, url: str, tmp_path: Path, new_database: Callable[[], str]
) -> None:
    known(line, tmp_path)
    offline_session(line, tmp_path)
    other = new_database()
    Archive.open(other).close()
    elsewhere = Line(other)
    with station(elsewhere, tmp_path) as archive:
        assert "another archive than the one" in archive.trouble
        assert archive.waiting() == 2
    elsewhere.close()
    known(line, tmp_path)
    assert len(whole(url)[1]) == 2


def test_what_cannot_be_done_offline_says_so_in_a_sentence(line: Line, tmp_path: Path) -> None:
    line.cut()
    with pytest.raises(ArchiveAway, match="does not answer"):  # nobody is known at a new station
        known(line, tmp_path)
    line.mend()
    known(line, tmp_path)
    line.cut()
    with station(line, tmp_path) as archive:
        for refused in (
            lambda: archive.add_person("Bo"),
            lambda: archive.rename_person("Ana", "Ann"),
            lambda: archive.team(),
            lambda: archive.answers(),
            lambda: archive.set_setting("a", 1),
            lambda: documents.listed(archive, "check"),
            lambda: documents.keep(archive, "statement", "x", {}),
        ):
            with pytest.raises(ArchiveAway, match="the server does not answer") as told:
                refused()
            assert str(told.value).count("\n") == 0
        with pytest.raises(UnknownPerson, match="not known at this station"):
            archive.begin_session("Bo", PLAN, ITEMS, HEADER)
        with pytest.raises(ArchiveAway, match="check under a ticket cannot begin"):
            archive.begin_session("Ana", {**PLAN, "ticket": "k7"}, ITEMS, HEADER)
        assert archive.waiting() == 0


def test_a_check_under_a_ticket_is_finished_when_the_server_goes_in_the_middle(
    line: Line, url: str, tmp_path: Path
) -> None:
    with station(line, tmp_path) as archive:
        session = archive.begin_session("Ana", {**PLAN, "ticket": "k7"}, ITEMS[:2], HEADER)
        archive.save_answer(session, answer(1))
        line.cut()
        archive.save_answer(session, answer(2))
        archive.end_session(session, "finished", END)
        assert documents.listed(archive, "check-end") == []  # looks like the guard's closing
        documents.keep(archive, "check-end", "Ana", {"session": session, "watch": {"ended_how": "finished"}})
        line.mend()
        assert archive.reach()
        assert [one.document["session"] for one in documents.listed(archive, "check-end")] == [session]
    assert stored(url, session).ended_how == "finished"
    whole(url)


def test_a_courier_delivers_in_the_background(
    line: Line, url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trainer.records.spool_link.RETRY_S", 0.05)
    with Spooled.begin(line.url, create=False, busy_s=2) as archive:
        session = archive.begin_session("Ana", PLAN, ITEMS, HEADER)
        line.cut()
        archive.save_answer(session, answer(1))
        line.mend()
        for number in range(2, 6):
            archive.save_answer(session, answer(number))
        archive.end_session(session, "finished", END)
        for _ in range(600):
            if not archive.waiting():
                break
            archive._courier.join(0.05)
        assert archive.waiting() == 0
    assert [one.number for one in stored(url, session).answers] == [1, 2, 3, 4, 5]
    assert spool_path(find(line.url)).is_file()
    assert spool_path(find(line.url)).stat().st_mode & 0o077 == 0
    whole(url)


def test_a_file_needs_no_spool_and_a_damaged_spool_is_not_written_to(line: Line, tmp_path: Path) -> None:
    with open_archive(tmp_path / "a") as archive:
        assert not isinstance(archive, Spooled)
    known(line, tmp_path)
    spool = tmp_path / "spools" / "one"
    broken = spool.read_bytes()[:-4096]
    spool.write_bytes(broken)
    with pytest.raises(DamagedArchive, match="answers wait for the server is damaged"):
        known(line, tmp_path)
    assert spool.read_bytes() == broken


def test_what_waits_in_a_damaged_spool_is_rescued(line: Line, tmp_path: Path) -> None:
    known(line, tmp_path)
    offline_session(line, tmp_path)
    spool = tmp_path / "spools" / "one"
    with contextlib.closing(sqlite3.connect(spool)) as connection:
        page = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'acts'").fetchone()[0]
        size = connection.execute("PRAGMA page_size").fetchone()[0]
    with spool.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\xa5" * size)
    with pytest.raises(DamagedArchive):
        known(line, tmp_path)
    rescue.rescue(spool, tmp_path / "rescued")
    with Archive.open(tmp_path / "rescued", create=False) as archive:
        with archive.store.read() as connection:
            rows = connection.exec_driver_sql("SELECT number, answer_tenths FROM answers").all()
        assert [tuple(row) for row in rows] == [(1, 1000.0), (3, 3000.0)]


def test_two_programs_at_one_station_deliver_the_same_spool_at_once(
    line: Line, url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Window and command share the spool; the chain's head on the server lets one go after the other."""
    monkeypatch.setattr(spool_delivery, "TOGETHER", 1)
    known(line, tmp_path)
    for minute in range(5):
        offline_session(line, tmp_path, started_at=f"2026-03-02T09:{minute:02d}:00Z")
    gate, gone, broken = threading.Barrier(3), [], []

    def deliver() -> None:
        file = SpoolFile.open(tmp_path / "spools" / "one")
        with Archive.open(url, create=False) as server:
            gate.wait()
            try:
                gone.append(spool_delivery.deliver(server.store, file))
            except BaseException as fault:  # noqa: BLE001 (whatever it is, the test must see it)
                broken.append(fault)
        file.close()

    threads = [threading.Thread(target=deliver) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert broken == []
    assert sum(gone) == 5 * 6
    sessions, answers = whole(url)
    assert (len(sessions), len(answers)) == (5, 10)
    assert {one.split("-")[0] for one in sessions["session"]} == {sessions["session"][0].split("-")[0]}
