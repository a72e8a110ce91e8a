"""Rows of a file put aside, session by session, until all of them are found good; then they are kept.

They wait in a temporary file, so that memory holds a bounded number of rows and one session at a time,
in whatever order the rows of different sessions come.
"""

import contextlib
import json
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import IO

from trainer.records.answers_in import Row, UnusableFile

MOST_WAITING = 50_000  # rows in memory
LONGEST_SESSION = 80  # characters of a session's name in a file


@dataclass(slots=True)
class Session:
    """A session of a file: whose it is, what all its rows share, and where they wait."""

    person: str
    name: str
    line: int
    shared: tuple[str, str, str]  # instrument, drill, conditions
    rows: int = 0
    days: tuple[str, str] = ("", "")
    places: list[int] = field(default_factory=list)


class Staged:
    """The sessions of a file, in the order in which they begin; `rows_of` fetches the rows of one."""

    def __init__(self, file: IO[bytes]) -> None:
        self.sessions: list[Session] = []
        self._file = file

    def rows_of(self, session: Session) -> list[Row]:
        """Return the rows of a session in the file's order."""
        found: list[Row] = []
        for place in session.places:
            self._file.seek(place)
            found += map(Row._make, json.loads(self._file.readline()))
        return found


@contextlib.contextmanager
def staged(rows: Iterable[Row], name: str) -> Iterator[Staged]:
    """Give the rows of a file put aside by session, all of them checked. Raises `UnusableFile`."""
    with tempfile.TemporaryFile() as file:
        aside = Staged(file)
        known: dict[tuple[str, str], Session] = {}
        waiting: dict[tuple[str, str], list[Row]] = {}
        held = 0
        for row in rows:
            key = (row.person, row.session)
            session = known.get(key)
            if session is None:
                session = known[key] = _begun(name, row)
                aside.sessions.append(session)
            if (row.instrument, row.drill, row.conditions) != session.shared:
                raise UnusableFile(
                    f"{name}, line {row.line}: session {session.name!r} changes its instrument, drill or "
                    "conditions; give each a session of its own"
                )
            waiting.setdefault(key, []).append(row)
            held += 1
            if held == MOST_WAITING:
                _put_aside(file, name, known, waiting)
                held = 0
        _put_aside(file, name, known, waiting)
        if not known:
            raise UnusableFile(f"{name}: there are column names but no answers; nothing was taken in")
        for session in aside.sessions:
            if len(session.places) > 1:
                _check_items(name, session, aside.rows_of(session))
        yield aside


def _begun(name: str, row: Row) -> Session:
    if len(row.session) > LONGEST_SESSION:
        raise UnusableFile(f"{name}, line {row.line}: the session's name is longer than {LONGEST_SESSION}")
    return Session(row.person, row.session, row.line, (row.instrument, row.drill, row.conditions))


def _put_aside(
    file: IO[bytes],
    name: str,
    known: dict[tuple[str, str], Session],
    waiting: dict[tuple[str, str], list[Row]],
) -> None:
    """Write the waiting rows into the file; what a session has in one piece is checked at once."""
    for key, rows in waiting.items():
        session = known[key]
        if not session.places:
            _check_items(name, session, rows)
        session.places.append(file.tell())
        session.rows += len(rows)
        days = [row.at[:10] for row in (rows[0], rows[-1]) if row.at]
        session.days = (min([*days, *filter(None, session.days)], default=""), max([*days, session.days[1]]))
        file.write(json.dumps(rows).encode() + b"\n")  # doubles come back to the same bits
    waiting.clear()


def _check_items(name: str, session: Session, rows: list[Row]) -> None:
    """Refuse a session in which an item comes twice, or of which some rows have no item number."""
    numbers = [row.item for row in rows]
    if None in numbers:
        if any(number is not None for number in numbers):
            raise UnusableFile(
                f"{name}, line {session.line}: some rows of session {session.name!r} have no item number"
            )
        return
    if len(set(numbers)) == len(numbers):
        return
    seen: dict[int | None, int] = {}
    for row in rows:
        if row.item in seen:
            raise UnusableFile(
                f"{name}, line {row.line}: item {row.item} of session {session.name!r} was on line "
                f"{seen[row.item]} already; remove one of the two"
            )
        seen[row.item] = row.line
