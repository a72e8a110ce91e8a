"""The one path that must be both quick and sure: an answer goes into the archive and is on disk."""

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection

from trainer.records import chain
from trainer.records.canonical import canonical_text, digest, number, plain_text
from trainer.records.engine import Store
from trainer.records.refusals import ArchiveAway, UnknownSession, UnusableArchive, UnusableRecord
from trainer.records.sittings import as_mapping
from trainer.records.values import StoredAnswer

OUTCOMES = ("answered", "skipped", "timed-out")
FIELDS = ("number", "typed", "answer_tenths", "outcome", "seconds", "at")

LOOK = (
    "SELECT s.ended_how, i.number, a.typed, a.answer_tenths, a.outcome, a.seconds, a.at, a.extra "
    "FROM sessions s LEFT JOIN items i ON i.session = s.id AND i.number = ? "
    "LEFT JOIN answers a ON a.session = s.id AND a.number = i.number WHERE s.id = ?"
)
PUT = (
    "INSERT INTO answers (session, number, typed, answer_tenths, outcome, seconds, at, chain, seq, extra) "
    "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
AT_ONCE = """
WITH fits AS (
    SELECT c.chain FROM chains c JOIN sessions s ON s.id = %(session)s AND s.ended_how IS NULL
    WHERE c.chain = %(chain)s AND c.seq = %(old_seq)s AND c.hash = %(old_hash)s
    FOR UPDATE OF c FOR SHARE OF s
), act AS (
    INSERT INTO acts (chain, seq, at, kind, who, session, number, detail, digest, hash)
    SELECT chain, %(seq)s::bigint, %(act_at)s::text, 'answer', '', %(session)s::text, %(number)s::integer, '',
        %(digest)s::bytea, %(hash)s::bytea FROM fits
    RETURNING chain, seq, at, hash
), answer AS (
    INSERT INTO answers (session, number, typed, answer_tenths, outcome, seconds, at, chain, seq, extra)
    SELECT %(session)s::text, %(number)s::integer, %(typed)s::text, %(answer_tenths)s::double precision,
        %(outcome)s::text, %(seconds)s::double precision, %(at)s::text, chain, seq, %(extra)s::text FROM act
)
UPDATE chains SET seq = act.seq, hash = act.hash, last_at = act.at FROM act WHERE chains.chain = act.chain
"""  # an answer, its act and the chain's new head, all or none; a stale head or an ended session: no row
# the end of a session, by another station, waits for the answer
HELD_OPEN = "SELECT id FROM sessions WHERE id = ? AND ended_how IS NULL FOR SHARE"


def checked(answer: Any) -> StoredAnswer:
    """Return an answer as it is kept. Raises `UnusableRecord` when it cannot be."""
    given = as_mapping(answer)
    if missing := [field for field in FIELDS if field not in given]:
        raise UnusableRecord(f"the answer lacks {', '.join(missing)}")
    tenths, seconds = given["answer_tenths"], given["seconds"]
    if given["outcome"] not in OUTCOMES:
        raise UnusableRecord(f"outcome is {given['outcome']!r}; it is one of {', '.join(OUTCOMES)}")
    if (tenths is None) == (given["outcome"] == "answered"):
        raise UnusableRecord(f"an answer that is {given['outcome']} has answer_tenths {tenths!r}")
    return StoredAnswer(
        number=int(given["number"]),
        typed=plain_text(given["typed"]),
        answer_tenths=None if tenths is None else number(tenths, "answer_tenths"),
        outcome=str(given["outcome"]),
        seconds=None if seconds is None else number(seconds, "seconds"),
        at=plain_text(given["at"]),
        extra=_extra(given.get("extra") or {}),
    )


def _extra(given: Any) -> dict[str, Any]:
    """Return the further fields of an answer as they come back from the archive."""
    if not isinstance(given, Mapping):
        raise UnusableRecord(f"extra of an answer is {given!r}; a mapping of names to values is needed")
    kept: dict[str, Any] = json.loads(plain_text(canonical_text(dict(given))))
    return kept


def answer_digest(answer: StoredAnswer) -> bytes:
    """Return the digest of an answer; its session and number stand in the act beside it.

    Further fields are covered where there are any, so the digests of answers without them never change.
    """
    own = {
        "answer_tenths": answer.answer_tenths,
        "at": answer.at,
        "outcome": answer.outcome,
        "seconds": answer.seconds,
        "typed": answer.typed,
    }
    return digest({**own, "extra": answer.extra} if answer.extra else own)


def save(store: Store, session: str, answer: Any) -> None:
    """Keep one answer; it is on disk on return. The same answer again changes nothing.

    When a server was lost while it was being told, it is told again once: whether or not the first time
    had reached it, the answer is there once.
    """
    given = checked(answer)
    if not store.sqlite and store.head is not None and _at_once(store, session, given):
        return
    try:
        with store.write() as connection:
            put(connection, store, session, given)
    except ArchiveAway:
        if store.sqlite:
            raise
        with store.write() as connection:
            put(connection, store, session, given)


def _at_once(store: Store, session: str, given: StoredAnswer) -> bool:
    """Keep an answer by one statement to a server; return whether it is kept.

    It begins from the head of the chain as this program last wrote it, and does nothing where that has moved,
    the session is over, or anything else is unusual: then the long way is taken, which looks and says why.
    """
    from psycopg import DatabaseError

    with store.lock:
        before, at = store.head, store.now()
        if before is None or store.read_only or at < before[2]:  # a clock set back is noted first
            return False
        digest_of_it = answer_digest(given)
        after = chain.next_act(store.chain, before, at, "answer", session, given.number, digest_of_it)
        row = {
            "session": session, "chain": store.chain, "old_seq": before[0], "old_hash": before[1],
            "seq": after[0], "hash": after[1], "act_at": after[2], "digest": digest_of_it,
            "number": given.number, "typed": given.typed, "answer_tenths": given.answer_tenths,
            "outcome": given.outcome, "seconds": given.seconds, "at": given.at,
            "extra": canonical_text(given.extra),
        }  # fmt: skip
        store.head = None
        try:
            with store.single() as cursor:
                cursor.execute(AT_ONCE, row, prepare=True)
                kept = bool(cursor.rowcount == 1)
        except (DatabaseError, UnusableArchive):
            return False
        store.head = after if kept else None
        return kept


def put(connection: Connection, store: Store, session: str, given: StoredAnswer) -> None:
    """Write an answer and its act inside the caller's transaction."""
    with chain.together(connection):
        asked = chain.ask_head(connection, store.chain)  # holds the chain, so that what is looked at stays so
        looked = chain.run(connection, LOOK, (given.number, session))
    head, found = chain.head(connection, store.chain, asked), looked.fetchone()
    store.head = head
    if found is None:
        raise UnknownSession(f"there is no session {session!r} in the archive")
    ended_how, dealt, typed, tenths, outcome, seconds, at, extra = found
    if dealt is None:
        raise UnusableRecord(f"session {session} has no item {given.number}")
    if outcome is not None:
        before = StoredAnswer(given.number, typed, tenths, outcome, seconds, at, json.loads(extra))
        if before == given:
            return
        raise UnusableRecord(f"item {given.number} of session {session} has been answered already")
    if ended_how is not None:
        raise UnusableRecord(f"session {session} has ended ({ended_how}); begin a new one")
    with chain.together(connection):
        still = None if store.sqlite else chain.run(connection, HELD_OPEN, (session,))
        seq = chain.append(
            connection,
            store,
            "answer",
            session=session,
            number=given.number,
            digest=answer_digest(given),
            at_head=head,
        )
        row = (
            session, given.number, given.typed, given.answer_tenths, given.outcome, given.seconds, given.at,
            store.chain, seq, canonical_text(given.extra),
        )  # fmt: skip
        chain.run(connection, PUT, row)
    if still is not None and still.fetchone() is None:
        raise UnusableRecord(f"session {session} has ended meanwhile; begin a new one")
