"""The store of a spooled archive: the server's own, or its absence told in a sentence."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC
from typing import TYPE_CHECKING, Any

from trainer.records import place as places
from trainer.records.archive import Archive

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from trainer.records.engine import Clock
    from trainer.records.spool_link import Link


class Front:
    """Stands for a server's store; while a check goes on offline, its documents are read from the spool."""

    def __init__(self, front: "Link") -> None:
        self._front = front

    @property
    def clock(self) -> "Clock":
        return self._front._clock

    @property
    def place(self) -> places.Place:
        return self._front.place

    def now(self) -> str:
        return self.clock().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")

    @contextmanager
    def read(self) -> Iterator["Connection"]:
        front = self._front
        if front._carries_check():
            with front._spool().archive.store.read() as connection:
                yield connection
            return
        with self._there().store.read() as connection:
            yield connection

    def _there(self) -> Archive:
        if self._front.server is None:
            raise self._front.not_now()
        return self._front.server

    def __getattr__(self, name: str) -> Any:
        return getattr(self._there().store, name)
