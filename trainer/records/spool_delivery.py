"""Delivery: the acts that wait in a spool go to the server in order, each exactly once.

An act and its record are written in one transaction of the server, which holds the head of the spool's chain
there. That head alone says what has arrived: whoever is killed between the delivery and the spool's own note
of it finds the act's hash at the head, and goes on after it.

What the server has already (it was told, and its reply was lost; a copy of the spool delivered it) is
recognised by what it is: a session by person, moment of beginning, seed and plan; an answer by session, item
and content. It is then delivered as a note. So is what contradicts the archive, such as a second answer to an
item that was answered meanwhile at another station: it is kept in full, and does not count.
"""

import json
import time
from typing import Any

from sqlalchemy import Connection, insert, select, text, update

from trainer.instrument.refusal import Refusal
from trainer.records import chain, documents, spool_tail, tally, upgrade
from trainer.records.answering import HELD_OPEN
from trainer.records.engine import Store
from trainer.records.refusals import (
    ArchiveAway,
    UnknownPerson,
    UnknownSession,
    UnusableArchive,
    UnusableRecord,
)
from trainer.records.spool_file import SpoolFile
from trainer.records.spool_tail import AT_ODDS, KNOWN
from trainer.records.tables import acts, answers, items, people, sessions

TOGETHER = 20  # acts delivered in one transaction
Row = dict[str, Any]
SAME_SESSION = (
    "person_id", "instrument", "drill", "for_record", "seed", "viewing", "px_per_mm", "station", "started_at",
    "plan",
)  # fmt: skip


class _Forked(Exception):
    """The server's chain is not the one that this spool has been writing."""


class _Gone(Exception):
    """Another program at this station has delivered what was to be delivered."""


def deliver(server: Store, file: SpoolFile, *, until_s: float | None = None) -> int:
    """Deliver what waits; return how many acts went. Stops at `until_s` of the monotonic clock.

    Raises a refusal when the server is away (`ArchiveAway`), or will not have the next act; it waits then,
    and all that come after it.
    """
    _same_archive(server, file)
    with file.write() as connection:
        spool_tail.gather(connection, file)
    gone, most = 0, TOGETHER
    while file.waiting():
        try:
            gone += _deliver_some(server, file, most)
            most = TOGETHER
        except _Forked:
            _begin_anew(server, file)
        except _Gone:
            continue
        except Refusal as refused:
            if most == 1 or isinstance(refused, ArchiveAway):
                raise
            most = 1  # those before the one refused go first
        if until_s is not None and time.monotonic() > until_s:
            return gone
    file.follow()
    file.forget()
    return gone


def _same_archive(server: Store, file: SpoolFile) -> None:
    """Raise where another archive than the one that these answers were given for is at the address."""
    with server.read() as connection:
        found = connection.execute(text(f"SELECT archive_id FROM {upgrade.MARK}")).scalar_one()
        login = str(connection.execute(text("SELECT current_user")).scalar_one())
    with file.write() as connection:
        known, as_whom = file.told(connection, "archive"), file.told(connection, "login")
        if known != found and known is not None and file.waiting():
            raise UnusableArchive(
                f"{server.place}: it is another archive than the one that the waiting answers were given "
                f"for; they stay in {file.archive.place}"
            )
        file.tell(connection, archive=str(found), login=login)
        moved = as_whom not in (None, login) or known not in (None, found)
    if moved:  # a chain on the server belongs to the login that began it
        _begin_anew(server, file)


def _deliver_some(server: Store, file: SpoolFile, most: int) -> int:
    """Deliver the next acts in one transaction of the server; return how many."""
    gone = 0
    with server.write() as there:
        with file.archive.store.read() as here:
            code = file.mark(here)[0]
        head = chain.head(there, code)  # held: nobody else delivers from this spool now
        if not _caught_up(file, code, head[:2]):
            raise _Forked
        last = None
        while gone < most and (act := _next(file, code, head[0] + gone + 1)) is not None:
            last = _fitted(there, file, act)
            _put(there, file, last)
            gone += 1
        if last is None:
            raise _Gone
        chain.run(there, chain.MOVE_HEAD, (last["seq"], last["hash"], last["at"], code))
    with file.write() as connection:
        if file.mark(connection)[0] == code:
            file.tell(connection, seq=str(last["seq"]), hash=last["hash"].hex())
    return gone


def _next(file: SpoolFile, code: str, seq: int) -> Row | None:
    with file.archive.store.read() as here:
        return _act(here, code, seq)


def _caught_up(file: SpoolFile, code: str, head: tuple[int, bytes]) -> bool:
    """Note what has arrived by the server's word; return whether that is the chain of this spool."""
    with file.write() as connection:
        known, seq, last = file.mark(connection)
        if known != code:
            return False
        if head == (seq, last):
            return True
        act = _act(connection, code, head[0])
        if act is None or head[0] < seq or act["hash"] != head[1]:
            return False
        file.tell(connection, seq=str(head[0]), hash=head[1].hex())
        return True


def _act(connection: Connection, code: str, seq: int) -> Row | None:
    row = connection.execute(select(acts).where(acts.c.chain == code, acts.c.seq == seq)).one_or_none()
    if row is None:
        return None
    digest = None if row.digest is None else bytes(row.digest)
    return {**row._mapping, "hash": bytes(row.hash), "digest": digest}


def _begin_anew(server: Store, file: SpoolFile) -> None:
    """Give what is not on the server a chain of its own.

    This spool was copied, or the server was set back to a backup, or the station signs in as somebody else.
    """
    with file.archive.store.read() as here:
        code, seq, _ = file.mark(here)
        waiting = select(acts.c.seq, acts.c.hash).where(acts.c.chain == code, acts.c.seq > seq)
        own = [(row.seq, bytes(row.hash)) for row in here.execute(waiting.order_by(acts.c.seq))]
    with server.read() as there:
        query = select(acts.c.seq, acts.c.hash).where(acts.c.chain == code, acts.c.seq > seq)
        arrived = {row.seq: bytes(row.hash) for row in there.execute(query)}
    for number, made in own:
        if arrived.get(number) != made:
            break
        seq = number
    with file.write() as connection:
        if file.mark(connection)[0] == code:
            spool_tail.begin_anew(connection, file, seq)
    file.follow()


# what the server knows of an act's record already


def _fitted(there: Connection, file: SpoolFile, act: Row) -> Row:
    """Return the act as it can be delivered: as it is, or told as a note, which is on disk first."""
    with file.archive.store.read() as here:
        if act["kind"] == "session-begun":
            return _fitted_session(there, file, act, _row(here, sessions, f"{act['chain']}-{act['seq']}"))
        if act["session"] is None:
            return act
        own = _row(here, sessions, act["session"])
        found = there.execute(select(sessions).where(sessions.c.id == act["session"])).one_or_none()
        if found is None:
            raise UnknownSession(
                f"session {act['session']}, which was gone on with offline, is not in the archive; "
                "restore the backup that has it"
            )
        verdict, content = _judged(there, here, act, found._mapping, own)
    return _told(file, act, act["session"], verdict, content) if verdict else act


def _fitted_session(there: Connection, file: SpoolFile, act: Row, own: Row) -> Row:
    person = there.execute(select(people).where(people.c.id == own["person_id"])).one_or_none()
    if person is None:
        raise UnknownPerson(f"person {own['person_id']}, who took a session offline, is not in the archive")
    if person.archived_at is not None:
        raise UnusableRecord(
            f"{person.name} took a session offline and has been put away since; bring them back, then deliver"
        )
    twin = there.execute(
        select(sessions.c.id).where(*(sessions.c[n] == own[n] for n in SAME_SESSION))
    ).first()
    if twin is None:
        return act
    with file.write() as connection:
        spool_tail.rename(connection, file, own["id"], str(twin[0]))
    return _told(file, act, str(twin[0]), KNOWN, {"begun": own["started_at"]})


def _told(file: SpoolFile, act: Row, session: str, kind: str, content: Row) -> Row:
    with file.write() as connection:
        spool_tail.tell_as_note(connection, file, act["seq"], session, kind, content)
        told = _act(connection, act["chain"], act["seq"])
    assert told is not None
    return told


def _judged(there: Connection, here: Connection, act: Row, found: Any, own: Row) -> tuple[str, Row]:
    """Return the kind of the note that stands for an act, or nothing, and the note's content."""
    session, ended = act["session"], found["ended_how"] is not None
    if act["kind"] == "answer":
        given, key = _answer(here, session, act["number"]), (session, act["number"])
        if there.execute(text(HELD_OPEN.replace("?", ":id")), {"id": session}).first() is None:
            ended = True
        there_already = _answer(there, *key)
        same_item = _item(there, *key) == _item(here, *key)
        if there_already == given and same_item:
            return KNOWN, {"answer": act["number"]}
        return ("" if there_already is None and same_item and not ended else AT_ODDS), {"answer": given}
    if act["kind"] == "items-dealt":
        numbers = json.loads(act["detail"])["items"]
        dealt = {number: _item(here, session, number) for number in numbers}
        known = {number: _item(there, session, number) for number in numbers}
        if known == dealt:
            return KNOWN, {"items": numbers}
        free = not ended and all(item is None for item in known.values())
        return ("" if free else AT_ODDS), {"items": [dict(item or {}) for item in dealt.values()]}
    if act["kind"] == "session-ended" and ended:
        same = (found["ended_how"], found["ended_at"]) == (own["ended_how"], own["ended_at"])
        return (KNOWN if same else AT_ODDS), {"ended_how": own["ended_how"], "ended_at": own["ended_at"]}
    if act["kind"] == "note" and json.loads(act["detail"])["kind"] not in (KNOWN, AT_ODDS):
        same_note = (acts.c.session == session) & (acts.c.kind == "note") & (acts.c.detail == act["detail"])
        if there.execute(select(acts.c.seq).where(same_note).limit(1)).first() is not None:
            return KNOWN, {"note": json.loads(act["detail"])}
    return "", {}


def _answer(connection: Connection, session: str, number: int) -> Row | None:
    query = select(answers).where(answers.c.session == session, answers.c.number == number)
    row = connection.execute(query).one_or_none()
    return (
        None
        if row is None
        else {n: v for n, v in row._mapping.items() if n not in ("chain", "seq", "session")}
    )


def _item(connection: Connection, session: str, number: int) -> Row | None:
    query = select(items).where(items.c.session == session, items.c.number == number)
    row = connection.execute(query).one_or_none()
    return None if row is None else {n: v for n, v in row._mapping.items() if n != "session"}


def _row(connection: Connection, table: Any, name: str) -> Row:
    return dict(connection.execute(select(table).where(table.c.id == name)).one()._mapping)


# writing


def _put(there: Connection, file: SpoolFile, act: Row) -> None:
    """Write an act with its record."""
    there.execute(insert(acts).values(**act))
    with file.archive.store.read() as here:
        _put_record(there, here, act)


def _put_record(there: Connection, here: Connection, act: Row) -> None:
    session, place = act["session"], f"{act['chain']}-{act['seq']}"
    match act["kind"]:
        case "session-begun":
            own = _row(here, sessions, place)
            fresh = {"ended_at": None, "ended_how": None, "end_chain": None, "end_seq": None}
            there.execute(insert(sessions).values(**{**own, **fresh}))
            _put_items(there, here, place, json.loads(act["detail"])["items"])
        case "items-dealt":
            _put_items(there, here, session, json.loads(act["detail"])["items"])
        case "answer":
            own = _answer(here, session, act["number"]) or {}
            row = {**own, "session": session, "chain": act["chain"], "seq": act["seq"]}
            there.execute(insert(answers).values(**row))
        case "session-ended":
            own = _row(here, sessions, session)
            end = {"ended_at": own["ended_at"], "ended_how": own["ended_how"]}
            there.execute(
                update(sessions)
                .where(sessions.c.id == session)
                .values(**end, end_chain=act["chain"], end_seq=act["seq"])
            )
            tally.keep(there, session)
        case documents.ACT:
            there.execute(insert(documents.documents).values(**_row(here, documents.documents, place)))


def _put_items(there: Connection, here: Connection, session: str, numbers: list[int]) -> None:
    rows = [{**(_item(here, session, number) or {}), "session": session} for number in numbers]
    if rows:
        there.execute(insert(items), rows)
