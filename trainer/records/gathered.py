"""Evidence in the archive: which of a person's checks a criterion can take in, and why not the others."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.instrument.sentence import said
from trainer.practice.overlap import judged
from trainer.records import checks, documents, seen_how
from trainer.records.words import tell
from trainer.signoff.attempts import Elsewhere
from trainer.signoff.canonical import UnusableDocument
from trainer.signoff.criterion import Criterion
from trainer.signoff.evidence import (
    CheckSession,
    Refused,
    check_session,
    judging_session,
    moment,
    not_evidence,
)
from trainer.signoff.guard import Ticket
from trainer.signoff.keyring import Keyring
from trainer.signoff.words import another_text

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.records.values import StoredSession

STATEMENT = "statement"


@dataclass(frozen=True, slots=True)
class Gathered:
    """A person's check sessions: those that are evidence, and those that are not, with the reason."""

    sessions: tuple[CheckSession, ...]
    refused: tuple[Refused, ...]
    drawing_versions: tuple[str, ...]
    remarks: tuple[str, ...] = ()  # how their pictures were seen, in sentences
    elsewhere: tuple[Elsewhere, ...] = ()  # those barred only because they were opened for another text


def stored_checks(archive: "Archive", person: str) -> "list[StoredSession]":
    """Return a person's sessions for the record, the oldest first."""
    frame = archive.sessions(person, for_record=True)
    return [archive.session(name) for name in frame["session"].tolist()]


def gather(
    archive: "Archive",
    ring: Keyring,
    criterion: Criterion,
    person: str,
    *,
    bound: bool = True,
    stored: "Sequence[StoredSession] | None" = None,
) -> Gathered:
    """Return all check sessions of a person for a criterion, abandoned ones too.

    An attempt takes in what was opened for exactly this text of the criterion. Where `bound` is false, as
    for monitoring, every check in its scope counts, whatever criterion it was opened for. `stored` are the
    person's sessions where they are at hand already.
    """
    tickets = _tickets(archive, ring, person)
    sessions: list[CheckSession] = []
    refused: list[Refused] = []
    elsewhere: list[StoredSession] = []
    drawings: set[str] = set()
    taken: list[StoredSession] = []
    for one in stored_checks(archive, person) if stored is None else stored:
        if reason := _refusal(criterion, one, tickets, bound=bound):
            refused.append(Refused(one.id, reason))
            if bound and not _refusal(criterion, one, tickets, bound=False):
                elsewhere.append(one)
            continue
        sessions.append(evidence_of(criterion, one))
        drawings.add(one.header.drawing_version)
        taken.append(one)
    return Gathered(
        tuple(sessions),
        tuple(refused),
        tuple(sorted(drawings)),
        seen_how.remarks(taken),
        _elsewhere(archive, criterion, person, elsewhere, tickets),
    )


def _elsewhere(
    archive: "Archive",
    criterion: Criterion,
    person: str,
    stored: "Sequence[StoredSession]",
    tickets: dict[str, Ticket | str],
) -> tuple[Elsewhere, ...]:
    """Return checks that were opened for another text, with the moment when a statement took each in."""
    if not stored:
        return ()
    signed: dict[str, datetime] = {}
    for kept in documents.listed(archive, STATEMENT, person):
        body = kept.document["body"]
        for row in body["evidence"]:
            at = moment(body["signed_at"])
            signed[row["session"]] = min(at, signed.get(row["session"], at))
    found = []
    for one in stored:
        ticket = tickets[str(one.plan["ticket"])]
        assert isinstance(ticket, Ticket)  # it serves the session but for its text
        name = ticket.criterion
        words = another_text(name) if name == criterion.name else name
        found.append(Elsewhere(one.id, moment(one.header.started_at), words, signed.get(one.id)))
    return tuple(found)


def evidence_of(criterion: Criterion, stored: "StoredSession") -> CheckSession:
    """Return a stored session as evidence."""
    if criterion.judges:
        return _judging_of(criterion, stored)
    truths = {item.number: item.position_tenths for item in stored.items}
    answers = stored.answers
    return check_session(
        criterion,
        id=stored.id,
        started_at=stored.header.started_at,
        instrument=stored.header.instrument,
        truth_tenths=[truths[one.number] for one in answers],
        answer_tenths=[one.answer_tenths for one in answers],
        outcomes=[one.outcome for one in answers],
        seconds=[one.seconds for one in answers],
        ended_how=stored.ended_how or "",
        seed=str(stored.header.seed),
    )


def _judging_of(criterion: Criterion, stored: "StoredSession") -> CheckSession:
    offsets = {item.number: float(item.extra["offset_tenths"]) for item in stored.items}
    answers = stored.answers
    return judging_session(
        criterion,
        id=stored.id,
        started_at=stored.header.started_at,
        offsets_tenths=[offsets[one.number] for one in answers],
        said_in=[judged(one.typed) == "in" if one.outcome == "answered" else None for one in answers],
        seconds=[one.seconds for one in answers],
        ended_how=stored.ended_how or "",
        seed=str(stored.header.seed),
    )


def _tickets(archive: "Archive", ring: Keyring, person: str) -> dict[str, Ticket | str]:
    """Return a person's tickets by number; in place of one that does not count, the reason."""
    found: dict[str, Ticket | str] = {}
    for one in documents.listed(archive, checks.TICKET, person):
        number = str(one.document["body"]["id"])
        try:
            found[number] = Ticket.of(one.document, ring)
        except UnusableDocument as fault:  # its key was compromised before
            found[number] = said(fault)
    return found


def _refusal(
    criterion: Criterion, stored: "StoredSession", tickets: dict[str, Ticket | str], *, bound: bool
) -> str:
    header = stored.header
    reason = not_evidence(
        criterion,
        instrument=header.instrument,
        drill=header.drill,
        for_record=header.for_record,
        plan=stored.plan,
        viewing=header.viewing,
    )
    if reason or not criterion.attended:
        return reason
    ticket = tickets.get(str(stored.plan.get("ticket", "")))
    if ticket is None:
        return tell("attested.nobody")
    if isinstance(ticket, str):
        return tell("attested.nobody.why", reason=ticket)
    return ticket.refuses(
        person=stored.person.id,
        started_at=moment(header.started_at),
        plan=stored.plan,
        criterion=criterion if bound else None,
    )
