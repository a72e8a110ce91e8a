"""The two sides of a spooled archive: the server, the spool, and the courier that goes between them.

While the server answers, everything goes to it. A session of which something waits in the spool stays with
the spool until all is delivered, so that nothing overtakes.
"""

import contextlib
import os
import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Self, TypeVar, cast

from trainer.records import place as places
from trainer.records.archive import Archive
from trainer.records.refusals import ArchiveAway, DamagedArchive, UnusableArchive
from trainer.records.spool_store import Front
from trainer.records.values import StoredSession

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.records.engine import Clock, Store
    from trainer.records.spool_file import Copy, SpoolFile

RETRY_S = 5.0  # how often the courier tries a server that is away
AT_ONCE_S = 2.0  # how long opening and closing wait for a delivery
Given = TypeVar("Given")


class Link(Archive):
    """A server's archive and the spool beside it; who of both answers.

    `trouble` says why something that waits is not delivered, or why nothing can wait here.
    """

    def __init__(
        self, place: places.Place, file: "SpoolFile | None", clock: "Clock", trouble: str = ""
    ) -> None:
        """Join a place and a spool; use `Spooled.begin`."""
        self.file, self.trouble, self._clock, self._place = file, trouble, clock, place
        self.server: Archive | None = None
        self.store = cast("Store", Front(self))
        self._known: dict[str, Copy] = {}  # sessions seen by this program, for going on with
        self._carried: set[str] = file.carried() if file else set()
        self._names: dict[str, str] = file.names() if file else {}
        self._guarded: set[str] = set()
        self._lock = threading.RLock()
        self._wake, self._over = threading.Event(), False
        self._courier: threading.Thread | None = None

    @classmethod
    def begin(
        cls,
        place: str | os.PathLike[str] | None,
        *,
        spool: "Path | None" = None,
        create: bool = True,
        clock: "Clock | None" = None,
        busy_s: float | None = None,
        courier: bool = True,
        chain: str | None = None,
    ) -> Self:
        """Open a server's archive with its spool, deliver what waits, and keep a courier for the rest.

        Raises `ArchiveAway` when the server is away and nobody is known at this station yet.
        """
        from trainer.records.engine import utc_now
        from trainer.records.spool_file import SpoolFile, spool_path

        found, trouble = places.find(place), ""
        try:
            file: SpoolFile | None = SpoolFile.open(spool or spool_path(found), clock)
        except DamagedArchive:
            raise
        except UnusableArchive as fault:
            file, trouble = None, str(fault)
        front = cls(found, file, clock or utc_now, trouble)
        try:
            front._open_server(create=create, busy_s=busy_s, chain=chain)
        except BaseException:
            front.close()
            raise
        if courier and file is not None:
            front._courier = threading.Thread(target=front._carry_on, name="courier", daemon=True)
            front._courier.start()
        return front

    def _open_server(
        self, *, create: bool = False, busy_s: float | None = None, chain: str | None = None
    ) -> None:
        self._opening: dict[str, Any] = {"clock": self._clock, "busy_s": busy_s, "chain": chain}
        try:
            self.server = Archive.open(self._place.url, create=create, **self._opening)
        except ArchiveAway:
            if self.file is None or not self.file.archive.people(include_archived=True):
                raise
        except UnusableArchive as fault:
            if waits := self.waiting():
                answers = "1 answer waits" if waits == 1 else f"{waits} answers wait"
                kept = f"{answers} at this station and {'is' if waits == 1 else 'are'} kept"
                raise type(fault)(f"{fault}; {kept}") from fault
            raise
        if self.server is not None:
            self._take_people()
            self._try_to_deliver(time.monotonic() + AT_ONCE_S)

    def close(self) -> None:
        """Close both; what is not delivered by then waits for the next start."""
        self._over = True
        self._wake.set()
        if self._courier is not None:
            self._courier.join(AT_ONCE_S + 5.0)
        if self.server is not None and self.waiting():
            self._try_to_deliver(time.monotonic() + AT_ONCE_S)
        if self.server is not None:
            self.server.close()
        if self.file is not None:
            self.file.close()

    @property
    def place(self) -> places.Place:
        """Where the archive is."""
        return self._place

    @property
    def read_only(self) -> bool:
        """Whether the archive can only be looked at."""
        return False

    @property
    def away(self) -> bool:
        """Whether the server did not answer when it was last asked."""
        return self.server is None

    def waiting(self) -> int:
        """Return how many answers wait at this station; at least 1 while anything else waits."""
        if self.file is None:
            return 0
        return self.file.waiting("answer") or min(1, self.file.waiting())

    # delivery

    def _carry_on(self) -> None:
        """Deliver and reconnect in the background, until the archive is closed."""
        while not self._over:
            self._wake.wait(RETRY_S)
            self._wake.clear()
            if not self._over and (self.away or self._carried):
                with contextlib.suppress(UnusableArchive):  # of the spool itself; the next answer says so
                    self.reach()

    def reach(self) -> bool:
        """Try to reach the server and to deliver all that waits; return whether nothing waits any more."""
        if self.away:
            try:
                found = Archive.open(self._place.url, create=False, **self._opening)
            except UnusableArchive as fault:
                self.trouble = "" if isinstance(fault, ArchiveAway) else str(fault)
                return False
            with self._lock:
                self.server = found
            self._take_people()
        return self._try_to_deliver(None)

    def _try_to_deliver(self, until_s: float | None) -> bool:
        """Deliver what waits, as long as that goes; a refusal is remembered as the trouble."""
        from trainer.instrument.refusal import Refusal
        from trainer.records.spool_delivery import deliver

        server = self.server
        if self.file is None or server is None:
            return False
        try:
            deliver(server.store, self.file, until_s=until_s)
            self.trouble = ""
        except ArchiveAway:
            self._lost(server)
        except Refusal as fault:
            self.trouble = str(fault)
        with self._lock:
            self._carried, self._names = self.file.carried(), self.file.names()
            return not self._carried and not self.away

    def _take_people(self) -> None:
        from sqlalchemy import select

        from trainer.instrument.refusal import Refusal
        from trainer.records.tables import people

        if self.file is None or self.server is None:
            return
        try:
            with self.server.store.read() as connection:
                rows = [dict(row._mapping) for row in connection.execute(select(people))]
            self.file.keep_people(rows)
        except ArchiveAway:
            self._lost(self.server)
        except Refusal as fault:
            self.trouble = str(fault)

    def _lost(self, server: Archive | None) -> None:
        """Remember that the server is away, and let the courier look for it."""
        with self._lock:
            if server is None or server is not self.server:
                return
            self.server = None
        server.close()

    # who answers

    def _asked(self, online: Callable[[Archive], Given], offline: Callable[["SpoolFile"], Given]) -> Given:
        """Ask the server, and the spool when it is away."""
        with self._lock:
            if (server := self.server) is not None:
                try:
                    return online(server)
                except ArchiveAway:
                    if self.file is None:
                        raise
                    self._lost(server)
            return offline(self._spool())

    def _done(self, session: str, act: Callable[[Archive, str], Any]) -> None:
        """Let something happen in a session: at the server, or in the spool while anything of it waits."""
        with self._lock:
            now = self._name(session)
            if now not in self._carried and self.server is not None:
                server = self.server
                try:
                    act(server, now)
                    return
                except ArchiveAway:
                    if self.file is None:
                        raise
                    self._lost(server)
            file = self._spool()
            file.follow()
            self._names = file.names()  # another program here may have delivered under a new chain
            now = self._name(session)
            if now not in self._carried:
                self._copy_here(file, session)
            act(file.archive, now)
            self._carried.add(now)

    def _name(self, session: str) -> str:
        """Return what a session is called now; delivery may have found it under another name."""
        for _ in range(len(self._names)):
            session = self._names.get(session, session)
        return session

    def _spool(self) -> "SpoolFile":
        if self.file is None:
            raise self.not_now()
        return self.file

    def not_now(self) -> ArchiveAway:
        """Return the refusal of what cannot be done without the server."""
        return ArchiveAway(
            f"{self._place}: the server does not answer; drills go on without it, "
            "and this can be done when it is back"
        )

    def _copy_here(self, file: "SpoolFile", session: str) -> str:
        """Have a session in the spool to go on with; return what it is called now."""
        now = self._name(session)
        known = self._known.get(session) or self._known.get(now)
        if known is not None:
            file.copy(known, now)
        elif not file.holds(now):
            raise self.not_now()
        return now

    def _seen(self, stored: StoredSession) -> StoredSession:
        from trainer.records.spool_file import Copy

        self._known[stored.id] = Copy.of(stored)
        if stored.plan.get("ticket"):
            self._guarded.add(stored.id)
        return stored

    def _carries_check(self) -> bool:
        return self.file is not None and any(self._name(one) in self._carried for one in self._guarded)
