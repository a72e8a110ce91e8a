"""Taking answers from a file into the archive: all of them or none, and never twice."""

import contextlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from trainer.records import bulk, people, viewed
from trainer.records.answers_in import Row, UnusableFile, read
from trainer.records.canonical import canonical_text, digest
from trainer.records.engine import Store
from trainer.records.names import name_key
from trainer.records.sittings import session_digest
from trainer.records.staging import Session, Staged, staged
from trainer.records.tables import answers, items, sessions

NOTHING = "{}"
BATCH_ROWS = 20_000  # kept in one go
BATCH_SESSIONS = 500
Rows = list[dict[str, Any]]


@dataclass
class Taken:
    """What an import did."""

    answers: int = 0
    sessions: int = 0
    people_added: list[str] = field(default_factory=list)
    sessions_there_already: int = 0
    sessions_unnamed: int = 0  # nothing would tell them from others if the file were taken in again

    def to_dict(self) -> dict[str, Any]:
        """Return the counts as JSON prints them."""
        return {
            "answers": self.answers,
            "sessions": self.sessions,
            "people_added": self.people_added,
            "sessions_there_already": self.sessions_there_already,
            "sessions_unnamed": self.sessions_unnamed,
        }


def take_in(
    store: Store,
    path: str | os.PathLike[str],
    *,
    rows: Iterable[Row] | None = None,
    of_person: bool = False,
    told: Callable[[int], None] = lambda _: None,
) -> Taken:
    """Read a file of answers and keep it, each session as one act; `told` hears how many rows are kept.

    All rows are checked before the first is kept. `rows` are those of a file of another form (`foreign`);
    with `of_person` a session's name is taken to be unique for its person only. A session that is in the
    archive already with the same answers is passed over. Raises `UnusableFile` when a session is there with
    other answers, and for every fault of the file; nothing is kept then.
    """
    name, done = Path(path).name, Taken()
    with _sound(path, rows, of_person) as aside, store.write() as connection:
        known: dict[str, str] = {}
        for batch in _batches(aside.sessions):
            owners = [_person(connection, store, session.person, known, done) for session in batch]
            _take_sessions(connection, store, _Batch(name, aside, batch, owners, of_person), done)
            told(done.answers)
    return done


def look(
    store: Store | None, path: str | os.PathLike[str], *, rows: Iterable[Row] | None = None,
    of_person: bool = False,
) -> tuple[Taken, list[Session]]:  # fmt: skip
    """Return what `take_in` would do, and the sessions it found, without keeping anything."""
    name, done = Path(path).name, Taken()
    with _sound(path, rows, of_person) as aside, _reading(store) as connection:
        owners: dict[str, str] = {}
        for session in aside.sessions:
            key = name_key(session.person)
            if key not in owners:
                found = None if connection is None else people.by_key(connection, key)
                owners[key] = found or ""
                done.people_added += [] if found else [session.person]
            owner = owners[key]
            made = _id_of(session, owner, of_person)
            if connection is not None and owner and made:
                _, given = _bodies(aside.rows_of(session))
                if _is_there(connection, name, made, owner, given):
                    done.sessions_there_already += 1
                    continue
            done.sessions += 1
            done.sessions_unnamed += not made
            done.answers += session.rows
        return done, aside.sessions


@contextlib.contextmanager
def _sound(path: str | os.PathLike[str], rows: Iterable[Row] | None, of_person: bool) -> Iterator[Staged]:
    """Give the sessions of a file, all of them checked."""
    name = Path(path).name
    with staged(read(path) if rows is None else rows, name) as aside:
        owners: dict[str, str] = {}
        for session in aside.sessions if not of_person else ():
            if session.name and owners.setdefault(session.name, session.person) != session.person:
                raise UnusableFile(
                    f"{name}, line {session.line}: session {session.name!r} belongs to another person above; "
                    "give each person sessions of their own"
                )
        yield aside


@contextlib.contextmanager
def _reading(store: Store | None) -> Iterator[Connection | None]:
    if store is None:
        yield None
        return
    with store.read() as connection:
        yield connection


def _batches(sessions: Iterable[Session]) -> Iterator[list[Session]]:
    batch: list[Session] = []
    held = 0
    for session in sessions:
        if batch and (held + session.rows > BATCH_ROWS or len(batch) == BATCH_SESSIONS):
            yield batch
            batch, held = [], 0
        batch.append(session)
        held += session.rows
    yield batch


def _person(connection: Connection, store: Store, name: str, known: dict[str, str], done: Taken) -> str:
    if name not in known:
        found = people.by_key(connection, name_key(name))
        if found is None:
            found = people.put_new(connection, store, name, "").id
            done.people_added.append(name)
        known[name] = found
    return known[name]


def _id_of(session: Session, owner: str, of_person: bool) -> str:
    """Return the id under which a session is kept, empty where its act will name it.

    The person's number makes it unique, and not the name, which can be taken away for good.
    """
    return f"{session.name} {owner}" if of_person and session.name else session.name


@dataclass(frozen=True, slots=True)
class _Batch:
    """Sessions that are kept together."""

    file: str
    aside: Staged
    sessions: list[Session]
    owners: list[str]
    of_person: bool


def _take_sessions(connection: Connection, store: Store, batch: _Batch, done: Taken) -> None:
    wanted = [_id_of(s, o, batch.of_person) for s, o in zip(batch.sessions, batch.owners, strict=True)]
    there = _there_of(connection, wanted)
    acts: list[tuple[str, dict[str, Any], bytes]] = []
    bodies: list[tuple[str, dict[str, Any], Rows, Rows]] = []
    for session, owner, made in zip(batch.sessions, batch.owners, wanted, strict=True):
        rows = batch.aside.rows_of(session)
        dealt, given = _bodies(rows)
        if made and made in there:
            _is_there(connection, batch.file, made, owner, given)
            done.sessions_there_already += 1
            continue
        header = _header(store, batch.file, made, owner, rows[0])
        done.sessions_unnamed += not made
        detail = {"file": batch.file, "session": made, "answers": len(given)}
        acts.append((owner, detail, imported_digest(header, dealt, given)))
        bodies.append((made, header, dealt, given))
    if bodies:
        _put(connection, store, bodies, bulk.append_acts(connection, store, "session-imported", acts))
    done.sessions += len(bodies)
    done.answers += sum(len(given) for *_, given in bodies)


def _put(
    connection: Connection,
    store: Store,
    bodies: list[tuple[str, dict[str, Any], Rows, Rows]],
    numbers: list[int],
) -> None:
    """Put sessions with their items, answers and tallies into the tables."""
    heads: list[tuple[Any, ...]] = []
    item_rows: list[tuple[Any, ...]] = []
    answer_rows: list[tuple[Any, ...]] = []
    ids = []
    for (wanted, header, dealt, given), seq in zip(bodies, numbers, strict=True):
        made = wanted or f"{store.chain}-{seq}"
        ids.append(made)
        heads.append((made, *header.values(), "closed", header["started_at"], store.chain, seq))
        item_rows += [(made, *item.values()) for item in dealt]
        answer_rows += [(made, *answer.values(), store.chain, seq) for answer in given]
    first = bodies[0]
    head_names = ["id", *first[1], "ended_how", "ended_at", "end_chain", "end_seq"]
    bulk.put_rows(connection, sessions, head_names, heads)
    bulk.put_rows(connection, items, ["session", *first[2][0]], item_rows)
    bulk.put_rows(connection, answers, ["session", *first[3][0], "chain", "seq"], answer_rows)
    bulk.keep_tallies(connection, ids)


def _there_of(connection: Connection, wanted: Iterable[str]) -> set[str]:
    """Return which of these sessions the archive has."""
    named = [made for made in wanted if made]
    query = select(sessions.c.id).where(sessions.c.id.in_(named))
    return {str(row.id) for row in connection.execute(query)} if named else set()


def _bodies(rows: Sequence[Row]) -> tuple[Rows, Rows]:
    """Return the items and the answers of a session as the archive keeps them."""
    numbered = list(enumerate(rows, start=1))
    return [_item(n, row) for n, row in numbered], [_answer(n, row) for n, row in numbered]


def imported_digest(
    header: Mapping[str, Any], dealt: Sequence[Mapping[str, Any]], given: Sequence[Mapping[str, Any]]
) -> bytes:
    """Return the digest of a session that came from a file: header, items and answers together."""
    return digest({"session": session_digest(header, dealt).hex(), "answers": answers_body(given)})


def answers_body(given: Iterable[Any]) -> list[list[Any]]:
    """Return answers in the form that the digest of an imported session covers, `extra` where it is any."""
    fields = ("number", "typed", "answer_tenths", "outcome", "seconds", "at")
    ordered = sorted(given, key=lambda answer: int(answer["number"]))
    return [
        [*(answer[f] for f in fields), *([answer["extra"]] if answer["extra"] != NOTHING else [])]
        for answer in ordered
    ]


def _is_there(
    connection: Connection, name: str, session: str, person: str, given: list[dict[str, Any]]
) -> bool:
    owner = connection.execute(select(sessions.c.person_id).where(sessions.c.id == session)).scalar()
    if owner is None:
        return False
    query = select(answers).where(answers.c.session == session)
    there = [dict(row._mapping) for row in connection.execute(query)]
    if all(answer["extra"] == NOTHING for answer in given):  # a file of a version without that column
        there = [{**answer, "extra": NOTHING} for answer in there]
    if owner != person or answers_body(there) != answers_body(given):
        raise UnusableFile(
            f"{name}: session {session!r} is in the archive already with other answers; "
            "give it another name in the file, or a prefix in its map"
        )
    return True


def _header(store: Store, name: str, session: str, person: str, first: Row) -> dict[str, Any]:
    return {
        "person_id": person,
        "instrument": first.instrument,
        "drill": first.drill,
        "for_record": 0,  # what comes from a file is no evidence for a sign-off
        "seed": "0",
        "program_version": "",
        "drawing_version": "",
        "viewing": canonical_text({viewed.NAMED: first.conditions} if first.conditions else {}),
        "px_per_mm": None,
        "station": "",
        "started_at": _in_utc(first.at) or store.now(),
        "plan": canonical_text({"imported_from": name, "session": session}),
    }


def _in_utc(at: str) -> str:
    """Return a moment so that it stands right among others, which are compared as text.

    >>> _in_utc("2026-01-31T23:30:00-05:00"), _in_utc("2026-02-01T04:30:00Z"), _in_utc("2026-02-01")
    ('2026-02-01T04:30:00Z', '2026-02-01T04:30:00Z', '2026-02-01')
    """
    found = datetime.fromisoformat(at) if at else None
    if found is None or not found.utcoffset():  # in UTC already, or it says no time zone
        return at
    try:
        return found.astimezone(UTC).isoformat().replace("+00:00", "Z")
    except OverflowError:  # the first or last day that there is
        return at


def _item(number: int, row: Row) -> dict[str, Any]:
    return {
        "number": row.item or number,
        "position_tenths": row.truth_tenths + 0.0,
        "asks": row.asks or row.drill,
        "extra": "{}",
    }


def _answer(number: int, row: Row) -> dict[str, Any]:
    return {
        "number": row.item or number,
        "typed": row.typed,
        "answer_tenths": None if row.answer_tenths is None else row.answer_tenths + 0.0,
        "outcome": row.outcome,
        "seconds": None if row.seconds is None else row.seconds + 0.0,
        "at": row.at,
        "extra": row.extra or NOTHING,
    }
