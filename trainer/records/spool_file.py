"""A station's spool: a small archive of its own in which a drill goes on while the server is away.

It has a chain of acts under a code of its own. What is done offline is appended to that chain at once and on
disk when the call returns; `spool_delivery.py` later carries the acts to the server one by one, as they are.
Besides, it holds copies of the people and of the sessions gone on with, so that a drill finds them.
"""

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

from sqlalchemy import Connection, insert, select, text

from trainer.records import place as places
from trainer.records import sittings, upgrade
from trainer.records.archive import Archive
from trainer.records.canonical import FIRST, canonical_text, digest
from trainer.records.faults import told_plainly
from trainer.records.refusals import DamagedArchive, ReadOnlyArchive
from trainer.records.tables import answers, items, people, sessions
from trainer.records.values import Person, SessionHeader, StoredAnswer, StoredItem, StoredSession

if TYPE_CHECKING:
    from trainer.records.engine import Clock

FOLDER = "spool"
LAID_OUT = (
    "CREATE TABLE IF NOT EXISTS spool (name TEXT PRIMARY KEY, value TEXT NOT NULL)",
    "CREATE TABLE IF NOT EXISTS spool_names (old TEXT PRIMARY KEY, new TEXT NOT NULL)",
)
WAITING = "SELECT count(*) FROM acts WHERE chain = :code AND seq > :seq AND kind LIKE :kind"
CARRIED = "SELECT DISTINCT session FROM acts WHERE chain = :code AND seq > :seq AND session IS NOT NULL"
BEGUN = "SELECT chain || '-' || seq FROM acts WHERE chain = :code AND seq > :seq AND kind = 'session-begun'"


def spool_path(place: places.Place) -> Path:
    """Return where answers wait for a server's archive: a file of the user's own for each database."""
    parts = urlsplit(place.url or "")
    asked = {key: value for key, value in sorted(parse_qs(parts.query).items()) if key in ("host", "port")}
    name = digest({"server": parts.netloc.rpartition("@")[2], "database": parts.path, "asked": asked}).hex()[
        :16
    ]
    return places.user_folder() / FOLDER / f"{name}.tenthwise"


@dataclass
class Copy:
    """A session as this program last knew it, so that it can be gone on with when the server is away."""

    id: str
    person: Person
    header: SessionHeader
    plan: dict[str, Any]
    items: list[dict[str, Any]] = field(default_factory=list)  # rows, without the session
    answers: list[StoredAnswer] = field(default_factory=list)

    @classmethod
    def of(cls, stored: StoredSession) -> "Copy":
        """Return the copy of a session read back."""
        rows = [_item_row(item) for item in stored.items]
        return cls(stored.id, stored.person, stored.header, dict(stored.plan), rows, list(stored.answers))


def _item_row(item: StoredItem) -> dict[str, Any]:
    extra = canonical_text(dict(item.extra))
    own = {"number": item.number, "position_tenths": item.position_tenths, "asks": item.asks}
    return {**own, "extra": extra}


class SpoolFile:
    """An open spool. `archive` is the small archive itself; it writes to the chain of the spool's code."""

    def __init__(self, archive: Archive) -> None:
        """Take an open archive; use `SpoolFile.open`."""
        self.archive = archive
        with self.write() as connection:
            for statement in LAID_OUT:
                connection.execute(text(statement))
            if self.told(connection, "code") is None:
                self.begin_chain(connection)
            self.archive.store.chain = str(self.told(connection, "code"))

    @classmethod
    def open(cls, path: Path, clock: "Clock | None" = None) -> "SpoolFile":
        """Open a spool, and make it where there is none. Raises `UnusableArchive` or a subclass."""
        with told_plainly(path):
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        try:
            archive = Archive.open(path, clock=clock)
        except DamagedArchive as fault:
            raise DamagedArchive(
                f"{path}: the file in which answers wait for the server is damaged; nothing was written "
                "to it. Save what can be saved with `tenthwise archive rescue`, then move it away to go on"
            ) from fault
        if archive.read_only:
            archive.close()
            raise ReadOnlyArchive(f"{path}: answers cannot wait here for the server; check the permissions")
        return cls(archive)

    @property
    def code(self) -> str:
        """The chain's code. Another program at this station may have begun a new one since the last look."""
        return self.archive.store.chain

    def write(self) -> contextlib.AbstractContextManager[Connection]:
        """Give the connection for writing."""
        return self.archive.store.write()

    def close(self) -> None:
        """Close the file."""
        self.archive.close()

    # what the spool knows of itself

    def told(self, connection: Connection, name: str) -> str | None:
        """Return what is written down under a name."""
        found = connection.execute(
            text("SELECT value FROM spool WHERE name = :name"), {"name": name}
        ).scalar()
        return None if found is None else str(found)

    def tell(self, connection: Connection, **values: str) -> None:
        """Write something down."""
        for name, value in values.items():
            connection.execute(
                text("INSERT OR REPLACE INTO spool VALUES (:name, :value)"), {"name": name, "value": value}
            )

    def begin_chain(self, connection: Connection) -> str:
        """Take a new code, of whose chain nothing is delivered."""
        code = upgrade.new_code()
        self.tell(connection, code=code, seq="0", hash=FIRST.hex())
        return code

    def mark(self, connection: Connection) -> tuple[str, int, bytes]:
        """Return the chain's code, and number and hash of the last act known to be delivered."""
        found = {name: self.told(connection, name) for name in ("code", "seq", "hash")}
        return str(found["code"]), int(found["seq"] or 0), bytes.fromhex(found["hash"] or "")

    def follow(self) -> None:
        """Write to the chain that the spool has now."""
        with self.archive.store.read() as connection:
            self.archive.store.chain = self.mark(connection)[0]

    def waiting(self, kind: str = "%") -> int:
        """Return how many acts, of a kind or of all, wait for delivery."""
        with self.archive.store.read() as connection:
            code, seq, _ = self.mark(connection)
            return int(
                connection.execute(text(WAITING), {"code": code, "seq": seq, "kind": kind}).scalar_one()
            )

    def carried(self) -> set[str]:
        """Return the sessions of which something waits for delivery."""
        with self.archive.store.read() as connection:
            code, seq, _ = self.mark(connection)
            own = {"code": code, "seq": seq}
            return {str(row[0]) for query in (CARRIED, BEGUN) for row in connection.execute(text(query), own)}

    def names(self) -> dict[str, str]:
        """Return the new name of each session that delivery has given another one."""
        with self.archive.store.read() as connection:
            return {row.old: row.new for row in connection.execute(text("SELECT old, new FROM spool_names"))}

    # copies of what the server holds

    def keep_people(self, rows: Iterable[dict[str, Any]]) -> None:
        """Take over who is on the server's list; nobody is known otherwise when it is away."""
        with self.write() as connection:
            connection.execute(text("PRAGMA defer_foreign_keys = ON"))
            own = {str(row["id"]): row for row in rows}
            kept = {str(row.id): dict(row._mapping) for row in connection.execute(select(people))}
            if own == kept:
                return
            used = {str(row[0]) for row in connection.execute(select(sessions.c.person_id).distinct())}
            for gone in used - set(own):  # of another archive at this address, or of one set back
                own[gone] = {
                    **kept[gone],
                    "name_key": f"{kept[gone]['name_key']}#{gone}",
                    "archived_at": "gone",
                }
            connection.execute(people.delete())
            if own:
                connection.execute(insert(people), list(own.values()))

    def copy(self, known: Copy, name: str) -> None:
        """Take over a session, by the name it has now, with the items and answers that are not here yet."""
        with self.write() as connection:
            if connection.execute(select(sessions.c.id).where(sessions.c.id == name)).scalar() is None:
                row = sittings.session_row(self.archive.store, known.person, known.plan, known.header)
                connection.execute(insert(sessions).values(id=name, **row))
            for item in known.items:
                connection.execute(insert(items).prefix_with("OR IGNORE").values(session=name, **item))
            for one in known.answers:
                row = {
                    "session": name, "number": one.number, "typed": one.typed,
                    "answer_tenths": one.answer_tenths, "outcome": one.outcome, "seconds": one.seconds,
                    "at": one.at, "chain": "", "seq": 0, "extra": canonical_text(dict(one.extra)),
                }  # fmt: skip
                connection.execute(insert(answers).prefix_with("OR IGNORE").values(**row))

    def knows(self, person: str) -> bool:
        """Return whether the person with this id is here."""
        with self.archive.store.read() as connection:
            return connection.execute(select(people.c.id).where(people.c.id == person)).scalar() is not None

    def holds(self, session: str) -> bool:
        """Return whether a session is here."""
        with self.archive.store.read() as connection:
            return (
                connection.execute(select(sessions.c.id).where(sessions.c.id == session)).scalar() is not None
            )

    def forget(self) -> None:
        """Take away what is delivered and over, when nothing waits; the chain goes on where it was."""
        with self.write() as connection:
            code, seq, _ = self.mark(connection)
            if connection.execute(text(WAITING), {"code": code, "seq": seq, "kind": "%"}).scalar_one():
                return
            for statement in (
                "DELETE FROM acts WHERE chain = :code",
                "DELETE FROM documents",
                "DELETE FROM answers WHERE session IN (SELECT id FROM sessions WHERE ended_how IS NOT NULL)",
                "DELETE FROM items WHERE session IN (SELECT id FROM sessions WHERE ended_how IS NOT NULL)",
                "DELETE FROM tallies",
                "DELETE FROM sessions WHERE ended_how IS NOT NULL",
            ):
                connection.execute(text(statement), {"code": code} if ":code" in statement else {})
