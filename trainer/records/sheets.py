"""Sheets in the archive: their keys, kept in the log of acts, and whether they have been marked."""

import json
import re
from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from trainer.practice.sheets import title
from trainer.records.tables import acts, sessions

if TYPE_CHECKING:
    from trainer.records.archive import Archive

MADE, MARKED = "sheet-made", "sheet-marked"
NUMBER = re.compile(r'"number":"([^"]*)"')  # of the sheet; those of its items are no texts


def keep(archive: "Archive", sheet: Mapping[str, Any]) -> None:
    """Keep a sheet's key (number, instrument, items) in the log; it is then part of the chain."""
    archive.act(MADE, detail=dict(sheet))


def find(archive: "Archive", number: str) -> dict[str, Any] | None:
    """Return the key of a sheet, or None if this archive never made it."""
    return find_all(archive, [number]).get(number)


def find_all(archive: "Archive", numbers: Collection[str]) -> dict[str, dict[str, Any]]:
    """Return the keys of those of these sheets that this archive made, in one pass over the log."""
    query = select(acts.c.detail).where(acts.c.kind == MADE).order_by(acts.c.chain, acts.c.seq)
    found: dict[str, dict[str, Any]] = {}
    with archive.store.read() as connection:
        for row in connection.execution_options(yield_per=1000).execute(query):
            told = NUMBER.search(row.detail)
            if told and told[1] in numbers:  # the readings of other sheets need not be looked at
                found.setdefault(told[1], json.loads(row.detail))
    return found


def mark(archive: "Archive", number: str, session: str) -> None:
    """Keep that a sheet was marked, and under which session."""
    archive.act(MARKED, detail={"number": number, "session": session})


def marked(archive: "Archive", number: str, person: str) -> list[str]:
    """Return the sessions under which a person's answers to a sheet were kept whole, the oldest first."""
    own = sessions.c
    query = (
        select(own.id, own.plan)
        .where(own.person_id == person, own.plan.like(f"%{number}%"), own.ended_how == "finished")
        .order_by(own.started_at, own.id)
    )
    with archive.store.read() as connection:
        rows = connection.execute(query).all()
    plans = [(str(row.id), json.loads(row.plan)) for row in rows]
    return [session for session, plan in plans if plan.get("title") == title(number)]


def sessions_of(archive: "Archive") -> set[str]:
    """Return the sessions that were read from printed sheets: kept without pixels, by a plan of that name."""
    own = sessions.c
    query = select(own.id, own.plan).where(own.px_per_mm.is_(None), own.plan.like('%"name":"sheet"%'))
    with archive.store.read() as connection:
        rows = connection.execute(query).all()
    return {str(row.id) for row in rows if json.loads(row.plan).get("name") == "sheet"}
