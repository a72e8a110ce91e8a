"""Work on a sitting: beginning it, keeping its answers, going on with it, ending it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from trainer.desktop.store import Header
from trainer.desktop.work import Effect, Services
from trainer.practice.items import Answer, Item
from trainer.practice.plan import Plan
from trainer.practice.session import Session


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


@dataclass(frozen=True)
class BeginSitting(Effect):
    """Deal the items of a plan and keep the session before the first item is shown."""

    person: Any
    plan: Plan
    header: Mapping[str, Any]  # viewing, px_per_mm, station, program_version, drawing_version, started_at

    def run(self, services: Services) -> object:
        """Return the new Sitting."""
        import numpy as np

        from trainer.instrument import catalogue
        from trainer.practice.deal import deal

        seed = services.seed()
        items = deal(self.plan, catalogue.load(self.plan.instrument), np.random.default_rng(seed))
        header = Header(
            instrument=self.plan.instrument,
            drill=self.plan.drill,
            for_record=self.plan.for_record,
            seed=seed,
            **self.header,
        )
        kept = services.store.begin_session(
            self.person, self.plan.to_dict(), [item.to_dict() for item in items], header
        )
        return Sitting(kept, self.plan, items, (), header.viewing, header.px_per_mm, seed)


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

        item = next_item(self.session, np.random.default_rng([self.seed, len(self.session.items)]))
        services.store.deal_more(self.session_id, [item.to_dict()])
        return self.session_id, item


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
    )


@dataclass(frozen=True)
class LoadUnfinished(Effect):
    """Ask for the sittings that a person can go on with."""

    person: Any

    def run(self, services: Services) -> object:
        """Return the person and their open sittings, newest first."""
        return self.person, tuple(sitting_of(s) for s in services.store.unfinished(self.person))
