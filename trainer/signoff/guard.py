"""Guarded checks: who attested, and what happened while it was taken.

A supervisor opens a check with a signed ticket that names the person. The session names the ticket in its
plan and deals from a seed made at that moment, so nobody can preview it, and every session under a ticket
counts. What happens during the check is noted, not judged.
"""

import hashlib
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.signoff.accounts import iso, same_name
from trainer.signoff.canonical import UnusableDocument, canonical, tidy
from trainer.signoff.criterion import Criterion
from trainer.signoff.evidence import moment
from trainer.signoff.keyring import Certificate, Keyring
from trainer.signoff.keys import PrivateKey, RandomBytes
from trainer.signoff.roles import refuse_unless_allowed
from trainer.signoff.sealed import body_of, refuse_unless_signed, seal, signer_of
from trainer.signoff.words import tell

TICKET_FORM = "tenthwise-check-1"
TICKET_HOURS = 4.0  # a ticket not used by then is void: the person who sat there may have changed
ATTESTS = "I know this person, I see them sit down to this check, and nobody else reads for them."
PERSON_ATTESTS = "I took this check myself, alone and without help."
NOT_ATTESTED = "the person did not attest at the end"
FASTEST_S = 1.0  # no whole reading is found and typed in less; common practice, no source
EVEN_SPREAD = 0.05  # a relative spread of times below this is a machine's
LONG_PAUSE_S = 120.0
SET_BACK_S = 2.0  # a clock may be put right by this much without a word
ASLEEP_S = 10.0  # time that passed while the computer's own counter stood still
COUNTED = {"focus-lost": "the window lost the focus", "pause": "paused", "resumed": "left and taken up again"}
KINDS = ("focus-lost", "focus-back", "pause", "resume", "left", "resumed", "clock-set-back", "note")


class UnusableTicket(Refusal):
    """A check cannot be opened, or a ticket does not fit a session; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Ticket:
    """A supervisor's opening of one check. A session taken under it holds `id` in its plan as "ticket"."""

    document: Mapping[str, Any]
    id: str
    person: str
    person_name: str
    criterion: str
    plan: str
    at: datetime
    supervisor: str

    @classmethod
    def of(cls, document: Mapping[str, Any], ring: Keyring) -> "Ticket":
        """Return the ticket in a document; raise unless a supervisor in force signed it."""
        what = "the ticket of a check"
        body = body_of(document, TICKET_FORM, what)
        refuse_unless_signed(document, what)
        try:
            found = cls(
                document, str(body["id"]), str(body["person"]["id"]), str(body["person"]["name"]),
                str(body["criterion"]), str(body["plan"]), moment(body["at"]),
                str(body["supervisor"]),
            )  # fmt: skip
        except (KeyError, TypeError, ValueError) as fault:
            raise UnusableDocument(f"{what}: {fault} is missing or unreadable") from None
        key = signer_of(document, what)
        ring.refuse_unless_good(key, found.at, what)
        _refuse_own(ring.certificate(key), found.person, found.person_name)
        return found

    @property
    def criterion_sha256(self) -> str:
        """Return the hash of the criterion's text as it was when the check was opened."""
        return str(self.document["body"].get("criterion_sha256", ""))

    @property
    def binds(self) -> bool:
        """Return whether the ticket names its plan's content; those of earlier versions do not."""
        return "plan_sha256" in self.document["body"]

    def refuses(
        self,
        *,
        person: str,
        started_at: datetime,
        plan: Mapping[str, Any] | None = None,
        criterion: Criterion | None = None,
    ) -> str:
        """Return why a session was not taken under this ticket, or nothing when it was.

        `plan` is the plan of the session, `criterion` the one it is offered to as evidence. Tickets of
        versions that did not bind them yet are held to person and time alone.
        """
        if person != self.person:
            return tell("ticket.person")
        if started_at < self.at - timedelta(seconds=1):
            return tell("ticket.early")
        if started_at > self.at + timedelta(hours=TICKET_HOURS):
            return tell("ticket.late", hours=f"{TICKET_HOURS:g}")
        if not self.binds:
            return ""
        if plan is not None and plan_sha256(plan) != self.document["body"]["plan_sha256"]:
            name = plan.get("name", "")
            entry = "ticket.plan" if name != self.plan else "ticket.plan.changed"
            return tell(entry, plan=name, wanted=self.plan)
        if criterion is not None and criterion.sha256 != self.criterion_sha256:
            if criterion.name == self.criterion:
                return tell("ticket.text", criterion=self.criterion)
            return tell("ticket.criterion", own=self.criterion, wanted=criterion.name)
        return ""


def plan_sha256(plan: Mapping[str, Any]) -> str:
    """Return the hash of a plan's content, without the ticket that a session adds to it."""
    own = {name: value for name, value in plan.items() if name != "ticket"}
    return hashlib.sha256(canonical(tidy(own))).hexdigest()


def ticket(
    ring: Keyring,
    by: PrivateKey,
    criterion: Criterion,
    person: str,
    person_name: str,
    *,
    plan: Mapping[str, Any] | None = None,
    now: datetime,
    random_bytes: RandomBytes,
) -> Ticket:
    """Return a signed ticket; the supervisor attests with it who sits there. Nobody opens their own check.

    `plan` is the criterion's plan in full: the ticket then serves a session of exactly that plan, as
    evidence for exactly that text of the criterion.
    """
    holder = ring.certificate(by.public)
    refuse_unless_allowed(holder.account, holder.roles, "start a check")
    _refuse_own(holder, person, person_name)
    body = {
        "format": TICKET_FORM,
        "id": random_bytes(8).hex(),
        "person": {"id": person, "name": person_name},
        "criterion": criterion.name,
        "criterion_sha256": criterion.sha256,
        "plan": criterion.plan,
        **({} if plan is None else {"plan_sha256": plan_sha256(plan)}),
        "at": iso(now),
        "supervisor": holder.account,
        "attests": ATTESTS,
    }
    return Ticket.of(seal(body, by), ring)


def _refuse_own(holder: Certificate, person: str, person_name: str) -> None:
    if holder.person == person or same_name(holder.account, person_name):
        raise UnusableTicket(tell("ticket.own", account=holder.account))


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened during a check."""

    kind: str
    at: str  # ISO 8601, UTC
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Watch:
    """The record of one check under way: pure, `marked` and `closed` return the next one."""

    ticket: str
    marks: tuple[Mark, ...] = ()
    flags: tuple[str, ...] = ()
    attested: str = ""
    ended_how: str = ""

    def marked(self, kind: str, at: str, detail: str = "") -> "Watch":
        """Return the record with something that happened noted in it."""
        if kind not in KINDS:
            raise UnusableTicket(f"{kind!r} cannot be noted on a check; it is one of {', '.join(KINDS)}")
        moment(at)
        return replace(self, marks=(*self.marks, Mark(kind, at, " ".join(detail.split()))))

    def closed(self, how: str, seconds: Sequence[float | None], *, attested: bool) -> "Watch":
        """Return the record at the check's end, with what stands out in its pace and marks.

        `attested` says that the person confirmed having taken it alone; an abandoned check has no such.
        """
        flags = [*odd_pace([one for one in seconds if one is not None])]
        for kind, words in COUNTED.items():
            if count := sum(mark.kind == kind for mark in self.marks):
                flags.append(f"{words} {count} time{'' if count == 1 else 's'}")
        if any(mark.kind == "clock-set-back" for mark in self.marks):
            flags.append("the clock was set back while it was taken")
        if not attested:
            flags.append(NOT_ATTESTED)
        return replace(self, flags=tuple(flags), attested=PERSON_ATTESTS if attested else "", ended_how=how)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, fit for JSON and the archive."""
        return {
            "ticket": self.ticket,
            "marks": [{"kind": one.kind, "at": one.at, "detail": one.detail} for one in self.marks],
            "flags": list(self.flags),
            "attested": self.attested,
            "ended_how": self.ended_how,
        }

    @classmethod
    def of(cls, values: Mapping[str, Any]) -> "Watch":
        """Return the record that `to_dict` described."""
        marks = tuple(Mark(one["kind"], one["at"], one.get("detail", "")) for one in values["marks"])
        return cls(values["ticket"], marks, tuple(values["flags"]), values["attested"], values["ended_how"])


def told_by_clock(passed_s: float, waited_s: float) -> tuple[tuple[str, str], ...]:
    """Return what is to be marked (kind and detail) where a clock and a counter that only grows disagree.

    >>> told_by_clock(5.0, 5.1), told_by_clock(-55.0, 5.0)
    ((), (('clock-set-back', 'by 60 s'),))
    """
    if passed_s < waited_s - SET_BACK_S:
        return (("clock-set-back", f"by {waited_s - passed_s:.0f} s"),)
    if passed_s > waited_s + ASLEEP_S:
        slept = f"the computer slept, or its clock was set on, by {passed_s - waited_s:.0f} s"
        return ("pause", slept), ("resume", "")
    return ()


def odd_pace(seconds: Sequence[float]) -> list[str]:
    """Return sentences about a pace that no person has, or that one reading stands out by.

    >>> odd_pace([0.4, 0.3, 0.5, 4.0, 5.0, 6.0])
    ['3 readings took less than 1 s']
    """
    found = []
    if fast := sum(one < FASTEST_S for one in seconds):
        found.append(f"{fast} {'reading' if fast == 1 else 'readings'} took less than {FASTEST_S:g} s")
    if long := sum(one > LONG_PAUSE_S for one in seconds):
        found.append(f"{long} {'reading' if long == 1 else 'readings'} took more than {LONG_PAUSE_S:g} s")
    if len(seconds) >= 10:
        middle = statistics.median(seconds)
        if middle > 0 and statistics.pstdev(seconds) < EVEN_SPREAD * middle:
            found.append("the readings came at an even pace that no person keeps")
    return found
