"""Printing of results: JSON without NaN, and the door to files that appear whole or not at all."""

import json
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.instrument.whole_file import whole_file as whole_file


def print_json(value: Any, *, one_line: bool = False) -> None:
    """Print a value as JSON at full double precision; a NaN in it is a fault of the program."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, indent=None if one_line else 2)
    print(text, flush=True)


def progress_wanted() -> bool:
    """Return whether long work should show its progress: only where a person looks at stderr."""
    return sys.stderr.isatty()


def counted(count: int, one: str, several: str | None = None) -> str:
    """Return a number of things in words.

    >>> counted(1, "person", "people"), counted(3, "answer")
    ('1 person', '3 answers')
    """
    return f"{count} {one if count == 1 else several or one + 's'}"


def told_counts(counts: Mapping[str, int]) -> str:
    """Return counts by name (sessions, people, ...) in words, one of a kind in the singular.

    >>> told_counts({"acts": 1, "people": 1, "answers": 20})
    '1 act, 1 person, 20 answers'
    """
    ones = {"people": "person", "tallies": "tally"}
    return ", ".join(counted(n, ones.get(name, name.removesuffix("s")), name) for name, n in counts.items())


def one_of(names: Iterable[str]) -> str:
    """Return names as a choice.

    >>> one_of([".csv", ".json", ".xlsx"])
    '.csv, .json or .xlsx'
    """
    *most, last = names
    return f"{', '.join(most)} or {last}" if most else last


def refuse_ending(path: Path | None, endings: Iterable[str]) -> None:
    """Raise a Refusal for a file whose name does not end in one of those that can be written."""
    if path is not None and path.suffix.lower() not in (known := tuple(endings)):
        raise Refusal(f"{path}: the name must end in {one_of(known)}, so that the form is clear")
