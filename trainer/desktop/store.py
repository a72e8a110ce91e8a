"""What the window needs of an archive, as a protocol; and a store in memory for tests and trial runs.

The command that opens the window hands it a function that opens the archive; this room knows no database.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING, Any, Protocol

from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd


SESSION_COLUMNS = [
    "session", "person", "instrument", "drill", "for_record", "started_at", "ended_at", "ended_how", "items",
    "answers", "station", "seed", "program_version", "drawing_version", "px_per_mm",
]  # fmt: skip
ANSWER_COLUMNS = [
    "person", "truth_tenths", "answer_tenths", "session", "item", "at", "seconds", "instrument", "drill",
    "outcome", "typed",
]  # fmt: skip


class NotKept(Refusal):
    """The store would not keep something; the sentence says what and why."""


class Person(Protocol):
    """A person as the archive knows them."""

    @property
    def id(self) -> Any:
        """What the archive knows the person by."""

    @property
    def name(self) -> str:
        """The name shown and printed."""


@dataclass(frozen=True, slots=True)
class Header:
    """What a session was taken with; the archive keeps it beside the answers."""

    instrument: str
    drill: str
    for_record: bool
    seed: int
    program_version: str
    drawing_version: str
    viewing: Mapping[str, Any]
    px_per_mm: float | None
    station: str
    started_at: str


class StoredSession(Protocol):
    """A session read back: who took it, what it asked, what was answered."""

    @property
    def id(self) -> Any:
        """What the archive knows the session by."""

    @property
    def header(self) -> Any:
        """The header it began with."""

    @property
    def plan(self) -> Mapping[str, Any]:
        """The plan as plain values."""

    @property
    def items(self) -> Sequence[Any]:
        """The items dealt, as plain values or values with the same names."""

    @property
    def answers(self) -> Sequence[Any]:
        """The answers given so far."""


class Store(Protocol):
    """The part of an archive that the window works with. Whatever it refuses it raises as a Refusal."""

    def add_person(self, name: str, *, who: str = "") -> Person:
        """Add a person."""

    def add_people(self, names: Sequence[str], *, who: str = "") -> tuple[Sequence[Person], Sequence[str]]:
        """Add all of these people or none; return those added, and the names that were there already."""

    def people(self, include_archived: bool = False) -> Sequence[Person]:
        """Return the people, in the order of their names."""

    def rename_person(self, person: Any, name: str, *, who: str = "") -> Any:
        """Give a person another name; what they answered stays theirs."""

    def archive_person(self, person: Any, *, who: str = "") -> Any:
        """Take a person off the list; nothing is deleted."""

    def begin_session(
        self, person: Any, plan_dict: Mapping[str, Any], items: Sequence[Mapping[str, Any]], header: Any
    ) -> Any:
        """Keep a new session with the items dealt; return what it is known by."""

    def deal_more(self, session: Any, items: Any) -> Any:
        """Keep items that were dealt after the session began."""

    def save_answer(self, session_id: Any, answer: Any) -> Any:
        """Keep an answer; on return it is on disk."""

    def note(self, session_id: Any, kind: str, at: str, detail: Any) -> Any:
        """Keep that something happened during a session: a pause, the window losing focus."""

    def end_session(self, session_id: Any, how: str, at: str) -> Any:
        """Close a session: "finished", "left" or "closed"."""

    def unfinished(self, person: Any) -> Sequence[StoredSession]:
        """Return the sessions of a person that can be gone on with."""

    def session(self, session_id: Any) -> StoredSession:
        """Return one session."""

    def sessions(self, person: Any = None, **wanted: Any) -> "pd.DataFrame":
        """Return one row a session."""

    def answers(self, person: Any = None, **wanted: Any) -> "pd.DataFrame":
        """Return one row an answer, with the columns that scoring reads."""


@dataclass(frozen=True, slots=True)
class KeptPerson:
    """A person of the store in memory."""

    id: int
    name: str
    archived: bool = False


@dataclass(slots=True)
class KeptSession:
    """A session of the store in memory."""

    id: int
    person: KeptPerson
    header: Header
    plan: Mapping[str, Any]
    items: tuple[Mapping[str, Any], ...]
    answers: list[Any] = field(default_factory=list)
    notes: list[tuple[str, str, Any]] = field(default_factory=list)
    ended_how: str | None = None
    ended_at: str | None = None


class MemoryStore:
    """A store that keeps everything in memory and forgets it at the end."""

    def __init__(self, names: Sequence[str] = ()) -> None:
        self.kept: list[KeptPerson] = []
        self.kept_sessions: list[KeptSession] = []
        for name in names:
            self.add_person(name)

    def _person(self, person: Any) -> KeptPerson:
        number = getattr(person, "id", person)
        return next(p for p in self.kept if number in (p.id, p.name))

    def add_person(self, name: str, *, who: str = "") -> KeptPerson:
        """Add a person; a name already there is refused."""
        if any(p.name.casefold() == name.casefold() for p in self.kept):
            raise NotKept(f"{name} is already on the list; choose a name that tells the two apart")
        person = KeptPerson(len(self.kept) + 1, name)
        self.kept.append(person)
        return person

    def add_people(self, names: Sequence[str], *, who: str = "") -> tuple[list[KeptPerson], list[str]]:
        """Add people; return them, and the names that were there already."""
        known = {p.name.casefold() for p in self.kept}
        added, there = [], []
        for name in names:
            if name.casefold() in known:
                there.append(name)
                continue
            known.add(name.casefold())
            added.append(KeptPerson(len(self.kept) + 1, name))
            self.kept.append(added[-1])
        return added, there

    def people(self, include_archived: bool = False) -> list[KeptPerson]:
        """Return the people, in the order of their names."""
        shown = [p for p in self.kept if include_archived or not p.archived]
        return sorted(shown, key=lambda p: p.name.casefold())

    def _change(self, person: Any, **values: Any) -> KeptPerson:
        old = self._person(person)
        new = replace(old, **values)
        self.kept[self.kept.index(old)] = new
        for session in self.kept_sessions:
            if session.person.id == new.id:
                session.person = new
        return new

    def rename_person(self, person: Any, name: str, *, who: str = "") -> KeptPerson:
        """Give a person another name."""
        return self._change(person, name=name)

    def archive_person(self, person: Any, *, who: str = "") -> KeptPerson:
        """Take a person off the list."""
        return self._change(person, archived=True)

    def begin_session(
        self, person: Any, plan_dict: Mapping[str, Any], items: Sequence[Mapping[str, Any]], header: Any
    ) -> int:
        """Keep a new session."""
        number = len(self.kept_sessions) + 1
        kept = KeptSession(number, self._person(person), header, dict(plan_dict), tuple(items))
        self.kept_sessions.append(kept)
        return number

    def session(self, session_id: Any) -> KeptSession:
        """Return one session."""
        return self.kept_sessions[int(session_id) - 1]

    def deal_more(self, session: Any, items: Any) -> None:
        """Keep items that were dealt after the session began."""
        kept = self.session(session)
        kept.items = (*kept.items, *items)

    def save_answer(self, session_id: Any, answer: Any) -> None:
        """Keep an answer; the same item twice is refused."""
        session = self.session(session_id)
        if any(a.number == answer.number for a in session.answers):
            raise NotKept(f"item {answer.number} has an answer already")
        session.answers.append(answer)

    def note(self, session_id: Any, kind: str, at: str, detail: Any) -> None:
        """Keep a note."""
        self.session(session_id).notes.append((kind, at, detail))

    def end_session(self, session_id: Any, how: str, at: str) -> None:
        """Close a session."""
        session = self.session(session_id)
        session.ended_how, session.ended_at = how, at

    def unfinished(self, person: Any) -> list[KeptSession]:
        """Return the open sessions of a person, newest first."""
        number = self._person(person).id
        return [s for s in reversed(self.kept_sessions) if s.person.id == number and not s.ended_how]

    def _frames(self, person: Any) -> list[KeptSession]:
        if person is None:
            return self.kept_sessions
        number = self._person(person).id
        return [s for s in self.kept_sessions if s.person.id == number]

    def sessions(self, person: Any = None, **wanted: Any) -> "pd.DataFrame":
        """Return one row a session; further filters are not known here."""
        import pandas as pd

        rows = [
            {
                **asdict(s.header),
                "session": s.id,
                "person": s.person.name,
                "items": len(s.items),
                "answers": len(s.answers),
                "ended_how": s.ended_how,
                "ended_at": s.ended_at,
            }
            for s in self._frames(person)
        ]
        return pd.DataFrame(rows, columns=SESSION_COLUMNS)

    def answers(self, person: Any = None, **wanted: Any) -> "pd.DataFrame":
        """Return one row an answer; of further filters only `session` is known."""
        import pandas as pd

        rows = []
        for s in self._frames(person):
            if wanted.get("session") in (None, s.id):
                truths = {i["number"]: i["position_tenths"] for i in s.items}
                head = (s.header.instrument, s.header.drill)
                rows += [
                    (
                        *(s.person.name, truths[a.number], a.answer_tenths, s.id, a.number, a.at, a.seconds),
                        *(*head, a.outcome, a.typed),
                    )
                    for a in s.answers
                ]
        return pd.DataFrame(rows, columns=ANSWER_COLUMNS)
