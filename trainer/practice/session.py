"""The rules of a sitting: a frozen state and one pure function of an event.

The caller saves each answer that is in the new state and not in the old before it shows the next item, and
each item that it deals before it sends `Dealt`. An answer that carries the very time at which its item
came into view (two answers in one frame) is not an answer to that item and is left unentered.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from trainer.instrument import catalogue
from trainer.instrument.micrometer import Micrometer
from trainer.instrument.refusal import Refusal
from trainer.instrument.sentence import said
from trainer.instrument.typed import UnreadableAnswer
from trainer.practice.events import (
    Advanced,
    Begun,
    Dealt,
    Edited,
    Entered,
    Event,
    Left,
    Paused,
    Resumed,
    Skipped,
    Ticked,
    Turned,
)
from trainer.practice.items import Answer, Item, Outcome
from trainer.practice.kind import Kind
from trainer.practice.kinds import KINDS
from trainer.practice.plan import Plan
from trainer.practice.turning import Turning, turned_by
from trainer.practice.words import tell

__all__ = [
    "Advanced",
    "Begun",
    "Dealt",
    "Edited",
    "Entered",
    "Event",
    "Left",
    "Paused",
    "Phase",
    "Resumed",
    "Session",
    "Skipped",
    "Ticked",
    "Turned",
    "UnusableSession",
    "start",
    "step",
]


class UnusableSession(Refusal):
    """The stored items and answers do not make a session that could go on."""


Phase = Literal["ready", "reading", "feedback", "dealing", "paused", "done", "left"]


@dataclass(frozen=True, slots=True)
class Session:
    """One sitting as it stands.

    `complaint` is the sentence about what was typed, if any. `doubted` is a text that was entered once
    and lies outside the instrument's travel; entering the same text again records it. `shown_at_s` is
    when the item's clock last started and `spent_s` what it had counted before. In phase "dealing" the
    next item is still to come; `turning` is how the thimble was turned, where that is the answer.
    """

    plan: Plan
    items: tuple[Item, ...]
    answers: tuple[Answer, ...] = ()
    phase: Phase = "ready"
    typed: str = ""
    complaint: str | None = None
    doubted: str | None = None
    shown_at_s: float = 0.0
    spent_s: float = 0.0
    paused_in: Phase = "reading"
    turning: Turning | None = None

    @property
    def item(self) -> Item | None:
        """Return the item in question: the one being read, or the one just answered during feedback."""
        place = len(self.answers) - (1 if self._phase_below_pause == "feedback" else 0)
        return self.items[place] if place < len(self.items) else None

    @property
    def kind(self) -> Kind:
        """Return the kind of what is asked now; the drill's own kind where nothing is."""
        item = self.item
        return KINDS[item.asks if item is not None else self.plan.drill]

    @property
    def micrometer(self) -> Micrometer:
        """Return the instrument."""
        return catalogue.load(self.plan.instrument)

    @property
    def wants_item(self) -> bool:
        """Return whether the next item is to be dealt now (`placement.next_item`, then `Dealt`)."""
        return not self.over and self._due and len(self.answers) == len(self.items)

    @property
    def total(self) -> int | None:
        """Return how many items there will be, or None where that hangs on the answers."""
        if not self.plan.serial:
            return len(self.items)
        return None if KINDS[self.plan.drill].serial else self.plan.items

    @property
    def _due(self) -> bool:
        return self.plan.serial and KINDS[self.plan.drill].due(self.plan, self.items, self.answers)

    @property
    def over(self) -> bool:
        """Return whether nothing more can come of this session."""
        return self.phase in ("done", "left")

    @property
    def _phase_below_pause(self) -> Phase:
        return self.paused_in if self.phase == "paused" else self.phase

    def elapsed_s(self, at_s: float) -> float:
        """Return the seconds that the present item has been in view."""
        running = self.phase == "reading"
        return self.spent_s + (max(0.0, at_s - self.shown_at_s) if running else 0.0)

    def remaining_s(self, at_s: float) -> float | None:
        """Return the seconds left for the present item, or None where there is no limit."""
        limit = self.plan.seconds_each
        return None if limit is None else max(0.0, limit - self.elapsed_s(at_s))

    def in_view(self, at_s: float) -> bool:
        """Return whether the instrument may be seen: not after a short exposure, nor while paused."""
        if self.phase == "feedback":
            return True
        exposure_s = self.plan.exposure_seconds
        return self.phase == "reading" and (exposure_s is None or self.elapsed_s(at_s) < exposure_s)


def start(plan: Plan, items: Sequence[Item], answers: Sequence[Answer] = ()) -> Session:
    """Return a session ready to begin, or to go on after the answers already given.

    Raise `UnusableSession` unless the answers are those of the first items, in their order.
    """
    numbers = [answer.number for answer in answers]
    if numbers != [item.number for item in items[: len(numbers)]]:
        raise UnusableSession(
            f"the answers are numbered {numbers}, which are not the first of the {len(items)} items dealt; "
            "a session goes on only after its own answers, in their order"
        )
    session = Session(plan, tuple(items), tuple(answers))
    return session if len(answers) < len(items) or session.wants_item else replace(session, phase="done")


def step(session: Session, event: Event) -> Session:
    """Return the session after one event; what the rules do not know in this phase is ignored."""
    match session.phase, event:
        case "ready", Begun(at_s):
            return _next(session, at_s)
        case _, Dealt(item, at_s) if session.wants_item:
            return _dealt(session, item, at_s)
        case "reading", Edited(text):
            return replace(session, typed=text, complaint=None)
        case "reading", Turned(position_tenths) if session.turning is not None:
            turning = session.turning.to(position_tenths, session.micrometer.travel_tenths)
            return replace(session, turning=turning, complaint=None)
        case "reading", Entered(at_s) | Skipped(at_s) if session.answers and at_s <= session.shown_at_s:
            return session
        case "reading", (Entered(at_s, at) | Skipped(at_s, at) | Ticked(at_s, at)) if (
            session.remaining_s(at_s) == 0.0
        ):
            return _recorded(session, None, "timed-out", at_s, at)
        case "reading", Entered(at_s, at):
            return _entered(session, at_s, at)
        case "reading", Skipped(at_s, at):
            return _recorded(session, None, "skipped", at_s, at)
        case "feedback", Advanced(at_s):
            return _next(session, at_s)
        case (("reading" | "feedback"), Paused(at_s)):
            spent_s = session.elapsed_s(at_s)
            return replace(session, phase="paused", paused_in=session.phase, spent_s=spent_s)
        case "paused", Resumed(at_s):
            return replace(session, phase=session.paused_in, shown_at_s=at_s)
        case (("ready" | "reading" | "feedback" | "dealing" | "paused"), Left()):
            everything = len(session.answers) == len(session.items) and not session._due
            return replace(session, phase="done" if everything else "left")
    return session


def _entered(session: Session, at_s: float, at: str) -> Session:
    item, micrometer, kind = session.item, session.micrometer, session.kind
    assert item is not None  # in phase "reading" there is one
    if session.turning is not None and not session.typed.strip():
        return _turned_to(session, session.turning, at_s, at)
    try:
        answer_tenths = kind.read(session.typed, item, micrometer, session.plan.halves)
    except UnreadableAnswer as fault:
        return replace(session, complaint=said(fault))
    outside = kind.bounded and not micrometer.holds(answer_tenths)
    if outside and session.doubted != session.typed:
        sentence = tell(
            "not-taken.outside",
            text=session.typed.strip(), low=micrometer.low, high=micrometer.high, unit=micrometer.unit,
        )  # fmt: skip
        return replace(session, complaint=sentence, doubted=session.typed)
    typed_turns = (
        {"by": "typed", **turned_by(session.typed, item, micrometer).account()} if kind.turned else {}
    )
    return _recorded(session, answer_tenths, "answered", at_s, at, typed_turns)


def _turned_to(session: Session, turning: Turning, at_s: float, at: str) -> Session:
    """Record where the thimble was set; the text kept is the reading set, the way of approach beside it."""
    if not turning.turns:
        return replace(session, complaint=tell("not-taken.not-turned"))
    micrometer = session.micrometer
    typed = micrometer.format_reading(turning.position_tenths, micrometer.decimals + 2)
    account = {"by": "turning", **turning.account()}
    return _recorded(replace(session, typed=typed), turning.position_tenths, "answered", at_s, at, account)


def _recorded(
    session: Session,
    answer_tenths: float | None,
    outcome: Outcome,
    at_s: float,
    at: str,
    extra: Mapping[str, Any] | None = None,
) -> Session:
    item = session.item
    assert item is not None  # in phase "reading" there is one
    seconds = session.elapsed_s(at_s)
    answer = Answer(item.number, session.typed, answer_tenths, outcome, seconds, at, dict(extra or {}))
    answered = replace(
        session,
        answers=(*session.answers, answer),
        typed="",
        complaint=None,
        doubted=None,
        spent_s=0.0,
        turning=None,
    )
    if session.plan.feedback and session.kind.tells:
        return replace(answered, phase="feedback")
    return _next(answered, at_s)


def _next(session: Session, at_s: float) -> Session:
    place = len(session.answers)
    if place == len(session.items):
        return replace(session, phase="dealing" if session._due else "done")
    item = session.items[place]
    turning = Turning(float(item.extra["scale_tenths"])) if KINDS[item.asks].turned else None
    return replace(session, phase="reading", shown_at_s=at_s, spent_s=0.0, turning=turning)


def _dealt(session: Session, item: Item, at_s: float) -> Session:
    """Append an item; where it was waited for, show it."""
    if item.number != len(session.items) + 1:
        raise UnusableSession(
            f"item {item.number} was dealt after item {len(session.items)}; items are numbered on"
        )
    longer = replace(session, items=(*session.items, item))
    return _next(longer, at_s) if session.phase == "dealing" else longer
