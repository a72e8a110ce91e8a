"""Verification of a statement: signature, chain of keys, validity, and the evidence where it is at hand."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.signoff.accounts import iso, same_name
from trainer.signoff.attempts import History
from trainer.signoff.canonical import UnusableDocument
from trainer.signoff.criterion import Criterion, parse
from trainer.signoff.decision import SHOWN
from trainer.signoff.evidence import moment
from trainer.signoff.keyring import Certificate, Keyring
from trainer.signoff.keys import PublicKey
from trainer.signoff.sealed import body_of, refuse_unless_signed, signer_of
from trainer.signoff.statement import STATEMENT_FORM, session_digest, watch_digest


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was checked: what, whether it holds, and a sentence."""

    what: str
    holds: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Report:
    """All that was checked; a statement is good when everything holds."""

    findings: tuple[Finding, ...]

    @property
    def good(self) -> bool:
        """Return whether everything holds."""
        return all(one.holds for one in self.findings)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, fit for JSON."""
        return {
            "good": self.good,
            "findings": [
                {"what": one.what, "holds": one.holds, "sentence": one.sentence} for one in self.findings
            ],
        }


@dataclass(frozen=True, slots=True)
class AtHand:
    """What an archive adds: its keyring, its own copy of the statement, its standing and evidence.

    `history` returns the attempts under a criterion; `standing` is "" for one that is in force; `watches`
    are the guards' records of the person's checks, by session. `after_revocation` says that the log has the
    key's revocation before the statement, whatever the clock said.
    """

    ring: Keyring
    copy: Mapping[str, Any] | None
    standing: str
    history: Callable[[Criterion], History]
    recorded_at: datetime | None = None
    watches: Mapping[str, Mapping[str, Any]] | None = None
    after_revocation: bool = False


def verify(
    document: Mapping[str, Any],
    *,
    now: datetime,
    trusted: PublicKey | None = None,
    archive: AtHand | None = None,
) -> Report:
    """Return what holds of a statement and what does not.

    `trusted` is a public key that the verifier has from elsewhere: of the supervisor who signed, or of
    anybody above in the chain. Without it and without an archive nothing says whose key signed.
    """
    found: list[Finding] = []
    try:
        body = body_of(document, STATEMENT_FORM, "the statement")
        refuse_unless_signed(document, "the statement")
        signer = signer_of(document, "the statement")
    except Refusal as fault:
        return Report((Finding("signature", False, str(fault)),))
    found.append(Finding("signature", True, f"the signature fits the key {signer.fingerprint}"))
    try:
        signed_at = moment(body["signed_at"])
        chain = _chain(document, signer)
        found.append(_chain_finding(chain, body, signer, signed_at))
        found.append(_trust(chain, trusted, archive, signer))
        criterion = _criterion(body)
        found += [_consistent(body, criterion, signed_at), _in_time(body, signed_at, now)]
        if archive is not None:
            found += _against(archive, document, body, criterion, signer, signed_at)
    except Refusal as fault:
        found.append(Finding("content", False, str(fault)))
    except (KeyError, TypeError, AttributeError, ValueError, OverflowError) as fault:  # a year too far off
        found.append(Finding("content", False, f"the statement lacks something or holds it wrongly: {fault}"))
    return Report(tuple(found))


def _chain(document: Mapping[str, Any], signer: PublicKey) -> list[Certificate]:
    keys = document.get("keys")
    if not isinstance(keys, list):
        raise UnusableDocument("the certificates of the keys are missing")
    return Keyring.of(keys).chain(signer)


def _chain_finding(
    chain: list[Certificate], body: Mapping[str, Any], signer: PublicKey, signed_at: datetime
) -> Finding:
    holder = chain[0]
    ring = Keyring.of([dict(one.document) for one in chain])
    ring.refuse_unless_good(signer, signed_at, "the statement")
    if body["supervisor"] != {"account": holder.account, "key": signer.fingerprint}:
        return Finding("keys", False, "it names another supervisor than the one whose key signed")
    person = body["person"]
    if holder.person == person["id"] or same_name(holder.account, person["name"]):
        return Finding("keys", False, f"{holder.account} signed for themself")
    names = ", vouched for by ".join(one.account for one in chain)
    return Finding("keys", True, f"signed by {names}; the key was in force on {signed_at:%Y-%m-%d}")


def _trust(
    chain: list[Certificate], trusted: PublicKey | None, archive: AtHand | None, signer: PublicKey
) -> Finding:
    if trusted is not None:
        if any(one.public == trusted for one in chain):
            return Finding("trust", True, f"the key that you trust, {trusted.fingerprint}, stands behind it")
        return Finding(
            "trust", False, f"the key that you trust, {trusted.fingerprint}, is not among those that signed"
        )
    if archive is not None:
        archive.ring.certificate(signer)
        return Finding("trust", True, "the archive knows the key")
    first = chain[-1]
    return Finding(
        "trust",
        False,
        f"nothing says that the first key, {first.public.fingerprint} ({first.account}), is your "
        "laboratory's; "
        "name a public key that you have from them (--key) or their archive (--archive)",
    )


def _criterion(body: Mapping[str, Any]) -> Criterion:
    own = body["criterion"]
    criterion = parse(own["text"], own["name"], where="the criterion in the statement")
    if criterion.sha256 != own["sha256"] or criterion.title != own["title"]:
        raise UnusableDocument(
            "the criterion's text does not have the hash and title that the statement gives"
        )
    return criterion


def _consistent(body: Mapping[str, Any], criterion: Criterion, signed_at: datetime) -> Finding:
    decision = body["decision"]
    limits = {one["name"]: one["limit"] for one in decision["limits"]}
    asked = {
        "bias": criterion.bias_tenths, "spread": criterion.spread_tenths, "misreads": criterion.misread_rate,
        "judgement": criterion.false_accept_rate, "rejects": criterion.false_reject_rate,
        "pace": criterion.slow_rate,
    }  # fmt: skip
    given = {name: limit for name, limit in asked.items() if limit is not None}
    wanted = {name: round(limit, 4) for name, limit in given.items() if limit < math.inf}
    if limits != wanted:
        return Finding("verdict", False, "its limits are not those of its criterion")
    if decision["verdict"] != SHOWN or any(one["verdict"] != SHOWN for one in decision["limits"]):
        return Finding("verdict", False, "its verdict is not that everything was shown")
    counted = sum(one["readings"] for one in body["evidence"])
    if (
        counted != decision["readings"]
        or [one["session"] for one in body["evidence"]] != decision["sessions"]
    ):
        return Finding("verdict", False, "its evidence is not that of its decision")
    if body["valid_until"] != iso(signed_at + timedelta(days=criterion.valid_days)):
        return Finding("verdict", False, "it is valid for another time than its criterion allows")
    if any(moment(one["started_at"]) > signed_at for one in body["evidence"]):
        return Finding("verdict", False, "it was signed before its evidence was taken; a clock was wrong")
    return Finding("verdict", True, f"{criterion.title}: shown with {counted} readings")


def _in_time(body: Mapping[str, Any], signed_at: datetime, now: datetime) -> Finding:
    until = moment(body["valid_until"])
    if now < signed_at:
        return Finding(
            "validity", False, f"it was signed at {iso(signed_at)}, later than now by this computer's clock"
        )
    if now >= until:
        return Finding("validity", False, f"it ended on {until:%Y-%m-%d}; a renewal is needed")
    return Finding("validity", True, f"valid until {until:%Y-%m-%d}")


def _against(
    archive: AtHand,
    document: Mapping[str, Any],
    body: Mapping[str, Any],
    criterion: Criterion,
    signer: PublicKey,
    signed_at: datetime,
) -> list[Finding]:
    """Return what the archive says: key, copy, standing, evidence."""
    found = []
    cancel = archive.ring.revocation(signer)
    fault = archive.ring.fault(signer, signed_at)
    if fault:
        found.append(Finding("key status", False, f"when it was signed, {fault}"))
    elif archive.after_revocation:
        found.append(
            Finding("key status", False, "the log has the key's revocation before it; a clock was set back")
        )
    elif cancel is not None:
        found.append(
            Finding(
                "key status", True, f"the key was revoked later, on {cancel.since:%Y-%m-%d} ({cancel.kind})"
            )
        )
    else:
        found.append(Finding("key status", True, "the key is not revoked"))
    if archive.copy is None:
        found.append(Finding("record", False, "the archive holds no such statement"))
    elif dict(archive.copy) != dict(document):
        found.append(Finding("record", False, "the archive's copy of this statement is another one"))
    else:
        found.append(Finding("record", True, "the archive holds the same statement"))
    if archive.recorded_at is not None and abs((archive.recorded_at - signed_at).total_seconds()) > 3600:
        found.append(
            Finding(
                "record time", False,
                f"it says that it was signed at {iso(signed_at)}, "
                f"and was recorded at {iso(archive.recorded_at)}",
            )
        )  # fmt: skip
    words = archive.standing or "in force"
    found.append(Finding("standing", not archive.standing, f"it is {words}"))
    if archive.watches is not None:
        found.append(_same_records(archive.watches, body))
    return [*found, _same_verdict(archive.history(criterion), body)]


def _same_records(watches: Mapping[str, Mapping[str, Any]], body: Mapping[str, Any]) -> Finding:
    """Return whether the guards' records are those that the statement was signed upon.

    Statements of earlier versions give the flags of a record, not its hash.
    """
    for row in body["evidence"]:
        name, watch = row["session"], watches.get(row["session"])
        same = row.get("watch_sha256", watch_digest(watch)) == watch_digest(watch)
        if not same or (watch is not None and list(watch["flags"]) != row["flags"]):
            what = "is missing" if watch is None else "is another one than was signed"
            return Finding("guard", False, f"the record of what happened during session {name} {what}")
    attested = sum(bool(row.get("attested")) for row in body["evidence"])
    return Finding(
        "guard",
        True,
        f"the records of the checks are those signed; the person attested {attested} of "
        f"{len(body['evidence'])}",
    )


def _same_verdict(history: History, body: Mapping[str, Any]) -> Finding:
    number = body["attempt"]["number"]
    attempt = next((one for one in history.attempts if one.number == number), None)
    if attempt is None:
        return Finding("evidence", False, f"the archive's sessions make no attempt {number}")
    sessions = {one.id: one for one in attempt.sessions}
    for row in body["evidence"]:
        if row["session"] not in sessions:
            return Finding("evidence", False, f"session {row['session']} is not in the archive's attempt")
        if session_digest(sessions[row["session"]]) != row["sha256"]:
            return Finding("evidence", False, f"session {row['session']} was changed since it was signed")
    known = {row["session"] for row in body["evidence"]}
    last = max(moment(row["started_at"]) for row in body["evidence"])
    for one in attempt.sessions:
        if one.id not in known and moment(one.started_at) <= last:
            return Finding(
                "evidence",
                False,
                f"session {one.id} of {one.started_at[:10]} belongs to the evidence "
                "and was not in the archive when it was signed",
            )
    if attempt.decision.verdict != SHOWN or list(attempt.decision.sessions) != body["decision"]["sessions"]:
        return Finding("evidence", False, f"the archive's evidence now gives: {attempt.decision.sentence}")
    return Finding("evidence", True, "the archive's evidence gives the same verdict")
