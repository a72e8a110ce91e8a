"""A laboratory's own CSV, read by a map: which column is which, unit, decimal sign, times, sessions.

A map makes rows of the archive's own form, so everything behind is the same as for our own files. Every
refusal names file, line, column and value, and says what would help.
"""

import codecs
import csv
import difflib
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import NoReturn

from trainer.instrument import catalogue
from trainer.instrument.micrometer import MM_PER_UNIT, Micrometer
from trainer.practice.kinds import DRILLS
from trainer.records.answering import OUTCOMES
from trainer.records.answers_in import MOST_ROWS, Row, UnusableFile, guarded, opened
from trainer.records.foreign_map import Column, ForeignMap
from trainer.records.names import clean_name
from trainer.records.refusals import UnusableName

MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")
LARGEST_VALUE = Decimal(10) ** 6  # of any unit, or seconds: far beyond any instrument and any patience
MOST_REMEMBERED = 10_000  # texts of moments and names, which come many times


def read(path: Path, by: ForeignMap) -> Iterator[Row]:
    """Yield the rows of a laboratory's file. Raises `UnusableFile` in one sentence, OSError for no file."""
    with path.open("rb") as file:
        begin = file.read(4)
    encoding = next((name for mark, name in MARKS if begin.startswith(mark)), by.encoding or "utf-8")
    with opened(path, encoding) as text:
        lines = _Lines(path.name, guarded(path.name, text), by)
        first = next(lines, None)
        if first is None:
            raise UnusableFile(f"{path.name}: there are no lines behind the {by.skip_lines} passed over")
        delimiter = by.delimiter or max(";,\t|", key=first.count)
        cells = csv.reader(_again(first, lines), delimiter=delimiter, quotechar=by.quote, strict=True)
        try:
            yield from _rows(path.name, cells, lines, by)
        except csv.Error as fault:
            raise UnusableFile(f"{path.name}, line {lines.number}: {fault}; check the quotes") from fault


class _Lines:
    """The lines of a file without those passed over; `number` is that of the last one given, from 1."""

    def __init__(self, name: str, lines: Iterator[str], by: ForeignMap) -> None:
        self.name, self.number = name, 0
        self._lines, self._by = lines, by

    def __iter__(self) -> "Iterator[str]":
        return self

    def __next__(self) -> str:
        while True:
            line = next(self._lines)
            self.number += 1
            if self.number > MOST_ROWS:
                raise UnusableFile(f"{self.name}: more than {MOST_ROWS} lines; split the file")
            passed = self.number <= self._by.skip_lines or not line.strip()
            if not passed and not (self._by.comment and line.startswith(self._by.comment)):
                return line


def _again(first: str, rest: Iterable[str]) -> Iterator[str]:
    yield first
    yield from rest


def _rows(name: str, cells: Iterator[list[str]], lines: _Lines, by: ForeignMap) -> Iterator[Row]:
    header = [cell.strip() for cell in next(cells)] if by.header else []
    reader: _Reader | None = _Reader(name, by, _places(name, lines.number, header, by)) if by.header else None
    width = len(header)
    for row in cells:
        if reader is None:  # without headings columns go by their numbers
            width = len(row)
            reader = _Reader(name, by, _places(name, lines.number, row, by))
        if not any(cell.strip() for cell in row):
            continue
        if len(row) < width or any(cell.strip() for cell in row[width:]):
            raise UnusableFile(
                f"{name}, line {lines.number}: {len(row)} cells, where {width} are expected; check delimiter "
                "and quotes (a decimal comma needs quotes where commas separate)"
            )
        yield reader.row(row, lines.number)


def _places(name: str, line: int, header: list[str], by: ForeignMap) -> dict[Column, int]:
    """Return where each column named by the map stands, counted from 0."""
    found: dict[Column, int] = {}
    folded = [heading.casefold() for heading in header]
    for wanted in (*by.columns.values(), *(part for part in by.by if part != "day")):
        if isinstance(wanted, int):
            if not 1 <= wanted <= len(header):
                raise UnusableFile(
                    f"{name}, line {line}: the map asks for column {wanted}, but there are {len(header)}"
                )
            found[wanted] = wanted - 1
            continue
        count = folded.count(wanted.strip().casefold())
        if count > 1:
            raise UnusableFile(
                f"{name}, line {line}: column {wanted!r} is there {count} times; name it by its number"
            )
        if count == 0:
            near = difflib.get_close_matches(wanted, header, 1)
            hint = f"did you mean {near[0]!r}?" if near else f"there are {', '.join(map(repr, header[:12]))}"
            raise UnusableFile(f"{name}, line {line}: there is no column {wanted!r}; {hint}")
        found[wanted] = folded.index(wanted.strip().casefold())
    return found


class _Reader:
    """Makes rows of cells; a text met before is not worked out again."""

    def __init__(self, name: str, by: ForeignMap, places: Mapping[Column, int]) -> None:
        self.name, self.by = name, by
        self.at = {field: places[column] for field, column in by.columns.items()}
        self.heading = by.columns
        self.parts = [(part, places.get(part, -1)) for part in by.by]
        self._moments: dict[str, tuple[str, str]] = {}
        self._people: dict[str, str] = {}

    def row(self, cells: list[str], line: int) -> Row:
        """Return the row of one line."""
        instrument = self._text("instrument", cells)
        micrometer = self._micrometer(instrument, line)
        truth_text = cells[self.at["truth"]].strip()
        if not truth_text:
            self._refuse(line, "truth", truth_text, "leaves the reading without its true value; leave it out")
        truth = self._position("truth", truth_text, micrometer, line)
        if micrometer is not None and not micrometer.holds(truth):
            span = f"{micrometer.low} to {micrometer.high} {micrometer.unit}"
            self._refuse(
                line, "truth", truth_text, f"lies outside the travel of {instrument} ({span}); check the unit"
            )
        outcome, answer, typed = self._answer(cells, truth_text, micrometer, line)
        at, day = self._moment(cells, line)
        drill = self._text("drill", cells) or "full-reading"
        if drill not in DRILLS:
            why = f"is no drill of this program; say in [words.drill] which of {', '.join(DRILLS)} it is"
            self._refuse(line, "drill", drill, why)
        return Row(
            line, self._person(cells, line), truth, answer, self._session(cells, day),
            self._item(cells, line), at, self._seconds(cells, line), instrument,
            drill, outcome, typed, "", "",
            self._text("conditions", cells),
        )  # fmt: skip

    def _refuse(self, line: int, field: str, value: str, why: str) -> NoReturn:
        where = f"{self.name}, line {line}, column {self.heading.get(field, field)!r}"
        raise UnusableFile(f"{where}: {value[:40]!r} {why}")

    def _text(self, field: str, cells: list[str]) -> str:
        if field not in self.at:
            return self.by.constants.get(field, "")
        text = cells[self.at[field]].strip()
        return self.by.words.get(field, {}).get(text, text)

    def _micrometer(self, instrument: str, line: int) -> Micrometer | None:
        if instrument in catalogue.names():
            return catalogue.load(instrument)
        if instrument or self.by.unit != "tenths":
            known = ", ".join(catalogue.names())
            why = f"is no instrument of the catalogue; say in [words.instrument] which of {known} it is"
            self._refuse(line, "instrument", instrument, why)
        return None

    def _decimal(self, field: str, text: str, line: int) -> Decimal:
        plain = text.replace("\N{MINUS SIGN}", "-").removesuffix(self.by.unit).rstrip()
        if self.by.decimal == ",":
            if "." in plain:
                self._refuse(line, field, text, 'has a point, but the map says decimal = ","')
            plain = plain.replace(",", ".")
        elif "," in plain:
            self._refuse(line, field, text, 'has a comma, but the map says decimal = "."')
        if not NUMBER.fullmatch(plain):
            self._refuse(line, field, text, f"is no number with the decimal sign {self.by.decimal!r}")
        value = Decimal(plain)
        if abs(value) > LARGEST_VALUE:
            self._refuse(line, field, text, "is larger than anything that can be read; look for a slip")
        return value

    def _in_unit(self, value: Decimal, micrometer: Micrometer) -> Decimal:
        """Return a length of the map's unit in the instrument's own."""
        millimetres = {"mm": value, "um": value / 1000, "in": value * MM_PER_UNIT["in"]}[self.by.unit]
        return value if self.by.unit == micrometer.unit else millimetres / MM_PER_UNIT[micrometer.unit]

    def _position(self, field: str, text: str, micrometer: Micrometer | None, line: int) -> float:
        value = self._decimal(field, text, line)
        if self.by.unit == "tenths" or micrometer is None:
            return float(value)
        return micrometer.position_of(self._in_unit(value, micrometer))

    def _answer(
        self, cells: list[str], truth_text: str, micrometer: Micrometer | None, line: int
    ) -> tuple[str, float | None, str]:
        """Return outcome, answer in tenths, and what was typed."""
        field = "answer" if "answer" in self.at else "error"
        text = cells[self.at[field]].strip()
        outcome = self._text("outcome", cells) or ("skipped" if text in self.by.skipped else "answered")
        if outcome not in OUTCOMES:
            self._refuse(
                line, "outcome", outcome, f"is none of {', '.join(OUTCOMES)}; say it in [words.outcome]"
            )
        typed = self._text("typed", cells) if "typed" in self.at else text if field == "answer" else ""
        if outcome != "answered":
            return outcome, None, typed
        if text in self.by.skipped:
            self._refuse(line, field, text, "is no answer, but the outcome says answered")
        if field == "answer":
            return outcome, self._position(field, text, micrometer, line), typed
        value = self._decimal(field, text, line) + self._decimal("truth", truth_text, line)
        if self.by.unit == "tenths" or micrometer is None:
            return outcome, float(value), typed
        return outcome, micrometer.position_of(self._in_unit(value, micrometer)), typed

    def _person(self, cells: list[str], line: int) -> str:
        text = self._text("person", cells)
        found = self._people.get(text)
        if found is None:
            try:
                found = clean_name(text)
            except UnusableName as fault:
                self._refuse(line, "person", text, f"cannot be a name: {fault}")
            if len(self._people) < MOST_REMEMBERED:
                self._people[text] = found
        return found

    def _item(self, cells: list[str], line: int) -> int | None:
        text = cells[self.at["item"]].strip() if "item" in self.at else ""
        if not text:
            return None
        if not re.fullmatch("[0-9]{1,9}", text) or int(text) < 1:
            self._refuse(line, "item", text, "is no whole number from 1")
        return int(text)

    def _seconds(self, cells: list[str], line: int) -> float | None:
        text = cells[self.at["seconds"]].strip() if "seconds" in self.at else ""
        if not text:
            return None
        value = self._decimal("seconds", text, line)
        if value < 0:
            self._refuse(line, "seconds", text, "is negative; a time cannot be")
        return float(value)

    def _moment(self, cells: list[str], line: int) -> tuple[str, str]:
        """Return the moment of a row in ISO 8601 UTC, and its day where it was taken; empty without times."""
        used = [field for field in ("at", "date", "time") if field in self.at]
        text = " ".join(cells[self.at[field]].strip() for field in used).strip()
        if not text:
            return "", ""
        found = self._moments.get(text)
        if found is None:
            found = self._worked_out(text, used[0], line)
            if len(self._moments) < MOST_REMEMBERED:
                self._moments[text] = found
        return found

    def _worked_out(self, text: str, field: str, line: int) -> tuple[str, str]:
        form = self.by.date_format
        try:
            local = _read_moment(text, form)
        except ValueError:
            shown = "ISO 8601, such as 2026-01-31 08:30" if form is None else form
            self._refuse(line, field, text, f"is no moment of the form {shown}")
        if local.tzinfo is None:
            if self.by.zone is None:
                self._refuse(line, field, text, "has no time zone; name it in [values] time_zone")
            local = local.replace(tzinfo=self.by.zone)
        stamp = local.astimezone(UTC).isoformat(timespec="milliseconds")
        return stamp.replace("+00:00", "Z"), local.date().isoformat()

    def _session(self, cells: list[str], day: str) -> str:
        if "session" in self.at or "session" in self.by.constants:
            name = self._text("session", cells)
        else:
            name = " ".join(day if part == "day" else cells[place].strip() for part, place in self.parts)
        return f"{self.by.prefix} {name}".strip()


def _read_moment(text: str, form: str | None) -> datetime:
    if form is None:
        return datetime.fromisoformat(text)
    try:
        return datetime.strptime(text, form)  # noqa: DTZ007 - the map's time zone comes next
    except re.error as fault:  # the same sign twice in the form
        raise ValueError from fault
