"""The statement: who reads what within which limits, on what evidence, signed.

A statement is a JSON file: `body` is what is said, `signature` is Ed25519 over the canonical bytes of the
body, `public` the key that signed, and `keys` the certificates from that key up to the laboratory's first.
`docs/verify-by-hand.md` shows how to verify one without this program.
"""

import hashlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.signoff.accounts import iso, same_name
from trainer.signoff.attempts import Attempt, History
from trainer.signoff.canonical import canonical, tidy
from trainer.signoff.criterion import Criterion
from trainer.signoff.decision import SHOWN
from trainer.signoff.evidence import CheckSession, Refused, moment
from trainer.signoff.guard import NOT_ATTESTED
from trainer.signoff.keyring import Keyring
from trainer.signoff.keys import PrivateKey, RandomBytes
from trainer.signoff.roles import refuse_unless_allowed
from trainer.signoff.sealed import seal
from trainer.signoff.words import tell

STATEMENT_FORM = "tenthwise-statement-1"
ON_A_PICTURE = (
    "It speaks of readings of a picture on a calibrated screen. Before it supports a release decision, "
    "confirm it by a bench check on a real instrument."
)
NOT_ACCREDITED = (
    "The program is not accredited. Acceptance of parts and instruments follows the laboratory's own "
    "procedures, its quality system and the governing standards."
)
NO_RECORD = "no record was kept of what happened during it"
AFTER_SEQUENTIAL = "Intervals are ordinary 95 % intervals, given after a sequential test."


class CannotSign(Refusal):
    """A statement cannot be signed; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Subject:
    """Who a statement is about, and the versions of program and picture that took the evidence."""

    person: str
    name: str
    program_version: str
    drawing_versions: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()  # further limitations that lie in how the evidence was taken


def limitations(criterion: Criterion) -> list[str]:
    """Return what must be read with a statement under a criterion."""
    scope = criterion.scope
    kinds = " and ".join(scope.kinds)
    low, high = scope.viewing_deg
    vernier = "with" if scope.vernier else "without"
    found = [
        f"Only {kinds} micrometers in {scope.unit}, {vernier} a vernier; drills: {', '.join(scope.drills)}; "
        f"scale turned by {low:g} to {high:g} degrees.",
        _rates_shown(criterion),
    ]
    if criterion.one_sitting:
        found.append("Shown in this session only; nothing is said of other days.")
    return [*found, AFTER_SEQUENTIAL, ON_A_PICTURE, NOT_ACCREDITED]


def _rates_shown(criterion: Criterion) -> str:
    """Return what the rates that were shown do not prove."""
    sure = f"at {100 * criterion.confidence:g} % confidence"
    if criterion.offset_tenths is None or criterion.false_accept_rate is None:
        return (
            f"Misread rate shown below {100 * criterion.misread_rate:g} % {sure}; "
            "that is no proof that there are none."
        )
    low, high = criterion.offset_tenths
    return (
        f"False accepts shown below {100 * criterion.false_accept_rate:g} % {sure}, of offsets evenly spread "
        f"from {low:g} to {high:g} tenths at a tolerance of {criterion.tolerance_tenths:g}; nearer to the "
        "tolerance they are more frequent."
    )


def guard_sentences(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return what the guards' records take away from the evidence; nothing where all is as it should be.

    >>> guard_sentences([{"attested": True, "flags": []}, {"attested": True, "flags": ["paused 1 time"]}])
    ['On the record of 1 of 2 checks: paused 1 time.']
    """
    found = []
    if alone := sum(not row["attested"] for row in rows):
        found.append(f"The person did not attest at the end of {alone} of {len(rows)} checks.")
    if noted := [row for row in rows if set(row["flags"]) - {NOT_ATTESTED}]:
        words = "; ".join(dict.fromkeys(f for row in noted for f in row["flags"] if f != NOT_ATTESTED))
        found.append(f"On the record of {len(noted)} of {len(rows)} checks: {words}.")
    return found


def _not_counted(refused: Sequence[Refused]) -> list[dict[str, Any]]:
    """Return how many checks do not count, by reason: whoever reads the statement sees what was left out."""
    reasons = Counter(str(one.reason) for one in refused)  # plain text: it is signed
    return [{"reason": reason, "sessions": count} for reason, count in sorted(reasons.items())]


def session_digest(session: CheckSession) -> str:
    """Return the SHA-256, in hexadecimal, of what one session contributes to a decision."""
    values = tidy(
        {
            "id": session.id,
            "started_at": session.started_at,
            "errors_tenths": list(session.errors_tenths),
            "misreads": session.misreads,
            "not_given": session.not_given,
            "slow": session.slow,
            "judged": session.judged,
            "false_accepts": session.false_accepts,
            "ended_how": session.ended_how,
            **_judged(session),
        }
    )
    return hashlib.sha256(canonical(values)).hexdigest()


def _judged(session: CheckSession) -> dict[str, int]:
    """Return what only a check of judging has."""
    if not (session.judgements or session.judged or session.inside):
        return {}
    return {
        "judgements": session.judgements,
        "inside": session.inside,
        "false_rejects": session.false_rejects,
    }


def watch_digest(watch: Mapping[str, Any] | None) -> str | None:
    """Return the SHA-256, in hexadecimal, of a guard's record; None where there is none."""
    return None if watch is None else hashlib.sha256(canonical(tidy(dict(watch)))).hexdigest()


def evidence_row(
    session: CheckSession, watch: Mapping[str, Any] | None = None, *, attended: bool = False
) -> dict[str, Any]:
    """Return the line about one session in a statement; `watch` is its guard's record.

    `attended` says that a record is expected, so that a missing one stands among the flags.
    """
    missing = [NO_RECORD] if attended else []
    return {
        "session": session.id,
        "started_at": session.started_at,
        "readings": session.readings,
        "misreads": session.misreads,
        "not_given": session.not_given,
        **({"judged": session.judged, "false_accepts": session.false_accepts} if _judged(session) else {}),
        **_judged(session),
        "ended": session.ended_how,
        "flags": list(watch["flags"]) if watch else missing,
        "attested": bool(watch and watch["attested"]),
        "watch_sha256": watch_digest(watch),
        "sha256": session_digest(session),
    }


def signable(found: History) -> Attempt | None:
    """Return the attempt that a statement can be about, None where there is none.

    That is the last one where it shows everything, or the one before while checks gather for its renewal.
    Nothing is signed on what was shown before an attempt without success.
    """
    last = found.last
    if not last.decision.ended and last.opening is None and len(found.attempts) > 1:
        last = found.attempts[-2]
    return last if last.decision.verdict == SHOWN else None


def statement(
    ring: Keyring,
    by: PrivateKey,
    criterion: Criterion,
    subject: Subject,
    found: History,
    *,
    earlier: Sequence[Mapping[str, Any]] = (),
    conditions: Sequence[str] = (),
    watches: Mapping[str, Mapping[str, Any]] | None = None,
    now: datetime,
    random_bytes: RandomBytes,
) -> dict[str, Any]:
    """Return a signed statement about the last attempt that showed everything.

    `earlier` are the person's statements so far: no attempt is signed twice, or old evidence would count
    for ever. Raise `CannotSign` or `NotAllowed` unless the verdict is "shown" and the signer may sign for
    this person.
    """
    holder = ring.certificate(by.public)
    refuse_unless_allowed(holder.account, holder.roles, "sign")
    if holder.person == subject.person or same_name(holder.account, subject.name):
        raise CannotSign(tell("cannot-sign.oneself", account=holder.account))
    if fault := ring.fault(by.public, now):
        raise CannotSign(tell("cannot-sign.key", account=holder.account, fault=fault))
    if (cancel := ring.revocation(by.public)) is not None:  # not yet, by a clock that was set back
        raise CannotSign(
            f"the clock says {iso(now)}, before {holder.account}'s key was revoked on {iso(cancel.since)}; "
            "set the clock right"
        )
    attempt, last = signable(found), found.last
    if attempt is None:
        raise CannotSign(tell("cannot-sign", person=subject.name, sentence=last.decision.sentence))
    _refuse_signed_before(earlier, criterion, attempt.number)
    taken = [one for one in attempt.sessions if one.id in attempt.decision.sessions]
    if still_open := [one.id for one in taken if not one.ended_how]:
        raise CannotSign(tell("cannot-sign.open", session=still_open[0]))
    _refuse_out_of_time(criterion, [*taken, *last.sessions], now)
    own = watches or {}
    rows = [evidence_row(one, own.get(one.id), attended=criterion.attended) for one in taken]
    guarded = guard_sentences(rows) if criterion.attended else []
    body = {
        "format": STATEMENT_FORM,
        "id": random_bytes(8).hex(),
        "person": {"id": subject.person, "name": subject.name},
        "criterion": {
            "name": criterion.name,
            "title": criterion.title,
            "sha256": criterion.sha256,
            "text": criterion.text,
        },
        "conditions": [*criterion.conditions, *(" ".join(one.split()) for one in conditions if one.strip())],
        "decision": attempt.decision.to_dict(),
        "attempt": {
            "number": attempt.number,
            "reason": attempt.opening.reason if attempt.opening else None,
            "without_success_before": sum(
                one.decision.ended and one.decision.verdict != SHOWN
                for one in found.attempts[: attempt.number]
            ),
        },
        "evidence": rows,
        "not_counted": _not_counted(found.refused),
        "limitations": [*guarded, *subject.remarks, *limitations(criterion)],
        "program": {"version": subject.program_version, "drawing": sorted(subject.drawing_versions)},
        "supervisor": {"account": holder.account, "key": by.public.fingerprint},
        "signed_at": iso(now),
        "valid_from": iso(now),
        "valid_until": iso(now + timedelta(days=criterion.valid_days)),
    }
    keys = [dict(one.document) for one in ring.chain(by.public)]
    return {**seal(body, by), "keys": keys}


def _refuse_signed_before(earlier: Sequence[Mapping[str, Any]], criterion: Criterion, number: int) -> None:
    for one in earlier:
        body = one["body"]
        if body["criterion"]["sha256"] == criterion.sha256 and body["attempt"]["number"] == number:
            day = body["signed_at"][:10]
            raise CannotSign(tell("cannot-sign.signed", n=number, day=day, statement=body["id"]))


def _refuse_out_of_time(criterion: Criterion, sessions: Sequence[CheckSession], now: datetime) -> None:
    """Raise `CannotSign` when the clock stands before the evidence, or the evidence has grown old."""
    latest = max(moment(one.started_at) for one in sessions)
    if now < latest:
        raise CannotSign(tell("cannot-sign.clock", now=iso(now)))
    days = criterion.monitor_days + criterion.grace_days
    if now > latest + timedelta(days=days):
        raise CannotSign(tell("cannot-sign.old", day=f"{latest:%Y-%m-%d}", days=days))


def fingerprint(document: Mapping[str, Any]) -> str:
    """Return the fingerprint printed on the certificate: SHA-256 of the signed bytes, in groups of four."""
    text = hashlib.sha256(canonical(document["body"])).hexdigest()
    return " ".join(text[start : start + 4] for start in range(0, 64, 4))
