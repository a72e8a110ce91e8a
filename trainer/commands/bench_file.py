"""Estimates and references of a bench check in a CSV file: all of them found good before one is kept."""

from collections.abc import Callable
from pathlib import Path

from trainer.commands.csv_rows import rows
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
    for line, row in rows(path, COLUMNS, LARGEST_FILE, UnusableBenchFile):
        estimate, reference = (row[name] for name in COLUMNS)
        if not estimate and not reference:
            continue
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
