"""Standing: whether a statement is valid, due for a check, suspended, withdrawn or expired, and why."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.signoff.accounts import iso, same_name
from trainer.signoff.canonical import UnusableDocument
from trainer.signoff.criterion import Criterion
from trainer.signoff.evidence import CheckSession, moment
from trainer.signoff.keyring import Keyring
from trainer.signoff.keys import PrivateKey
from trainer.signoff.monitoring import Chart, chart
from trainer.signoff.roles import refuse_unless_allowed
from trainer.signoff.sealed import body_of, refuse_unless_signed, seal, signer_of
from trainer.signoff.words import tell

STANDING_FORM = "tenthwise-standing-1"
VALID, DUE, SUSPENDED, WITHDRAWN, EXPIRED = "valid", "due", "suspended", "withdrawn", "expired"
SUSPEND, WITHDRAW, REINSTATE, CONDITION = "suspend", "withdraw", "reinstate", "set a condition"
KINDS = (SUSPEND, WITHDRAW, REINSTATE, CONDITION)


class StandingRefused(Refusal):
    """A change of standing is refused; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Change:
    """A supervisor's signed change of a statement's standing, with its reason."""

    document: Mapping[str, Any]
    statement: str
    kind: str
    at: datetime
    reason: str
    by: str

    @classmethod
    def of(cls, document: Mapping[str, Any], ring: Keyring) -> "Change":
        """Return the change in a document; raise unless a supervisor in force signed it."""
        what = "a change of standing"
        body = body_of(document, STANDING_FORM, what)
        refuse_unless_signed(document, what)
        try:
            found = cls(
                document, str(body["statement"]), str(body["kind"]), moment(body["at"]),
                str(body["reason"]), str(body["supervisor"]),
            )  # fmt: skip
        except (KeyError, TypeError) as fault:
            raise UnusableDocument(f"{what}: {fault} is missing") from None
        if found.kind not in KINDS:
            raise UnusableDocument(f"{what}: {found.kind!r} is none of {', '.join(KINDS)}")
        ring.refuse_unless_good(signer_of(document, what), found.at, what)
        return found


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a statement stands at a moment. `due_at` is when the next monitoring check is due."""

    state: str
    since: datetime
    reason: str
    due_at: datetime
    valid_until: datetime
    conditions: tuple[str, ...]
    chart: Chart

    @property
    def in_force(self) -> bool:
        """Return whether the statement may be relied on: valid, or due within the grace time."""
        return self.state in (VALID, DUE)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, fit for JSON."""
        return {
            "state": self.state,
            "since": iso(self.since),
            "reason": self.reason,
            "due_at": iso(self.due_at),
            "valid_until": iso(self.valid_until),
            "conditions": list(self.conditions),
            "monitoring": self.chart.to_dict(),
        }

    @property
    def sentence(self) -> str:
        """Return the standing in words."""
        entry = ("standing.in-force" if self.in_force else "standing.not") + (".why" if self.reason else "")
        return tell(
            entry,
            state=tell(f"state.{self.state}"),
            until=f"{self.valid_until:%Y-%m-%d}",
            due=f"{self.due_at:%Y-%m-%d}",
            since=f"{self.since:%Y-%m-%d}",
            reason=self.reason,
        )


def changed(
    ring: Keyring,
    by: PrivateKey,
    statement: Mapping[str, Any],
    present: Standing,
    kind: str,
    reason: str,
    *,
    now: datetime,
) -> Change:
    """Return a signed change of standing; raise `StandingRefused` where it makes no sense."""
    holder = ring.certificate(by.public)
    refuse_unless_allowed(holder.account, holder.roles, kind)
    body = statement["body"]
    if holder.person == body["person"]["id"] or same_name(holder.account, body["person"]["name"]):
        raise StandingRefused(tell("change.oneself", account=holder.account, kind=tell(f"act.{kind}")))
    if not reason.strip():
        raise StandingRefused(tell("change.no-reason", kind=tell(f"act.{kind}")))
    if present.state in (WITHDRAWN, EXPIRED):
        raise StandingRefused(tell("change.over", sentence=present.sentence))
    if kind == SUSPEND and present.state == SUSPENDED:
        raise StandingRefused(tell("change.already", sentence=present.sentence))
    if kind == REINSTATE and present.state != SUSPENDED:
        raise StandingRefused(tell("change.not-suspended", sentence=present.sentence))
    if now < present.since:
        raise StandingRefused(tell("change.clock", now=iso(now)))
    return Change.of(
        seal(
            {
                "format": STANDING_FORM,
                "statement": body["id"],
                "kind": kind,
                "at": iso(now),
                "reason": " ".join(reason.split()),
                "supervisor": holder.account,
            },
            by,
        ),
        ring,
    )


def standing(
    criterion: Criterion,
    statement: Mapping[str, Any],
    changes: Iterable[Change],
    checks: Sequence[CheckSession],
    *,
    failed: tuple[datetime, str] | None = None,
    now: datetime,
) -> Standing:
    """Return where a statement stands now.

    `failed` is when and how a later attempt under the same criterion was shown to fail, if it was.

    `checks` are the check sessions in scope that began after the evidence of the statement. A check with
    less than half a block of readings keeps nothing alive, but counts for the chart.
    """
    body = statement["body"]
    signed_at, until = moment(body["valid_from"]), moment(body["valid_until"])
    made = (one for one in changes if one.statement == body["id"] and one.at <= now)
    own = sorted(made, key=lambda one: one.at)
    conditions = (*body["conditions"], *(one.reason for one in own if one.kind == CONDITION))
    restart = max((one.at for one in own if one.kind == REINSTATE), default=None)
    begun = ((moment(one.started_at), one) for one in checks)  # times may come in any time zone
    counted = [one for at, one in sorted(begun, key=lambda pair: pair[0]) if at <= now]
    charted = [one for one in counted if restart is None or moment(one.started_at) > restart]
    sums = chart(criterion, charted)
    whole = [moment(one.started_at) for one in counted if 2 * one.readings >= criterion.readings_a_session]
    last = max([signed_at, *whole, *([restart] if restart else [])])
    due_at = last + timedelta(days=criterion.monitor_days)
    overdue = due_at + timedelta(days=criterion.grace_days)

    def at(state: str, since: datetime, reason: str) -> Standing:
        return Standing(state, since, reason, due_at, until, conditions, sums)

    if withdrawn := next((one for one in own if one.kind == WITHDRAW), None):
        return at(WITHDRAWN, withdrawn.at, tell("standing.by", reason=withdrawn.reason, by=withdrawn.by))
    if now >= until:
        return at(EXPIRED, until, tell("standing.over"))
    latest = next((one for one in reversed(own) if one.kind in (SUSPEND, REINSTATE)), None)
    if latest is not None and latest.kind == SUSPEND:
        return at(SUSPENDED, latest.at, tell("standing.by", reason=latest.reason, by=latest.by))
    if sums.alarms:
        number, name = sums.alarms[0]
        told = tell("standing.alarm", chart=tell(f"chart.{name}"))
        return at(SUSPENDED, moment(charted[number - 1].started_at), told)
    if failed is not None and failed[0] <= now and (restart is None or failed[0] > restart):
        return at(SUSPENDED, failed[0], failed[1])
    if now >= overdue:
        return at(SUSPENDED, overdue, tell("standing.no-check"))
    if now >= due_at:
        return at(DUE, due_at, tell("standing.to-be", day=f"{overdue:%Y-%m-%d}"))
    return at(VALID, latest.at if latest else signed_at, "")
