"""A person's sittings of every drill beside clear whole readings, as the archive keeps them, for reports."""

from typing import TYPE_CHECKING

from trainer.commands.sitting import course_of
from trainer.instrument import catalogue
from trainer.practice.conditions import CLEAR
from trainer.practice.kinds import DRILLS
from trainer.practice.skills import KeptSitting

if TYPE_CHECKING:
    from trainer.commands.evidence import Wanted
    from trainer.records.archive import Archive
    from trainer.records.values import StoredSession
    from trainer.reports.skill_values import Skills

WHOLE = "full-reading"


def kept(archive: "Archive", person: str, wanted: "Wanted", unit: str | None = None) -> list[KeptSitting]:
    """Return the sittings, the oldest first; with `unit` ("mm" or "in") those on such instruments only.

    Clear whole readings are left out: a report takes them from the table of answers.
    """
    rows = archive.sessions(archive.person(person), since=wanted.since, until=wanted.until)
    found = []
    for row in rows.to_dict("records"):
        drill, instrument, conditions = (str(row[name]) for name in ("drill", "instrument", "conditions"))
        whole = drill == WHOLE and conditions in ("", CLEAR)
        if drill not in DRILLS or whole or instrument not in catalogue.names() or not row["answers"]:
            continue
        if unit is None or catalogue.load(instrument).unit == unit:
            found.append(_of_stored(archive.session(str(row["session"])), conditions))
    return found


def skills_found(archive: "Archive", person: str, wanted: "Wanted", instrument: str | None) -> "Skills":
    """Return a person's figures in every drill, on instruments with the unit of the one named."""
    from trainer.reports.skills import skills_of

    unit = None if instrument is None else catalogue.load(instrument).unit
    return skills_of(kept(archive, person, wanted, unit), practice=wanted.practice)


def _of_stored(stored: "StoredSession", conditions: str) -> KeptSitting:
    header = stored.header
    return KeptSitting(
        stored.id, header.drill, header.instrument, header.for_record, conditions, header.started_at,
        *course_of(stored),
    )  # fmt: skip
