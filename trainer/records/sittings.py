"""Sessions in the archive: begun with all that was dealt, ended once, resumable in between."""

import dataclasses
import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, insert, select, update

from trainer.records import chain, people, tally
from trainer.records.canonical import canonical_text, digest, number, plain_text
from trainer.records.engine import Store
from trainer.records.refusals import UnknownSession, UnusableRecord
from trainer.records.tables import acts, answers, items, sessions
from trainer.records.values import (
    Person,
    SessionHeader,
    StoredAnswer,
    StoredItem,
    StoredNote,
    StoredSession,
)

ENDS = ("finished", "left", "closed")
ITEM_FIELDS = ("number", "position_tenths", "asks")


def as_mapping(value: Any) -> dict[str, Any]:
    """Return a mapping or a dataclass as a dictionary."""
    if isinstance(value, Mapping):
        return dict(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return dataclasses.asdict(value)
    raise UnusableRecord(f"{type(value).__name__} cannot be kept; a mapping or a dataclass is needed")


def item_rows(dealt: Iterable[Any]) -> list[dict[str, Any]]:
    """Return dealt items as rows; raises `UnusableRecord` when one lacks a field or a number comes twice."""
    rows: list[dict[str, Any]] = []
    for value in dealt:
        item = as_mapping(value)
        if missing := [field for field in ITEM_FIELDS if field not in item]:
            raise UnusableRecord(f"item {len(rows) + 1} lacks {', '.join(missing)}")
        position = number(item["position_tenths"], f"position_tenths of item {item['number']}")
        extra = {key: item[key] for key in item if key not in ITEM_FIELDS}
        extra = {**extra, **extra.pop("extra", {})} if isinstance(extra.get("extra"), Mapping) else extra
        rows.append(
            {
                "number": int(item["number"]),
                "position_tenths": position,
                "asks": plain_text(item["asks"]),
                "extra": canonical_text(extra),
            }
        )
    if len({row["number"] for row in rows}) != len(rows):
        raise UnusableRecord("two items have the same number; number them from 1 without repeats")
    return rows


def session_digest(row: Mapping[str, Any], dealt: Sequence[Mapping[str, Any]]) -> bytes:
    """Return the digest of a session as begun: its header, its plan and the items dealt with it."""
    own = {field: row[field] for field in SESSION_FIELDS}
    return digest({**own, "items": items_body(dealt)})


SESSION_FIELDS = (
    "person_id", "instrument", "drill", "for_record", "seed", "program_version", "drawing_version", "viewing",
    "px_per_mm", "station", "started_at", "plan",
)  # fmt: skip


def items_body(dealt: Sequence[Mapping[str, Any]]) -> list[list[Any]]:
    """Return items in the form that a digest covers, ordered by number."""
    ordered = sorted(dealt, key=lambda row: int(row["number"]))
    return [[row["number"], row["position_tenths"], row["asks"], row["extra"]] for row in ordered]


def end_digest(how: str, at: str) -> bytes:
    """Return the digest of a session's end."""
    return digest({"ended_at": at, "ended_how": how})


def begin(
    store: Store, person: str, plan: Mapping[str, Any], dealt: Iterable[Any], header: SessionHeader
) -> str:
    """Keep a session with its plan and dealt items; return its id."""
    rows = item_rows(dealt)
    with store.write() as connection:
        found = people.find(connection, person)
        if found.archived_at is not None:
            raise UnusableRecord(f"{found.name} has been put away; bring them back before a new session")
        row = session_row(store, found, plan, header)
        seq = chain.append(
            connection,
            store,
            "session-begun",
            who=found.id,
            detail={"items": [item["number"] for item in rows]},
            digest=session_digest(row, rows),
        )
        made = f"{store.chain}-{seq}"
        connection.execute(insert(sessions).values(id=made, **row))
        if rows:
            connection.execute(insert(items), [{"session": made, **item} for item in rows])
        return made


def session_row(
    store: Store, person: Person, plan: Mapping[str, Any], header: SessionHeader
) -> dict[str, Any]:
    """Return a session about to begin as a row, without its id."""
    return {
        "person_id": person.id,
        "instrument": plain_text(header.instrument),
        "drill": plain_text(header.drill),
        "for_record": int(header.for_record),
        "seed": str(int(header.seed)),
        "program_version": plain_text(header.program_version),
        "drawing_version": plain_text(header.drawing_version),
        "viewing": canonical_text(dict(header.viewing)),
        "px_per_mm": None if header.px_per_mm is None else number(header.px_per_mm, "px_per_mm"),
        "station": plain_text(header.station),
        "started_at": plain_text(header.started_at or store.now()),
        "plan": canonical_text(as_mapping(plan)),
    }


def deal_more(store: Store, session: str, dealt: Iterable[Any]) -> None:
    """Keep items that were dealt after a session began (adaptive drills); of no items nothing is kept."""
    rows = item_rows(dealt)
    if not rows:
        return
    with store.write() as connection:
        _open_session(connection, session)
        chain.append(
            connection,
            store,
            "items-dealt",
            session=session,
            detail={"items": [item["number"] for item in rows]},
            digest=digest({"items": items_body(rows)}),
        )
        taken = {
            row[0] for row in connection.execute(select(items.c.number).where(items.c.session == session))
        }
        if again := sorted(taken & {row["number"] for row in rows}):
            raise UnusableRecord(f"item {again[0]} of session {session} has been dealt already")
        connection.execute(insert(items), [{"session": session, **item} for item in rows])


def note(store: Store, session: str, kind: str, at: str, detail: Any) -> None:
    """Keep something that happened during a session, in the log."""
    with store.write() as connection:
        _row(connection, session)
        body = {"at": plain_text(at), "detail": detail, "kind": plain_text(kind)}
        chain.append(connection, store, "note", session=session, detail=body)


def end(store: Store, session: str, how: str, at: str) -> None:
    """End a session. Ending it again in the same way changes nothing."""
    if how not in ENDS:
        raise UnusableRecord(f"a session ends as {', '.join(ENDS[:-1])} or {ENDS[-1]}, not as {how!r}")
    with store.write() as connection:
        row = _row(connection, session)
        if row["ended_how"] == how and row["ended_at"] == at:
            return
        if row["ended_how"] is not None:
            raise UnusableRecord(f"session {session} has ended already ({row['ended_how']})")
        seq = chain.append(connection, store, "session-ended", session=session, digest=end_digest(how, at))
        connection.execute(
            update(sessions)
            .where(sessions.c.id == session)
            .values(ended_how=how, ended_at=at, end_chain=store.chain, end_seq=seq)
        )
        tally.keep(connection, session)


def load(connection: Connection, session: str) -> StoredSession:
    """Return a session with its items, answers and notes. Raises `UnknownSession`."""
    row = _row(connection, session)
    query = select(items).where(items.c.session == session).order_by(items.c.number)
    dealt = tuple(
        StoredItem(r.number, r.position_tenths, r.asks, json.loads(r.extra))
        for r in connection.execute(query)
    )
    own = answers.c
    columns = (own.number, own.typed, own.answer_tenths, own.outcome, own.seconds, own.at, own.extra)
    given = select(*columns).where(own.session == session).order_by(own.number)
    notes = (
        select(acts.c.detail)
        .where(acts.c.session == session, acts.c.kind == "note")
        .order_by(acts.c.chain, acts.c.seq)
    )
    details = [json.loads(r.detail) for r in connection.execute(notes)]
    return StoredSession(
        id=session,
        person=people.find(connection, row["person_id"]),
        header=_header(row),
        plan=json.loads(row["plan"]),
        items=dealt,
        answers=tuple(StoredAnswer(*r[:-1], json.loads(r[-1])) for r in connection.execute(given)),
        notes=tuple(StoredNote(d["kind"], d["at"], d["detail"]) for d in details),
        ended_at=row["ended_at"],
        ended_how=row["ended_how"],
    )


def unfinished(connection: Connection, person: str) -> list[StoredSession]:
    """Return a person's sessions that have not ended, the newest first."""
    found = people.find(connection, person)
    query = (
        select(sessions.c.id)
        .where(sessions.c.person_id == found.id, sessions.c.ended_how.is_(None))
        .order_by(sessions.c.started_at.desc(), sessions.c.id)
    )
    return [load(connection, row[0]) for row in connection.execute(query).all()]


def under_ticket(connection: Connection, person: str, ticket: str) -> list[str]:
    """Return a person's sessions whose plan names a ticket, the oldest first."""
    query = (
        select(sessions.c.id, sessions.c.plan)
        .where(sessions.c.person_id == person, sessions.c.plan.contains(ticket, autoescape=True))
        .order_by(sessions.c.started_at, sessions.c.id)
    )
    return [row.id for row in connection.execute(query) if json.loads(row.plan).get("ticket") == ticket]


def _header(row: Mapping[str, Any]) -> SessionHeader:
    return SessionHeader(
        instrument=row["instrument"],
        drill=row["drill"],
        for_record=bool(row["for_record"]),
        seed=int(row["seed"]),
        program_version=row["program_version"],
        drawing_version=row["drawing_version"],
        viewing=json.loads(row["viewing"]),
        px_per_mm=row["px_per_mm"],
        station=row["station"],
        started_at=row["started_at"],
    )


def _row(connection: Connection, session: str) -> dict[str, Any]:
    found = connection.execute(select(sessions).where(sessions.c.id == session)).one_or_none()
    if found is None:
        raise UnknownSession(f"there is no session {session!r} in the archive")
    return dict(found._mapping)


def _open_session(connection: Connection, session: str) -> dict[str, Any]:
    row = _row(connection, session)
    if row["ended_how"] is not None:
        raise UnusableRecord(f"session {session} has ended ({row['ended_how']}); begin a new one")
    return row
