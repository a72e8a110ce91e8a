"""Reading a CSV of answers, line by line, with every fault told by file, line, column and value.

The reader for the archive's `import`: it keeps what scoring does not need (skipped items, typed text) and
restores what `export` defused.
"""

import csv
import json
import math
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

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


class UnusableFile(Refusal):
    """A file of answers cannot be taken in."""


@dataclass(frozen=True, slots=True)
class Row:
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
    try:
        with where.open(encoding="utf-8-sig", newline="") as file:
            yield from _rows(where.name, _guarded(where.name, file))
    except UnicodeDecodeError as fault:
        raise UnusableFile(
            f"{where.name}: byte {fault.object[fault.start]:#04x} is not UTF-8; save the file as UTF-8"
        ) from fault


def _guarded(name: str, file: Iterator[str]) -> Iterator[str]:
    """Yield the lines, refusing what is no text."""
    for number, line in enumerate(file, start=1):
        if "\x00" in line:
            raise UnusableFile(f"{name}, line {number}: there is a zero byte; this is not a text file")
        if len(line) > LONGEST_CELL * len(KNOWN):
            raise UnusableFile(
                f"{name}, line {number}: the line has {len(line)} characters; this is no answer"
            )
        yield line


def _rows(name: str, lines: Iterator[str]) -> Iterator[Row]:
    ours, first, skipped = False, None, 0
    for line in lines:
        skipped += 1
        if not line.startswith("#"):
            first = line
            break
        ours = ours or line.startswith("# tenthwise answers")
    if first is None or not first.strip():
        raise UnusableFile(f"{name}: the file is empty; a line with the column names is needed")
    reader = csv.reader(_chained(first, lines), strict=True, delimiter=max(",;\t", key=first.count))
    try:
        header = _header(name, next(reader))
        for cells in reader:
            line_number = reader.line_num + skipped - 1
            if line_number > MOST_ROWS:
                raise UnusableFile(f"{name}: more than {MOST_ROWS} lines; split the file")
            if not any(cells):
                continue
            if len(cells) != len(header):
                raise UnusableFile(
                    f"{name}, line {line_number}: {len(cells)} cells under {len(header)} column names; "
                    "check the commas and quotes"
                )
            yield _row(
                f"{name}, line {line_number}", line_number, dict(zip(header, cells, strict=True)), ours
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


def _row(where: str, line: int, cells: dict[str, str], ours: bool) -> Row:
    text = {key: (restored(value) if ours else value.strip()) for key, value in cells.items() if key in KNOWN}
    for key, value in text.items():
        if len(value) > LONGEST_CELL:
            raise UnusableFile(f"{where}: {key} has {len(value)} characters; this is no answer")
    try:
        person = clean_name(text["person"])
    except UnusableName as fault:
        raise UnusableFile(f"{where}, person: {fault}") from fault
    truth = _number(where, "truth_tenths", cells["truth_tenths"])
    answer = _number(where, "answer_tenths", cells["answer_tenths"])
    outcome = text.get("outcome") or ("answered" if answer is not None else "skipped")
    if truth is None:
        raise UnusableFile(f"{where}: truth_tenths is empty; every row needs the true position")
    if outcome not in OUTCOMES:
        raise UnusableFile(f"{where}: outcome is {outcome!r}; it is one of {', '.join(OUTCOMES)}")
    if (answer is None) == (outcome == "answered"):
        raise UnusableFile(f"{where}: outcome is {outcome} but answer_tenths is {cells['answer_tenths']!r}")
    item = _number(where, "item", cells.get("item", ""))
    if item is not None and (item != int(item) or not 1 <= item < 2**31):
        raise UnusableFile(f"{where}: item is {cells['item']!r}; a whole number from 1 is needed")
    return Row(
        line=line,
        person=person,
        truth_tenths=truth,
        answer_tenths=answer,
        session=text.get("session", ""),
        item=None if item is None else int(item),
        at=text.get("at", ""),
        seconds=_number(where, "seconds", cells.get("seconds", "")),
        instrument=text.get("instrument", ""),
        drill=text.get("drill", ""),
        outcome=outcome,
        typed=text.get("typed", ""),
        asks=text.get("asks", ""),
        extra=_extra(where, text.get("extra", "")),
        conditions=text.get("conditions", ""),
    )


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


def _number(where: str, column: str, cell: str) -> float | None:
    text = cell.strip()
    if not text:
        return None
    try:
        value = float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except ValueError:
        value = math.nan
    if not abs(value) <= LARGEST:
        raise UnusableFile(f"{where}: {column} is {cell!r}; a number is needed")
    return value
