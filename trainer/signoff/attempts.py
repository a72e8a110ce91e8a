"""Attempts: which sessions belong to which try, so that nobody rolls the dice again.

The first attempt takes in every check session in scope, from the first one. An attempt ends with its
decision. After a sign-off the next attempt begins by itself with the first session after that decision: the
monitoring checks gather the evidence for the renewal. After an attempt without success the sessions that
follow belong to nothing until a supervisor opens a new attempt with a reason, after the waiting time; what
was taken in between is practice, and is listed as such.

Another text of the criterion, or another criterion for the same scale, is no way round that: where checks
taken for it have led to no sign-off, the first attempt has to be opened in the same manner.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.instrument.sentence import Moment
from trainer.signoff.accounts import iso
from trainer.signoff.canonical import UnusableDocument
from trainer.signoff.criterion import Criterion
from trainer.signoff.decision import SHOWN, Decision, decide
from trainer.signoff.evidence import CheckSession, Refused, moment, without_replays
from trainer.signoff.keyring import Keyring
from trainer.signoff.keys import PrivateKey, RandomBytes
from trainer.signoff.roles import refuse_unless_allowed
from trainer.signoff.sealed import body_of, refuse_unless_signed, seal, signer_of
from trainer.signoff.words import tell

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
class Elsewhere:
    """A check that would be evidence here, had it not been opened for another text.

    `signed_at` is when a statement took it in, None where none has.
    """

    session: str
    started_at: datetime
    opened_for: str  # "another text of first-level-metric"
    signed_at: datetime | None = None

    def left_behind(self, at: datetime) -> bool:
        """Return whether at a later moment the check had led to no sign-off."""
        return self.started_at < at and (self.signed_at is None or self.signed_at > at)


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
    """All attempts of one person under one criterion, the sessions that count nowhere, and why.

    `elsewhere` are the checks that were opened for another text, in order of time.
    """

    attempts: tuple[Attempt, ...]
    refused: tuple[Refused, ...]
    elsewhere: tuple[Elsewhere, ...] = ()
    openings: tuple[Opening, ...] = ()

    @property
    def last(self) -> Attempt:
        """Return the attempt that is going on or ended last."""
        return self.attempts[-1]

    def barred_by(self, now: datetime) -> Elsewhere | None:
        """Return the check for another text after which a first attempt waits to be opened, None if none."""
        if self.last.number > 1 or self.last.sessions:
            return None
        found = _left_behind(self.elsewhere, now)
        return None if found is None or _opening(self.openings, found.started_at, now) else found

    def may_open(self, now: datetime) -> bool:
        """Return whether the next attempt is one that a supervisor has to open."""
        decision = self.last.decision
        return self.barred_by(now) is not None or (decision.ended and decision.verdict != SHOWN)


def history(
    criterion: Criterion,
    sessions: Sequence[CheckSession],
    openings: Sequence[Opening] = (),
    refused: Sequence[Refused] = (),
    elsewhere: Sequence[Elsewhere] = (),
) -> History:
    """Return the attempts that sessions and openings add up to.

    `elsewhere` are the person's checks in the criterion's scope that were opened for another text.
    """
    kept, replayed = without_replays(sessions)
    left = [*refused, *replayed]
    waiting = sorted(openings, key=lambda one: one.at)
    others = sorted(elsewhere, key=lambda one: one.started_at)
    attempts: list[Attempt] = []
    rest, opening, barred = _first_admitted(kept, waiting, others)
    left += barred
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
            left += [Refused(one.id, tell("refused.after")) for one in lost]
            after = after[len(lost) :]
            if opening is None:
                break
        elif not after:
            break
        rest = after
    return History(tuple(attempts), tuple(left), tuple(others), tuple(waiting))


def _left_behind(elsewhere: Sequence[Elsewhere], at: datetime) -> Elsewhere | None:
    """Return the last check for another text that at a moment had led to no sign-off."""
    return next((one for one in reversed(elsewhere) if one.left_behind(at)), None)


def _opening(openings: Sequence[Opening], after: datetime, until: datetime) -> Opening | None:
    return next((one for one in openings if after < one.at <= until), None)


def _first_admitted(
    kept: Sequence[CheckSession], openings: Sequence[Opening], elsewhere: Sequence[Elsewhere]
) -> tuple[list[CheckSession], Opening | None, list[Refused]]:
    """Return the sessions from the one that begins the first attempt, its opening, and those before it.

    What is asked is what stood when a session began: a later sign-off does not let it in afterwards.
    """
    refused: list[Refused] = []
    for place, one in enumerate(kept):
        start = moment(one.started_at)
        behind = _left_behind(elsewhere, start)
        if behind is None:
            return list(kept[place:]), None, refused
        if opening := _opening(openings, behind.started_at, start):
            return list(kept[place:]), opening, refused
        why = tell("refused.behind", check=behind.session, opened_for=behind.opened_for)
        refused.append(Refused(one.id, why))
    return [], None, refused


def opens_at(criterion: Criterion, found: History, now: datetime) -> datetime:
    """Return when the waiting time before an attempt that has to be opened is over."""
    other = found.barred_by(now)
    ended = found.last.ended_at if other is None else other.started_at
    assert ended is not None  # only an attempt without success, or a check left behind, is waited after
    return ended + timedelta(days=criterion.waiting_days)


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
    last, other = found.last, found.barred_by(now)
    if not found.may_open(now):
        raise AttemptRefused(tell("attempt.not-after", n=last.number, sentence=last.decision.sentence))
    if not reason.strip():
        raise AttemptRefused(tell("attempt.no-reason"))
    if now < (earliest := opens_at(criterion, found, now)):
        days, until = criterion.waiting_days, Moment(earliest)
        if other is None:
            day = f"{last.ended_at:%Y-%m-%d}"
            raise AttemptRefused(tell("attempt.early", n=last.number, day=day, days=days, until=until))
        raise AttemptRefused(
            tell(
                "attempt.early.other", check=other.session, day=f"{other.started_at:%Y-%m-%d}",
                opened_for=other.opened_for, days=days, until=until,
            )
        )  # fmt: skip
    body = {
        "format": ATTEMPT_FORM,
        "id": random_bytes(8).hex(),
        "person": person,
        "criterion": criterion.name,
        "criterion_sha256": criterion.sha256,
        "number": last.number + (other is None),
        **({} if other is None else {"after_check": other.session}),
        "at": iso(now),
        "reason": " ".join(reason.split()),
    }
    return Opening.of(seal(body, by), ring)
