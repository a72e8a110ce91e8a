"""Whatever is changed, taken away, put in or swapped past the program is found and named."""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import pytest
from sqlalchemy import Column, Engine, MetaData, Table, Update, create_engine, select, text, update

from tests.records.conftest import HEADER, ITEMS, PLAN, HandClock, answer
from trainer.records import accounts, documents, statements
from trainer.records import tables as records
from trainer.records.answering import answer_digest
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.take_in import take_in

# accounts, tickets, closings, openings, statements and their standing are all kept as documents
DOCUMENTS = (
    accounts.KEY, accounts.REVOCATION, statements.TICKET, statements.CLOSING, statements.OPENING,
    statements.STATEMENT, statements.CHANGE,
)  # fmt: skip


@pytest.fixture
def lived(archive: Archive, tmp_path: Any) -> Archive:
    """Give an archive with some of everything."""
    ana, bo = archive.add_person("Ana"), archive.add_person("Bo")
    for person in (ana, bo):
        session = archive.begin_session(person, PLAN, ITEMS, HEADER)
        for number in (1, 2, 3):
            archive.save_answer(session, answer(number))
        archive.note(session, "pause", "2026-03-02T09:01:00Z", {"seconds": 3})
        archive.deal_more(session, [{"number": 6, "position_tenths": 5.5, "asks": "tenths"}])
        archive.save_answer(session, answer(6, 5.0))
        archive.end_session(session, "finished", "2026-03-02T09:05:00Z")
    archive.begin_session(ana, PLAN, ITEMS, HEADER)
    archive.rename_person("Bo", "Bo Lind")
    archive.archive_person("Bo Lind")
    for kind in DOCUMENTS:  # the check does not look into a document; tests/signoff/test_altered.py does
        documents.keep(archive, kind, ana.id, {"body": {"of": kind}, "signature": "c2lnbmVk"}, who="Ruth")
    archive.set_setting("team", {"name": "north"})
    archive.set_setting("team", {"name": "south"})
    (tmp_path / "in.csv").write_text(
        "person,truth_tenths,answer_tenths,session,item\nCy,10.5,10,S1,1\nCy,20.5,,S1,2\n", encoding="utf-8"
    )
    take_in(archive.store, tmp_path / "in.csv")
    return archive


@contextmanager
def outsider(archive: Archive) -> Iterator[tuple[Engine, MetaData]]:
    """Give the database as somebody has it who has full access to it, past the program."""
    url = f"sqlite:///{archive.place.path}" if archive.place.path else archive.place.url
    assert url
    options = [] if archive.place.path else ["-c session_replication_role=replica"]  # no foreign keys
    engine = create_engine(url, connect_args={"options": options[0]} if options else {})
    tables = MetaData()
    tables.reflect(bind=engine)
    yield engine, tables
    engine.dispose()


def tamper(archive: Archive, change: Callable[[Any, MetaData], object]) -> None:
    """Make one change past the program."""
    with outsider(archive) as (engine, tables), engine.begin() as connection:
        change(connection, tables)


def test_an_untouched_archive_is_whole(lived: Archive) -> None:
    report = check(lived.store)
    assert report.findings == []
    assert (report.people, report.sessions, report.answers) == (3, 4, 10)
    assert report.acts == sum(head["seq"] for head in report.heads.values())


def test_many_findings_are_named_up_to_a_limit_and_counted_beyond(
    lived: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    tamper(lived, lambda connection, _: connection.execute(text("UPDATE answers SET typed = 'x'")))
    every = check(lived.store)
    assert len(every.findings) == 9  # two sessions of four answers, and the one that came from a file
    monkeypatch.setattr("trainer.records.check.MOST_FINDINGS", 4)
    short = check(lived.store)
    assert short.findings == every.findings[:4]
    assert short.to_dict()["findings_not_listed"] == 5


def test_how_far_a_check_has_come_is_told_every_so_many_acts(
    lived: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trainer.records.check.STEP", 7)
    told: list[int] = []
    acts = check(lived.store, told=told.append).acts
    assert acts > 14
    assert told == list(range(7, acts + 1, 7))


def test_every_field_of_every_table_is_watched(lived: Archive) -> None:
    """Flip each field of the last row of each table in turn: each is found, and all is well in between."""
    unwatched = []
    with outsider(lived) as (engine, tables):
        with engine.connect() as connection:
            filled = [t for t in tables.sorted_tables if connection.execute(select(t).limit(1)).first()]
        wanted = {table.name for table in records.metadata.sorted_tables} | {"documents"}
        assert {table.name for table in filled} >= wanted
        fields = [(table, column) for table in filled for column in table.c]
        assert len(fields) > 50
        for table, column in fields:
            undo = _flip(engine, table, column)
            if check(lived.store).whole:
                unwatched.append(str(column))
            with engine.begin() as connection:
                connection.execute(undo)
            assert check(lived.store).findings == [], column
    assert unwatched == []


def _flip(engine: Engine, table: Table, column: Column[Any]) -> Update:
    """Flip one field of the last row; return the statement that sets it right again."""
    keys = list(table.primary_key) or list(table.c)
    with engine.begin() as connection:
        newest = select(table).order_by(*(key.desc() for key in keys)).limit(1)
        row = connection.execute(newest).one()._mapping
        after = {**row, column.name: _flipped(row[column.name])}
        here = [key == row[key.name] for key in keys]
        connection.execute(update(table).where(*here).values({column.name: after[column.name]}))
    there = [key == after[key.name] for key in keys]
    return update(table).where(*there).values({column.name: row[column.name]})


def _flipped(value: Any) -> Any:
    if isinstance(value, bytes | memoryview):
        return bytes([bytes(value)[0] ^ 1]) + bytes(value)[1:]
    if isinstance(value, str):
        return value + "x"
    return 1 if value is None else value + 1


@pytest.mark.parametrize(
    ("statement", "found"),
    [
        ("DELETE FROM answers WHERE number = 2", "answer 2 of session"),
        ("DELETE FROM acts WHERE kind = 'note'", "missing from the log"),
        ("DELETE FROM acts WHERE seq > 20", "missing at the end of the log"),
        ("DELETE FROM people WHERE name = 'Ana'", "is missing"),
        ("DELETE FROM sessions WHERE ended_how IS NULL", "is missing"),
        ("DELETE FROM sessions WHERE id = 'S1'", "session S1 is missing"),
        ("DELETE FROM items WHERE number = 5", "1 item of session"),
        ("DELETE FROM items WHERE number IN (4, 5)", "2 items of session"),
        ("DELETE FROM settings", "setting team is missing"),
        ("DELETE FROM chains", "its head is missing"),
        ("DELETE FROM documents WHERE kind = 'statement'", "is missing"),
        ("DELETE FROM acts WHERE kind = 'document'", "missing from the log"),
        ("UPDATE documents SET about = 'X' WHERE kind = 'check'", "(check) has been changed"),
        ("UPDATE documents SET kind = 'statement' WHERE kind = 'attempt'", "(statement) has been changed"),
        (
            "INSERT INTO documents SELECT id || 'x', kind, about, body, chain, seq FROM documents "
            "WHERE kind = 'key'",
            "has no act that tells of it",
        ),
        ("UPDATE answers SET number = number + 100 WHERE number = 6", "put in past the log, or moved"),
        ('UPDATE settings SET value = \'{"name":"north"}\'', "setting team"),
        ("UPDATE answers SET answer_tenths = answer_tenths + 1 WHERE session = 'S1'", "came from a file"),
        (
            "INSERT INTO answers SELECT session, 4, typed, answer_tenths, outcome, seconds, at, chain, seq, "
            "extra FROM answers WHERE number = 3",
            "answer 4 of session",
        ),
        (
            "INSERT INTO people SELECT 'X', 'X', 'x', added_at, archived_at, salt, 1, chain, seq FROM people "
            "WHERE name = 'Ana'",
            "put in past the log",
        ),
    ],
)
def test_what_is_taken_away_or_put_in_is_named(lived: Archive, statement: str, found: str) -> None:
    tamper(lived, lambda connection, _: connection.execute(text(statement)))
    findings = check(lived.store).findings
    assert any(found in sentence for sentence in findings), findings


def test_missing_acts_are_named_from_first_to_last(lived: Archive) -> None:
    (chain,) = check(lived.store).heads
    tamper(
        lived, lambda connection, _: connection.execute(text("DELETE FROM acts WHERE seq IN (5, 6, 7, 9)"))
    )
    missing = [one for one in check(lived.store).findings if one.endswith("missing from the log")]
    assert missing == [
        f"acts {chain}-5 to {chain}-7 are missing from the log",
        f"act {chain}-9 is missing from the log",
    ]


def test_two_answers_swapped_are_both_named(lived: Archive) -> None:
    def swap(connection: Any, tables: MetaData) -> None:
        own = tables.tables["answers"]
        session = connection.execute(select(own.c.session).where(own.c.number == 6).limit(1)).scalar()
        for old, new in ((1, -1), (2, 1), (-1, 2)):
            here = (own.c.session == session, own.c.number == old)
            connection.execute(update(own).where(*here).values(number=new))

    tamper(lived, swap)
    findings = " ".join(check(lived.store).findings)
    assert "answer 1 of" in findings
    assert "answer 2 of" in findings


def test_two_documents_swapped_are_both_named(lived: Archive) -> None:
    """Bodies exchanged between two statements; then their places in the log."""
    documents.keep(lived, statements.STATEMENT, "X-1", {"body": {"of": "another"}}, who="Ruth")
    first, last = (one.id for one in documents.listed(lived, statements.STATEMENT))

    def swap(*columns: str) -> None:
        def exchanged(connection: Any, tables: MetaData) -> None:
            own = tables.tables["documents"]
            rows = {row.id: row._mapping for row in connection.execute(select(own))}
            for here, there in ((first, last), (last, first)):
                changed = {column: rows[there][column] for column in columns}
                connection.execute(update(own).where(own.c.id == here).values(changed))

        tamper(lived, exchanged)

    for columns in (("body",), ("about", "body"), ("chain", "seq")):
        swap(*columns)
        findings = " ".join(check(lived.store).findings)
        assert f"document {first} " in findings, columns
        assert f"document {last} " in findings, columns
        swap(*columns)
        assert check(lived.store).whole


def test_an_answer_changed_together_with_its_digest_is_found_by_the_hash_of_its_act(lived: Archive) -> None:
    """Who changes a record and the digest that vouches for it has the chain against them: it covers both."""
    listed = lived.sessions()
    session = listed[listed["answers"] == 4]["session"].iloc[0]
    kept = next(one for one in lived.session(session).answers if one.number == 2)

    def forge(connection: Any, tables: MetaData) -> None:
        own, acts = tables.tables["answers"], tables.tables["acts"]
        told = (acts.c.kind == "answer", acts.c.session == session, acts.c.number == 2)
        there = (own.c.session == session, own.c.number == 2)
        connection.execute(update(own).where(*there).values(answer_tenths=1999.0))
        made = answer_digest(replace(kept, answer_tenths=1999.0))
        connection.execute(update(acts).where(*told).values(digest=made))

    tamper(lived, forge)
    findings = check(lived.store).findings
    assert [one for one in findings if "(answer) has been changed" in one]
    assert not [one for one in findings if "since it was given" in one]  # record and digest do agree


def test_two_acts_swapped_are_found(lived: Archive) -> None:
    def swap(connection: Any, tables: MetaData) -> None:
        own = tables.tables["acts"]
        for old, new in ((5, -1), (6, 5), (-1, 6)):
            connection.execute(update(own).where(own.c.seq == old).values(seq=new))

    tamper(lived, swap)
    assert any("-5 (" in sentence for sentence in check(lived.store).findings)


def test_an_archive_set_back_as_a_whole_is_found_by_the_heads_of_an_earlier_check(lived: Archive) -> None:
    heads = json.loads(json.dumps(check(lived.store).to_dict()))["heads"]
    assert check(lived.store, since=heads).whole

    def set_back(connection: Any, tables: MetaData) -> None:
        acts, chains = tables.tables["acts"], tables.tables["chains"]
        last = connection.execute(select(acts).order_by(acts.c.seq.desc()).limit(3)).all()
        for table in ("answers", "items", "tallies", "sessions"):
            column = "id" if table == "sessions" else "session"
            connection.execute(text(f"DELETE FROM {table} WHERE {column} = 'S1'"))
        connection.execute(text("DELETE FROM people WHERE name = 'Cy'"))
        connection.execute(acts.delete().where(acts.c.seq > last[2].seq))
        head = {"seq": last[2].seq, "hash": last[2].hash, "last_at": last[2].at}
        connection.execute(update(chains).values(**head))

    tamper(lived, set_back)
    assert check(lived.store).whole  # nothing inside the archive can tell
    assert any(
        "stood at the earlier check" in sentence for sentence in check(lived.store, since=heads).findings
    )


def test_a_clock_set_back_is_noted_in_the_log(archive: Archive, clock: HandClock) -> None:
    archive.add_person("Ana")
    clock.now = clock.now.replace(year=2025)
    archive.add_person("Bo")
    kinds: list[str] = []
    tamper(
        archive, lambda c, _: kinds.extend(c.execute(text("SELECT kind FROM acts ORDER BY seq")).scalars())
    )
    assert kinds == ["archive-made", "person-added", "clock-set-back", "person-added"]
    assert check(archive.store).whole


def test_a_person_is_pseudonymised_without_breaking_the_chain(lived: Archive) -> None:
    code = lived.pseudonymise_person("Ana").name
    assert code.startswith("Person ")
    assert check(lived.store).whole
    everything: list[str] = []

    def read_all(connection: Any, tables: MetaData) -> None:
        for table in tables.sorted_tables:
            everything.extend(str(row) for row in connection.execute(select(table)))

    tamper(lived, read_all)
    assert not any("'Ana'" in row or "ana" in row for row in everything)


def test_acts_of_other_rooms_share_the_fate_of_their_rows(archive: Archive) -> None:
    place = archive.act("statement-signed", who="X-1", detail={"statement": 7}, digest=bytes(32))
    assert place == f"{archive.store.chain}-2"

    def fail() -> None:
        with archive.acting("key-made") as (connection, _):
            connection.execute(text("INSERT INTO settings VALUES ('a', 'b', 'c', 1)"))
            raise KeyError

    with pytest.raises(KeyError):
        fail()
    assert archive.setting("a") is None
    assert check(archive.store).whole
