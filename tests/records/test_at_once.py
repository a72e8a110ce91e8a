"""An answer goes to a server in one statement where it may, and the long way wherever that would be wrong."""

import threading
from collections.abc import Callable, Iterator
from datetime import timedelta

import psycopg
import pytest

from tests.records import test_roles
from tests.records.conftest import HEADER, ITEMS, PLAN, HandClock, answer
from trainer.records import answering
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.refusals import UnusableRecord

END = "2026-03-02T10:00:00Z"
url = test_roles.url


@pytest.fixture
def server(new_database: Callable[[], str], clock: HandClock) -> Iterator[tuple[Archive, str]]:
    """Give an archive on a server with a session of five items begun, and check it at the end."""
    with Archive.open(new_database(), clock=clock) as archive:
        yield archive, archive.begin_session(archive.add_person("Ana"), PLAN, ITEMS, HEADER)
        report = check(archive.store)
        assert report.whole, report.findings


@pytest.fixture
def ways(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """Note for each answer whether one statement was enough."""
    taken: list[bool] = []
    short = answering._at_once

    def noted(*given: object) -> bool:
        taken.append(short(*given))  # type: ignore[arg-type]
        return taken[-1]

    monkeypatch.setattr(answering, "_at_once", noted)
    return taken


def test_answers_in_a_row_take_one_statement_each(server: tuple[Archive, str], ways: list[bool]) -> None:
    archive, session = server
    for number in range(1, 6):
        archive.save_answer(session, answer(number))
        archive.note(session, "pause", END)
    assert ways == [True] * 5
    assert list(archive.answers()["item"]) == [1, 2, 3, 4, 5]


def test_what_is_unusual_takes_the_long_way_and_is_told(
    server: tuple[Archive, str], ways: list[bool], clock: HandClock
) -> None:
    archive, session = server
    archive.save_answer(session, answer(1))
    archive.save_answer(session, answer(1))  # the same again
    with pytest.raises(UnusableRecord, match="answered already"):
        archive.save_answer(session, answer(1, 17.0))
    archive.save_answer(session, answer(2))
    with pytest.raises(UnusableRecord, match="no item 9"):
        archive.save_answer(session, answer(9))
    archive.save_answer(session, answer(3))
    archive.save_answer(session, answer(4))
    clock.now -= timedelta(days=365)
    archive.save_answer(session, answer(5))
    assert ways == [True, False, False, True, False, True, True, False]
    assert list(archive.answers()["item"]) == [1, 2, 3, 4, 5]


def test_two_programs_of_one_chain_do_not_disturb_each_other(
    server: tuple[Archive, str], clock: HandClock
) -> None:
    archive, session = server
    with Archive.open(archive.place.url, create=False, clock=clock, chain=archive.store.chain) as second:
        for number in range(1, 6):
            (archive if number % 2 else second).save_answer(session, answer(number))
    assert list(archive.answers()["item"]) == [1, 2, 3, 4, 5]


def test_a_session_ended_at_another_station_takes_no_more_answers(
    server: tuple[Archive, str], clock: HandClock
) -> None:
    archive, session = server
    archive.save_answer(session, answer(1))
    with Archive.open(archive.place.url, create=False, clock=clock, chain="STAT0002") as second:
        second.end_session(session, "left", END)
    with pytest.raises(UnusableRecord, match="ended"):
        archive.save_answer(session, answer(2))


@pytest.mark.parametrize("known", [True, False], ids=["one statement", "the long way"])
def test_an_end_that_comes_at_the_same_moment_is_waited_for(server: tuple[Archive, str], known: bool) -> None:
    """The other station's end is not yet committed when the answer comes: one of the two has to give way."""
    archive, session = server
    archive.save_answer(session, answer(1))
    if not known:
        archive.store.head = None
    told: list[str] = []

    def give() -> None:
        try:
            archive.save_answer(session, answer(2))
        except UnusableRecord as refused:
            told.append(str(refused))

    with psycopg.connect(test_roles.plain(str(archive.store.engine.url))) as other:
        other.execute("UPDATE sessions SET ended_how = 'left' WHERE id = %s", (session,))
        thread = threading.Thread(target=give)
        thread.start()
        thread.join(0.5)
        assert thread.is_alive()
        other.commit()
        thread.join(20)
        assert len(told) == 1
        assert "ended" in told[0]
        other.execute(
            "UPDATE sessions SET ended_how = NULL WHERE id = %s", (session,)
        )  # as the check expects
        other.commit()


def test_a_station_with_its_role_may_take_the_short_way(url: test_roles.Url, ways: list[bool]) -> None:
    test_roles.take(url, "one")
    assert ways == [True] * 5


def test_a_connection_that_is_lost_is_made_anew(server: tuple[Archive, str], ways: list[bool]) -> None:
    archive, session = server
    archive.save_answer(session, answer(1))
    with psycopg.connect(test_roles.plain(str(archive.store.engine.url)), autocommit=True) as other:
        other.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'tenthwise'"
        )
    archive.save_answer(session, answer(2))
    archive.save_answer(session, answer(3))
    assert ways == [True, False, True]
    assert list(archive.answers()["item"]) == [1, 2, 3]
