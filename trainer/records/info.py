"""What can be said of an archive as a whole, and its upgrade by hand."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import select, text

from trainer.records import place as places
from trainer.records import upgrade
from trainer.records.copying import counts
from trainer.records.engine import BUSY_S, Store, utc_now
from trainer.records.faults import told_plainly
from trainer.records.tables import acts
from trainer.records.whole import whole_file


def info(store: Store) -> dict[str, Any]:
    """Return where an archive is, its version, how much is in it, and when it was last backed up."""
    with store.snapshot() as connection:
        own = connection.execute(text(f"SELECT * FROM {upgrade.MARK}")).one()._mapping
        rows = counts(connection)
        newest = select(acts.c.at).where(acts.c.kind == "backup").order_by(acts.c.at.desc()).limit(1)
        backed_up = connection.execute(newest).scalar()
    path = store.place.path
    return {
        "place": str(store.place),
        "engine": "SQLite" if store.sqlite else "PostgreSQL",
        "version": own["version"],
        "newest_version": len(upgrade.STEPS),
        "archive_id": own["archive_id"],
        "made_at": own["made_at"],
        "writing_chain": store.chain,
        "read_only": store.read_only,
        "bytes": None if path is None else path.stat().st_size,
        "last_backup": backed_up,
        **rows,
    }


def upgrade_with_backup(place: str | os.PathLike[str] | None) -> tuple[int, int, Path | None]:
    """Upgrade an archive; return the versions before and after, and where a file's old state is kept."""
    store = Store(places.find(place), utc_now, busy_s=BUSY_S, chain=None)
    store.open(create=False, upgrade_old=None)
    try:
        before = store.version()
        if before == len(upgrade.STEPS):
            return before, before, None
        kept = None
        if store.place.path is not None:
            kept = store.place.path.with_name(f"{store.place.path.name}.version-{before}")
            _copy_file(store.place.path, kept)
        _, after = store.upgrade()
        return before, after, kept
    finally:
        store.close()


def _copy_file(source: Path, target: Path) -> None:
    """Copy a file that may be in use, whole, by the engine's own means."""
    with (
        told_plainly(target),
        whole_file(target) as temporary,
        closing(sqlite3.connect(source)) as old,
        closing(sqlite3.connect(temporary)) as new,
    ):
        old.backup(new)
