"""Sign-off in the archive: evidence, attempts, statements and their standing, from what is kept."""

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal
from trainer.records import checks, documents, gathered
from trainer.records.accounts import REVOCATION, keyring
from trainer.records.gathered import gather, stored_checks
from trainer.signoff.attempts import History, Opening, history
from trainer.signoff.criterion import Criterion, parse
from trainer.signoff.decision import FAILED
from trainer.signoff.evidence import moment, without_replays
from trainer.signoff.keyring import Keyring
from trainer.signoff.standing import REINSTATE, Change, Standing, standing
from trainer.signoff.verify import AtHand
from trainer.signoff.words import tell

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.records.values import StoredSession

TICKET, CLOSING = checks.TICKET, checks.CLOSING
OPENING, STATEMENT, CHANGE = "attempt", gathered.STATEMENT, "standing"


class NoSuchStatement(Refusal):
    """The archive holds no statement of that number."""


def openings(archive: "Archive", ring: Keyring, criterion: Criterion, person: str) -> list[Opening]:
    """Return the attempts that were opened for a person under a criterion."""
    found = (Opening.of(one.document, ring) for one in documents.listed(archive, OPENING, person))
    return [one for one in found if one.serves(criterion)]


def history_of(
    archive: "Archive",
    ring: Keyring,
    criterion: Criterion,
    person: str,
    stored: "Sequence[StoredSession] | None" = None,
) -> History:
    """Return all attempts of a person under a criterion."""
    found = gather(archive, ring, criterion, person, stored=stored)
    opened = openings(archive, ring, criterion, person)
    return history(criterion, found.sessions, opened, found.refused, found.elsewhere)


def watches(archive: "Archive", person: str) -> dict[str, dict[str, Any]]:
    """Return the guards' records of a person's checks, by session."""
    return checks.records(archive, person)


def statements(archive: "Archive", person: str | None = None) -> list[documents.Kept]:
    """Return the statements, of one person or of all."""
    return documents.listed(archive, STATEMENT, person)


def signed_attempts(archive: "Archive", criterion: Criterion, person: str) -> list[int]:
    """Return the numbers of a person's attempts under a criterion on which a statement was signed."""
    bodies = [one.document["body"] for one in statements(archive, person)]
    return [one["attempt"]["number"] for one in bodies if one["criterion"]["sha256"] == criterion.sha256]


def find_statement(archive: "Archive", number: str) -> documents.Kept:
    """Return the statement with this number; raise `NoSuchStatement`."""
    for one in statements(archive):
        if one.document["body"]["id"] == number:
            return one
    raise NoSuchStatement(f"there is no statement {number}; `tenthwise signoff list` shows all")


def standing_of(
    archive: "Archive",
    ring: Keyring,
    kept: documents.Kept,
    now: datetime,
    stored: "Sequence[StoredSession] | None" = None,
) -> Standing:
    """Return where a statement stands, by the criterion whose text it carries."""
    body = kept.document["body"]
    criterion = parse(body["criterion"]["text"], body["criterion"]["name"])
    person = body["person"]["id"]
    stored = stored_checks(archive, person) if stored is None else stored
    found = history_of(archive, ring, criterion, person, stored)
    changes = [Change.of(one.document, ring) for one in documents.listed(archive, CHANGE, body["id"])]
    own = {row["session"] for row in body["evidence"]}
    after = max(moment(row["started_at"]) for row in body["evidence"])
    taken, _ = without_replays(gather(archive, ring, criterion, person, bound=False, stored=stored).sessions)
    later = [one for one in taken if one.id not in own and moment(one.started_at) > after]
    restart = max((one.at for one in changes if one.kind == REINSTATE and one.at <= now), default=None)
    failed = _failed_later(found, body["attempt"]["number"], restart)
    return standing(criterion, kept.document, changes, later, failed=failed, now=now)


def _failed_later(found: History, number: int, restart: datetime | None) -> tuple[datetime, str] | None:
    """Return when and how a later attempt was shown to fail.

    One with checks from before a reinstatement does not suspend again: they were known when the supervisor
    gave the reason, and the chart watches afresh from then on.
    """
    for one in found.attempts:
        if one.number <= number or one.decision.verdict != FAILED or one.ended_at is None:
            continue
        if restart is None or moment(one.sessions[0].started_at) > restart:
            return one.ended_at, tell("standing.failed", n=one.number, sentence=one.decision.sentence)
    return None


def due_list(archive: "Archive", ring: Keyring, now: datetime) -> list[tuple[documents.Kept, Standing]]:
    """Return each person's statements with their standing, the most pressing first."""
    found: list[tuple[documents.Kept, Standing]] = []
    by_person: dict[str, list[documents.Kept]] = {}
    for one in statements(archive):
        by_person.setdefault(str(one.document["body"]["person"]["id"]), []).append(one)
    for person, own in by_person.items():
        stored = stored_checks(archive, person)
        found += [(one, standing_of(archive, ring, one, now, stored)) for one in own]
    return sorted(found, key=lambda pair: (pair[1].state not in ("due", "suspended"), pair[1].due_at))


def at_hand(archive: "Archive", document: dict[str, Any], now: datetime) -> AtHand:
    """Return what the archive knows of a statement, for `trainer.signoff.verify.verify`."""
    ring = keyring(archive)
    body = document.get("body")
    number = body.get("id") if isinstance(body, dict) else None
    kept: Sequence[documents.Kept] = [
        one for one in statements(archive) if one.document["body"]["id"] == number
    ]
    words = ""
    if kept:
        present = standing_of(archive, ring, kept[0], now)
        words = "" if present.in_force else present.sentence
    who = body.get("person") if isinstance(body, dict) else None
    person = str(who.get("id")) if isinstance(who, dict) else ""
    return AtHand(
        ring=ring,
        copy=kept[0].document if kept else None,
        standing=words,
        history=lambda criterion: history_of(archive, ring, criterion, person),
        recorded_at=moment(kept[0].at) if kept else None,
        watches=watches(archive, person),
        after_revocation=bool(kept) and _kept_after_revocation(archive, kept[0]),
    )


def _kept_after_revocation(archive: "Archive", kept: documents.Kept) -> bool:
    """Return whether the log that holds a statement had its key's revocation already."""
    chain, _, place = kept.id.rpartition("-")
    for one in documents.listed(archive, REVOCATION):
        other, _, before = one.id.rpartition("-")
        same_key = one.document.get("body", {}).get("public") == kept.document.get("public")
        if same_key and other == chain and int(before) < int(place):
            return True
    return False
