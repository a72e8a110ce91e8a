"""What the archive hands out and takes in: frozen values, without a trace of the database."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody whose readings are kept. `id` never changes; the name may."""

    id: str
    name: str
    added_at: str  # ISO 8601, UTC
    archived_at: str | None = None


@dataclass(frozen=True, slots=True)
class SessionHeader:
    """Under what conditions a session was taken."""

    instrument: str
    drill: str
    for_record: bool
    seed: int  # 64 bits, of the generator that dealt the items
    program_version: str
    drawing_version: str
    viewing: Mapping[str, Any] = field(default_factory=dict)
    px_per_mm: float | None = None
    station: str = ""
    started_at: str = ""  # ISO 8601, UTC; empty: the archive's own clock


@dataclass(frozen=True, slots=True)
class StoredItem:
    """One reading that was dealt. The truth is `position_tenths`."""

    number: int
    position_tenths: float
    asks: str
    extra: Mapping[str, Any] = field(default_factory=dict)  # every further field of the item as dealt


@dataclass(frozen=True, slots=True)
class StoredAnswer:
    """One answer as it was given. `answer_tenths` is None when nothing was answered."""

    number: int
    typed: str
    answer_tenths: float | None
    outcome: str  # "answered", "skipped" or "timed-out"
    seconds: float | None
    at: str
    extra: Mapping[str, Any] = field(default_factory=dict)  # what only its kind of drill knows


@dataclass(frozen=True, slots=True)
class StoredNote:
    """Something that happened during a session: a pause, a lost focus, a clock set back."""

    kind: str
    at: str
    detail: Any


@dataclass(frozen=True, slots=True)
class StoredSession:
    """A session with all that belongs to it; `ended_how` is None while it can be resumed."""

    id: str
    person: Person
    header: SessionHeader
    plan: Mapping[str, Any]
    items: tuple[StoredItem, ...]
    answers: tuple[StoredAnswer, ...]
    notes: tuple[StoredNote, ...] = ()
    ended_at: str | None = None
    ended_how: str | None = None  # "finished", "left" or "closed"

    @property
    def unanswered(self) -> tuple[StoredItem, ...]:
        """Return the items that still wait for an answer, in order."""
        done = {answer.number for answer in self.answers}
        return tuple(item for item in self.items if item.number not in done)
