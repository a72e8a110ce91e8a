"""The tables against what the log of acts tells of them: changed, missing and slipped-in records by name."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, and_, or_, select

from trainer.records import documents, tally
from trainer.records.canonical import digest, holds
from trainer.records.chain import archive_digest
from trainer.records.names import name_key
from trainer.records.people import person_digest
from trainer.records.settings import setting_digest
from trainer.records.sittings import end_digest, items_body, session_digest
from trainer.records.tables import acts, answers, archive, items, people, sessions, settings
from trainer.records.take_in import imported_digest

if TYPE_CHECKING:
    from trainer.records.check import Report, Seen

Rows = list[dict[str, Any]]
Check = Callable[[Connection], Iterator[str]]

# Checks of tables that later upgrade steps add: each yields one sentence for each record that is not whole.
FURTHER: list[Check] = [documents.check]


def all_of(connection: Connection, seen: "Seen", report: "Report") -> Iterator[str]:
    """Yield one sentence for each record that does not match its act."""
    yield from _archive(connection, seen)
    yield from _people(connection, seen, report)
    yield from _sessions(connection, seen, report)
    yield from _answers_without_act(connection)
    yield from _items_without_session(connection)
    yield from _settings(connection, seen)
    for session in tally.wrong(connection):
        yield f"the tally of session {session} is not the sum of its answers"
    for check in FURTHER:
        yield from check(connection)


def _archive(connection: Connection, seen: "Seen") -> Iterator[str]:
    rows = [dict(row._mapping) for row in connection.execute(select(archive))]
    if len(rows) != 1:
        yield f"the archive's description has {len(rows)} rows instead of one"
        return
    if (rows[0]["home_chain"], archive_digest(rows[0])) not in seen.made:
        yield "the archive's description has been changed"
    if rows[0]["version"] != seen.version:
        yield f"the archive's version is {rows[0]['version']}, but the log tells of {seen.version}"


def _people(connection: Connection, seen: "Seen", report: "Report") -> Iterator[str]:
    left = dict(seen.people)
    for row in connection.execute(select(people)):
        report.people += 1
        own = dict(row._mapping)
        vouched = left.pop(row.id, None)
        if vouched is None:
            yield f"person {row.id} ({row.name}) was put in past the log"
        elif not holds(vouched[3], partial(person_digest, own)):
            yield f"person {row.id} ({row.name}) has been changed past the log"
        elif (row.revision, row.chain, row.seq) != vouched[:3]:
            yield f"person {row.id} ({row.name}) points to another act than {vouched[1]}-{vouched[2]}"
        elif row.name_key not in (name_key(row.name), f"{name_key(row.name)}#{row.id}"):
            yield f"person {row.id} ({row.name}) is sorted under a wrong key"
    for missing in left:
        yield f"person {missing} is missing"


def _sessions(connection: Connection, seen: "Seen", report: "Report") -> Iterator[str]:
    begun, ended, imported = dict(seen.begun), dict(seen.ended), dict(seen.imported)
    query = select(sessions).order_by(sessions.c.id)
    for row in connection.execution_options(yield_per=500).execute(query):
        report.sessions += 1
        own = dict(row._mapping)
        came = imported.get((row.end_chain or "", row.end_seq or 0))
        if came is not None and came[1] == row.id and row.id not in begun:
            del imported[row.end_chain, row.end_seq]
            yield from _imported_session(connection, own, came[0], report)
        elif row.id in begun:
            dealt = [begun.pop(row.id), *seen.dealt.get(row.id, [])]
            yield from _begun_session(connection, own, dealt)
            yield from _session_end(own, ended.pop(row.id, None))
        else:
            yield f"session {row.id} was put in past the log, or points to another act than its own"
    for missing in [*begun, *(name for _, name in imported.values())]:
        yield f"session {missing} is missing"
    for session in ended:
        if session not in begun:
            yield f"the end of session {session} is in the log, but not the session"


def _dealt(connection: Connection, session: str) -> dict[int, dict[str, Any]]:
    query = select(items).where(items.c.session == session)
    return {row.number: dict(row._mapping) for row in connection.execute(query)}


def _begun_session(
    connection: Connection, own: dict[str, Any], vouched: list[tuple[bytes, list[int]]]
) -> Iterator[str]:
    there = _dealt(connection, own["id"])
    for index, (expected, numbers) in enumerate(vouched):
        rows = [there.pop(number) for number in numbers if number in there]
        if len(rows) < len(numbers):
            lost = len(numbers) - len(rows)
            few = "1 item" if lost == 1 else f"{lost} items"
            yield f"{few} of session {own['id']} {'is' if lost == 1 else 'are'} missing"
        found = partial(_more_items, rows) if index else partial(session_digest, own, rows)
        if not holds(expected, found):
            yield f"session {own['id']} or its items have been changed"
    for number in there:
        yield f"item {number} of session {own['id']} was put in past the log"


def _more_items(rows: Rows) -> bytes:
    return digest({"items": items_body(rows)})


def _session_end(own: dict[str, Any], ended: tuple[str, int, bytes] | None) -> Iterator[str]:
    here = (own["end_chain"], own["end_seq"])
    if ended is None:
        if own["ended_how"] is not None or own["ended_at"] is not None or here != (None, None):
            yield f"session {own['id']} was ended past the log"
    elif own["ended_how"] is None or end_digest(own["ended_how"], own["ended_at"] or "") != ended[2]:
        yield f"the end of session {own['id']} has been changed or taken away"
    elif here != ended[:2]:
        yield f"the end of session {own['id']} points to another act than {ended[0]}-{ended[1]}"


def _imported_session(
    connection: Connection, own: dict[str, Any], expected: bytes, report: "Report"
) -> Iterator[str]:
    dealt = list(_dealt(connection, own["id"]).values())
    query = select(answers).where(answers.c.session == own["id"])
    given = [dict(row._mapping) for row in connection.execute(query)]
    report.answers += len(given)
    if not holds(expected, partial(imported_digest, own, dealt, given)):
        yield f"session {own['id']}, which came from a file, has been changed, or its items or answers have"
    elif (own["ended_how"], own["ended_at"]) != ("closed", own["started_at"]):
        yield f"the end of session {own['id']}, which came from a file, has been changed"


def _answers_without_act(connection: Connection) -> Iterator[str]:
    own, act = answers.c, acts.c
    beside = and_(act.chain == own.chain, act.seq == own.seq)
    by_hand = and_(act.kind == "answer", act.session == own.session, act.number == own.number)
    by_file = and_(
        act.kind == "session-imported", sessions.c.end_chain == act.chain, sessions.c.end_seq == act.seq
    )
    query = (
        select(own.session, own.number)
        .select_from(answers)
        .outerjoin(acts, beside)
        .outerjoin(sessions, sessions.c.id == own.session)
        .where(or_(act.seq.is_(None), ~or_(by_hand, by_file), sessions.c.id.is_(None)))
        .order_by(own.session, own.number)
    )
    for row in connection.execute(query):
        yield f"answer {row.number} of session {row.session} was put in past the log, or moved"


def _items_without_session(connection: Connection) -> Iterator[str]:
    query = (
        select(items.c.session, items.c.number)
        .select_from(items)
        .outerjoin(sessions, sessions.c.id == items.c.session)
        .where(sessions.c.id.is_(None))
    )
    for row in connection.execute(query):
        yield f"item {row.number} belongs to session {row.session}, which is not there"


def _settings(connection: Connection, seen: "Seen") -> Iterator[str]:
    left = dict(seen.settings)
    for row in connection.execute(select(settings)):
        vouched = left.pop(row.name, [])
        if (row.chain, row.seq, setting_digest(row.value)) not in vouched:
            yield f"setting {row.name} was changed or put in past the log"
        elif any(chain == row.chain and seq > row.seq for chain, seq, _ in vouched):
            yield f"setting {row.name} is an older one than the log tells of"
    for missing in left:
        yield f"setting {missing} is missing"
