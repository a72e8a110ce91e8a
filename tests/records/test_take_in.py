"""Taking in by batches: rows of sessions in any order, few in memory, nothing kept after a fault."""

from pathlib import Path

import numpy as np
import pytest

from tests.records.conftest import HandClock
from trainer.records import answers_in, staging, take_in
from trainer.records.answers_in import UnusableFile
from trainer.records.archive import Archive
from trainer.records.check import check

COLUMNS = "person,truth_tenths,answer_tenths,session,item,seconds\n"


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make every bound so small that a short file meets it."""
    monkeypatch.setattr(staging, "MOST_WAITING", 7)
    monkeypatch.setattr(take_in, "BATCH_ROWS", 10)
    monkeypatch.setattr(take_in, "BATCH_SESSIONS", 3)


def lines(sessions: int = 11, each: int = 4) -> list[str]:
    """Return rows of many sessions, three people in turn."""
    chance = np.random.default_rng(4)
    return [
        f"{('Ana', 'Bo', 'Cy')[s % 3]},{chance.uniform(0, 25_000)!r},{chance.uniform(0, 25_000)!r},S{s},{n},"
        f"{chance.gamma(3)!r}\n".replace("np.float64(", "").replace(")", "")
        for s in range(sessions)
        for n in range(1, each + 1)
    ]


def contents(archive: Archive) -> list[tuple[object, ...]]:
    frame = archive.answers().drop(columns=["at"]).sort_values(["session", "item"])
    return [tuple(row) for row in frame.astype(object).where(frame.notna(), None).itertuples(index=False)]


@pytest.mark.usefixtures("small")
def test_rows_in_any_order_make_the_same_archive(archive: Archive, tmp_path: Path) -> None:
    rows = lines()
    mixed = sorted(rows, key=lambda line: (int(line.split(",")[4]), line.split(",")[3]))  # item by item
    for name, content in (("a.csv", rows), ("b.csv", mixed)):
        (tmp_path / name).write_text(COLUMNS + "".join(content), "utf-8")
    done = take_in.take_in(archive.store, tmp_path / "a.csv")
    assert (done.answers, done.sessions, done.people_added) == (44, 11, ["Ana", "Bo", "Cy"])
    assert check(archive.store).findings == []
    with Archive.open(tmp_path / "other") as other:
        take_in.take_in(other.store, tmp_path / "b.csv")
        assert contents(other) == contents(archive)
        assert check(other.store).findings == []
        assert sum(row.sessions for row in other.team().itertuples()) == 11  # the tallies are kept too
    assert take_in.take_in(archive.store, tmp_path / "b.csv").sessions_there_already == 11


@pytest.mark.usefixtures("small")
@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("Ana,x,1,S9,9,1\n", "line 46: truth_tenths is 'x'"),
        ("Ana,1,1,S0,3,1\n", "line 46: item 3 of session 'S0' was on line 4 already"),
        ("Ana,1,1,S0,,1\n", "some rows of session 'S0' have no item number"),
        ("Bo,1,1,S0,9,1\n", "line 46: session 'S0' belongs to another person above"),
    ],
)
def test_a_fault_in_the_last_line_keeps_nothing_at_all(
    archive: Archive, tmp_path: Path, line: str, told: str
) -> None:
    (tmp_path / "a.csv").write_text(COLUMNS + "".join(lines()) + line, "utf-8")
    with pytest.raises(UnusableFile, match=told):
        take_in.take_in(archive.store, tmp_path / "a.csv")
    assert archive.people() == []
    assert archive.sessions().empty
    with pytest.raises(UnusableFile, match=told):
        take_in.look(archive.store, tmp_path / "a.csv")


def test_a_look_tells_what_would_come_and_keeps_nothing(archive: Archive, tmp_path: Path) -> None:
    rows = lines()
    (tmp_path / "a.csv").write_text(COLUMNS + "".join(rows[:20]), "utf-8")
    (tmp_path / "b.csv").write_text(COLUMNS + "".join(rows), "utf-8")
    take_in.take_in(archive.store, tmp_path / "a.csv")
    seen, sessions = take_in.look(archive.store, tmp_path / "b.csv")
    assert (seen.answers, seen.sessions, seen.sessions_there_already) == (24, 6, 5)
    assert seen.people_added == []
    assert len(sessions) == 11
    assert len(archive.sessions()) == 5
    nowhere, _ = take_in.look(None, tmp_path / "b.csv")
    assert (nowhere.answers, nowhere.people_added) == (44, ["Ana", "Bo", "Cy"])


def test_a_clock_that_was_set_back_is_told_once(archive: Archive, clock: HandClock, tmp_path: Path) -> None:
    archive.add_person("Dee")
    clock.now = clock.now.replace(hour=8)
    (tmp_path / "a.csv").write_text(COLUMNS + "".join(lines()), "utf-8")
    take_in.take_in(archive.store, tmp_path / "a.csv")
    with archive.store.read() as connection:
        kinds = connection.exec_driver_sql("SELECT kind FROM acts").all()
    assert [row[0] for row in kinds].count("clock-set-back") == 1
    assert check(archive.store).findings == []


def test_the_quick_way_and_the_careful_way_read_the_same(tmp_path: Path) -> None:
    """Numbers written otherwise go the careful way; what comes out is the same row but for its line."""
    plain = "Ana,7384.25,-0.5,S,1,2.5\nAna,1e3,,S,2,\n"
    careful = 'Ana ,"7384,25",\N{MINUS SIGN}0.5,S,1.0, 2.5\nAna,+1000,,S, 2,\n'
    for name, content in (("a.csv", plain), ("b.csv", careful)):
        (tmp_path / name).write_text(COLUMNS + content, "utf-8")
    first, second = (list(answers_in.read(tmp_path / name)) for name in ("a.csv", "b.csv"))
    assert first == second


def test_a_session_of_another_time_zone_is_found_by_its_day_in_utc(archive: Archive, tmp_path: Path) -> None:
    """Its answers keep their moments as written, so that the file taken in again is passed over."""
    columns = "person,truth_tenths,answer_tenths,session,at\n"
    west, east = "Ana,1,2,west,2026-01-31T23:30:00-05:00\n", "Ana,1,2,east,2026-02-01T00:30:00+01:00\n"
    (tmp_path / "a.csv").write_text(columns + west + east, "utf-8")
    take_in.take_in(archive.store, tmp_path / "a.csv")
    frame = archive.sessions()
    assert frame["session"].tolist() == ["east", "west"]
    assert frame["started_at"].tolist() == ["2026-01-31T23:30:00Z", "2026-02-01T04:30:00Z"]
    assert archive.sessions(since="2026-02-01")["session"].tolist() == ["west"]
    assert archive.answers(session="west")["at"].item() == "2026-01-31T23:30:00-05:00"
    assert take_in.take_in(archive.store, tmp_path / "a.csv").sessions_there_already == 2
    assert check(archive.store).findings == []
