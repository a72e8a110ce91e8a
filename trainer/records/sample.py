"""The shipped sample: an archive to look at, whose clock stands still at the day it tells of.

A sample says in the file's header that it is one (SQLite's application id, a field that is free for the
program's use: https://www.sqlite.org/fileformat.html, 1.3.14), so that it is known before anything could be
written to it. It is opened for reading only; what is due, valid or overdue is told as of its own day.
"""

import contextlib
import json
import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from trainer.records.tables import settings

if TYPE_CHECKING:
    from trainer.records.archive import Archive

MARK = b"TwSa"
PLACE_IN_HEADER = 68
SETTING = "sample-as-of"
ONLY_LOOKED_AT = (
    "this is the shipped sample with its invented people, and can only be looked at; "
    "name an archive of your own with --archive"
)


def is_sample(header: bytes) -> bool:
    """Return whether the first 100 bytes of an archive's file say that it is a sample."""
    return header[PLACE_IN_HEADER : PLACE_IN_HEADER + 4] == MARK


def stopped_clock(connection: Connection, running: Callable[[], datetime]) -> Callable[[], datetime]:
    """Return a clock that stands at the sample's day; the running one where the sample names none."""
    text = connection.execute(select(settings.c.value).where(settings.c.name == SETTING)).scalar()
    try:
        day = datetime.fromisoformat(json.loads(text or "")).astimezone(UTC)
    except (TypeError, ValueError):
        return running
    return lambda: day


def close_as_sample(archive: "Archive", path: Path, as_of: datetime, *, who: str = "") -> None:
    """Keep the day a sample tells of, close it, and mark its file; it is one file from then on."""
    from trainer.records.settings import put  # which needs the engine, and the engine needs this module

    put(archive.store, SETTING, as_of.isoformat(), who)
    archive.close()
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute(f"PRAGMA application_id = {int.from_bytes(MARK, 'big')}")
        connection.execute("VACUUM")
