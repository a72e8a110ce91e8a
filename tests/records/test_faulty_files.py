"""Short writes, ENOSPC, EIO, a vanished drive: what was confirmed is there, the rest is refused plainly."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.records.conftest import HEADER, ITEMS, PLAN, answer
from tests.records.faulty import LINUX, POSIX, no_longer_than, write_to
from tests.records.line import Line
from trainer.commands.main import main
from trainer.records import copying, info, rescue, upgrade, whole
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.refusals import ArchiveAway, FullDisk, ReadOnlyArchive, UnusableArchive
from trainer.records.spool import Spooled

MANY = [{"number": n, "position_tenths": float(n), "asks": "tenths"} for n in range(1, 401)]
REFUSALS = (FullDisk, ArchiveAway)  # EFBIG of a file that may not grow is told by SQLite as an I/O fault
posix = pytest.mark.skipif(not POSIX, reason="RLIMIT_FSIZE is POSIX")
linux = pytest.mark.skipif(not LINUX, reason="/proc/self/fd and /dev/full are Linux")


def begun(path: Path) -> str:
    """Make an archive with one session of many items."""
    with Archive.open(path) as archive:
        return archive.begin_session(archive.add_person("Ana"), PLAN, MANY, HEADER)


def answers_until_refused(
    archive: Archive, session: str, first: int = 1, last: int = len(MANY)
) -> tuple[list[int], Exception | None]:
    """Give answers; return the items confirmed, and the refusal."""
    confirmed: list[int] = []
    for number in range(first, last + 1):
        try:
            archive.save_answer(session, answer(number, float(number), at="x"))
        except UnusableArchive as refused:
            return confirmed, refused
        confirmed.append(number)
    return confirmed, None


def holds(path: Path, confirmed: list[int]) -> bool:
    """Return whether an archive is whole and has these answers and at most the next one."""
    with Archive.open(path) as archive:
        kept = archive.answers()["item"].tolist()
        return check(archive.store).findings == [] and kept in (confirmed, [*confirmed, len(confirmed) + 1])


@posix
def test_short_writes_at_many_bytes_of_the_log_lose_nothing_confirmed(tmp_path: Path) -> None:
    """The log of SQLite is cut within headers, frames and pages; then the disk has room again."""
    session = begun(tmp_path / "a")
    size = (tmp_path / "a").stat().st_size
    seen = set()
    for index, room in enumerate([1, 16, 31, 33, 55, 57, 1000, 4152, 4153, 9001, 20_000, 33_333, 61_111]):
        path = tmp_path / f"copy-{index}"
        shutil.copy(tmp_path / "a", path)
        with Archive.open(path) as archive:
            with no_longer_than(room):
                confirmed, refused = answers_until_refused(archive, session, last=40)
            assert isinstance(refused, REFUSALS)
            assert str(refused).count("\n") == 0
            seen.add(len(confirmed))
            again, refused = answers_until_refused(archive, session, len(confirmed) + 1, 40)  # it goes on
            assert refused is None
        assert holds(path, confirmed + again)
        assert path.stat().st_size >= size
    assert len(seen) > 3


@linux
def test_a_drive_that_refuses_the_log_to_be_taken_in_loses_nothing(tmp_path: Path) -> None:
    """The log is whole and on disk; the file itself cannot be written when the log is to be taken into it."""
    path = tmp_path / "a"
    session = begun(path)
    with Archive.open(path) as archive:
        first, _ = answers_until_refused(archive, session, 300)
        with write_to(path, path, os.O_RDONLY) as descriptors:
            assert descriptors
            second, _ = answers_until_refused(archive, session)
            archive.close()
    assert holds(path, sorted({*first, *second}))


@linux
def test_an_answer_refused_by_a_failing_drive_can_be_given_again(tmp_path: Path) -> None:
    path = tmp_path / "a"
    session = begun(path)
    with Archive.open(path) as archive:
        archive.save_answer(session, answer(1))
        wal = tmp_path / "a-wal"
        for other, flags in ((Path("/dev/full"), os.O_RDWR), (wal, os.O_RDONLY)):
            number = len(archive.session(session).answers) + 1
            with write_to(wal, other, flags) as descriptors:
                assert descriptors
                with pytest.raises(REFUSALS, match=r"no room left|drive failed"):
                    archive.save_answer(session, answer(number))
            archive.save_answer(session, answer(number))
        assert [one.number for one in archive.session(session).answers] == [1, 2, 3]
        assert check(archive.store).findings == []


def test_a_drive_that_vanishes_under_an_open_archive_is_noticed(tmp_path: Path) -> None:
    """Otherwise the system would go on writing to a file that nobody can open any more."""
    (tmp_path / "drive").mkdir()
    path = tmp_path / "drive" / "a"
    session = begun(path)
    with Archive.open(path) as archive:
        archive.save_answer(session, answer(1))
        (tmp_path / "drive").rename(tmp_path / "unplugged")
        with pytest.raises(ArchiveAway, match="gone from its place; check the drive"):
            archive.save_answer(session, answer(2))
        (tmp_path / "unplugged").rename(tmp_path / "drive")  # it is back
        archive.save_answer(session, answer(2))
    with Archive.open(path) as archive:
        assert [one.number for one in archive.session(session).answers] == [1, 2]
        assert check(archive.store).findings == []


@posix
@pytest.mark.parametrize("room", [1, 5000, 40_000, 90_000])
def test_a_full_disk_during_backup_move_and_rescue_leaves_nothing_half_done(
    tmp_path: Path, room: int
) -> None:
    begun(tmp_path / "a")
    before = (tmp_path / "a").read_bytes()
    (tmp_path / "to").mkdir()
    for made in (
        lambda archive: copying.backup(archive.store, tmp_path / "to" / "backup"),
        lambda _: rescue.rescue(tmp_path / "a", tmp_path / "to" / "rescued"),
    ):
        with Archive.open(tmp_path / "a") as archive, no_longer_than(room), pytest.raises(UnusableArchive):
            made(archive)
        assert list((tmp_path / "to").iterdir()) == []
    with Archive.open(tmp_path / "a") as archive:
        assert check(archive.store).findings == []
    assert (tmp_path / "a").read_bytes()[:100] == before[:100]


@posix
@pytest.mark.parametrize("room", [1, 3000, 30_000, 60_000])
def test_a_full_disk_during_an_upgrade_leaves_the_old_archive(
    tmp_path: Path, room: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = begun(tmp_path / "a")
    known = list(upgrade.STEPS)

    def later(connection: Any) -> None:
        connection.exec_driver_sql("CREATE TABLE later (a TEXT)")
        for _ in range(200):
            connection.exec_driver_sql("INSERT INTO later VALUES (hex(zeroblob(1000)))")

    monkeypatch.setattr(upgrade, "STEPS", [*known, later])
    with no_longer_than(room), pytest.raises(UnusableArchive) as refused:
        info.upgrade_with_backup(tmp_path / "a")
    assert str(refused.value).count("\n") == 0
    monkeypatch.setattr(upgrade, "STEPS", known)
    with Archive.open(tmp_path / "a", upgrade=False) as archive:
        archive.save_answer(session, answer(1, 1.0))
        assert check(archive.store).findings == []
    assert not list(tmp_path.glob(".a.version*"))  # nothing half-written is left beside it
    for kept in tmp_path.glob("a.version-*"):
        assert holds(kept, [])


@posix
@pytest.mark.parametrize("room", [10, 700, 5000])
def test_a_full_disk_during_an_export_leaves_the_file_of_before(
    tmp_path: Path, room: int, capsys: pytest.CaptureFixture[str]
) -> None:
    session = begun(tmp_path / "a")
    with Archive.open(tmp_path / "a") as archive:
        answers_until_refused(archive, session, last=100)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "old.csv").write_text("precious")
    for name in ("old.csv", "new.csv"):
        with no_longer_than(room):
            code = main(["export", "--archive", str(tmp_path / "a"), "--out", str(tmp_path / "out" / name)])
        told = capsys.readouterr().err
        assert code == 1
        assert told.startswith("tenthwise: ")
        assert told.count("\n") == 1
    assert [one.name for one in (tmp_path / "out").iterdir()] == ["old.csv"]
    assert (tmp_path / "out" / "old.csv").read_text() == "precious"


@pytest.mark.parametrize(("number", "kind"), [(28, FullDisk), (5, UnusableArchive), (30, UnusableArchive)])
@pytest.mark.parametrize("step", ["open", "fsync", "replace"])
def test_a_whole_file_appears_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, kind: type[Exception], step: str
) -> None:
    """ENOSPC, EIO and EROFS at each call that our own writers make (errno.h, POSIX)."""
    (tmp_path / "file").write_text("before")

    def refuses(*_: Any, **__: Any) -> None:
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr(*((Path, "replace") if step == "replace" else (os, step)), refuses)
        with pytest.raises(kind), whole.whole_file(tmp_path / "file") as temporary:
            temporary.write_text("after")
    assert (tmp_path / "file").read_text() == "before"
    assert [one.name for one in tmp_path.iterdir()] == ["file"]


@posix
def test_a_full_disk_under_the_spool_refuses_the_answer_and_keeps_the_others(
    tmp_path: Path, new_database: Callable[[], str]
) -> None:
    url = new_database()
    with Archive.open(url) as archive:
        archive.add_person("Ana")
    line = Line(url)
    spool = tmp_path / "spool" / "s"
    given: dict[str, Any] = {"spool": spool, "create": False, "busy_s": 2, "courier": False}
    with Spooled.begin(line.url, **given) as archive:
        session = archive.begin_session("Ana", PLAN, MANY, HEADER)
        line.cut()
        archive.save_answer(session, answer(1, 1.0))
        room = spool.with_name("s-wal").stat().st_size + 50_001
        with no_longer_than(room):
            confirmed, refused = answers_until_refused(archive, session, 2)
        assert isinstance(refused, REFUSALS)
        assert confirmed
        assert archive.waiting() == 1 + len(confirmed)
    line.mend()
    with Spooled.begin(line.url, **given) as archive:
        assert archive.reach(), archive.trouble
    line.close()
    assert holds_on_server(url, [1, *confirmed])


def holds_on_server(url: str, confirmed: list[int]) -> bool:
    """Return whether a server's archive is whole and has these answers."""
    with Archive.open(url) as archive:
        return check(archive.store).findings == [] and archive.answers()["item"].tolist() == confirmed


def test_a_spool_that_cannot_be_written_leaves_the_station_with_its_server(
    tmp_path: Path, new_database: Callable[[], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    line = Line(new_database())
    with Archive.open(line.url) as archive:
        archive.add_person("Ana")
    given: dict[str, Any] = {"spool": tmp_path / "s" / "s", "create": False, "busy_s": 2, "courier": False}
    Spooled.begin(line.url, **given).close()
    (tmp_path / "file").write_text("not a folder")
    with Spooled.begin(line.url, **{**given, "spool": tmp_path / "file" / "s"}) as archive:
        assert "check the drive and the permissions" in archive.trouble
        assert archive.waiting() == 0
    access = os.access
    monkeypatch.setattr(os, "access", lambda where, mode: mode != os.W_OK and access(where, mode))
    with Spooled.begin(line.url, **given) as archive:
        assert "answers cannot wait here" in archive.trouble
        session = archive.begin_session("Ana", PLAN, ITEMS, HEADER)
        archive.save_answer(session, answer(1))
        line.cut()
        with pytest.raises((ArchiveAway, ReadOnlyArchive), match="does not answer"):
            archive.save_answer(session, answer(2))
    line.close()
