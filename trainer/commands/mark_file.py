"""Answers to printed sheets as they come in: typed in one line, one a line, or a class in a CSV file."""

import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from trainer.commands.csv_rows import plain_lines, rows, text_of
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
    return _lines(text_of(Path(given), LARGEST_FILE, UnusableAnswerFile))


def _names_a_file(given: str) -> bool:
    try:
        if Path(given).is_file():
            return True
    except (OSError, ValueError):
        return False
    return re.search(r"\.[a-zA-Z]\w*$", given.strip()) is not None


def _lines(text: str) -> list[str]:
    """Return one answer a line; line ends after the last answer are no answers."""
    lines = plain_lines(text)
    return [line.strip() for line in (lines[:-1] if lines[-1] == "" else lines)]


def class_answers(path: Path) -> list[Handed]:
    """Return the sheets in a CSV file with the columns sheet, person, item, answer, in the file's order."""
    gathered: dict[tuple[str, str], dict[int, str]] = {}
    for line, row in rows(path, COLUMNS, LARGEST_FILE, UnusableAnswerFile):
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
