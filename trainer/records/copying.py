"""Whole archives copied: backed up, restored, moved to another engine, with every hash as it was."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, MetaData, Table, func, insert, select, text

from trainer.records import chain, upgrade
from trainer.records.engine import BUSY_S, Clock, Store, utc_now
from trainer.records.faults import told_plainly
from trainer.records.place import Place
from trainer.records.refusals import UnusableArchive
from trainer.records.whole import whole_file

PAGE = 2000  # rows copied at a time
OWN = f"SELECT archive_id, made_at FROM {upgrade.MARK}"
Told = Callable[[str, int], None]  # hears the table and how many of its rows are copied


def silent(table: str, rows: int) -> None:
    """Hear the progress and say nothing."""


def copy(
    source: Store, target: Place, *, clock: Clock = utc_now, told: Told = silent, who: str = ""
) -> dict[str, int]:
    """Copy an archive to a place where there is nothing yet; return the rows copied by table.

    A file appears whole or not at all; a database is filled in one transaction. The copy has every act with
    its hash, and one more, in a chain of its own, that says it is a copy.
    """
    with _new(target, clock) as store, source.snapshot() as reading, store.write() as writing:
        return _fill(reading, writing, store, told, who)


@contextmanager
def _new(target: Place, clock: Clock) -> Iterator[Store]:
    """Give a store without tables: a temporary file that takes its place at the end, or an empty database."""
    if target.path is None:
        store = Store(target, clock, busy_s=BUSY_S, chain=None)
        with told_plainly(target), _closing(store):
            with store.read() as connection:
                if upgrade.version_of(connection) is not None:
                    raise UnusableArchive("it holds an archive already; name an empty database")
            yield store
        return
    if target.path.exists():
        raise UnusableArchive(f"{target}: it exists already; name a new file, or move that one away first")
    with (
        whole_file(target.path) as temporary,
        _closing(Store(Place(temporary), clock, busy_s=BUSY_S, chain=None)) as store,
    ):
        yield store


@contextmanager
def _closing(store: Store) -> Iterator[Store]:
    try:
        yield store
    finally:
        store.close()


def tables_of(connection: Connection) -> list[Table]:
    """Return the archive's tables as they are in the database, those that others point to first."""
    found = MetaData()
    found.reflect(bind=connection)
    return [table for table in found.sorted_tables if table.name != upgrade.MARK]


def _fill(reading: Connection, writing: Connection, store: Store, told: Told, who: str) -> dict[str, int]:
    version = upgrade.version_of(reading)
    if version != len(upgrade.STEPS):
        raise UnusableArchive("it has an older version; run `tenthwise archive upgrade` first")
    store.chain = upgrade.home_for(store.sqlite)
    upgrade.upgrade(writing, store.now(), store.chain)
    counts: dict[str, int] = {}
    theirs = {table.name: table for table in tables_of(writing)}
    for table in tables_of(reading):
        if table.name not in theirs:
            raise UnusableArchive(f"it has a table {table.name}, which is none of an archive's")
        counts[table.name] = 0
        for rows in _pages(reading, table):
            writing.execute(insert(theirs[table.name]), rows)
            counts[table.name] += len(rows)
            told(table.name, counts[table.name])
    describe_copy(dict(reading.execute(text(OWN)).one()._mapping), writing, store, who=who)
    return counts


def describe_copy(
    own: dict[str, Any], writing: Connection, store: Store, *, who: str = "", **more: Any
) -> None:
    """Carry over what an archive says of itself (`OWN`), and let an act of the copy's own chain say so."""
    if own:
        writing.execute(text(f"UPDATE {upgrade.MARK} SET archive_id = :archive_id, made_at = :made_at"), own)
    row = dict(writing.execute(text(f"SELECT * FROM {upgrade.MARK}")).one()._mapping)
    detail = {"from": len(upgrade.STEPS), "to": len(upgrade.STEPS), **more}
    chain.append(writing, store, "archive-copied", who=who, detail=detail, digest=chain.archive_digest(row))


def _pages(connection: Connection, table: Table) -> Iterator[list[dict[str, Any]]]:
    result = connection.execution_options(yield_per=PAGE).execute(select(table).order_by(*table.primary_key))
    for page in result.partitions():
        yield [dict(row._mapping) for row in page]


def backup(source: Store, path: Path, *, told: Told = silent, who: str = "") -> dict[str, int]:
    """Copy an archive on any engine to a new file, and note it in the log of the one copied."""
    counts = copy(source, Place(path), clock=source.clock, told=told, who=who)
    if not source.read_only:
        with source.write() as connection:
            rows = {name: count for name, count in counts.items() if count}
            chain.append(connection, source, "backup", who=who, detail={"rows": rows})
    return counts


def counts(connection: Connection) -> dict[str, int]:
    """Return how many rows each table of the archive has."""
    return {
        table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
        for table in tables_of(connection)
    }
