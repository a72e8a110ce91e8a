"""The rules of a sitting: a frozen state and one pure function of an event.

Every event carries its time. `at_s` is seconds from any fixed moment, never backwards; `at` is UTC in
ISO 8601 where an answer may come of it. The caller saves each answer that is in the new state and not in
the old before it shows the next item. An answer that carries the very time at which its item came into
view (two answers in one frame) is not an answer to that item and is left unentered.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal
from trainer.instrument.typed import UnreadableAnswer
from trainer.practice.items import Answer, Item, Outcome
from trainer.practice.kinds import KINDS, Kind
from trainer.practice.plan import Plan


class UnusableSession(Refusal):
    """The stored items and answers do not make a session that could go on."""


Phase = Literal["ready", "reading", "feedback", "paused", "done", "left"]


@dataclass(frozen=True, slots=True)
class Begun:
    """The first item may be shown; also after a resumed session was opened."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Edited:
    """The text of the answer field is now this."""

    text: str


@dataclass(frozen=True, slots=True)
class Entered:
    """The person confirms the answer."""

    at_s: float
    at: str


@dataclass(frozen=True, slots=True)
class Skipped:
    """The person passes over the item; it is recorded so and not replaced."""

    at_s: float
    at: str


@dataclass(frozen=True, slots=True)
class Ticked:
    """Time has gone on; only time limits care."""

    at_s: float
    at: str


@dataclass(frozen=True, slots=True)
class Advanced:
    """The person has seen the feedback."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Paused:
    """The item is hidden and its clock stops."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Resumed:
    """The item is shown again and its clock goes on."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Left:
    """The person leaves; what was answered is kept."""

    at_s: float


Event = Begun | Edited | Entered | Skipped | Ticked | Advanced | Paused | Resumed | Left


@dataclass(frozen=True, slots=True)
class Session:
    """One sitting as it stands.

    `complaint` is the sentence about what was typed, if any. `doubted` is a text that was entered once
    and lies outside the instrument's travel; entering the same text again records it. `shown_at_s` is
    when the item's clock last started and `spent_s` what it had counted before.
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

    @property
    def item(self) -> Item | None:
        """Return the item in question: the one being read, or the one just answered during feedback."""
        place = len(self.answers) - (1 if self._phase_below_pause == "feedback" else 0)
        return self.items[place] if place < len(self.items) else None

    @property
    def kind(self) -> Kind:
        """Return the kind of drill."""
        return KINDS[self.plan.drill]

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
    phase: Phase = "done" if len(answers) >= len(items) else "ready"
    return Session(plan, tuple(items), tuple(answers), phase)


def step(session: Session, event: Event) -> Session:
    """Return the session after one event; what the rules do not know in this phase is ignored."""
    match session.phase, event:
        case "ready", Begun(at_s):
            return replace(session, phase="reading", shown_at_s=at_s, spent_s=0.0)
        case "reading", Edited(text):
            return replace(session, typed=text, complaint=None)
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
        case (("ready" | "reading" | "feedback" | "paused"), Left()):
            everything = len(session.answers) == len(session.items)
            return replace(session, phase="done" if everything else "left")
    return session


def _entered(session: Session, at_s: float, at: str) -> Session:
    item = session.item
    assert item is not None  # in phase "reading" there is one
    micrometer = catalogue.load(session.plan.instrument)
    try:
        answer_tenths = session.kind.read(session.typed, item, micrometer, session.plan.halves)
    except UnreadableAnswer as fault:
        return replace(session, complaint=str(fault))
    if not micrometer.holds(answer_tenths) and session.doubted != session.typed:
        sentence = (
            f"{session.typed.strip()} lies outside {micrometer.low} to {micrometer.high} {micrometer.unit}; "
            "correct it, or enter it once more to record it as it is"
        )
        return replace(session, complaint=sentence, doubted=session.typed)
    return _recorded(session, answer_tenths, "answered", at_s, at)


def _recorded(
    session: Session, answer_tenths: float | None, outcome: Outcome, at_s: float, at: str
) -> Session:
    item = session.item
    assert item is not None  # in phase "reading" there is one
    answer = Answer(item.number, session.typed, answer_tenths, outcome, session.elapsed_s(at_s), at)
    answered = replace(
        session, answers=(*session.answers, answer), typed="", complaint=None, doubted=None, spent_s=0.0
    )
    if session.plan.feedback:
        return replace(answered, phase="feedback")
    return _next(answered, at_s)


def _next(session: Session, at_s: float) -> Session:
    if len(session.answers) == len(session.items):
        return replace(session, phase="done")
    return replace(session, phase="reading", shown_at_s=at_s, spent_s=0.0)
