"""What a power cut leaves: the log cut anywhere, and a file into which the log was half taken in.

SQLite promises that a commit is on disk when it returns (synchronous=FULL), and nothing of what comes after.
So an image of a cut holds the log up to some byte at or after the last commit that was confirmed, whole or
with noise behind it, and the file with any of the pages that a checkpoint was writing, old, new or torn
(https://www.sqlite.org/wal.html, https://www.sqlite.org/fileformat.html section 4).
"""

import contextlib
import random
import sqlite3
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.records.conftest import HEADER, PLAN, answer
from tests.records.faulty import frames
from trainer.records import rescue, upgrade
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.refusals import DamagedArchive, NotAnArchive, UnusableArchive

ITEMS = [{"number": n, "position_tenths": float(n), "asks": "tenths"} for n in range(1, 61)]
GIVEN = 16  # answers of the session; each takes a handful of frames


class Images:
    """An archive of before, the log of a session's answers, and where in the log each was confirmed."""

    def __init__(self, folder: Path) -> None:
        """Take the session, keep the log from being taken into the file, and copy both."""
        path = folder / "a"
        with Archive.open(path) as archive:
            self.session = archive.begin_session(archive.add_person("Ana"), PLAN, ITEMS, HEADER)
        wal = folder / "a-wal"
        with contextlib.closing(
            sqlite3.connect(path)
        ) as holds_back:  # as long as it reads, no checkpoint ends
            with Archive.open(path) as archive:
                archive.person("Ana")
                holds_back.execute("BEGIN")
                holds_back.execute("SELECT count(*) FROM answers").fetchone()
                self.confirmed: list[int] = []
                for number in range(1, GIVEN + 1):
                    archive.save_answer(self.session, answer(number, float(number), at="x"))
                    self.confirmed.append(wal.stat().st_size)
            self.before, self.log = path.read_bytes(), wal.read_bytes()
            holds_back.execute("ROLLBACK")
            holds_back.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self.after = path.read_bytes()
        self.page = struct.unpack(">H", self.before[16:18])[0]

    def kept(self, cut: int) -> int:
        """Return how many answers were confirmed when the log ended at a byte."""
        return sum(size <= cut for size in self.confirmed)


@pytest.fixture(scope="module")
def images(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Images]:
    """Give the images of one session."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TENTHWISE_STATION", "TESTSTAT")
        yield Images(tmp_path_factory.mktemp("images"))


def lay(folder: Path, file: bytes, log: bytes | None) -> Path:
    """Write an image into an empty folder."""
    for one in folder.glob("a*"):
        one.unlink()
    (folder / "a").write_bytes(file)
    if log is not None:
        (folder / "a-wal").write_bytes(log)
    return folder / "a"


def answers_of(path: Path) -> list[int]:
    """Return the answers of an archive that must be whole and must be able to go on."""
    with Archive.open(path, create=False) as archive:
        assert check(archive.store).findings == []
        kept = [int(number) for number in archive.answers()["item"]]
        archive.save_answer(archive.sessions()["session"].item(), answer(len(kept) + 1, 1.0))
        return kept


def test_the_log_cut_at_every_frame_and_within_keeps_what_was_confirmed(
    images: Images, tmp_path: Path
) -> None:
    ends = frames(images.log)
    assert len(ends) > 2 * GIVEN
    assert images.confirmed[-1] <= len(images.log)
    chance = random.Random(5)
    cuts = {0, 1, 31, *ends, len(images.log)}
    for end in chance.sample(
        ends[:-1], 10
    ):  # within the header of the next frame, its page, and just before its end
        cuts |= {end + 1, end + 23, end + 24 + chance.randrange(images.page), end + 24 + images.page - 1}
    for cut in sorted(cuts):
        path = lay(tmp_path, images.before, images.log[:cut])
        assert len(answers_of(path)) == images.kept(cut), cut


@pytest.mark.parametrize("behind", ["noise", "zeros", "an old frame"])
def test_a_torn_end_of_the_log_is_not_taken_for_answers(images: Images, tmp_path: Path, behind: str) -> None:
    chance = random.Random(6)
    ends = frames(images.log)
    for cut in chance.sample(ends[:-2], 12):
        size = 24 + images.page
        tail = {
            "noise": chance.randbytes(size + 100),
            "zeros": bytes(2 * size),
            "an old frame": images.log[32 : 32 + size],
        }[behind]
        path = lay(tmp_path, images.before, images.log[:cut] + tail)
        assert len(answers_of(path)) == images.kept(cut)


def pages_mixed(images: Images, chance: random.Random) -> bytes:
    """Return the file amid a checkpoint: some pages new, some old, one torn, perhaps cut short."""
    size = images.page
    old, new = images.before.ljust(len(images.after), b"\0"), images.after
    mixed = [
        (new if chance.random() < 0.5 else old)[start : start + size] for start in range(0, len(new), size)
    ]
    torn, half = chance.randrange(len(mixed)), chance.randrange(1, size)
    start = torn * size
    mixed[torn] = new[start : start + half] + old[start + half : start + size]
    whole = b"".join(mixed)
    return whole if chance.random() < 0.5 else whole[: max(len(images.before), len(whole) - size)]


def test_a_file_into_which_the_log_was_half_taken_in_is_mended_by_the_log(
    images: Images, tmp_path: Path
) -> None:
    chance = random.Random(7)
    for _ in range(40):
        path = lay(tmp_path, pages_mixed(images, chance), images.log)
        assert answers_of(path) == list(range(1, GIVEN + 1))


def test_a_file_whose_log_is_lost_is_recognised_or_found_and_what_is_there_is_saved(
    images: Images, tmp_path: Path
) -> None:
    """A drive that lied about what it had written: never taken for whole, never written to, and rescued."""
    chance = random.Random(8)
    verdicts = {"refused at opening": 0, "found by the check": 0, "a state that was": 0}
    (tmp_path / "to").mkdir()
    for index in range(30):
        image = pages_mixed(images, chance)
        path = lay(tmp_path, image, None)
        try:
            with Archive.open(path, create=False) as archive:
                report = check(archive.store)
                kept = len(archive.answers())
            verdicts["found by the check" if report.findings else "a state that was"] += 1
            assert report.findings or kept in (0, GIVEN)
        except (DamagedArchive, NotAnArchive):
            verdicts["refused at opening"] += 1
        if path.read_bytes() == image:  # opening a whole file may tidy its header; damage is left as it is
            saved = rescue.rescue(path, tmp_path / "to" / str(index))
            with Archive.open(tmp_path / "to" / str(index), create=False) as new:
                with new.store.read() as connection:  # an answer is saved even where its item is lost
                    rows = connection.exec_driver_sql("SELECT count(*) FROM answers").scalar()
                assert rows == saved.rows["answers"]
                assert new.people()[0].name == "Ana"
    assert verdicts["refused at opening"] + verdicts["found by the check"] > 15, verdicts


def test_damage_is_recognised_before_anything_is_written(images: Images, tmp_path: Path) -> None:
    """Each page in turn is overwritten with noise; where opening refuses, every byte stays as it was."""
    chance = random.Random(9)
    refused = 0
    for start in range(0, len(images.after), images.page):
        broken = images.after[:start] + chance.randbytes(images.page) + images.after[start + images.page :]
        path = lay(tmp_path, broken, None)
        try:
            with Archive.open(path, create=False) as archive:
                assert check(archive.store).findings
        except UnusableArchive:
            refused += 1
            assert path.read_bytes() == broken
            assert sorted(one.name for one in tmp_path.glob("a*")) == ["a"]
    assert refused == len(images.after) // images.page


def test_an_upgrade_cut_at_any_moment_is_not_begun_or_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "old"
    with Archive.open(path) as archive:
        archive.add_person("Ana")
    before = path.read_bytes()
    known = list(upgrade.STEPS)

    def later(connection: Any) -> None:
        connection.exec_driver_sql("CREATE TABLE later (a TEXT)")
        for _ in range(20):
            connection.exec_driver_sql("INSERT INTO later VALUES (hex(zeroblob(1000)))")

    monkeypatch.setattr(upgrade, "STEPS", [*known, later])
    with contextlib.closing(sqlite3.connect(path)) as holds_back:
        holds_back.execute("BEGIN")
        holds_back.execute("SELECT count(*) FROM answers").fetchone()
        Archive.open(path).close()
        log = path.with_name("old-wal").read_bytes()
    monkeypatch.setattr(upgrade, "STEPS", known)
    (tmp_path / "cut").mkdir()
    versions = set()
    ends = frames(log)
    for cut in sorted({0, *ends, *(end - 5 for end in ends)}):
        image = lay(tmp_path / "cut", before, log[:cut])
        monkeypatch.setattr(upgrade, "STEPS", [*known, later])
        with contextlib.suppress(UnusableArchive):
            with Archive.open(image, create=False, upgrade=False) as archive:
                assert cut == ends[-1]
                versions.add(archive.store.version())
                assert check(archive.store).findings == []
            continue
        monkeypatch.setattr(upgrade, "STEPS", known)
        with Archive.open(image, create=False) as archive:
            versions.add(archive.store.version())
            assert [one.name for one in archive.people()] == ["Ana"]
            assert check(archive.store).findings == []
    assert versions == {len(known), len(known) + 1}
