"""Reading a CSV of answers, line by line, with every fault told by file, line, column and value.

The reader for the archive's `import`: it keeps what scoring does not need (skipped items, typed text) and
restores what `export` defused. Lines are read as they are needed, so memory does not grow with the file.
"""

import contextlib
import csv
import json
import math
import os
from codecs import BOM_UTF8
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import IO, NamedTuple

from trainer.instrument.refusal import Refusal
from trainer.records.answering import OUTCOMES
from trainer.records.canonical import LARGEST, canonical_text
from trainer.records.cells import restored
from trainer.records.names import clean_name
from trainer.records.refusals import UnusableName

NEEDED = ("person", "truth_tenths", "answer_tenths")
KNOWN = (
    *NEEDED, "session", "item", "at", "seconds", "instrument", "drill", "outcome", "typed", "asks", "extra",
    "conditions",
)  # fmt: skip
LONGEST_CELL = 10_000  # characters; longer ones are no answers
MOST_ROWS = 20_000_000
MOST_NAMES = 10_000  # remembered while a file is read


class UnusableFile(Refusal):
    """A file of answers cannot be taken in."""


class Row(NamedTuple):
    """One line of a file of answers."""

    line: int
    person: str
    truth_tenths: float
    answer_tenths: float | None
    session: str
    item: int | None
    at: str
    seconds: float | None
    instrument: str
    drill: str
    outcome: str
    typed: str
    asks: str
    extra: str  # canonical JSON of an object, or empty
    conditions: str


def read(path: str | os.PathLike[str]) -> Iterator[Row]:
    """Yield the rows of a file of answers. Raises `UnusableFile` in one sentence."""
    where = Path(path)
    with opened(where, "utf-8-sig") as file:
        yield from _rows(where.name, guarded(where.name, file))


@contextlib.contextmanager
def opened(path: Path, encoding: str) -> Iterator[IO[str]]:
    """Give a file's text with its line ends as they are; what is not of the encoding is told by its line."""
    try:
        with path.open(encoding=encoding, newline="") as file:
            yield file
    except UnicodeError as fault:
        raise UnusableFile(_no_text(path, encoding)) from fault


def _no_text(path: Path, encoding: str) -> str:
    """Return the refusal of a file that is not of its encoding."""
    called = {"utf-8-sig": "UTF-8"}.get(encoding, encoding.upper())
    remedy = "save the file as CSV UTF-8, or name its encoding in a mapping file (--map)"
    if called == "UTF-16":
        return f"{path.name}: it is not whole UTF-16 text; {remedy}"
    with path.open("rb") as file:
        for place, line in enumerate(file, start=1):
            try:
                line.decode(encoding)
            except UnicodeDecodeError as fault:
                byte = line[fault.start + (3 if line.startswith(BOM_UTF8) else 0)]
                return f"{path.name}, line {place}: byte {byte:#04x} is not {called}; {remedy}"
    return f"{path.name}: it is not {called}; {remedy}"


def guarded(name: str, file: Iterator[str]) -> Iterator[str]:
    """Yield the lines, refusing what is no text."""
    for place, line in enumerate(file, start=1):
        if "\x00" in line:
            raise UnusableFile(f"{name}, line {place}: there is a zero byte; this is not a text file")
        if len(line) > LONGEST_CELL * len(KNOWN):
            raise UnusableFile(
                f"{name}, line {place}: the line has {len(line)} characters; this is no answer"
            )
        yield line


def _rows(name: str, lines: Iterator[str]) -> Iterator[Row]:
    ours, first, skipped = False, None, 0
    for text in lines:
        skipped += 1
        if not text.startswith("#"):
            first = text
            break
        ours = ours or text.startswith("# tenthwise answers")
    if first is None or not first.strip():
        raise UnusableFile(f"{name}: the file is empty; a line with the column names is needed")
    reader = csv.reader(_chained(first, lines), strict=True, delimiter=max(",;\t", key=first.count))
    try:
        header = _header(name, next(reader))
        take, width = _taker(name, header, ours), len(header)
        for cells in reader:
            line = reader.line_num + skipped - 1
            if line > MOST_ROWS:
                raise UnusableFile(f"{name}: more than {MOST_ROWS} lines; split the file")
            if len(cells) == width and any(cells):
                yield take(cells, line)
            elif any(cells):
                raise UnusableFile(
                    f"{name}, line {line}: {len(cells)} cells under {width} column names; "
                    "check the commas and quotes"
                )
    except csv.Error as fault:
        raise UnusableFile(
            f"{name}, line {reader.line_num + skipped - 1}: {fault}; check the quotes"
        ) from fault


def _chained(first: str, rest: Iterator[str]) -> Iterator[str]:
    yield first
    yield from rest


def _header(name: str, cells: list[str]) -> list[str]:
    header = [cell.strip().casefold() for cell in cells]
    for column in header:
        if header.count(column) > 1 and column:
            raise UnusableFile(f"{name}: the column {column!r} is there twice; remove one")
    if missing := [column for column in NEEDED if column not in header]:
        raise UnusableFile(f"{name}: the column {missing[0]!r} is missing; the first line must name it")
    return header


def _taker(name: str, header: list[str], ours: bool) -> Callable[[list[str], int], Row]:
    """Return a function that makes a row of a line's cells: at once where all is plain, else with care."""
    places = {key: header.index(key) if key in header else len(header) for key in KNOWN}
    person_at, truth_at, answer_at, session_at, item_at, at_at, seconds_at, *text_at = (
        places[key] for key in KNOWN[:11]
    )
    instrument_at, drill_at, outcome_at, typed_at = text_at
    asks_at, extra_at, conditions_at = (places[key] for key in KNOWN[11:])
    plain = restored if ours else str.strip
    names: dict[str, str] = {}  # few different ones, each met many times
    moments: dict[str, bool] = {"": True}

    def take(cells: list[str], line: int) -> Row:
        cells.append("")  # stands for every column that is not there
        truth_text, answer_text, seconds_text = cells[truth_at], cells[answer_at], cells[seconds_at]
        item_text, person_text, outcome = cells[item_at], cells[person_at], cells[outcome_at]
        at = plain(cells[at_at])
        try:
            truth = float(truth_text)
            answer = float(answer_text) if answer_text else None
            seconds = float(seconds_text) if seconds_text else None
            item = int(item_text) if item_text else None
            expected = "skipped" if answer is None else "answered"
            sound = (
                -LARGEST <= truth <= LARGEST
                and (answer is None or -LARGEST <= answer <= LARGEST)
                and (seconds is None or 0 <= seconds <= LARGEST)
                and (item is None or 1 <= item < 2**31)
                and outcome in ("", expected)
                and person_text in names
                and len(max(cells, key=len)) <= LONGEST_CELL
                and "_" not in truth_text + answer_text + seconds_text + item_text
                and (at in moments or datetime.fromisoformat(at) is not None)
            )
        except ValueError:
            sound = False
        if not sound:
            cells.pop()
            row = _row(f"{name}, line {line}", line, dict(zip(header, cells, strict=True)), ours)
            if len(names) < MOST_NAMES:
                names[person_text] = row.person
            return row
        extra = cells[extra_at]
        return Row(
            line, names[person_text], truth, answer, plain(cells[session_at]), item, at, seconds,
            plain(cells[instrument_at]), plain(cells[drill_at]), expected, plain(cells[typed_at]),
            plain(cells[asks_at]), _extra(f"{name}, line {line}", plain(extra)) if extra else "",
            plain(cells[conditions_at]),
        )  # fmt: skip

    return take


def _row(where: str, line: int, cells: dict[str, str], ours: bool) -> Row:
    """Return a row, or refuse it by its column and value."""
    text = {key: (restored(value) if ours else value.strip()) for key, value in cells.items() if key in KNOWN}
    for key, value in text.items():
        if len(value) > LONGEST_CELL:
            raise UnusableFile(f"{where}: {key} has {len(value)} characters; this is no answer")
    try:
        person = clean_name(text["person"])
    except UnusableName as fault:
        raise UnusableFile(f"{where}, person: {fault}") from fault
    truth = number(where, "truth_tenths", cells["truth_tenths"])
    answer = number(where, "answer_tenths", cells["answer_tenths"])
    outcome = text.get("outcome") or ("answered" if answer is not None else "skipped")
    if truth is None:
        raise UnusableFile(f"{where}: truth_tenths is empty; every row needs the true position")
    if outcome not in OUTCOMES:
        raise UnusableFile(f"{where}: outcome is {outcome!r}; it is one of {', '.join(OUTCOMES)}")
    if (answer is None) == (outcome == "answered"):
        raise UnusableFile(f"{where}: outcome is {outcome} but answer_tenths is {cells['answer_tenths']!r}")
    item = number(where, "item", cells.get("item", ""))
    if item is not None and (item != int(item) or not 1 <= item < 2**31):
        raise UnusableFile(f"{where}: item is {cells['item']!r}; a whole number from 1 is needed")
    seconds = number(where, "seconds", cells.get("seconds", ""))
    if seconds is not None and seconds < 0:
        raise UnusableFile(f"{where}: seconds is {cells['seconds']!r}; a time cannot be negative")
    return Row(
        line=line,
        person=person,
        truth_tenths=truth,
        answer_tenths=answer,
        session=text.get("session", ""),
        item=None if item is None else int(item),
        at=_moment(where, text.get("at", "")),
        seconds=seconds,
        instrument=text.get("instrument", ""),
        drill=text.get("drill", ""),
        outcome=outcome,
        typed=text.get("typed", ""),
        asks=text.get("asks", ""),
        extra=_extra(where, text.get("extra", "")),
        conditions=text.get("conditions", ""),
    )


def _moment(where: str, text: str) -> str:
    """Return a moment as it was written, checked."""
    try:
        if text:
            datetime.fromisoformat(text)
    except ValueError:
        raise UnusableFile(
            f"{where}: at is {text[:40]!r}, which is no time; write it as 2026-01-31T08:30:00Z"
        ) from None
    return text


def _extra(where: str, cell: str) -> str:
    """Return the further fields of an answer as they are kept; raise `UnusableFile` for what is no object."""
    if not cell.strip():
        return ""
    try:
        found = json.loads(cell)
        if isinstance(found, dict):
            return canonical_text(found) if found else ""
    except ValueError:  # a value that cannot be kept is refused by a ValueError too
        pass
    raise UnusableFile(f"{where}: extra is {cell[:40]!r}; a JSON object, or nothing, is needed")


def number(where: str, column: str, cell: str) -> float | None:
    """Return a cell's number, None for an empty cell; a single comma is a decimal comma."""
    text = cell.strip().replace("\N{MINUS SIGN}", "-")
    if not text:
        return None
    try:
        plain = text.replace(",", ".") if text.count(",") == 1 and "." not in text else text
        value = float(plain) if "_" not in plain else math.nan
    except ValueError:
        value = math.nan
    if not abs(value) <= LARGEST:
        raise UnusableFile(f"{where}: {column} is {cell[:40]!r}; a number is needed")
    return value
