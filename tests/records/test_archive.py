"""The archive keeps what it is given, gives it back unchanged, and refuses in one sentence."""

import dataclasses
import hashlib
import json
import math
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from tests.records.conftest import HEADER, ITEMS, PLAN, answer
from trainer.instrument import catalogue
from trainer.records import frames, station
from trainer.records.answering import answer_digest
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.refusals import UnknownPerson, UnknownSession, UnusableName, UnusableRecord
from trainer.records.values import StoredAnswer


def test_a_session_comes_back_as_it_was_kept(begun: tuple[Archive, str]) -> None:
    archive, session = begun
    archive.save_answer(session, answer(1, 1002.5))
    archive.save_answer(session, answer(2, None, answer_tenths=None, outcome="skipped", typed=""))
    archive.note(session, "focus-lost", "2026-03-02T09:00:03Z", {"seconds": 2.5})
    kept = archive.session(session)
    assert kept.header == HEADER
    assert kept.plan == PLAN
    assert [(i.number, i.position_tenths, i.asks, i.extra) for i in kept.items] == [
        (i["number"], i["position_tenths"], i["asks"], {"base_line": i["base_line"]}) for i in ITEMS
    ]
    assert [(a.number, a.answer_tenths, a.outcome) for a in kept.answers] == [
        (1, 1002.5, "answered"),
        (2, None, "skipped"),
    ]
    assert [item.number for item in kept.unanswered] == [3, 4, 5]
    assert [(n.kind, n.detail) for n in kept.notes] == [("focus-lost", {"seconds": 2.5})]
    assert kept.ended_how is None


@pytest.mark.parametrize("value", [0.1 + 0.2, 1e-300, 123456789.123456789, -5e-324, 1 / 3])
def test_numbers_come_back_to_the_last_bit(begun: tuple[Archive, str], value: float) -> None:
    archive, session = begun
    archive.save_answer(session, answer(1, value))
    assert archive.session(session).answers[0].answer_tenths == value


def test_a_saved_answer_is_seen_by_another_program_at_once(begun: tuple[Archive, str], place: Any) -> None:
    archive, session = begun
    archive.save_answer(session, answer(1))
    with Archive.open(place, create=False) as other:
        assert len(other.session(session).answers) == 1


def test_the_same_answer_twice_is_kept_once_and_another_is_refused(begun: tuple[Archive, str]) -> None:
    archive, session = begun
    archive.save_answer(session, answer(1, 1001.0))
    archive.save_answer(session, answer(1, 1001.0))
    assert len(archive.answers()) == 1
    with pytest.raises(UnusableRecord, match="answered already"):
        archive.save_answer(session, answer(1, 1002.0))


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"answer_tenths": math.nan}, "finite"),
        ({"answer_tenths": "seven"}, "number"),
        ({"outcome": "guessed"}, "guessed"),
        ({"outcome": "skipped"}, "skipped"),
        ({"number": 6}, "no item 6"),
        ({"seconds": math.inf}, "finite"),
    ],
)
def test_an_answer_that_cannot_be_kept_is_refused_and_nothing_is_written(
    begun: tuple[Archive, str], changed: dict[str, Any], words: str
) -> None:
    archive, session = begun
    with pytest.raises(UnusableRecord, match=words):
        archive.save_answer(session, {**answer(1, 1001.0), **changed})
    assert archive.answers().empty


def test_a_session_can_be_resumed_after_the_program_was_gone(begun: tuple[Archive, str], place: Any) -> None:
    archive, session = begun
    archive.save_answer(session, answer(1))
    archive.close()
    with Archive.open(place, create=False) as again:
        (left,) = again.unfinished("Ana")
        assert left.id == session
        again.save_answer(session, answer(2))
        again.end_session(session, "left", "2026-03-02T10:00:00Z")
        assert again.unfinished("Ana") == []
        with pytest.raises(UnusableRecord, match="has ended"):
            again.save_answer(session, answer(3))


def test_a_session_ends_once(begun: tuple[Archive, str]) -> None:
    archive, session = begun
    archive.end_session(session, "finished", "2026-03-02T10:00:00Z")
    archive.end_session(session, "finished", "2026-03-02T10:00:00Z")
    with pytest.raises(UnusableRecord, match="ended already"):
        archive.end_session(session, "closed", "2026-03-02T10:00:00Z")
    with pytest.raises(UnusableRecord, match="not as 'won'"):
        archive.end_session(session, "won", "2026-03-02T10:00:00Z")


def test_items_dealt_later_are_kept_with_the_session(begun: tuple[Archive, str]) -> None:
    archive, session = begun
    archive.deal_more(session, [{"number": 6, "position_tenths": 5.5, "asks": "tenths"}])
    archive.save_answer(session, answer(6, 5.0))
    assert archive.session(session).items[-1].position_tenths == 5.5
    with pytest.raises(UnusableRecord, match="item 6 .* dealt already"):
        archive.deal_more(session, [{"number": 6, "position_tenths": 5.5, "asks": "tenths"}])
    before = archive.session(session)
    archive.deal_more(session, [])  # an adaptive drill that has nothing more to ask
    assert archive.session(session) == before


def test_unknown_sessions_and_persons_are_refused_with_a_remedy(archive: Archive) -> None:
    archive.add_person("Marta Quist")
    with pytest.raises(UnknownSession, match="no session 'X-1'"):
        archive.save_answer("X-1", answer(1))
    with pytest.raises(UnknownPerson, match="did you mean Marta Quist"):
        archive.person("Marta Kwist")


def test_the_frames_have_the_columns_every_room_expects(begun: tuple[Archive, str]) -> None:
    archive, session = begun
    archive.save_answer(session, answer(1, 1001.0))
    archive.save_answer(session, answer(2, None, answer_tenths=None, outcome="timed-out", typed=""))
    frame = archive.answers("Ana")
    assert list(frame.columns) == [
        "person", "truth_tenths", "answer_tenths", "session", "item", "at", "seconds", "instrument", "drill",
        "outcome", "typed", "asks", "extra", "conditions",
    ]  # fmt: skip
    assert frame["truth_tenths"].tolist() == [1000.1, 2000.2]
    assert frame["answer_tenths"].isna().tolist() == [False, True]
    (row,) = archive.sessions("Ana").to_dict("records")
    assert (row["session"], row["items"], row["answers"], row["for_record"]) == (session, 5, 2, True)
    assert archive.answers("Ana", since="2026-03-03").empty
    assert archive.answers("Ana", drill="full-reading", for_record=True).shape[0] == 2


def test_empty_frames_keep_their_columns_and_types(archive: Archive) -> None:
    assert archive.answers()["answer_tenths"].dtype == float
    assert list(archive.sessions().columns)[:2] == ["session", "person"]


@pytest.mark.parametrize(
    "name",
    ["Ana Lučić", 'O\'Neil, "Bo"', "王小明", "a" * 200, "=1+2", "מרים", "R. 🛠", "x'); DROP TABLE people;--"],
)
def test_names_of_any_script_come_back(archive: Archive, name: str) -> None:
    assert archive.add_person(name).name == name
    assert archive.person(name).name == name
    assert [p.name for p in archive.people()] == [name]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("", "empty"),
        ("  \n ", "empty"),
        ("b" * 201, "201 characters"),
        ("a\x00b", "control"),
        ("\ud800", "half"),
    ],
)
def test_names_that_cannot_be_kept_are_refused(archive: Archive, name: str, words: str) -> None:
    with pytest.raises(UnusableName, match=words):
        archive.add_person(name)
    assert archive.people() == []


@pytest.mark.parametrize("again", ["ana  lučić", "ANA LUČIĆ", "Ana Luc\u030cic\u0301"])
def test_a_name_that_is_there_already_is_refused(archive: Archive, again: str) -> None:
    archive.add_person("Ana Lučić")
    with pytest.raises(UnusableName, match="already a person"):
        archive.add_person(again)


def test_people_are_renamed_and_put_away_but_never_lost(begun: tuple[Archive, str]) -> None:
    archive, session = begun
    archive.save_answer(session, answer(1))
    archive.rename_person("Ana", "Ana Berg")
    archive.archive_person("Ana Berg")
    assert archive.people() == []
    assert [p.name for p in archive.people(include_archived=True)] == ["Ana Berg"]
    assert archive.answers("Ana Berg").shape[0] == 1
    with pytest.raises(UnusableRecord, match="put away"):
        archive.begin_session("Ana Berg", PLAN, ITEMS, HEADER)
    with pytest.raises(UnusableName, match="put away"):
        archive.add_person("Ana Berg")
    archive.archive_person("Ana Berg", back=True)
    assert archive.person("Ana Berg").archived_at is None


def test_answers_may_be_saved_from_several_threads(archive: Archive) -> None:
    ana = archive.add_person("Ana")
    items = [{"number": n, "position_tenths": float(n), "asks": "tenths"} for n in range(1, 81)]
    session = archive.begin_session(ana, PLAN, items, HEADER)
    refused: list[BaseException] = []

    def give(numbers: range) -> None:
        try:
            for number in numbers:
                archive.save_answer(session, answer(number % 60 + 1, float(number % 60 + 1), at="x"))
                archive.answers(session=session)
        except BaseException as fault:  # noqa: BLE001 - whatever it is, the test must see it
            refused.append(fault)

    threads = [threading.Thread(target=give, args=(range(k * 20, k * 20 + 20),)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert refused == []
    assert archive.answers()["item"].tolist() == list(range(1, 61))


def test_what_only_one_drill_knows_of_an_answer_is_kept_and_vouched_for(begun: tuple[Archive, str]) -> None:
    archive, session = begun
    way = {"by": "turning", "approach": "rising", "reversals": 1, "run_tenths": 3.25}
    archive.save_answer(session, {**answer(1, 1001.0), "extra": way})
    archive.save_answer(session, {**answer(1, 1001.0), "extra": way})  # the same again changes nothing
    with pytest.raises(UnusableRecord, match="answered already"):
        archive.save_answer(session, {**answer(1, 1001.0), "extra": {**way, "reversals": 2}})
    archive.save_answer(session, answer(2))
    assert [dict(given.extra) for given in archive.session(session).answers] == [way, {}]
    frame = archive.answers("Ana")
    assert [json.loads(text) if text else {} for text in frame["extra"]] == [way, {}]
    assert frame["asks"].tolist() == [item.asks for item in archive.session(session).items[:2]]
    assert check(archive.store).findings == []


def test_an_answer_with_an_extra_that_is_no_mapping_is_refused(begun: tuple[Archive, str]) -> None:
    archive, session = begun
    with pytest.raises(UnusableRecord, match="a mapping of names to values"):
        archive.save_answer(session, {**answer(1), "extra": "rising"})


def test_the_digest_of_an_answer_without_more_is_that_of_earlier_versions() -> None:
    """The canonical bytes of docs/files.md as they were before further fields were kept."""
    given = StoredAnswer(1, "7.384", 7384.0, "answered", 2.5, "2026-03-02T09:00:00Z")
    body = (
        '{"answer_tenths":7384.0,"at":"2026-03-02T09:00:00Z","outcome":"answered","seconds":2.5,'
        '"typed":"7.384"}'
    )
    assert answer_digest(given) == hashlib.sha256(body.encode()).digest()


def test_answers_come_in_the_order_in_which_sessions_began(archive: Archive) -> None:
    """More than ten sessions of one chain: the tenth does not come before the second."""
    archive.add_person("Ana")
    made = []
    for minute in range(12):
        header = dataclasses.replace(HEADER, started_at=f"2026-03-02T09:{minute:02}:00+00:00")
        made.append(archive.begin_session("Ana", PLAN, ITEMS, header))
        for number in (2, 1):
            archive.save_answer(made[-1], answer(number))
    assert sorted(made) != made
    expected = [(session, number) for session in made for number in (1, 2)]
    frame = archive.answers()
    assert list(zip(frame["session"], frame["item"], strict=True)) == expected
    assert archive.sessions()["session"].tolist() == made
    for page in (1, 3, 100):
        with archive.store.read() as connection:
            rows = [row for rows in frames.answer_pages(connection, page=page) for row in rows]
        assert [(row[3], row[4]) for row in rows] == expected


def test_sessions_of_one_moment_come_in_the_order_of_the_chain(archive: Archive) -> None:
    archive.add_person("Ana")
    made = [archive.begin_session("Ana", PLAN, ITEMS, HEADER) for _ in range(12)]
    assert sorted(made) != made
    assert archive.sessions()["session"].tolist() == made


def test_answers_carry_the_conditions_of_their_session(archive: Archive) -> None:
    """The visual angle by hand: 2 atan(s / 2 D), a division of 1 mm at 250 mm being 13.75 minutes of arc."""
    archive.add_person("Ana")
    clear = {"px_per_mm": 20.0, "distance_mm": 250.0}
    poor = {**clear, "blur_mm": 0.1, "glare": 0.3}
    for viewing, plan in (
        (clear, PLAN),
        (poor, PLAN),
        (clear, {**PLAN, "exposure_seconds": 2.0}),
        ({}, PLAN),
    ):
        header = dataclasses.replace(HEADER, viewing=viewing)
        archive.save_answer(archive.begin_session("Ana", plan, ITEMS, header), answer(1))
    words = ["clear", "blur 0.1 mm, glare 0.3", "seen for 2 s", ""]
    assert archive.answers()["conditions"].tolist() == words
    sessions = archive.sessions()
    assert sessions["conditions"].tolist() == words
    arc_mm = catalogue.load("metric").division_arc_mm
    angle = 60 * math.degrees(2 * math.atan(arc_mm / 500))
    assert sessions["division_arcmin"].tolist()[:3] == pytest.approx([angle] * 3)
    assert math.isnan(sessions["division_arcmin"].tolist()[3])


def test_programs_that_start_at_once_at_a_new_station_take_the_same_code(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file is there whole or not at all: one that looks meanwhile must not find half of it."""
    monkeypatch.delenv("TENTHWISE_STATION")
    for index in range(20):
        together = threading.Barrier(4)

        def code(folder: Path = tmp_path / str(index), together: threading.Barrier = together) -> str:
            together.wait()
            return station.code(folder)

        with ThreadPoolExecutor(4) as pool:
            taken = {one.result() for one in [pool.submit(code) for _ in range(4)]}
        assert len(taken) == 1
        assert [one.name for one in (tmp_path / str(index)).iterdir()] == ["station.json"]
