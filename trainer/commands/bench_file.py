"""Estimates and references of a bench check in a CSV file: all of them found good before one is kept."""

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path

from trainer.instrument.given_file import some_bytes
from trainer.instrument.refusal import Refusal
from trainer.practice import bench as rules
from trainer.practice.words import tell

LARGEST_FILE = 4 * 1024 * 1024  # bytes
COLUMNS = ("estimate", "reference")
EVEN_SO = "correct it, or take it as it is with --even-so"


class UnusableBenchFile(Refusal):
    """The file of estimates and references cannot be used; the sentence names line, field and remedy."""


def events(
    check: rules.BenchCheck, path: Path, now: Callable[[], str], *, even_so: bool = False
) -> tuple[int, list[rules.Event]]:
    """Return how many pairs a file has, and the events that take them through a bench check from `check` on.

    Rows with an empty estimate, and a reference near zero, observe the zero and come first. A reference that
    looks wrong (the other unit, digits missing, off the step, outside the travel) is refused unless
    `even_so`. Raises UnusableBenchFile with file, line and field.
    """
    found: list[rules.Event] = []

    def take(event: rules.Event) -> None:
        nonlocal check
        found.append(event)
        check = rules.step(check, event)

    line = 0
    for line, estimate, reference in _rows(path):
        if not estimate and check.phase != "zero":
            raise UnusableBenchFile(
                f"{path}, line {line}: estimate is empty; an estimate comes before its reference"
            )
        if estimate and check.phase == "zero":
            take(rules.ZeroSet(0.0))
            _refuse_complaint(check, path, line, "zero")
        if check.phase == "done":
            raise UnusableBenchFile(f"{path}, line {line}: a file has at most {check.wanted} pairs; split it")
        for name, text in (("estimate", estimate), ("reference", reference)):
            if name == "estimate" and not estimate:
                continue
            typed = rules.Entered(text, -3600.0, 0.0, now())
            take(typed)
            if even_so and check.doubted == text and check.complaint:
                take(typed)
            _refuse_complaint(check, path, line, name)
    if not check.pairs:
        raise UnusableBenchFile(f"{path}, line {line or 1}: there is no pair of estimate and reference")
    return len(check.pairs), found


def _refuse_complaint(check: rules.BenchCheck, path: Path, line: int, field: str) -> None:
    if check.complaint:
        told = check.complaint.replace(tell("bench-check.again"), EVEN_SO)
        raise UnusableBenchFile(f"{path}, line {line}: {field}: {told}")


def _rows(path: Path) -> Iterator[tuple[int, str, str]]:
    """Yield (line, estimate, reference) from a CSV with comma, semicolon or tab, in UTF-8 or Latin-1."""
    raw = some_bytes(path, LARGEST_FILE)
    if len(raw) > LARGEST_FILE:
        raise UnusableBenchFile(f"{path}: the file is larger than {LARGEST_FILE // 1024**2} MiB; split it")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    start = next((i for i, line in enumerate(lines) if line.strip() and not line.startswith("#")), None)
    if start is None:
        raise UnusableBenchFile(f"{path}: the file is empty; it needs the columns estimate and reference")
    delimiter = max(";\t,", key=lines[start].count)
    cells = csv.reader(io.StringIO("\n".join(lines[start:])), delimiter=delimiter)
    header = [name.strip().lower() for name in next(cells)]
    for wanted in COLUMNS:
        if header.count(wanted) != 1:
            raise UnusableBenchFile(
                f"{path}: column {wanted} must be there once; the header has {', '.join(header)}"
            )
    places = [header.index(name) for name in COLUMNS]
    try:
        for row in cells:
            if not any(cell.strip() for cell in row):
                continue
            if len(row) != len(header):
                raise UnusableBenchFile(
                    f"{path}, line {start + cells.line_num}: {len(row)} fields, but the header has "
                    f"{len(header)}; put a decimal comma in quotes, or separate fields with semicolons"
                )
            estimate, reference = (row[place].strip() for place in places)
            if estimate or reference:
                yield start + cells.line_num, estimate, reference
    except csv.Error as fault:
        raise UnusableBenchFile(f"{path}, line {start + cells.line_num}: it is not CSV: {fault}") from None
