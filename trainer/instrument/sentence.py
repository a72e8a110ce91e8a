"""Sentences of the rules: plain text in English that remembers what it was made of.

A sentence is a `str`, so that print, JSON and comparisons treat it as its English text. Beside that it keeps
its entry in the room's catalogue (`words.py` of the room) and the values in its places, so that the window
can say the same in another language. Joining or formatting it gives plain text again, which is English.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

WORDS = {
    "list.comma": "{first}, {next}",
    "list.semicolon": "{first}; {next}",
    "list.and": "{first} and {next}",
    "list.or": "{first} or {next}",
}
"""How things are listed: two at a time, `first` being all those before."""


class Sentence(str):
    """A text with its entry in a catalogue and the values in its places, which may be sentences too."""

    __slots__ = ("entry", "places")
    entry: str
    places: Mapping[str, object]

    def __new__(cls, text: str, entry: str, places: Mapping[str, object]) -> "Sentence":
        """Return the text as a sentence."""
        made = super().__new__(cls, text)
        made.entry, made.places = entry, places
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        """Return what copies and pickles are made from."""
        return Sentence, (str(self), self.entry, self.places)


def teller(words: Mapping[str, str]) -> Callable[..., Sentence]:
    """Return a function that makes the sentences of a catalogue: `tell("list.and", first="a", next="b")`."""

    def tell(entry: str, /, **places: object) -> Sentence:
        return Sentence(words[entry].format(**places), entry, places)

    return tell


_list = teller(WORDS)


def joined(parts: Sequence[str], how: str = "comma", last: str = "") -> str:
    """Return parts one after another, "" for none: with commas, semicolons, and or or between them.

    `last` is how the last one is joined, where differently.

    >>> joined(["a", "b", "c"], "comma", "and")
    'a, b and c'
    """
    if not parts:
        return ""
    found = parts[0]
    for number, part in enumerate(parts[1:], 2):
        found = _list(f"list.{last if last and number == len(parts) else how}", first=found, next=part)
    return found


def said(fault: BaseException) -> str:
    """Return the text of an exception, as a sentence where it was raised with one."""
    first = fault.args[0] if fault.args else ""
    return first if isinstance(first, Sentence) else str(fault)


class Moment(str):
    """A moment as the rules write it, in UTC; a window may show it in the time of the place."""

    __slots__ = ("at",)
    at: datetime

    def __new__(cls, at: datetime) -> "Moment":
        """Return a moment, to the minute."""
        made = super().__new__(cls, f"{at:%Y-%m-%d %H:%M} UTC")
        made.at = at
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        """Return what copies and pickles are made from."""
        return Moment, (self.at,)
