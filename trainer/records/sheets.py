"""Sheets in the archive: their keys, kept in the log of acts, and whether they have been marked."""

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from trainer.records.tables import acts, sessions

if TYPE_CHECKING:
    from trainer.records.archive import Archive

MADE, MARKED = "sheet-made", "sheet-marked"


def keep(archive: "Archive", sheet: Mapping[str, Any]) -> None:
    """Keep a sheet's key (number, instrument, items) in the log; it is then part of the chain."""
    archive.act(MADE, detail=dict(sheet))


def find(archive: "Archive", number: str) -> dict[str, Any] | None:
    """Return the key of a sheet, or None if this archive never made it."""
    return next((detail for detail in _details(archive, MADE) if detail["number"] == number), None)


def mark(archive: "Archive", number: str, session: str) -> None:
    """Keep that a sheet was marked, and under which session."""
    archive.act(MARKED, detail={"number": number, "session": session})


def marked(archive: "Archive", number: str) -> list[str]:
    """Return the sessions under which a sheet was marked, the oldest first."""
    return [detail["session"] for detail in _details(archive, MARKED) if detail["number"] == number]


def sessions_of(archive: "Archive") -> set[str]:
    """Return the sessions that were read from printed sheets: kept without pixels, by a plan of that name."""
    own = sessions.c
    query = select(own.id, own.plan).where(own.px_per_mm.is_(None), own.plan.like('%"name":"sheet"%'))
    with archive.store.read() as connection:
        rows = connection.execute(query).all()
    return {str(row.id) for row in rows if json.loads(row.plan).get("name") == "sheet"}


def _details(archive: "Archive", kind: str) -> list[dict[str, Any]]:
    query = select(acts.c.detail).where(acts.c.kind == kind).order_by(acts.c.chain, acts.c.seq)
    with archive.store.read() as connection:
        return [json.loads(row.detail) for row in connection.execute(query)]
