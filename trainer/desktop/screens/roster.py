"""The list of people: finding in it, its rows, what makes a name."""

from trainer.desktop.desk import Desk
from trainer.desktop.nodes import Line
from trainer.desktop.results import day
from trainer.desktop.store import Person
from trainer.desktop.words import say

LONGEST_NAME = 200  # characters


def name_fault(name: str) -> str:
    """Return what is wrong with a name as typed, "" when nothing is."""
    folded = " ".join(name.split())  # a line break in a name is a space
    if not folded:
        return say("people.name.empty")
    if any(ord(character) < 32 or 0x7F <= ord(character) < 0xA0 for character in folded):
        return say("people.name.control")
    return say("people.name.long", n=len(folded)) if len(folded) > LONGEST_NAME else ""


def matching(desk: Desk, typed: str) -> list[Person]:
    """Return the people whose names hold what was typed."""
    wanted = typed.strip().casefold()
    return [p for p in desk.people or () if wanted in p.name.casefold()]


def person_of(desk: Desk, row: str) -> Person | None:
    """Return the person of a table's row."""
    return next((p for p in desk.people or () if str(p.id) == row), None)


def table_lines(people: list[Person]) -> tuple[Line, ...]:
    """Return the rows of a list of people."""
    rows = []
    for p in people:
        added = day(str(getattr(p, "added_at", "")))[:10]
        rows.append(Line(str(p.id), (p.name, added), (p.name.casefold(), added)))
    return tuple(rows)
