"""The sign-off's office: what the command line and the window both do with it, on an open archive.

Every act takes the acting account's unlocked key, asks the rules in `trainer.signoff`, and keeps the signed
document that comes of it. Raises the rules' own refusals; then nothing was kept.
"""

import secrets
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import __version__
from trainer.practice import plans
from trainer.practice.results import BENCH
from trainer.records import accounts, checks, documents, gathered, statements
from trainer.records.place import user_folder
from trainer.signoff import attempts, guard
from trainer.signoff import standing as standings
from trainer.signoff.evidence import moment, not_evidence
from trainer.signoff.statement import Subject, statement
from trainer.signoff.words import tell

if TYPE_CHECKING:
    from trainer.practice.plan import Plan
    from trainer.records.archive import Archive
    from trainer.records.values import Person
    from trainer.signoff.criterion import Criterion
    from trainer.signoff.keys import PrivateKey


def now(archive: "Archive") -> datetime:
    """Return the present moment by the archive's clock, UTC."""
    return moment(archive.store.now())


def key_path(account: str, file: Path | None = None) -> Path:
    """Return the key file named, or the account's own in the user's data folder."""
    safe = "".join(character if character.isalnum() else "-" for character in account)
    return file or user_folder() / "keys" / f"{safe}.key"


def unlock(archive: "Archive", account: str, passphrase: str, key_file: Path | None = None) -> "PrivateKey":
    """Return an account's private key; raise `WrongPassphrase`, `LockedOut` or `UnusableKey`.

    Wrong passphrases are counted for the account named alone, and make its next try wait.
    """
    return accounts.unlock(archive, account, key_path(account, key_file), passphrase)


def start_check(
    archive: "Archive",
    key: "PrivateKey",
    account: str,
    criterion: "Criterion",
    person_id: str,
    person_name: str,
) -> guard.Ticket:
    """Open a check: the supervisor attests who sits there. Keep the ticket and return it.

    Checks of this person that were left and can no longer be gone on with are closed first; they count.
    """
    ring, plan = accounts.keyring(archive), plans.find(criterion.plan)
    if reason := not_evidence(
        criterion, instrument=plan.instrument, drill=plan.drill, for_record=plan.for_record,
        plan=plan.to_dict(), viewing=plan.viewing,
    ):  # fmt: skip
        told = tell("ticket.plan.none", plan=criterion.plan, criterion=criterion.name, reason=reason)
        raise guard.UnusableTicket(told)
    made = guard.ticket(
        ring, key, criterion, person_id, person_name,
        plan=plan.to_dict(),
        now=now(archive), random_bytes=secrets.token_bytes,
    )  # fmt: skip
    checks.close_stale(archive, ring, person_id)
    documents.keep(archive, statements.TICKET, person_id, made.document, who=account)
    return made


def ticket_in_force(
    archive: "Archive",
    ticket_id: str,
    *,
    person_id: str,
    plan: "Plan | None" = None,
    session_id: str = "",
) -> guard.Ticket:
    """Return the ticket for a check that is about to begin; raise `guard.UnusableTicket` where it is none.

    `session_id` names the session that is to be gone on with, so that it may be the one under the ticket.
    """
    return checks.ticket_in_force(
        archive, accounts.keyring(archive), ticket_id,
        person_id=person_id, plan=None if plan is None else plan.to_dict(), session_id=session_id,
    )  # fmt: skip


def begin_watch(ticket: guard.Ticket) -> guard.Watch:
    """Return the guard's record of a check that begins now."""
    return guard.Watch(ticket.id)


def resume_watch(archive: "Archive", session_id: str) -> guard.Watch:
    """Return the guard's record of a check that is taken up again, with what is known of it so far."""
    at = archive.store.now()
    archive.note(session_id, "resumed", at, "")
    return checks.watch_so_far(archive, session_id)


def close_check(
    archive: "Archive",
    session_id: str,
    watch: guard.Watch,
    *,
    how: str,
    seconds: Sequence[float | None] | None = None,
    attested: bool,
) -> guard.Watch:
    """Keep what the guard saw of a check: "finished", "left" (it may be resumed) or "closed".

    `seconds` are the times of the readings; those kept are taken where it is None. A check that is finished
    or closed has its record once: again, the one that is kept is returned and nothing is written.
    """
    return checks.close(archive, session_id, watch, how=how, seconds=seconds, attested=attested)


def verdicts(archive: "Archive", criterion: "Criterion", person_id: str) -> attempts.History:
    """Return all attempts of a person under a criterion with their verdicts, and what does not count."""
    return statements.history_of(archive, accounts.keyring(archive), criterion, person_id)


def open_attempt(
    archive: "Archive",
    key: "PrivateKey",
    account: str,
    criterion: "Criterion",
    person_id: str,
    reason: str,
) -> attempts.Opening:
    """Open a new attempt after one without success, and keep its opening."""
    ring = accounts.keyring(archive)
    found = statements.history_of(archive, ring, criterion, person_id)
    made = attempts.opened(
        ring, key, criterion, person_id, found,
        reason=reason, now=now(archive), random_bytes=secrets.token_bytes,
    )  # fmt: skip
    documents.keep(archive, statements.OPENING, person_id, made.document, who=account)
    return made


def sign(
    archive: "Archive",
    key: "PrivateKey",
    account: str,
    criterion: "Criterion",
    person_id: str,
    *,
    conditions: Sequence[str] = (),
) -> dict[str, Any]:
    """Sign the statement that everything was shown; keep it and return it."""
    ring, known = accounts.keyring(archive), archive.person(person_id)
    checks.close_stale(archive, ring, known.id, unattended=not criterion.attended)
    found = gathered.gather(archive, ring, criterion, known.id)
    subject = Subject(known.id, known.name, __version__, found.drawing_versions, found.remarks)
    made = statement(
        ring, key, criterion, subject,
        statements.history_of(archive, ring, criterion, known.id),
        earlier=[one.document for one in statements.statements(archive, known.id)],
        conditions=conditions, watches=statements.watches(archive, known.id),
        now=now(archive), random_bytes=secrets.token_bytes,
    )  # fmt: skip
    documents.keep(archive, statements.STATEMENT, known.id, made, who=account)
    return made


def change_standing(
    archive: "Archive", key: "PrivateKey", account: str, statement_id: str, kind: str, reason: str
) -> standings.Standing:
    """Suspend, withdraw or reinstate a statement, or set a condition; return where it stands then.

    `kind` is one of `trainer.signoff.standing.KINDS`; "condition" is taken for "set a condition".
    """
    change = known_change(kind)
    ring, at = accounts.keyring(archive), now(archive)
    kept = statements.find_statement(archive, statement_id)
    present = statements.standing_of(archive, ring, kept, at)
    made = standings.changed(ring, key, kept.document, present, change, reason, now=at)
    documents.keep(archive, statements.CHANGE, statement_id, made.document, who=account)
    return statements.standing_of(archive, ring, kept, at)


def known_change(kind: str) -> str:
    """Return the kind of a change of standing; raise `StandingRefused` for a word that is none."""
    change = standings.CONDITION if kind == "condition" else kind
    if change not in standings.KINDS:
        raise standings.StandingRefused(
            f"{kind!r} is no change of standing; say suspend, withdraw, reinstate or condition"
        )
    return change


def due(archive: "Archive") -> list[tuple[documents.Kept, standings.Standing]]:
    """Return all statements with their standing, the most pressing first."""
    return statements.due_list(archive, accounts.keyring(archive), now(archive))


def may_not_sign(archive: "Archive") -> "list[tuple[Person, str]]":
    """Return the people without a statement in force, by name, each with the reason in a sentence."""
    standing: dict[str, list[standings.Standing]] = {}
    for kept, present in due(archive):
        standing.setdefault(str(kept.document["body"]["person"]["id"]), []).append(present)
    frame = archive.sessions(for_record=True)
    taken = frame.loc[frame["drill"] != BENCH, "person"].value_counts().to_dict()
    found = []
    for person in archive.people():
        own = standing.get(person.id, [])
        if not any(one.in_force for one in own):
            found.append((person, _why_none(own, int(taken.get(person.name, 0)))))
    return found


def _why_none(own: Sequence[standings.Standing], taken: int) -> str:
    if own:
        return max(own, key=lambda one: one.since).sentence
    if not taken:
        return tell("may-not-sign.none")
    return tell("may-not-sign.one" if taken == 1 else "may-not-sign", n=taken)
