"""Answers to printed sheets as they come in: typed in one line, one a line, or a class in a CSV file."""

import csv
import io
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from trainer.instrument.given_file import some_bytes
from trainer.instrument.refusal import Refusal
from trainer.practice.sheets import UnusableSheet, checked_number

COLUMNS = ("sheet", "person", "item", "answer")
LARGEST_FILE = 16 * 1024 * 1024  # bytes


class UnusableAnswerFile(Refusal):
    """The answers cannot be used; the sentence names file, line, field and remedy."""


@dataclass(frozen=True, slots=True)
class Handed:
    """One sheet as one person handed it in: the texts of its items by number, and where they came from."""

    number: str
    person: str
    texts: Mapping[int, str]
    where: str = ""

    def in_order(self, count: int) -> list[str]:
        """Return the texts of items 1 to `count`; raise `UnusableAnswerFile` when one is amiss."""
        lacking = [n for n in range(1, count + 1) if n not in self.texts]
        beyond = sorted(n for n in self.texts if n > count)
        if not lacking and not beyond:
            return [self.texts[n] for n in range(1, count + 1)]
        fault = f"item {lacking[0]} is missing" if lacking else f"there is an item {beyond[0]}"
        raise UnusableAnswerFile(
            f"{self.where}sheet {self.number} has {count} readings, but for {self.person} {fault}; "
            "give every item once, with an empty answer where it was skipped"
        )


def typed_answers(given: str) -> list[str]:
    """Return answers given as text (spaces or semicolons between), as a file's name, or `-` for input."""
    if given == "-":
        return _lines(sys.stdin.read())
    if not _names_a_file(given):
        return [part for part in re.split(r"[\s;]+", given.strip()) if part]
    return _lines(_text(Path(given)))


def _names_a_file(given: str) -> bool:
    try:
        if Path(given).is_file():
            return True
    except (OSError, ValueError):
        return False
    return re.search(r"\.[a-zA-Z]\w*$", given.strip()) is not None


def _lines(text: str) -> list[str]:
    """Return one answer a line; line ends after the last answer are no answers."""
    lines = _plain_ends(text).split("\n")
    return [line.strip() for line in (lines[:-1] if lines[-1] == "" else lines)]


def class_answers(path: Path) -> list[Handed]:
    """Return the sheets in a CSV file with the columns sheet, person, item, answer, in the file's order."""
    gathered: dict[tuple[str, str], dict[int, str]] = {}
    for line, row in _rows(path):
        where = f"{path}, line {line}"
        try:
            number = checked_number(row["sheet"])
        except UnusableSheet as fault:
            raise UnusableAnswerFile(f"{where}: sheet: {fault}") from None
        if not row["person"]:
            raise UnusableAnswerFile(f"{where}: person is empty; write whose answer it is")
        if not re.fullmatch(r"[0-9]{1,3}", row["item"]) or int(row["item"]) < 1:
            raise UnusableAnswerFile(
                f"{where}: item is {row['item']!r}; write the reading's number on the sheet"
            )
        texts = gathered.setdefault((number, row["person"]), {})
        if int(row["item"]) in texts:
            raise UnusableAnswerFile(
                f"{where}: item {row['item']} of sheet {number} comes twice for {row['person']}; keep one"
            )
        texts[int(row["item"])] = row["answer"]
    if not gathered:
        raise UnusableAnswerFile(f"{path} has a header but no answers under it")
    return [Handed(number, person, texts, f"{path}: ") for (number, person), texts in gathered.items()]


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    lines = _plain_ends(_text(path)).split("\n")
    start = next((i for i, line in enumerate(lines) if line.strip() and not line.startswith("#")), None)
    if start is None:
        raise UnusableAnswerFile(f"{path} is empty; it needs the header {','.join(COLUMNS)} and answers")
    reader = csv.reader(io.StringIO("\n".join(lines[start:])), delimiter=max(",;\t", key=lines[start].count))
    header = [name.strip().lower() for name in next(reader)]
    for wanted in COLUMNS:
        if header.count(wanted) != 1:
            raise UnusableAnswerFile(
                f"{path}, line {start + 1}: column {wanted!r} must be there once; the header has "
                f"{', '.join(map(repr, header[:12]))}"
            )
    rows = []
    try:
        for fields in reader:
            if not any(field.strip() for field in fields):
                continue
            if len(fields) != len(header):
                raise UnusableAnswerFile(
                    f"{path}, line {start + reader.line_num}: {len(fields)} fields, but the header has "
                    f"{len(header)}; put a decimal comma in quotes, or separate fields with semicolons"
                )
            cells = dict(zip(header, (field.strip() for field in fields), strict=True))
            rows.append((start + reader.line_num, {name: cells[name] for name in COLUMNS}))
    except csv.Error as fault:
        raise UnusableAnswerFile(f"{path}, line {start + reader.line_num}: it is not CSV: {fault}") from None
    return rows


def _text(path: Path) -> str:
    """Return a file's text, UTF-8 or Latin-1."""
    if not path.is_file():
        raise UnusableAnswerFile(f"{path}: there is no such file; check the path")
    raw = some_bytes(path, LARGEST_FILE)
    if len(raw) > LARGEST_FILE or b"\0" in raw:
        raise UnusableAnswerFile(f"{path}: it is no text file of answers; save it as CSV UTF-8")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _plain_ends(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")
