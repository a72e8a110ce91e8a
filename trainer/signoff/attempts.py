"""Attempts: which sessions belong to which try, so that nobody rolls the dice again.

The first attempt takes in every check session in scope, from the first one. An attempt ends with its
decision. After a sign-off the next attempt begins by itself with the first session after that decision: the
monitoring checks gather the evidence for the renewal. After an attempt without success the sessions that
follow belong to nothing until a supervisor opens a new attempt with a reason, after the waiting time; what
was taken in between is practice, and is listed as such.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.signoff.accounts import iso
from trainer.signoff.canonical import UnusableDocument
from trainer.signoff.criterion import Criterion
from trainer.signoff.decision import SHOWN, Decision, decide
from trainer.signoff.evidence import CheckSession, Refused, moment, without_replays
from trainer.signoff.keyring import Keyring
from trainer.signoff.keys import PrivateKey, RandomBytes
from trainer.signoff.roles import refuse_unless_allowed
from trainer.signoff.sealed import body_of, refuse_unless_signed, seal, signer_of

ATTEMPT_FORM = "tenthwise-attempt-1"


class AttemptRefused(Refusal):
    """A new attempt cannot be opened; the sentence says why, and from when it can."""


@dataclass(frozen=True, slots=True)
class Opening:
    """A supervisor's opening of a new attempt after one without success."""

    document: Mapping[str, Any]
    person: str
    criterion: str
    at: datetime
    reason: str

    def serves(self, criterion: Criterion) -> bool:
        """Return whether the attempt was opened under this criterion, and this text of it.

        Openings of versions that did not name the text yet serve the criterion of that name.
        """
        text = self.document["body"].get("criterion_sha256", criterion.sha256)
        return self.criterion == criterion.name and text == criterion.sha256

    @classmethod
    def of(cls, document: Mapping[str, Any], ring: Keyring) -> "Opening":
        """Return the opening in a document; raise unless a supervisor in force signed it."""
        what = "the opening of an attempt"
        body = body_of(document, ATTEMPT_FORM, what)
        refuse_unless_signed(document, what)
        try:
            found = cls(
                document, str(body["person"]), str(body["criterion"]), moment(body["at"]), str(body["reason"])
            )
        except (KeyError, TypeError) as fault:
            raise UnusableDocument(f"{what}: {fault} is missing") from None
        ring.refuse_unless_good(signer_of(document, what), found.at, what)
        return found


@dataclass(frozen=True, slots=True)
class Attempt:
    """One attempt with its decision; `opening` is None for the first and for one after a sign-off."""

    number: int
    sessions: tuple[CheckSession, ...]
    decision: Decision
    opening: Opening | None = None

    @property
    def ended_at(self) -> datetime | None:
        """Return when the last session that the decision took in began, None while the attempt goes on."""
        if not self.decision.ended:
            return None
        taken = set(self.decision.sessions)
        return max(moment(one.started_at) for one in self.sessions if one.id in taken)


@dataclass(frozen=True, slots=True)
class History:
    """All attempts of one person under one criterion, the sessions that count nowhere, and why."""

    attempts: tuple[Attempt, ...]
    refused: tuple[Refused, ...]

    @property
    def last(self) -> Attempt:
        """Return the attempt that is going on or ended last."""
        return self.attempts[-1]


def history(
    criterion: Criterion,
    sessions: Sequence[CheckSession],
    openings: Sequence[Opening] = (),
    refused: Sequence[Refused] = (),
) -> History:
    """Return the attempts that sessions and openings add up to."""
    kept, replayed = without_replays(sessions)
    left = [*refused, *replayed]
    waiting = sorted(openings, key=lambda one: one.at)
    attempts: list[Attempt] = []
    opening: Opening | None = None
    rest = kept
    while True:
        decision = decide(criterion, rest)
        own = rest if not decision.ended else rest[: len(decision.sessions)]
        attempts.append(Attempt(len(attempts) + 1, tuple(own), decision, opening))
        if not decision.ended:
            break
        after, opening = rest[len(own) :], None
        if decision.verdict != SHOWN:
            ended = attempts[-1].ended_at
            opening = next((one for one in waiting if ended is not None and one.at > ended), None)
            lost = [one for one in after if opening is None or moment(one.started_at) < opening.at]
            left += [
                Refused(one.id, "it was taken after an attempt had ended without success") for one in lost
            ]
            after = after[len(lost) :]
            if opening is None:
                break
        elif not after:
            break
        rest = after
    return History(tuple(attempts), tuple(left))


def opened(
    ring: Keyring,
    by: PrivateKey,
    criterion: Criterion,
    person: str,
    found: History,
    *,
    reason: str,
    now: datetime,
    random_bytes: RandomBytes,
) -> Opening:
    """Return a signed opening of a new attempt after one that ended without success."""
    holder = ring.certificate(by.public)
    refuse_unless_allowed(holder.account, holder.roles, "open an attempt")
    last = found.last
    if not last.decision.ended or last.decision.verdict == SHOWN:
        raise AttemptRefused(
            f"attempt {last.number} is {last.decision.sentence}; a new one follows one without success"
        )
    if not reason.strip():
        raise AttemptRefused("a new attempt needs a reason: what training came between; write it down")
    assert last.ended_at is not None  # it ended
    earliest = last.ended_at + timedelta(days=criterion.waiting_days)
    if now < earliest:
        raise AttemptRefused(
            f"attempt {last.number} ended without success on {last.ended_at:%Y-%m-%d}; "
            f"the criterion asks for {criterion.waiting_days} days of training, "
            f"until {earliest:%Y-%m-%d %H:%M} UTC"
        )
    body = {
        "format": ATTEMPT_FORM,
        "id": random_bytes(8).hex(),
        "person": person,
        "criterion": criterion.name,
        "criterion_sha256": criterion.sha256,
        "number": last.number + 1,
        "at": iso(now),
        "reason": " ".join(reason.split()),
    }
    return Opening.of(seal(body, by), ring)
