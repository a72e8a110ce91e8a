"""One sitting joined to the archive: every answer is on disk before anything else happens."""

import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer import __version__
from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal
from trainer.practice import session as rules
from trainer.practice.deal import deal
from trainer.practice.items import Answer, Item
from trainer.practice.placement import next_item
from trainer.practice.plan import Plan

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.records.values import StoredSession


class NoSuchSession(Refusal):
    """There is no session of that kind to go on with."""


def fresh_seed() -> int:
    """Return 64 random bits that nobody can know beforehand."""
    return secrets.randbits(64)


def utc_now() -> str:
    """Return the present moment, UTC, in ISO 8601."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


def clock_of(archive: "Archive") -> Callable[[], str]:
    """Return the archive's own clock, as sessions and answers write it: UTC in ISO 8601."""
    return lambda: archive.store.clock().astimezone(UTC).isoformat(timespec="milliseconds")


@dataclass
class Sitting:
    """A session under way, and where it is kept.

    `chance` deals where the items hang on the answers. `clock` returns seconds that never go backwards;
    `now` returns UTC in ISO 8601.
    """

    archive: "Archive"
    session_id: str
    session: rules.Session
    clock: Callable[[], float] = time.monotonic
    now: Callable[[], str] = utc_now
    chance: np.random.Generator = field(default_factory=np.random.default_rng)
    _ended: bool = field(default=False, init=False)

    def begin(self) -> None:
        """Show the first item that is still to be read."""
        self._take(rules.Begun(self.clock()))

    def enter(self, text: str) -> str | None:
        """Enter a typed answer; return the complaint if it was not taken."""
        self._take(rules.Edited(text))
        self._take(rules.Entered(self.clock(), self.now()))
        return self.session.complaint

    def skip(self) -> None:
        """Record the present item as skipped."""
        self._take(rules.Skipped(self.clock(), self.now()))

    def advance(self) -> None:
        """Go on after feedback."""
        self._take(rules.Advanced(self.clock()))

    def leave(self) -> None:
        """Stop here; the session stays in the archive and can be taken up again."""
        self._take(rules.Left(self.clock()))

    def _take(self, event: rules.Event) -> None:
        """Step the rules; keep what is new before the new state counts."""
        after = rules.step(self.session, event)
        for answer in after.answers[len(self.session.answers) :]:
            self.archive.save_answer(self.session_id, answer.to_dict())
        self.session = after
        if after.wants_item and after.phase in ("ready", "dealing"):
            item = next_item(after, self.chance)
            self.archive.deal_more(self.session_id, [item.to_dict()])
            self._take(rules.Dealt(item, self.clock()))
        if after.phase == "done" and not self._ended:
            self.archive.end_session(self.session_id, "finished", self.now())
            self._ended = True


def begin(
    archive: "Archive",
    person: str,
    plan: Plan,
    *,
    viewing: dict[str, Any],
    px_per_mm: float,
    drawing_version: str,
    seed: int | None = None,
    station: str = "",
    ticket: str = "",
    clock: Callable[[], float] = time.monotonic,
    now: Callable[[], str] | None = None,
) -> Sitting:
    """Deal a plan for a person, keep what was dealt, and return the sitting.

    `ticket` names the supervisor's opening of a guarded check; it is kept with the plan. `now` is the
    archive's clock where it is not given.
    """
    from trainer.records.values import SessionHeader

    now = now or clock_of(archive)
    chosen = fresh_seed() if seed is None else seed
    chance = np.random.default_rng(chosen)
    items = deal(plan, catalogue.load(plan.instrument), chance)
    header = SessionHeader(
        instrument=plan.instrument,
        drill=plan.drill,
        for_record=plan.for_record,
        seed=chosen,
        program_version=__version__,
        drawing_version=drawing_version,
        viewing=viewing,
        px_per_mm=px_per_mm,
        station=station,
        started_at=now(),
    )
    known = archive.person(person)
    kept_plan = plan.to_dict() | ({"ticket": ticket} if ticket else {})
    session_id = archive.begin_session(known, kept_plan, [item.to_dict() for item in items], header)
    return Sitting(archive, session_id, rules.start(plan, items), clock, now, chance)


def unfinished(archive: "Archive", person: str, plan: Plan) -> "StoredSession":
    """Return the newest unfinished session of this person with this plan; raise `NoSuchSession`."""
    for stored in archive.unfinished(archive.person(person)):
        if stored.plan.get("name") == plan.name:
            return stored
    raise NoSuchSession(
        f"{person} has no unfinished session of plan {plan.name}; start a new one without --resume"
    )


def reopen(archive: "Archive", stored: "StoredSession") -> Sitting:
    """Return a sitting that goes on where a stored session stopped."""
    begun = rules.start(Plan.from_dict(stored.plan), *course_of(stored))
    return Sitting(archive, stored.id, begun, now=clock_of(archive))


def course_of(stored: "StoredSession") -> tuple[tuple[Item, ...], tuple[Answer, ...]]:
    """Return the items and answers of a stored session as the rules of practice have them."""
    items = tuple(Item(i.number, i.position_tenths, i.asks, dict(i.extra)) for i in stored.items)
    answers = tuple(
        Answer(a.number, a.typed, a.answer_tenths, a.outcome, a.seconds or 0.0, a.at, dict(a.extra))  # type: ignore[arg-type]
        for a in stored.answers
    )
    return items, answers
