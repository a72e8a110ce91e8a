"""The list of people: finding in it, its rows, what makes a name."""

from dataclasses import dataclass

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


def lines_for(desk: Desk, typed: str, *, dated: bool = False) -> tuple[Line, ...]:
    """Return the rows of the people whose names hold what was typed; `dated` with the day they were added.

    The last answer is kept: a screen asks for it several times a frame, and a list of thousands takes 10 ms.
    """
    if _KEPT.people is not desk.people or _KEPT.asked != (typed, dated):
        _KEPT.people, _KEPT.asked = desk.people, (typed, dated)
        _KEPT.lines = tuple(Line(str(one.id), _cells(one, dated)) for one in matching(desk, typed))
    return _KEPT.lines


def _cells(person: Person, dated: bool) -> tuple[str, ...]:
    return (person.name, day(str(getattr(person, "added_at", "")))[:10]) if dated else (person.name,)


@dataclass(slots=True)
class _Kept:
    """Rows, and what they were made of."""

    people: tuple[Person, ...] | None = None
    asked: tuple[str, bool] | None = None
    lines: tuple[Line, ...] = ()


_KEPT = _Kept()
