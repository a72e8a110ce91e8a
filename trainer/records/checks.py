"""Guarded checks in the archive: their tickets, and what the guard saw of each."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal
from trainer.records import documents, sittings
from trainer.records.values import StoredSession
from trainer.signoff import guard
from trainer.signoff.evidence import moment
from trainer.signoff.keyring import Keyring
from trainer.signoff.words import tell

if TYPE_CHECKING:
    from trainer.records.archive import Archive

TICKET, CLOSING = "check", "check-end"
FINAL = ("finished", "closed")  # a check that was left may still be gone on with


def find_ticket(archive: "Archive", ring: Keyring, ticket_id: str, person: str | None = None) -> guard.Ticket:
    """Return the ticket of that number; raise `guard.UnusableTicket`.

    It is looked for among the tickets of `person` first, then among all, so that one for somebody else is
    told as such.
    """
    wanted = ticket_id.strip().casefold()
    for whose in dict.fromkeys((person, None)):
        for one in documents.listed(archive, TICKET, whose):
            if one.document["body"]["id"] == wanted:
                return guard.Ticket.of(one.document, ring)
    raise guard.UnusableTicket(tell("ticket.none", text=ticket_id))


def ticket_in_force(
    archive: "Archive",
    ring: Keyring,
    ticket_id: str,
    *,
    person_id: str,
    plan: Mapping[str, Any] | None = None,
    session_id: str = "",
) -> guard.Ticket:
    """Return the ticket for a check that is about to begin or go on; raise `guard.UnusableTicket`."""
    found = find_ticket(archive, ring, ticket_id, person_id)
    now = moment(archive.store.now())
    if reason := found.refuses(person=person_id, started_at=now, plan=plan):
        entry = "ticket.not-served.open" if session_id else "ticket.not-served"
        raise guard.UnusableTicket(tell(entry, ticket=found.id, reason=reason))
    others = [one for one in sessions_under(archive, found) if one != session_id]
    if others:
        over = archive.session(others[0]).ended_how is not None
        entry = "ticket.used" if over else "ticket.used.open"
        raise guard.UnusableTicket(tell(entry, ticket=found.id, session=others[0]))
    return found


def sessions_under(archive: "Archive", ticket: guard.Ticket) -> list[str]:
    """Return the sessions that were begun under a ticket."""
    with archive.store.read() as connection:
        return sittings.under_ticket(connection, ticket.person, ticket.id)


def records(archive: "Archive", person: str) -> dict[str, dict[str, Any]]:
    """Return the guards' records of a person's checks, by session; the last one of each."""
    kept = documents.listed(archive, CLOSING, person)
    return {str(one.document["session"]): dict(one.document["watch"]) for one in kept}


def watch_so_far(archive: "Archive", session_id: str) -> guard.Watch:
    """Return what is known of a check: the record of how it was left, and what was noted while it ran.

    A program that was killed keeps no record, but what it noted is in the archive.
    """
    stored = archive.session(session_id)
    kept = records(archive, stored.person.id).get(session_id)
    watch = guard.Watch(str(stored.plan.get("ticket", ""))) if kept is None else guard.Watch.of(kept)
    known = {(one.kind, one.at) for one in watch.marks}
    for note in stored.notes:
        if note.kind in guard.KINDS and (note.kind, note.at) not in known:
            watch = watch.marked(note.kind, note.at, str(note.detail or ""))
    return watch


def close(
    archive: "Archive",
    session_id: str,
    watch: guard.Watch,
    *,
    how: str,
    seconds: Sequence[float | None] | None = None,
    attested: bool,
) -> guard.Watch:
    """Keep what the guard saw of a check, and return it; the final record of a check is kept once."""
    stored = archive.session(session_id)
    kept = records(archive, stored.person.id).get(session_id)
    if kept is not None and kept["ended_how"] in FINAL:
        return guard.Watch.of(kept)
    times = [one.seconds for one in stored.answers] if seconds is None else seconds
    closed = watch.closed(how, times, attested=attested)
    _keep(archive, stored, closed)
    return closed


def close_stale(archive: "Archive", ring: Keyring, person: str, *, unattended: bool = False) -> list[str]:
    """Close the checks of a person whose ticket has run out before they were finished; return their ids.

    They count as they stand. A supervisor attested who sat there for a few hours, not for another day.
    With `unattended` checks without a ticket are closed as well, when they are older than a ticket lasts.
    """
    closed = []
    at = archive.store.now()
    for stored in archive.unfinished(person):
        ticket = str(stored.plan.get("ticket", ""))
        if not stored.header.for_record or not (ticket or unattended):
            continue
        if _still_runs(archive, ring, stored, at):
            continue
        archive.end_session(stored.id, "closed", at)
        if ticket:
            close(archive, stored.id, watch_so_far(archive, stored.id), how="closed", attested=False)
        closed.append(stored.id)
    return closed


def _still_runs(archive: "Archive", ring: Keyring, stored: StoredSession, at: str) -> bool:
    """Return whether a check that was begun may still be gone on with."""
    number = str(stored.plan.get("ticket", ""))
    if not number:
        return moment(at) <= moment(stored.header.started_at) + timedelta(hours=guard.TICKET_HOURS)
    try:
        ticket = find_ticket(archive, ring, number, stored.person.id)
    except Refusal:  # a ticket that is none, or does not count any more: nobody can go on under it
        return False
    return not ticket.refuses(person=stored.person.id, started_at=moment(at))


def _keep(archive: "Archive", stored: StoredSession, watch: guard.Watch) -> None:
    documents.keep(
        archive, CLOSING, stored.person.id, {"session": stored.id, "watch": watch.to_dict()},
        who=stored.person.id,
    )  # fmt: skip
