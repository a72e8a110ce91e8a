"""Answers, sessions and people written to CSV and JSON, page by page, so that memory does not grow."""

import csv
import json
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import IO, TYPE_CHECKING, Any

from trainer.records.cells import defused

if TYPE_CHECKING:
    from trainer.records.archive import Archive

FORMAT = 1  # of the CSV files; docs/files.md
UNITS = {
    "answers": "positions in tenths of a division, time in seconds, moments in ISO 8601 UTC",
    "sessions": "scale in pixels per millimetre, angle in minutes of arc, moments in ISO 8601 UTC",
    "people": "moments in ISO 8601 UTC",
    "statistics": "tenths of a division where a name ends in _tenths, micrometres in _um, shares from 0 to 1",
    "transfer": "tenths of a division where a name ends in _tenths",
    "signoffs": "moments in ISO 8601 UTC",
}
Rows = Iterable[Sequence[Any]]


def columns(what: str) -> tuple[str, ...]:
    """Return the names of the columns of "answers", "sessions" or "people"."""
    from trainer.records import frames

    return {
        "answers": frames.ANSWER_COLUMNS,
        "sessions": frames.SESSION_COLUMNS,
        "people": ("person", "id", "added_at", "archived_at"),
    }[what]


def write(
    archive: "Archive", what: str, file: IO[str], *, as_json: bool = False, who: str = "", **wanted: Any
) -> int:
    """Write answers, sessions or people to an open text file; return how many rows were written.

    `wanted` are the filters of `Archive.answers`. The export itself becomes an act of the log, unless the
    archive can only be read.
    """
    with archive.store.snapshot() as connection:  # all pages of one moment
        rows = counted = _Counted(listed(connection, what, **wanted))
        if as_json:
            write_json(file, what, columns(what), rows)
        else:
            write_csv(file, what, columns(what), rows, made=archive.store.now())
    if not archive.read_only:
        filters = {
            key: value for key, value in wanted.items() if value is not None and key not in ("person", "team")
        }
        archive.act("export", who=who, detail={"what": what, "rows": counted.count, "filters": filters})
    return counted.count


class _Counted:
    """Rows that remember how many went by."""

    def __init__(self, rows: Rows) -> None:
        self.rows = rows
        self.count = 0

    def __iter__(self) -> Iterator[Sequence[Any]]:
        for row in self.rows:
            self.count += 1
            yield row


def listed(connection: Any, what: str, **wanted: Any) -> Iterator[Sequence[Any]]:
    """Yield the rows of "answers", "sessions" or "people" in the order of `columns`."""
    from trainer.records import frames

    if what == "answers":
        for page in frames.answer_pages(connection, **wanted):
            yield from page
    elif what == "sessions":
        yield from frames.session_rows(connection, **wanted)
    else:
        yield from people_rows(connection, wanted.get("team"))


def people_rows(connection: Any, team: Sequence[str] | None = None) -> Iterator[tuple[Any, ...]]:
    """Yield everybody, or the people of a team (names or ids), with the columns of "people"."""
    from trainer.records import people

    ids = None if team is None else {people.find(connection, one).id for one in team}
    for person in people.listed(connection, include_archived=True):
        if ids is None or person.id in ids:
            yield (person.name, person.id, person.added_at, person.archived_at)


def write_csv(file: IO[str], what: str, names: Sequence[str], rows: Rows, *, made: str) -> None:
    """Write rows as CSV (RFC 4180, comma, CRLF) behind comment lines that say what they are."""
    from trainer import __version__

    file.write(f"# tenthwise {what}, format {FORMAT}\r\n# program version {__version__}\r\n")
    file.write(f"# unit: {UNITS[what]}\r\n# made {made}\r\n")
    writer = csv.writer(file)
    writer.writerow(names)
    cell: Callable[[Any], str] = _cell
    for row in rows:
        writer.writerow([cell(value) for value in row])


def write_json(file: IO[str], what: str, names: Sequence[str], rows: Rows) -> None:
    """Write rows as one JSON object {what: [...]}, one row a line."""
    file.write(f'{{"{what}": [')
    for index, row in enumerate(rows):
        file.write(",\n" if index else "\n")
        file.write(json.dumps(dict(zip(names, row, strict=True)), ensure_ascii=False, allow_nan=False))
    file.write("\n]}\n")


def _cell(value: Any) -> str:
    """Return a value as a cell: floats to the last bit, text defused."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return defused(value) if isinstance(value, str) else repr(value)


def write_answers_csv(archive: "Archive", path: Any, **wanted: Any) -> int:
    """Write answers to a CSV file that appears whole or not at all; return how many."""
    return write_file(archive, "answers", path, **wanted)


def write_file(archive: "Archive", what: str, path: Any, *, as_json: bool = False, **wanted: Any) -> int:
    """Write answers, sessions or people to a file that appears whole or not at all; return how many rows."""
    from trainer.records.whole import whole_file

    with (
        whole_file(path, private=False) as temporary,
        temporary.open("w", encoding="utf-8", newline="") as file,
    ):
        return write(archive, what, file, as_json=as_json, **wanted)
