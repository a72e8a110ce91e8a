"""An archive on a server that may be away: a drill goes on, and what was done is delivered later.

`Spooled` is an `Archive` for a drill's purposes. While the server answers, everything goes to it. When it
does not, sessions are begun, gone on with and ended in a spool at the station, on disk before a method
returns.
"""

import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from trainer.records import place as places
from trainer.records.archive import Archive
from trainer.records.refusals import ArchiveAway, UnknownPerson
from trainer.records.spool_link import Link
from trainer.records.values import Person, SessionHeader, StoredSession

if TYPE_CHECKING:
    import pandas as pd
    from sqlalchemy import Connection

    from trainer.records.engine import Clock
    from trainer.records.spool_file import SpoolFile


def open_archive(
    place: str | os.PathLike[str] | None = None, *, create: bool = True, clock: "Clock | None" = None
) -> Archive:
    """Open an archive for a drill: a file as it is, a server's with a spool for when it is away."""
    if places.find(place).path is not None:
        return Archive.open(place, create=create, clock=clock)
    return Spooled.begin(place, create=create, clock=clock)


class Spooled(Link):
    """An archive on a server with a spool, delivered by a courier in the background (`spool_delivery.py`).

    Only what a drill needs works while the server is away; everything else raises `ArchiveAway`.
    """

    # people

    def people(self, include_archived: bool = False) -> list[Person]:
        """Return the people; while the server is away, those whom this station knows."""
        return self._asked(
            lambda server: server.people(include_archived), lambda file: file.archive.people(include_archived)
        )

    def person(self, person: str) -> Person:
        """Return the person with this id or name."""

        def known_here(file: "SpoolFile") -> Person:
            try:
                return file.archive.person(person)
            except UnknownPerson as fault:
                raise UnknownPerson(
                    f"{person!r} is not known at this station, and the server does not answer; "
                    "try again when it is back"
                ) from fault

        return self._asked(lambda server: server.person(person), known_here)

    def add_person(self, name: str, *, who: str = "") -> Person:
        """Add a person, at the server."""
        added = super().add_person(name, who=who)
        self._take_people()
        return added

    # sessions

    def begin_session(
        self, person: str | Person, plan: Mapping[str, Any], items: Iterable[Any], header: SessionHeader
    ) -> str:
        """Keep a session with its plan and dealt items; a check under a ticket begins at the server only."""
        dealt = list(items)
        with self._lock:
            known = self.person(person.id if isinstance(person, Person) else person)
            session = self._asked(
                lambda server: server.begin_session(known, plan, dealt, header),
                lambda file: self._begin_here(file, known, plan, dealt, header),
            )
            self._remember(session, known, plan, dealt, header)
            return session

    def _begin_here(
        self,
        file: "SpoolFile",
        person: Person,
        plan: Mapping[str, Any],
        dealt: list[Any],
        header: SessionHeader,
    ) -> str:
        if plan.get("ticket"):
            raise ArchiveAway(
                f"{self._place}: the server does not answer, and a check under a ticket cannot begin "
                "without it; try again when it is back"
            )
        file.follow()
        session = file.archive.begin_session(person, plan, dealt, header)
        self._carried.add(session)
        return session

    def _remember(
        self, session: str, person: Person, plan: Mapping[str, Any], dealt: list[Any], header: SessionHeader
    ) -> None:
        from trainer.records.sittings import as_mapping, item_rows
        from trainer.records.spool_file import Copy

        self._known[session] = Copy(session, person, header, as_mapping(plan), item_rows(dealt))
        if plan.get("ticket"):
            self._guarded.add(session)

    def deal_more(self, session: str, items: Iterable[Any]) -> None:
        """Keep items that were dealt after the session began."""
        from trainer.records.sittings import item_rows

        dealt = list(items)
        self._done(session, lambda s, n: s.deal_more(n, dealt))
        if (known := self._known.get(session)) is not None:
            known.items.extend(item_rows(dealt))

    def save_answer(self, session: str, answer: Any) -> None:
        """Keep one answer; it is on disk, at the server or at this station, on return."""
        from trainer.records.answering import checked

        given = checked(answer)
        self._done(session, lambda s, n: s.save_answer(n, given))
        if (known := self._known.get(session)) is not None:
            known.answers.append(given)

    def note(self, session: str, kind: str, at: str, detail: Any = None) -> None:
        """Keep something that happened during a session."""
        self._done(session, lambda s, n: s.note(n, kind, at, detail))

    def end_session(self, session: str, how: str, at: str) -> None:
        """End a session."""
        self._done(session, lambda s, n: s.end_session(n, how, at))

    def session(self, session: str) -> StoredSession:
        """Return a session with its items, answers and notes."""
        with self._lock:
            now = self._name(session)
            if now in self._carried:
                return self._spool().archive.session(now)

            def kept_here(file: "SpoolFile") -> StoredSession:
                return file.archive.session(self._copy_here(file, session))

            return self._asked(lambda server: self._seen(server.session(now)), kept_here)

    def unfinished(self, person: str | Person) -> list[StoredSession]:
        """Return a person's sessions that have not ended, as far as they are known here, the newest first."""
        with self._lock:
            known = self.person(person.id if isinstance(person, Person) else person)
            there = self._asked(lambda s: [self._seen(one) for one in s.unfinished(known)], lambda _: [])
            own = self.file.archive.unfinished(known) if self.file and self.file.knows(known.id) else []
            here = [one for one in own if one.id in self._carried or (self.away and one.id in self._known)]
            ids = {one.id for one in here} | {one.id for one in there if one.id in self._carried}
            both = [*(one for one in there if one.id not in ids), *here]
            return sorted(both, key=lambda one: one.header.started_at, reverse=True)

    # views

    def sessions(self, person: str | Person | None = None, **wanted: Any) -> "pd.DataFrame":
        """Return sessions; while the server is away, of one person as far as this station knows."""
        return self._viewed("sessions", person, wanted, alone=person is not None)

    def answers(self, person: str | Person | None = None, **wanted: Any) -> "pd.DataFrame":
        """Return answers with their truths; while the server is away, of one session."""
        return self._viewed("answers", person, wanted, alone=False)

    def _viewed(self, what: str, person: Any, wanted: dict[str, Any], *, alone: bool) -> "pd.DataFrame":
        def of(archive: Archive) -> "pd.DataFrame":
            look = archive.sessions if what == "sessions" else archive.answers
            return look(person, **wanted)

        with self._lock:
            session = wanted.get("session")
            if session is not None:
                wanted["session"] = self._name(str(session))
                if wanted["session"] in self._carried:
                    return of(self._spool().archive)

            def kept_here(file: "SpoolFile") -> "pd.DataFrame":
                if session is not None:
                    self._copy_here(file, str(session))
                elif not alone:
                    raise self.not_now()
                return of(file.archive)

            return self._asked(of, kept_here)

    # documents of a check that was gone on with offline

    @contextmanager
    def acting(
        self,
        kind: str,
        *,
        who: str = "",
        detail: Mapping[str, Any] | None = None,
        digest: bytes | None = None,
    ) -> Iterator[tuple["Connection", str]]:
        """Append an act; what the guard saw of a check that was gone on with offline waits with the check."""
        own = self._spool().archive if self._carries_check() else self.server
        if own is None:
            raise self.not_now()
        with own.acting(kind, who=who, detail=detail, digest=digest) as given:
            yield given
