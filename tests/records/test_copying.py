"""Archives are copied between engines with every hash intact, backed up, restored and rescued."""

import os
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from tests.records.conftest import HEADER, ITEMS, PLAN, answer, run_sql
from trainer.records import copying, rescue
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.place import find
from trainer.records.refusals import DamagedArchive, MissingArchive, UnusableArchive


def live(archive: Archive, people: int = 3, sessions: int = 2) -> None:
    for name in range(people):
        archive.add_person(f"Person no. {name}")
        for _ in range(sessions):
            session = archive.begin_session(f"Person no. {name}", PLAN, ITEMS, HEADER)
            for number in range(1, 6):
                archive.save_answer(session, answer(number, 1000.25 * number))
            archive.note(session, "pause", "2026-03-02T09:01:00Z")
            archive.end_session(session, "finished", "2026-03-02T09:05:00Z")


@pytest.mark.parametrize("target", ["sqlite", "postgresql"])
def test_an_archive_moves_between_engines_with_every_hash_intact(
    archive: Archive, target: str, tmp_path: Path, new_database: Any
) -> None:
    live(archive)
    to = tmp_path / "copy" if target == "sqlite" else new_database()
    before = check(archive.store)
    copying.copy(archive.store, find(to))
    with Archive.open(to, create=False) as copy:
        after = check(copy.store)
        assert after.findings == []
        for chain, head in before.heads.items():
            assert after.heads[chain]["seq"] - head["seq"] in (0, 1)  # one act more where the chain goes on
        assert check(copy.store, since=before.heads).whole
        assert copy.answers().equals(archive.answers())
        assert copy.sessions().equals(archive.sessions())
        assert copy.team().equals(archive.team())
        copy.begin_session("Person no. 1", PLAN, ITEMS, HEADER)
        assert check(copy.store).whole


def test_a_copy_never_overwrites(archive: Archive, tmp_path: Path, new_database: Any) -> None:
    (tmp_path / "there").write_text("precious")
    with pytest.raises(UnusableArchive, match="exists already"):
        copying.copy(archive.store, find(tmp_path / "there"))
    assert (tmp_path / "there").read_text() == "precious"
    url = new_database()
    Archive.open(url).close()
    with pytest.raises(UnusableArchive, match="holds an archive already"):
        copying.copy(archive.store, find(url))


def test_a_copy_that_fails_leaves_nothing(
    archive: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    live(archive)

    def fail(*_: Any, **__: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(copying, "describe_copy", fail)
    folder = tmp_path / "folder"
    folder.mkdir()
    with pytest.raises(UnusableArchive, match="no room left"):
        copying.copy(archive.store, find(folder / "copy"))
    assert list(folder.iterdir()) == []


def test_a_backup_is_taken_while_somebody_writes_and_is_noted(archive: Archive, tmp_path: Path) -> None:
    live(archive)
    session = archive.begin_session("Person no. 0", PLAN, ITEMS, HEADER)

    def write(table: str, rows: int) -> None:
        if table == "people":
            archive.save_answer(session, answer(1))

    copying.backup(archive.store, tmp_path / "backup", told=write)
    with Archive.open(tmp_path / "backup", create=False) as copy:
        assert check(copy.store).findings == []
        assert copy.answers().shape[0] == 30  # the moment at which the backup began
    assert archive.answers().shape[0] == 31
    assert check(archive.store).findings == []


def damaged_archive(path: Path) -> tuple[bytes, int]:
    """Return an archive of many pages, and the size of a page."""
    with Archive.open(path) as archive:
        live(archive, people=12, sessions=8)
    connection = sqlite3.connect(path)
    page = connection.execute("PRAGMA page_size").fetchone()[0]
    connection.close()
    return path.read_bytes(), page


def test_a_rescue_of_a_whole_archive_saves_everything(tmp_path: Path) -> None:
    damaged_archive(tmp_path / "a")
    saved = rescue.rescue(tmp_path / "a", tmp_path / "b")
    assert saved.damaged == []
    with Archive.open(tmp_path / "a") as old, Archive.open(tmp_path / "b", create=False) as new:
        assert check(new.store).findings == []
        assert new.answers().equals(old.answers())


@pytest.mark.parametrize("part", [0.1, 0.3, 0.5, 0.7, 0.9])
def test_a_rescue_saves_what_can_be_read_and_the_check_names_what_is_lost(
    tmp_path: Path, part: float
) -> None:
    """One page in the middle of the file is overwritten with noise."""
    path = tmp_path / "a"
    whole, page = damaged_archive(path)
    start = int(len(whole) // page * part) * page
    broken = whole[:start] + os.urandom(page) + whole[start + page :]
    path.write_bytes(broken)
    rescue.rescue(path, tmp_path / "b")
    assert path.read_bytes() == broken
    with Archive.open(tmp_path / "b", create=False) as new:
        report = check(new.store)
        lost = 12 * 8 * 5 - new.answers().shape[0]
        assert lost < 400
        assert (lost == 0) or report.findings


def test_a_rescue_says_when_nothing_can_be_read(tmp_path: Path) -> None:
    (tmp_path / "noise").write_bytes(os.urandom(20_000))
    with pytest.raises(DamagedArchive, match="restore a backup"):
        rescue.rescue(tmp_path / "noise", tmp_path / "b")
    with pytest.raises(MissingArchive):
        rescue.rescue(tmp_path / "none", tmp_path / "b")
    assert not (tmp_path / "b").exists()


def test_a_poisoned_table_is_not_copied(tmp_path: Path) -> None:
    with Archive.open(tmp_path / "a") as archive:
        live(archive, 1, 1)
        run_sql(f"sqlite:///{tmp_path / 'a'}", "CREATE TABLE extra (a)", "INSERT INTO extra VALUES (1)")
        with pytest.raises(UnusableArchive, match="none of an archive's"):
            copying.copy(archive.store, find(tmp_path / "b"))
    assert not (tmp_path / "b").exists()


def test_a_rescue_saves_the_tables_of_every_upgrade_step(tmp_path: Path) -> None:
    damaged_archive(tmp_path / "a")
    saved = rescue.rescue(tmp_path / "a", tmp_path / "b")
    with Archive.open(tmp_path / "b", create=False) as new, new.store.read() as connection:
        laid_out = {table.name for table in copying.tables_of(connection)}
    assert set(saved.rows) == laid_out - {"tallies"}  # tallies are counted again
