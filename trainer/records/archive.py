"""The archive: people, their sessions, items and answers, each saved as it happens.

Nothing here imports the database library before an archive is opened, so that the window's first picture
does not wait for it.
"""

import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING, Any, Self

from trainer.instrument.refusal import Refusal
from trainer.records import place as places
from trainer.records.values import Person, SessionHeader, StoredSession

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd
    from sqlalchemy import Connection

    from trainer.records.engine import Store

    Clock = Callable[[], datetime]


class Archive:
    """An open archive; a context manager. Safe to use from several threads.

    Whatever a method wrote is on disk when it returns. A refusal (any subclass of
    `trainer.instrument.refusal.Refusal`) means that nothing was written. `person` is an id or a name.
    """

    def __init__(self, store: "Store") -> None:
        """Take an open store; use `Archive.open`."""
        self.store = store

    @classmethod
    def open(
        cls,
        place: str | os.PathLike[str] | None = None,
        *,
        create: bool = True,
        clock: "Clock | None" = None,
        busy_s: float | None = None,
        upgrade: bool = True,
        chain: str | None = None,
    ) -> Self:
        """Open an archive: a file, a URL, or the default one; made when it is not there and `create` is true.

        `clock` returns the present moment (UTC); `busy_s` is how long another program's writing is waited
        for; `chain` names the chain of acts to write to, which is otherwise the file's or the station's own.
        Raises `UnusableArchive` (or a subclass that says more) in one sentence.
        """
        from trainer.records import engine

        store = engine.Store(
            places.find(place),
            clock or engine.utc_now,
            busy_s=engine.BUSY_S if busy_s is None else busy_s,
            chain=chain,
        )
        store.open(create=create, upgrade_old=upgrade)
        return cls(store)

    def close(self) -> None:
        """Close the archive; an open session stays open in it."""
        self.store.close()

    def __enter__(self) -> Self:
        """Return the archive itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close the archive."""
        self.close()

    @property
    def place(self) -> places.Place:
        """Where the archive is."""
        return self.store.place

    @property
    def read_only(self) -> bool:
        """Whether the archive can only be looked at."""
        return self.store.read_only

    # people

    def add_person(self, name: str, *, who: str = "") -> Person:
        """Add a person; `who` is the id of whoever does it. Raises `UnusableName`."""
        from trainer.records import people

        return people.add(self.store, name, who)

    def add_people(self, names: Iterable[str], *, who: str = "") -> tuple[list[Person], list[str]]:
        """Add all of these people, or none; return those added, and the names that were there already."""
        from trainer.records import people

        return people.add_all(self.store, names, who)

    def people(self, include_archived: bool = False) -> list[Person]:
        """Return the people, by name."""
        from trainer.records import people

        with self._reading() as connection:
            return people.listed(connection, include_archived=include_archived)

    def person(self, person: str) -> Person:
        """Return the person with this id or name. Raises `UnknownPerson`."""
        from trainer.records import people

        with self._reading() as connection:
            return people.find(connection, person)

    def rename_person(self, person: str | Person, name: str, *, who: str = "") -> Person:
        """Give a person another name."""
        from trainer.records import people

        return people.rename(self.store, _id(person), name, who)

    def archive_person(self, person: str | Person, *, back: bool = False, who: str = "") -> Person:
        """Put a person away, or bring them back; their sessions stay."""
        from trainer.records import people

        return people.put_away(self.store, _id(person), who, back=back)

    def pseudonymise_person(self, person: str | Person, *, who: str = "") -> Person:
        """Replace a person's name by a code, for good; the chain of acts stays whole."""
        from trainer.records import people

        return people.pseudonymise(self.store, _id(person), who)

    # sessions

    def begin_session(
        self, person: str | Person, plan: Mapping[str, Any], items: Iterable[Any], header: SessionHeader
    ) -> str:
        """Keep a session with its plan and its dealt items; return its id."""
        from trainer.records import sittings

        return sittings.begin(self.store, _id(person), plan, items, header)

    def deal_more(self, session: str, items: Iterable[Any]) -> None:
        """Keep items that were dealt after the session began."""
        from trainer.records import sittings

        sittings.deal_more(self.store, session, items)

    def save_answer(self, session: str, answer: Any) -> None:
        """Keep one answer (mapping or dataclass: number, typed, answer_tenths, outcome, seconds, at).

        The same answer again changes nothing; another answer to the same item is refused.
        """
        from trainer.records import answering

        answering.save(self.store, session, answer)

    def note(self, session: str, kind: str, at: str, detail: Any = None) -> None:
        """Keep something that happened during a session (a pause, a lost focus)."""
        from trainer.records import sittings

        sittings.note(self.store, session, kind, at, detail)

    def end_session(self, session: str, how: str, at: str) -> None:
        """End a session: "finished", "left" or "closed"."""
        from trainer.records import sittings

        sittings.end(self.store, session, how, at)

    def session(self, session: str) -> StoredSession:
        """Return a session with its items, answers and notes. Raises `UnknownSession`."""
        from trainer.records import sittings

        with self._reading() as connection:
            return sittings.load(connection, session)

    def unfinished(self, person: str | Person) -> list[StoredSession]:
        """Return a person's sessions that have not ended, the newest first."""
        from trainer.records import sittings

        with self._reading() as connection:
            return sittings.unfinished(connection, _id(person))

    # views

    def sessions(self, person: str | Person | None = None, **wanted: Any) -> "pd.DataFrame":
        """Return sessions, the oldest first; see `frames.SESSION_COLUMNS`.

        Further filters: session, instrument, drill, for_record, since, until.
        """
        from trainer.records import frames

        with self._reading() as connection:
            return frames.sessions_frame(connection, person=_id(person), **wanted)

    def answers(self, person: str | Person | None = None, **wanted: Any) -> "pd.DataFrame":
        """Return answers with their truths; see `frames.ANSWER_COLUMNS`. Filters as for `sessions`."""
        from trainer.records import frames

        with self._reading() as connection:
            return frames.answers_frame(connection, person=_id(person), **wanted)

    def team(self, **wanted: Any) -> "pd.DataFrame":
        """Return an overview of people from the tallies of their sessions; see `tally.TEAM_COLUMNS`.

        `after` (a name key) and `limit` page through many people; `person` asks for one.
        """
        from trainer.records import tally

        with self._reading() as connection:
            return tally.team_frame(connection, **wanted)

    # settings

    def set_setting(self, name: str, value: Any, *, who: str = "") -> None:
        """Keep a setting of the archive (anything that JSON can say)."""
        from trainer.records import settings

        settings.put(self.store, name, value, who)

    def setting(self, name: str, default: Any = None) -> Any:
        """Return a setting, or `default` when it was never set."""
        from trainer.records import settings

        with self._reading() as connection:
            return settings.get(connection, name, default)

    # the log of acts

    def act(
        self,
        kind: str,
        *,
        who: str = "",
        detail: Mapping[str, Any] | None = None,
        digest: bytes | None = None,
    ) -> str:
        """Append an act to the log; return its place, "chain-number"."""
        from trainer.records import chain

        with self.store.write() as connection:
            seq = chain.append(connection, self.store, kind, who=who, detail=detail, digest=digest)
            return f"{self.store.chain}-{seq}"

    @contextmanager
    def acting(
        self,
        kind: str,
        *,
        who: str = "",
        detail: Mapping[str, Any] | None = None,
        digest: bytes | None = None,
    ) -> Iterator[tuple["Connection", str]]:
        """Append an act; give the connection and the act's place: rows written inside share its fate."""
        from trainer.records import chain

        with self.store.write() as connection:
            seq = chain.append(connection, self.store, kind, who=who, detail=detail, digest=digest)
            yield connection, f"{self.store.chain}-{seq}"

    @contextmanager
    def _reading(self) -> Iterator["Connection"]:
        """Give a connection for reading; records that no program of this kind wrote are refused.

        SQLite keeps text in a column of numbers when somebody puts it there; where the log or the tables
        were tampered with, a view may meet anything.
        """
        from trainer.records.refusals import DamagedArchive

        with self.store.read() as connection:
            try:
                yield connection
            except (
                ValueError,
                TypeError,
                KeyError,
                AttributeError,
                ArithmeticError,
                RecursionError,
            ) as fault:
                if isinstance(fault, Refusal):
                    raise
                raise DamagedArchive(
                    f"{self.place}: a record in it is none that this program wrote, and cannot be read; "
                    "run `tenthwise archive check` to see which, or restore a backup"
                ) from fault


def _id(person: Any) -> Any:
    return person.id if isinstance(person, Person) else person
