"""Work on a sitting: beginning it, keeping its answers, going on with it, ending it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from trainer.desktop.store import Header
from trainer.desktop.work import Effect, Services
from trainer.practice.items import Answer, Item
from trainer.practice.plan import Plan
from trainer.practice.session import Session

MOST_PAST = 10  # earlier sittings that the placement of items looks back on


@dataclass(frozen=True)
class Sitting:
    """A session that the archive knows: what it asks, what it dealt, what was answered before."""

    session_id: Any
    plan: Plan
    items: tuple[Item, ...]
    answers: tuple[Answer, ...] = ()
    viewing: Mapping[str, Any] = field(default_factory=dict)
    px_per_mm: float | None = None
    seed: int = 0
    ticket: str = ""  # of a guarded check, which a supervisor opened

    @property
    def total(self) -> int | None:
        """How many items there will be, None where that hangs on the answers."""
        return Session(self.plan, self.items).total


@dataclass(frozen=True)
class BeginSitting(Effect):
    """Deal the items of a plan and keep the session before the first item is shown."""

    person: Any
    plan: Plan
    header: Mapping[str, Any]  # viewing, px_per_mm, station, program_version, drawing_version, started_at
    display: Mapping[str, Any] | None = None  # how the display was set up, None where it was not
    ticket: str = ""

    def run(self, services: Services) -> object:
        """Return the new Sitting."""
        import numpy as np

        from trainer.instrument import catalogue
        from trainer.practice.deal import deal

        started_at = self._allowed(services)
        seed = services.seed()
        items = deal(self.plan, catalogue.load(self.plan.instrument), np.random.default_rng(seed))
        header = Header(
            instrument=self.plan.instrument,
            drill=self.plan.drill,
            for_record=self.plan.for_record,
            seed=seed,
            **{**self.header, "started_at": started_at},
        )
        plan_dict = self.plan.to_dict() | ({"ticket": self.ticket} if self.ticket else {})
        kept = services.store.begin_session(
            self.person, plan_dict, [item.to_dict() for item in items], header
        )
        if self.ticket and services.office is not None:
            services.office.glance(services.store, kept)
        for warning in warnings_of(self.plan, header.viewing, header.px_per_mm):
            services.store.note(kept, "warning", header.started_at, warning)
        if self.display is not None:
            services.store.note(kept, "display", header.started_at, dict(self.display))
        return Sitting(kept, self.plan, items, (), header.viewing, header.px_per_mm, seed, self.ticket)

    def _allowed(self, services: Services) -> str:
        """Return when the sitting begins; raise where a check may not begin under its ticket.

        A check begins by the archive's clock, as its ticket does: the window's own stands still in sleep.
        """
        if not self.ticket:
            return str(self.header["started_at"])
        from trainer.desktop.signing_work import office_of

        office = office_of(services)
        office.look_at_ticket(services.store, self.ticket, self.person.id, self.plan)
        return office.now(services.store)


def warnings_of(plan: Plan, viewing: Mapping[str, Any], px_per_mm: float | None) -> tuple[str, ...]:
    """Return what the pictures of a sitting cannot show of its plan, one sentence each."""
    from trainer.instrument import catalogue
    from trainer.practice.conditions import NOT_SET_UP, SCREEN, warnings

    if not px_per_mm:
        return ()
    screen = viewing.get(SCREEN)
    found = warnings(plan, catalogue.load(plan.instrument), px_per_mm, viewing.get("distance_mm"), screen)
    return (NOT_SET_UP, *found) if plan.true_size and screen is None else found


@dataclass(frozen=True)
class DealNext(Effect):
    """Deal and keep the next item of a drill that is dealt as one goes.

    The generator is seeded from the session's seed and the item's number, so that a resumed session deals
    the same item.
    """

    session_id: Any
    session: Session
    seed: int

    @property
    def brief(self) -> bool:
        """The person waits for it."""
        return True

    def run(self, services: Services) -> object:
        """Return the item."""
        import numpy as np

        from trainer.practice.placement import next_item

        if self.session_id not in services.past:
            services.past = {self.session_id: past_of(services.store, self.session_id)}
        chance = np.random.default_rng([self.seed, len(self.session.items)])
        item = next_item(self.session, chance, services.past[self.session_id])
        services.store.deal_more(self.session_id, [item.to_dict()])
        return self.session_id, item


def past_of(store: Any, session_id: Any) -> tuple[tuple[float, float], ...]:
    """Return what a person did in earlier sittings of the same plan on the same instrument.

    Truth and answer in tenths; of judgements the offset in tenths and 1.0 for "out", 0.0 for "in". Sittings
    that began after this one do not count, so that a resumed one is dealt the same items.
    """
    from trainer.practice.overlap import judged

    stored = store.session(session_id)
    frame, header = store.sessions(person=stored.person), stored.header
    earlier = frame[
        (frame["instrument"] == header.instrument)
        & (frame["drill"] == header.drill)
        & (frame["started_at"].astype(str) < str(header.started_at))
        & (frame["session"] != session_id)
    ].sort_values("started_at")
    found: list[tuple[float, float]] = []
    for before in earlier["session"].tolist()[-MOST_PAST:]:
        sitting = sitting_of(store.session(before))
        if sitting.plan.settings != Plan.from_dict(stored.plan).settings:
            continue  # another tolerance or range is another question
        items = {item.number: item for item in sitting.items}
        for answer in sitting.answers:
            item = items[answer.number]
            if item.asks == "judge" and answer.outcome == "answered":
                found.append((float(item.extra["offset_tenths"]), float(judged(answer.typed) == "out")))
            elif answer.answer_tenths is not None:
                found.append((item.position_tenths, answer.answer_tenths))
    return tuple(found)


@dataclass(frozen=True)
class SaveAnswer(Effect):
    """Keep an answer."""

    session_id: Any
    answer: Answer

    @property
    def brief(self) -> bool:
        """The next item waits for it."""
        return True

    def run(self, services: Services) -> object:
        """Return the item's number."""
        services.store.save_answer(self.session_id, self.answer)
        return self.answer.number


@dataclass(frozen=True)
class Note(Effect):
    """Keep that something happened during a session."""

    session_id: Any
    kind: str
    at: str
    detail: str = ""

    def run(self, services: Services) -> object:
        """Return nothing."""
        services.store.note(self.session_id, self.kind, self.at, self.detail)
        return None


@dataclass(frozen=True)
class EndSession(Effect):
    """Close a session."""

    session_id: Any
    how: str
    at: str

    def run(self, services: Services) -> object:
        """Return the session and how it ended."""
        services.store.end_session(self.session_id, self.how, self.at)
        return self.session_id, self.how


def _value(source: Any, name: str, default: Any = None) -> Any:
    """Return a value by name from a mapping or a value object."""
    return source.get(name, default) if isinstance(source, Mapping) else getattr(source, name, default)


def sitting_of(stored: Any) -> Sitting:
    """Return a session read back from the archive as a Sitting to go on with."""
    items = tuple(
        Item(int(_value(i, "number")), float(_value(i, "position_tenths")), str(_value(i, "asks")),
             dict(_value(i, "extra") or {}))
        for i in stored.items
    )  # fmt: skip
    answers = tuple(
        Answer(int(_value(a, "number")), str(_value(a, "typed")), _value(a, "answer_tenths"),
               _value(a, "outcome"), float(_value(a, "seconds") or 0.0), str(_value(a, "at")),
               dict(_value(a, "extra") or {}))
        for a in stored.answers
    )  # fmt: skip
    return Sitting(
        stored.id,
        Plan.from_dict(stored.plan),
        items,
        answers,
        dict(_value(stored.header, "viewing") or {}),
        _value(stored.header, "px_per_mm"),
        int(_value(stored.header, "seed", 0)),
        str(stored.plan.get("ticket", "")),
    )


@dataclass(frozen=True)
class LoadUnfinished(Effect):
    """Ask for the sittings that a person can go on with."""

    person: Any

    def run(self, services: Services) -> object:
        """Return the person and their open sittings and bench checks, newest first."""
        from trainer.desktop.benches import DRILL, open_bench

        return self.person, tuple(
            open_bench(s) if s.plan.get("drill") == DRILL else sitting_of(s)
            for s in services.store.unfinished(self.person)
        )


def display_noted(stored: Any) -> Mapping[str, Any] | None:
    """Return how the display of a session was set up, from its notes; None where it was not."""
    for note in getattr(stored, "notes", ()):
        kind, detail = (note[0], note[2]) if isinstance(note, tuple) else (note.kind, note.detail)
        if kind == "display" and isinstance(detail, Mapping):
            return detail
    return None
