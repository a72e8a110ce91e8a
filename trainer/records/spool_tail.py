"""Changes to what still waits in a spool: an act told as a note, a session's name, a chain under a new code.

Only acts that no server has are changed, and always before they are delivered, so that whoever is stopped in
between finds the same things to deliver. Every function runs inside the caller's transaction.
"""

import json
from typing import Any

from sqlalchemy import Connection, delete, insert, select, text, update

from trainer.records import documents
from trainer.records.canonical import act_hash, canonical_text
from trainer.records.chain import act_body
from trainer.records.spool_file import SpoolFile
from trainer.records.tables import acts, answers, chains, items, sessions

KNOWN = "delivered-before"  # kind of the note that stands for an act which the server has already
AT_ODDS = "not-counted"  # kind of the note that keeps what contradicts the archive


def tell_as_note(
    connection: Connection, file: SpoolFile, seq: int, session: str, kind: str, detail: dict[str, Any]
) -> None:
    """Let an act that waits be a note of a session; the acts after it get new hashes."""
    own = (acts.c.chain == file.mark(connection)[0]) & (acts.c.seq == seq)
    at = connection.execute(select(acts.c.at).where(own)).scalar_one()
    body = canonical_text({"at": at, "detail": detail, "kind": kind})
    values = {"kind": "note", "session": session, "number": None, "detail": body, "digest": None, "who": ""}
    connection.execute(update(acts).where(own).values(**values))
    hash_again(connection, file, seq)


def rename(connection: Connection, file: SpoolFile, old: str, new: str) -> None:
    """Call a session by another name wherever it waits; the old name leads to the new one."""
    connection.execute(text("PRAGMA defer_foreign_keys = ON"))
    connection.execute(
        text("INSERT OR REPLACE INTO spool_names VALUES (:old, :new)"), {"old": old, "new": new}
    )
    there = connection.execute(select(sessions.c.id).where(sessions.c.id == new)).scalar()
    if there is None:
        connection.execute(update(sessions).where(sessions.c.id == old).values(id=new))
    for table in (items, answers):  # where both are known, what the server has goes first
        moved = update(table).where(table.c.session == old).values(session=new).prefix_with("OR IGNORE")
        connection.execute(moved)
        connection.execute(delete(table).where(table.c.session == old))
    connection.execute(text("DELETE FROM tallies WHERE session IN (:old, :new)"), {"old": old, "new": new})
    if there is not None:
        connection.execute(delete(sessions).where(sessions.c.id == old))
    code, seq, _ = file.mark(connection)
    delivered = (acts.c.chain == code) & (acts.c.seq <= seq)
    connection.execute(update(acts).where(~delivered, acts.c.session == old).values(session=new))
    _rename_in_documents(connection, old, new)


def _rename_in_documents(connection: Connection, old: str, new: str) -> None:
    own = documents.documents
    for row in connection.execute(select(own)).all():
        body = json.loads(row.body)
        if body.get("session") != old:
            continue
        told = canonical_text({**body, "session": new})
        connection.execute(update(own).where(own.c.id == row.id).values(body=told))
        digest = documents.document_digest(row.kind, row.about, told)
        act = (acts.c.chain == row.chain) & (acts.c.seq == row.seq)
        connection.execute(update(acts).where(act).values(digest=digest))


def hash_again(connection: Connection, file: SpoolFile, first: int) -> None:
    """Give the acts from number `first` on the hashes that follow from what they say now."""
    code, seq, before = file.mark(connection)
    if first > seq + 1:
        query = select(acts.c.hash).where(acts.c.chain == code, acts.c.seq == first - 1)
        before = bytes(connection.execute(query).scalar_one())
    head = (first - 1, before, "")
    tail = select(acts).where(acts.c.chain == code, acts.c.seq >= first).order_by(acts.c.seq)
    for row in connection.execute(tail).all():
        made = act_hash(head[1], _body(row, code, row.seq))
        connection.execute(update(acts).where(acts.c.chain == code, acts.c.seq == row.seq).values(hash=made))
        head = (row.seq, made, row.at)
    if head[2]:
        values = {"seq": head[0], "hash": head[1], "last_at": head[2]}
        connection.execute(update(chains).where(chains.c.chain == code).values(**values))


def _body(row: Any, code: str, seq: int) -> dict[str, Any]:
    digest = None if row.digest is None else bytes(row.digest)
    return act_body(code, seq, row.at, row.kind, row.who, row.session, row.number, row.detail, digest)


def begin_anew(connection: Connection, file: SpoolFile, delivered: int) -> None:
    """Take a new code, and let all acts after the one numbered `delivered` wait in its chain."""
    old = file.mark(connection)[0]
    file.begin_chain(connection)
    move(connection, file, old, delivered)


def gather(connection: Connection, file: SpoolFile) -> None:
    """Let acts wait in the present chain that another program wrote to a chain given up meanwhile."""
    home = connection.execute(text("SELECT home_chain FROM tenthwise_archive")).scalar_one()
    code = file.mark(connection)[0]
    query = select(acts.c.chain).where(acts.c.chain.not_in([str(home), code])).distinct()
    for row in connection.execute(query).all():
        move(connection, file, str(row[0]), 0)


def move(connection: Connection, file: SpoolFile, old: str, after: int) -> None:
    """Move acts from another chain to the end of the present one; sessions begun by them get new names."""
    code, seq, before = file.mark(connection)
    head = connection.execute(select(chains).where(chains.c.chain == code)).one_or_none()
    if head is None:
        connection.execute(insert(chains).values(chain=code, seq=seq, hash=before, last_at=""))
    else:
        seq, before = head.seq, bytes(head.hash)
    tail = select(acts).where(acts.c.chain == old, acts.c.seq > after).order_by(acts.c.seq)
    moved = connection.execute(tail).all()
    first = seq + 1
    for row in moved:
        seq += 1
        values = {"chain": code, "seq": seq}
        connection.execute(update(acts).where(acts.c.chain == old, acts.c.seq == row.seq).values(**values))
        here = (answers.c.chain == old) & (answers.c.seq == row.seq)
        connection.execute(update(answers).where(here).values(**values))
        ended = (sessions.c.end_chain == old) & (sessions.c.end_seq == row.seq)
        connection.execute(update(sessions).where(ended).values(end_chain=code, end_seq=seq))
        own = documents.documents
        told = (own.c.chain == old) & (own.c.seq == row.seq)
        connection.execute(update(own).where(told).values(id=f"{code}-{seq}", **values))
        if row.kind == "session-begun":
            rename(connection, file, f"{old}-{row.seq}", f"{code}-{seq}")
    connection.execute(text("DELETE FROM acts WHERE chain = :old"), {"old": old})
    if moved:
        hash_again(connection, file, first)
