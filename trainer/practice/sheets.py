"""Printed sheets: what a page of readings asks, under a number that a person can copy without a slip."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trainer.instrument import catalogue, typed
from trainer.instrument.refusal import Refusal
from trainer.practice.deal import deal
from trainer.practice.items import Answer, Item
from trainer.practice.plan import Plan

LETTERS = "ABCDEFGHJKMNPRSTVWXYZ23456789"  # 29, a prime; none of I, L, O, Q, U, 0, 1, which are mistaken
LENGTH = 6  # letters, before the check letter: 29**6 = 595 million sheets
FEWEST, MOST = 12, 40  # readings a sheet
SKIPS = ("", "-", "–", "—", "−", "skip")  # any dash that an editor makes of one typed


class UnusableSheet(Refusal):
    """A sheet cannot be made, found or marked as asked; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One printed page of readings. The items are its key."""

    number: str
    instrument: str
    items: tuple[Item, ...]

    @property
    def plan(self) -> Plan:
        """Return the plan that a marked sheet is stored under; a sheet gives no feedback while it is read."""
        return Plan(
            name="sheet",
            title=title(self.number),
            drill="full-reading",
            instrument=self.instrument,
            items=len(self.items),
            feedback=False,
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the sheet as plain values, fit for JSON and the archive."""
        return {
            "number": self.number,
            "instrument": self.instrument,
            "items": [item.to_dict() for item in self.items],
        }

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "Sheet":
        """Return the sheet that `to_dict` described."""
        return cls(
            values["number"], values["instrument"], tuple(Item.from_dict(item) for item in values["items"])
        )


def title(number: str) -> str:
    """Return the title of the plan that a marked sheet is stored under."""
    return f"Printed sheet {number}"


def make(instrument: str, readings: int, chance: np.random.Generator) -> Sheet:
    """Return a sheet with fresh readings, dealt as for any drill."""
    if not FEWEST <= readings <= MOST:
        raise UnusableSheet(f"readings is {readings}; a sheet holds {FEWEST} to {MOST}")
    plan = Plan("sheet", "Printed sheet", "full-reading", instrument, readings, feedback=False)
    items = deal(plan, catalogue.load(instrument), chance)
    body = "".join(LETTERS[i] for i in chance.integers(len(LETTERS), size=LENGTH))
    return Sheet(f"{body[:3]}-{body[3:]}{check_letter(body)}", instrument, items)


def check_letter(body: str) -> str:
    """Return the letter that makes one wrong letter, or two neighbours swapped, show.

    A weighted sum modulo a prime, so that both faults always change it.
    """
    total = sum((place + 2) * LETTERS.index(letter) for place, letter in enumerate(body))
    return LETTERS[total % len(LETTERS)]


def checked_number(text: str) -> str:
    """Return a sheet's number in its written form; refuse one that cannot be right.

    >>> checked_number(" abc-def" + check_letter("ABCDEF").lower())[:7]
    'ABC-DEF'
    """
    letters = re.sub(r"[\s-]", "", text).upper()
    if len(letters) != LENGTH + 1 or any(letter not in LETTERS for letter in letters):
        raise UnusableSheet(
            f"{text.strip()!r} is no sheet number; copy the seven letters and digits at its head"
        )
    body = letters[:LENGTH]
    if check_letter(body) != letters[LENGTH]:
        raise UnusableSheet(f"{text.strip()!r} has a slip in it; compare it with the head of the sheet")
    return f"{body[:3]}-{letters[3:]}"


def read_answers(sheet: Sheet, texts: Sequence[str], at: str) -> tuple[Answer, ...]:
    """Return the answers of a marked sheet, one text a reading in order; an empty one was skipped.

    Raises `UnusableSheet` when the count does not fit, and names the reading when a text is no number.
    """
    if len(texts) != len(sheet.items):
        came = "1 answer was" if len(texts) == 1 else f"{len(texts)} answers were"
        raise UnusableSheet(
            f"sheet {sheet.number} has {len(sheet.items)} readings, but {came} given; "
            "give an empty one for a reading that was skipped"
        )
    micrometer = catalogue.load(sheet.instrument)
    answers = []
    for item, text in zip(sheet.items, texts, strict=True):
        if text.strip().lower() in SKIPS:
            answers.append(Answer(item.number, text, None, "skipped", 0.0, at))
            continue
        try:
            tenths = typed.reading(text, micrometer)
        except typed.UnreadableAnswer as fault:
            raise UnusableSheet(f"sheet {sheet.number}, reading {item.number}: {fault}") from None
        answers.append(Answer(item.number, text, tenths, "answered", 0.0, at))
    return tuple(answers)
