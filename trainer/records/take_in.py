"""Taking answers from a file into the archive: all of them or none, and never twice."""

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, insert, select

from trainer.records import chain, people, tally, viewed
from trainer.records.answers_in import Row, UnusableFile, read
from trainer.records.canonical import canonical_text, digest
from trainer.records.engine import Store
from trainer.records.names import name_key
from trainer.records.sittings import session_digest
from trainer.records.tables import answers, items, sessions

NOTHING = "{}"
LONGEST_SESSION = 80  # characters of a session's name in a file


@dataclass
class Taken:
    """What an import did."""

    answers: int = 0
    sessions: int = 0
    people_added: list[str] = field(default_factory=list)
    sessions_there_already: int = 0

    def to_dict(self) -> dict[str, Any]:
        """Return the counts as JSON prints them."""
        return {
            "answers": self.answers,
            "sessions": self.sessions,
            "people_added": self.people_added,
            "sessions_there_already": self.sessions_there_already,
        }


def take_in(
    store: Store, path: str | os.PathLike[str], *, told: Callable[[int], None] = lambda _: None
) -> Taken:
    """Read a file of answers and keep it, each session as one act; `told` hears how many rows are kept.

    A session that is in the archive already with the same answers is passed over. Raises `UnusableFile`
    when a session is there with other answers, and for every fault of the file; nothing is kept then.
    """
    groups = _grouped(read(path))
    name = Path(path).name
    done = Taken()
    with store.write() as connection:
        known: dict[str, str] = {}
        for (person, session), rows in groups.items():
            _check_items(name, session, rows)
            owner = _person(connection, store, person, known, done)
            _take_session(connection, store, name, session, owner, rows, done)
            told(done.answers)
    return done


def _grouped(rows: Iterable[Row]) -> dict[tuple[str, str], list[Row]]:
    groups: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        groups.setdefault((row.person, row.session), []).append(row)
    if not groups:
        raise UnusableFile("the file has column names but no answers; nothing was taken in")
    return groups


def _check_items(name: str, session: str, rows: list[Row]) -> None:
    if len(session) > LONGEST_SESSION:
        raise UnusableFile(
            f"{name}, line {rows[0].line}: the session's name is longer than {LONGEST_SESSION}"
        )
    if any(row.item is None for row in rows) != all(row.item is None for row in rows):
        raise UnusableFile(
            f"{name}, line {rows[0].line}: some rows of session {session!r} have no item number"
        )
    if rows[0].item is not None:
        seen: dict[int, int] = {}
        for row in rows:
            assert row.item is not None
            if row.item in seen:
                raise UnusableFile(
                    f"{name}, line {row.line}: item {row.item} of session {session!r} was on line "
                    f"{seen[row.item]} already; remove one of the two"
                )
            seen[row.item] = row.line
    first = rows[0]
    for row in rows:
        own = (row.instrument, row.drill, row.conditions)
        if own != (first.instrument, first.drill, first.conditions):
            raise UnusableFile(
                f"{name}, line {row.line}: session {session!r} changes its instrument, drill or conditions; "
                "give each a session of its own"
            )


def _person(connection: Connection, store: Store, name: str, known: dict[str, str], done: Taken) -> str:
    key = name_key(name)
    if key not in known:
        found = people.by_key(connection, key)
        if found is None:
            found = people.put_new(connection, store, name, "").id
            done.people_added.append(name)
        known[key] = found
    return known[key]


def _take_session(
    connection: Connection, store: Store, name: str, session: str, person: str, rows: list[Row], done: Taken
) -> None:
    header = _header(store, name, session, person, rows[0])
    dealt = [_item(number, row) for number, row in enumerate(rows, start=1)]
    given = [_answer(number, row) for number, row in enumerate(rows, start=1)]
    if session and _is_there(connection, name, session, person, given):
        done.sessions_there_already += 1
        return
    body = imported_digest(header, dealt, given)
    detail = {"file": name, "session": session, "answers": len(given)}
    seq = chain.append(connection, store, "session-imported", who=person, detail=detail, digest=body)
    made = session or f"{store.chain}-{seq}"
    ended = {
        "ended_how": "closed",
        "ended_at": header["started_at"],
        "end_chain": store.chain,
        "end_seq": seq,
    }
    connection.execute(insert(sessions).values(id=made, **header, **ended))
    connection.execute(insert(items), [{"session": made, **item} for item in dealt])
    own = {"session": made, "chain": store.chain, "seq": seq}
    connection.execute(insert(answers), [{**own, **answer} for answer in given])
    tally.keep(connection, made)
    done.sessions += 1
    done.answers += len(given)


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
            "give it another name in the file"
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
        "started_at": first.at or store.now(),
        "plan": canonical_text({"imported_from": name, "session": session}),
    }


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
