"""Saving what can be saved from a damaged file into a new archive; the damaged file is only read."""

import contextlib
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Generator, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from trainer.records import tally, upgrade
from trainer.records.canonical import FIRST
from trainer.records.copying import OWN, describe_copy, tables_of
from trainer.records.engine import BUSY_S, SQLITE_HEADER, Store, utc_now
from trainer.records.faults import told_plainly
from trainer.records.place import Place
from trainer.records.refusals import DamagedArchive, MissingArchive, UnusableArchive
from trainer.records.whole import whole_file

# Tables by the order in which they are saved, with the columns by which a damaged one is searched piecewise.
KEYS = {
    "chains": ("chain",),
    "acts": ("chain", "seq"),
    "people": ("id",),
    "sessions": ("id",),
    "items": ("session", "number"),
    "answers": ("session", "number"),
    "settings": ("name",),
}


@dataclass
class Rescued:
    """How many rows were saved by table, and which tables could not be read to the end."""

    rows: dict[str, int] = field(default_factory=dict)
    damaged: list[str] = field(default_factory=list)


def rescue(source: Path, target: Path) -> Rescued:
    """Save what can be read of a damaged archive into a new one, which `archive check` can then judge.

    Raises `DamagedArchive` when nothing at all can be read.
    """
    if not source.is_file():
        raise MissingArchive(f"{source}: there is no such file; check the name")
    if target.exists():
        raise UnusableArchive(f"{target}: it exists already; name a new file")
    with (
        tempfile.TemporaryDirectory() as folder,
        told_plainly(source),
        contextlib.closing(_opened(source, Path(folder))) as damaged,
    ):
        return _save(damaged, source, target)


def _opened(source: Path, folder: Path) -> sqlite3.Connection:
    """Open a copy, so that nothing is written beside the damaged file, with its first bytes mended."""
    copy = folder / "damaged"
    shutil.copyfile(source, copy)
    wal = source.with_name(source.name + "-wal")
    if wal.exists():
        shutil.copyfile(wal, folder / "damaged-wal")
    with copy.open("r+b") as file:
        if file.read(16) != SQLITE_HEADER:
            file.seek(0)
            file.write(SQLITE_HEADER)
        _mend_length(file)
    connection = sqlite3.connect(copy, isolation_level=None)
    connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA cell_size_check = ON")
    connection.row_factory = sqlite3.Row
    return connection


def _mend_length(file: BinaryIO) -> None:
    """Let the header of a file that was cut short tell of the pages there are (file format, 1.3)."""
    size = file.seek(0, os.SEEK_END)
    file.seek(16)
    page = int.from_bytes(file.read(2), "big")
    page = 65536 if page == 1 else page
    file.seek(28)
    if page < 512 or int.from_bytes(file.read(4), "big") * page <= size:
        return
    there = -(-size // page)
    file.truncate(there * page)
    file.seek(28)
    file.write(there.to_bytes(4, "big"))


def _save(damaged: sqlite3.Connection, source: Path, target: Path) -> Rescued:
    done = Rescued()
    tables = _tables(damaged, source)
    with whole_file(target) as temporary:
        store = Store(Place(temporary), utc_now, busy_s=BUSY_S, chain=None)
        try:
            store.chain = upgrade.home_for(sqlite=True)
            with store.engine.connect() as plain:  # rows whose parents are lost are saved as well
                plain.exec_driver_sql("COMMIT")
                plain.exec_driver_sql("PRAGMA foreign_keys = OFF")
                plain.exec_driver_sql("BEGIN IMMEDIATE")
                upgrade.upgrade(plain, store.now(), store.chain)
                driver = plain.connection.driver_connection
                assert isinstance(driver, sqlite3.Connection)
                for table in tables:
                    _save_table(damaged, driver, table, done)
                tally.keep_missing(plain)
                _describe(damaged, plain, store, done)
                plain.exec_driver_sql("COMMIT")
                plain.exec_driver_sql("BEGIN")
        finally:
            store.close()
    return done


def _tables(damaged: sqlite3.Connection, source: Path) -> list[str]:
    try:
        found = {row[0] for row in damaged.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    except sqlite3.DatabaseError as fault:
        raise DamagedArchive(
            f"{source}: the file's own table of contents is destroyed; restore a backup"
        ) from fault
    if "answers" not in found:
        raise DamagedArchive(f"{source}: there is no table of answers in it; restore a backup")
    later = sorted(found & set(_later_tables()))
    return [*(table for table in KEYS if table in found), *later]


def _later_tables() -> dict[str, tuple[str, ...]]:
    """Return the tables that later upgrade steps added, with their keys; tallies are made again."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store(Place(Path(folder) / "new"), utc_now, busy_s=BUSY_S, chain=None)
        try:
            store.open(create=True)
            with store.read() as connection:
                laid_out = tables_of(connection)
        finally:
            store.close()
    keys = {table.name: tuple(column.name for column in table.primary_key) for table in laid_out}
    return {name: key for name, key in keys.items() if name not in KEYS and name != "tallies"}


def _save_table(damaged: sqlite3.Connection, into: sqlite3.Connection, table: str, done: Rescued) -> None:
    done.rows[table] = 0
    for row in _rows(damaged, table, done):
        names = ", ".join(row.keys())
        marks = ", ".join("?" * len(row))
        with contextlib.suppress(sqlite3.IntegrityError, sqlite3.OperationalError):  # a row that is nonsense
            put = into.execute(f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({marks})", tuple(row))
            done.rows[table] += put.rowcount


def _rows(damaged: sqlite3.Connection, table: str, done: Rescued) -> Iterator[sqlite3.Row]:
    """Yield the rows from the front, and after a fault from the back and piece by piece."""
    keys = KEYS.get(table) or _later_tables()[table]
    order = ", ".join(keys)
    backwards = ", ".join(f"{key} DESC" for key in keys)
    if (yield from _until_fault(damaged, f"SELECT * FROM {table} ORDER BY {order}", ())):
        return
    done.damaged.append(table)
    yield from _until_fault(damaged, f"SELECT * FROM {table} ORDER BY {backwards}", ())
    first = keys[0]
    pieces = {"session": "SELECT id FROM sessions", "chain": "SELECT chain FROM chains"}.get(first)
    if pieces and len(keys) > 1:
        for piece in [row[0] for row in _listed(damaged, pieces)]:
            yield from _until_fault(damaged, f"SELECT * FROM {table} WHERE {first} = ?", (piece,))


def _listed(damaged: sqlite3.Connection, query: str) -> list[sqlite3.Row]:
    return list(_until_fault(damaged, query, ()))


def _until_fault(
    damaged: sqlite3.Connection, query: str, values: tuple[Any, ...]
) -> Generator[sqlite3.Row, None, bool]:
    """Yield rows until there are none, then return True, or until the file is damaged, then return False."""
    try:
        cursor = damaged.execute(query, values)
        while True:
            row = cursor.fetchone()
            if row is None:
                return True
            yield row
    except (sqlite3.DatabaseError, UnicodeDecodeError):
        return False


def _describe(damaged: sqlite3.Connection, plain: Any, store: Store, done: Rescued) -> None:
    """Carry over what the archive says of itself, make lost heads anew, and put the act of the rescue."""
    plain.exec_driver_sql(
        "INSERT OR IGNORE INTO chains (chain, seq, hash, last_at) "
        "SELECT chain, max(seq), hash, at FROM acts GROUP BY chain"
    )
    plain.exec_driver_sql("DELETE FROM chains WHERE hash IS NULL OR hash = ?", (FIRST,))
    own = None
    with contextlib.suppress(sqlite3.DatabaseError):
        own = damaged.execute(OWN).fetchone()
    describe_copy(dict(own or {}), plain, store, rescued=done.rows, damaged=done.damaged)
