"""People in the archive: added, renamed, put away; never deleted, because their answers stay."""

import secrets
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update
from sqlalchemy.exc import IntegrityError

from trainer.records import chain
from trainer.records.canonical import digest
from trainer.records.engine import Store
from trainer.records.names import clean_name, name_key
from trainer.records.refusals import UnknownPerson, UnusableName
from trainer.records.tables import people
from trainer.records.values import Person
from trainer.records.words import tell

OWN = (people.c.id, people.c.name, people.c.added_at, people.c.archived_at)


def person_digest(row: dict[str, Any]) -> bytes:
    """Return the digest of a person's record. The salt hides the name from whoever sees only the log."""
    fields = ("name", "added_at", "archived_at", "salt", "revision")
    return digest({field: row[field] for field in fields})


def add(store: Store, name: str, who: str) -> Person:
    """Add a person. Raises `UnusableName` when the name cannot be kept or is there already."""
    with store.write() as connection:
        return put_new(connection, store, clean_name(name), who)


def add_all(store: Store, names: Iterable[str], who: str) -> tuple[list[Person], list[str]]:
    """Add all of these people in one transaction; return those added, and the names that were there."""
    added: list[Person] = []
    there: list[str] = []
    with store.write() as connection:
        for clean in map(clean_name, names):
            if by_key(connection, name_key(clean)) is None:
                added.append(put_new(connection, store, clean, who))
            else:
                there.append(clean)
    return added, there


def put_new(connection: Connection, store: Store, clean: str, who: str) -> Person:
    """Add a person with a cleaned name inside the caller's transaction."""
    _refuse_taken(connection, clean)
    row = {
        "name": clean,
        "added_at": store.now(),
        "archived_at": None,
        "salt": secrets.token_hex(16),
        "revision": 1,
    }
    seq = chain.append(connection, store, "person-added", who=who, digest=person_digest(row))
    made = f"{store.chain}-{seq}"
    try:
        connection.execute(
            insert(people).values(id=made, name_key=name_key(clean), chain=store.chain, seq=seq, **row)
        )
    except IntegrityError as fault:  # another station added the same name at this very moment
        raise _taken(clean, archived=False) from fault
    return Person(made, clean, str(row["added_at"]))


def by_key(connection: Connection, key: str) -> str | None:
    """Return the id of the person whose name has this key, if there is one."""
    found = connection.execute(select(people.c.id).where(people.c.name_key == key)).scalar()
    return None if found is None else str(found)


def rename(store: Store, person: str, name: str, who: str) -> Person:
    """Give a person another name; the record of earlier names is not kept in clear."""
    clean = clean_name(name)
    with store.write() as connection:
        row = _row(connection, person)
        if name_key(clean) != row["name_key"]:
            _refuse_taken(connection, clean)
        row["name"], row["name_key"] = clean, name_key(clean)
        return _put(connection, store, row, "person-renamed", who)


def put_away(store: Store, person: str, who: str, *, back: bool = False) -> Person:
    """Put a person away (no new sessions, not listed), or bring them back."""
    with store.write() as connection:
        row = _row(connection, person)
        row["archived_at"] = None if back else store.now()
        return _put(connection, store, row, "person-restored" if back else "person-archived", who)


def pseudonymise(store: Store, person: str, who: str) -> Person:
    """Replace a person's name by a code; the chain stays whole, because it never held the name."""
    with store.write() as connection:
        row = _row(connection, person)
        row["name"] = f"Person {secrets.token_hex(4).upper()}"
        row["name_key"] = name_key(row["name"])
        return _put(connection, store, row, "person-pseudonymised", who)


def listed(connection: Connection, *, include_archived: bool) -> list[Person]:
    """Return the people, by name."""
    query = select(*OWN).order_by(people.c.name_key)
    if not include_archived:
        query = query.where(people.c.archived_at.is_(None))
    return [Person(*row) for row in connection.execute(query)]


def find(connection: Connection, person: str) -> Person:
    """Return the person with this id or name. Raises `UnknownPerson`, with the names that are near."""
    for row in connection.execute(select(*OWN).where(people.c.id == person)):
        return Person(*row)
    clean = clean_name(person)
    for row in connection.execute(select(*OWN).where(people.c.name_key == name_key(clean))):
        return Person(*row)
    raise UnknownPerson(_unknown(connection, clean))


def _unknown(connection: Connection, name: str) -> str:
    import difflib

    names = {name_key(p.name): p.name for p in listed(connection, include_archived=False)}
    near = [names[key] for key in difflib.get_close_matches(name_key(name), list(names), n=3)]
    remedy = f"did you mean {' or '.join(near)}?" if near else "`tenthwise people list` shows who is there"
    return f"there is no person called {name!r} in the archive; {remedy}"


def _row(connection: Connection, person: str) -> dict[str, Any]:
    found = find(connection, person)
    query = select(people).where(people.c.id == found.id)
    if connection.dialect.name != "sqlite":
        query = query.with_for_update()
    row: Row[Any] = connection.execute(query).one()
    return dict(row._mapping)


def _put(connection: Connection, store: Store, row: dict[str, Any], kind: str, who: str) -> Person:
    row["salt"] = secrets.token_hex(16)
    row["revision"] += 1
    detail = {"person": row["id"], "revision": row["revision"]}
    row["seq"] = chain.append(connection, store, kind, who=who, detail=detail, digest=person_digest(row))
    row["chain"] = store.chain
    try:
        connection.execute(update(people).where(people.c.id == row["id"]).values(**row))
    except IntegrityError as fault:
        raise _taken(row["name"], archived=False) from fault
    return Person(row["id"], row["name"], row["added_at"], row["archived_at"])


def _refuse_taken(connection: Connection, name: str) -> None:
    query = select(people.c.name, people.c.archived_at).where(people.c.name_key == name_key(name))
    for taken, archived_at in connection.execute(query):
        raise _taken(taken, archived=archived_at is not None)


def _taken(name: str, *, archived: bool) -> UnusableName:
    return UnusableName(tell("name.archived" if archived else "name.taken", person=name))
