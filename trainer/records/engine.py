"""The connection to an archive: how it is opened, read and written on SQLite and on PostgreSQL."""

import contextlib
import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, pool, text
from sqlalchemy.exc import SQLAlchemyError

from trainer.instrument.refusal import Refusal
from trainer.records import station, upgrade
from trainer.records.faults import refusal_for, told_plainly
from trainer.records.place import Place
from trainer.records.refusals import (
    ArchiveAway,
    DamagedArchive,
    MissingArchive,
    NotAnArchive,
    ReadOnlyArchive,
    UnusableArchive,
)
from trainer.records.sample import ONLY_LOOKED_AT, is_sample, stopped_clock

SQLITE_HEADER = b"SQLite format 3\x00"  # https://www.sqlite.org/fileformat.html, 1.3
BUSY_S = 5.0  # how long another program's writing is waited for
# a network that is gone is noticed after about ten seconds (PostgreSQL manual, "libpq: parameter key words")
NOTICED = {
    "tcp_user_timeout": 10_000,
    "keepalives_idle": 5,
    "keepalives_interval": 2,
    "keepalives_count": 3,
}
RESTED_S = 10.0  # a connection to a server that was not used for longer is tried before use
QUICK_CHECK_BYTES = 8 << 20  # up to this size a file is checked through and through at opening

Clock = Callable[[], datetime]


def utc_now() -> datetime:
    """Return the present moment in UTC."""
    return datetime.now(UTC)


class Store:
    """One open archive: `read()` and `write()` give connections, in any thread.

    Writing goes through one connection and one lock; reading takes connections from a pool, and sees
    everything that was committed before it began.
    """

    def __init__(self, place: Place, clock: Clock, *, busy_s: float, chain: str | None) -> None:
        self.place = place
        self.clock = clock
        self.busy_s = busy_s
        self.chain = chain or ""  # settled when the archive is opened
        self.read_only = False
        self.sample = False
        self.head: tuple[int, bytes, str] | None = None  # of the chain, as last written; never relied upon
        self.lock = threading.RLock()
        self._writer: Connection | None = None
        self._written_s = 0.0
        self._immutable = False
        self.engine = self._sqlite() if place.path else self._postgres()
        self.sqlite = place.path is not None

    def now(self) -> str:
        """Return the present moment as the log writes it: ISO 8601, UTC, 27 characters."""
        return self.clock().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Give a connection for reading, in one transaction."""
        with told_plainly(self.place), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def snapshot(self) -> Iterator[Connection]:
        """Give a connection for long reading that sees one moment, whatever is written meanwhile."""
        with told_plainly(self.place), self.engine.connect() as connection:
            if not self.sqlite:  # a read transaction of SQLite sees one moment by itself
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Give the connection for writing; everything inside is on disk on leaving, or nothing is."""
        if self.sample:
            raise ReadOnlyArchive(f"{self.place}: {ONLY_LOOKED_AT}")
        if self.read_only:
            raise ReadOnlyArchive(
                f"{self.place}: it can be read but not written to; check the file's permissions"
            )
        with self.lock, told_plainly(self.place):
            writer = self._ready_writer()
            self._look_for_its_file()
            try:
                with writer.begin():
                    yield writer
                self._written_s = time.monotonic()
            except BaseException as fault:
                if not isinstance(fault, Refusal):
                    self._drop_writer(broken=True)  # a connection that failed is not trusted again
                raise

    def _look_for_its_file(self) -> None:
        """Raise where the file is gone: the system would go on writing to what nobody can open again."""
        if self.place.path is not None and not self.place.path.exists():
            self._drop_writer()
            self.engine.dispose()
            raise ArchiveAway(
                f"{self.place}: the file is gone from its place; check the drive and the connection"
            )

    @contextmanager
    def single(self) -> Iterator[Any]:
        """Give a cursor of a server's driver with which each statement is a transaction of its own.

        A statement that has returned is on disk, after one way there and back.
        """
        with self.lock, told_plainly(self.place):
            driver: Any = self._ready_writer().connection.driver_connection
            try:
                driver.autocommit = True
                with driver.cursor() as cursor:
                    yield cursor
                self._written_s = time.monotonic()
            finally:
                try:
                    driver.autocommit = False
                except Exception:  # noqa: BLE001 (lost, or stopped half-way: not trusted again)
                    self._drop_writer(broken=True)

    def _ready_writer(self) -> Connection:
        """Return the connection for writing; one to a server that has rested is asked whether it still is."""
        if self._writer is not None and not self.sqlite and time.monotonic() - self._written_s > RESTED_S:
            try:
                with self._writer.begin():
                    self._writer.exec_driver_sql("SELECT 1")
            except SQLAlchemyError:
                self._drop_writer()
        if self._writer is None or self._writer.closed or self._writer.invalidated:
            self._drop_writer()
            self._writer = self.engine.connect().execution_options(writes=True)
        return self._writer

    def _drop_writer(self, *, broken: bool = False) -> None:
        if self._writer is not None:
            with contextlib.suppress(Exception):
                if broken:
                    self._writer.invalidate()
                self._writer.close()
        self._writer = None

    def close(self) -> None:
        """Close every connection."""
        with self.lock:
            self._drop_writer()
            self.engine.dispose()

    def _sqlite(self) -> Engine:
        engine = create_engine("sqlite://", creator=self._sqlite_connection, poolclass=pool.QueuePool)

        @event.listens_for(engine, "begin")
        def begin(connection: Connection) -> None:
            writes = connection.get_execution_options().get("writes", False)
            connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

        return engine

    def _sqlite_connection(self) -> sqlite3.Connection:
        assert self.place.path is not None
        mode = "?immutable=1" if self._immutable else "?mode=ro" if self.read_only else "?mode=rw"
        connection = sqlite3.connect(
            self.place.path.absolute().as_uri() + mode,
            uri=True,
            timeout=self.busy_s,
            isolation_level=None,  # transactions are begun above, in the mode that fits
            check_same_thread=False,
        )
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA trusted_schema = OFF")  # a poisoned file must not run functions
        if not self.read_only:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")  # each commit is on disk, not only in memory
            connection.execute("PRAGMA fullfsync = ON")  # the same where the system needs to be asked twice
        return connection

    def _postgres(self) -> Engine:
        assert self.place.url is not None
        return create_engine(
            self.place.url,
            pool_pre_ping=True,
            connect_args={
                "connect_timeout": max(2, round(self.busy_s)),
                "application_name": "tenthwise",
                **NOTICED,
            },
        )

    def open(self, *, create: bool, upgrade_old: bool | None = True) -> None:
        """Recognise the archive, make or upgrade it where that is asked for, and settle the chain.

        An older archive is upgraded (True), refused (False), or left as it is for the caller (None).
        """
        try:
            if self.sqlite:
                self._look_at_file(create=create)
            with told_plainly(self.place):
                self._settle_version(create=create, upgrade_old=upgrade_old)
        except BaseException:
            self.close()
            raise

    def _look_at_file(self, *, create: bool) -> None:
        path = self.place.path
        assert path is not None
        try:
            self._look(path, create=create)
        except OSError as fault:
            raise refusal_for(fault, str(path)) from fault

    def _look(self, path: Path, *, create: bool) -> None:
        if not path.exists():
            if not create:
                raise MissingArchive(
                    f"{path}: there is no such archive; check the name (`tenthwise people add` makes one)"
                )
            os.close(os.open(path, os.O_CREAT | os.O_WRONLY, 0o600))  # for its owner alone
        self.read_only = not (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK))
        size = path.stat().st_size
        if size == 0:
            if self.read_only or not create:
                raise NotAnArchive(f"{path}: the file is empty, not a Tenthwise archive; name another file")
            return
        with path.open("rb") as file:
            header = file.read(100)
        if not header.startswith(SQLITE_HEADER):
            raise NotAnArchive(f"{path}: it is not a Tenthwise archive; name another file")
        self.sample = is_sample(header)
        self.read_only = self.read_only or self.sample
        wal = path.with_name(path.name + "-wal")
        self._immutable = self.read_only and not (wal.exists() and wal.stat().st_size)
        self._look_for_damage(path, size)

    def _look_for_damage(self, path: Path, size: int) -> None:
        """Raise `DamagedArchive` before anything is written to a file that is not whole."""
        wal = path.with_name(path.name + "-wal")
        uri = path.absolute().as_uri() + ("?mode=ro" if wal.exists() else "?immutable=1")
        damaged = DamagedArchive(
            f"{path}: the file is damaged; nothing was written to it. Save what can be saved with "
            "`tenthwise archive rescue`, or restore a backup"
        )
        try:
            with contextlib.closing(sqlite3.connect(uri, uri=True, timeout=self.busy_s)) as connection:
                pages = connection.execute("PRAGMA page_count").fetchone()[0]
                page = connection.execute("PRAGMA page_size").fetchone()[0]
                if pages * page > size and not wal.exists():
                    raise damaged
                if size <= QUICK_CHECK_BYTES:
                    found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
                    if found != "ok" and not (wal.exists() and "immutable" in uri):  # in use since then
                        raise damaged
        except sqlite3.OperationalError as fault:
            raise refusal_for(fault, str(path)) from fault
        except (sqlite3.DatabaseError, UnicodeDecodeError) as fault:  # its own words may be spoilt, too
            raise damaged from fault

    def _settle_version(self, *, create: bool, upgrade_old: bool | None) -> None:
        with self.engine.connect() as connection, connection.begin():
            found = upgrade.version_of(connection)
            if found is None and (self.read_only or not create):
                raise NotAnArchive("it holds nothing yet; it is not a Tenthwise archive")
            if found is not None:
                may = upgrade_old is None or (upgrade_old and not self.read_only)
                upgrade.check_version(found, len(upgrade.STEPS), may_upgrade=may)
        if found is None or (found < len(upgrade.STEPS) and upgrade_old):
            self.upgrade()
        with self.engine.connect() as connection, connection.begin():
            home = connection.execute(text(f"SELECT home_chain FROM {upgrade.MARK}")).scalar()
            if self.sample:
                self.clock = stopped_clock(connection, self.clock)
        if home is None:
            raise UnusableArchive("it has lost its own description; restore a backup")
        self.chain = self.chain or (str(home) if self.sqlite else station.code())

    def version(self) -> int:
        """Return how many upgrade steps the archive has."""
        with self.read() as connection:
            return upgrade.version_of(connection) or 0

    def upgrade(self) -> tuple[int, int]:
        """Run the missing steps in one transaction; return the versions before and after."""
        from trainer.records import chain, tally

        new = self.chain or upgrade.home_for(self.sqlite)
        with self.write() as connection:
            before, after = upgrade.upgrade(connection, self.now(), new)
            if before < after:
                row = dict(connection.execute(text(f"SELECT * FROM {upgrade.MARK}")).one()._mapping)
                self.chain = self.chain or (str(row["home_chain"]) if self.sqlite else new)
                tally.keep_missing(connection)
                kind = "archive-upgraded" if before else "archive-made"
                vouched = None if before else chain.archive_digest(row)
                chain.append(connection, self, kind, detail={"from": before, "to": after}, digest=vouched)
        return before, after
