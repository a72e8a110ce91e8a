"""Typed text to numbers: the one door by which a person's figures come in.

A decimal comma and a decimal point mean the same; grouping marks are refused, since 7,384 must
never be taken for seven thousand.
"""

import re
from decimal import Decimal

from trainer.instrument.micrometer import Micrometer, Unit
from trainer.instrument.refusal import Refusal
from trainer.instrument.typed_words import tell

LONGEST = 40  # characters; nobody types more for one reading
LARGEST = Decimal(10) ** 6

NUMBER = re.compile(r"(?P<sign>[+-]?)(?P<whole>[0-9]*)(?:[.,](?P<rest>[0-9]*))?")
UNITS: dict[str, Unit] = {
    "mm": "mm",
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
    "in": "in",
    "in.": "in",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "″": "in",
    "''": "in",
}


class UnreadableAnswer(Refusal):
    """The typed text is not what was asked for; the sentence says why."""


def number(text: str) -> Decimal:
    """Return the number that a text stands for, exactly.

    >>> number(" .3127 "), number("7,384"), number("−2")
    (Decimal('0.3127'), Decimal('7.384'), Decimal('-2'))
    """
    trimmed = _trimmed(text)
    match = NUMBER.fullmatch(trimmed)
    if match is None or not trimmed:
        raise UnreadableAnswer(_why_not_a_number(trimmed))
    whole, rest = match["whole"], match["rest"] or ""
    if not whole and not rest:
        raise UnreadableAnswer(tell("typed.no-digits", text=trimmed))
    value = Decimal(f"{match['sign']}{whole or 0}.{rest or 0}")
    if abs(value) > LARGEST:
        raise UnreadableAnswer(tell("typed.too-large", text=trimmed))
    return value.normalize() if not value else value if rest else Decimal(int(value))


def reading(text: str, micrometer: Micrometer) -> float:
    """Return the position, in tenths, that a typed reading of this instrument stands for.

    A unit may follow; another unit than the instrument's is refused. A number outside the travel is a
    reading all the same (a slip of the decimal point must be counted, not hidden).

    >>> from trainer.instrument import catalogue
    >>> reading("7,3742 mm", catalogue.load("metric"))
    7374.2
    """
    figures, unit = _split_unit(_trimmed(text))
    if unit is not None and unit != micrometer.unit:
        given, own = (tell(f"typed.unit.{one}") for one in (unit, micrometer.unit))
        raise UnreadableAnswer(tell("typed.other-unit", typed=given, own=own))
    return micrometer.position_of(number(figures))


def tenths(text: str, *, halves: bool = False) -> float:
    """Return an estimate between two neighbouring lines, from 0 to 10 tenths.

    >>> tenths("7,5", halves=True)
    7.5
    """
    value = number(text)
    step = Decimal("0.5") if halves else Decimal(1)
    if not 0 <= value <= 10 or value % step:
        entry = "typed.not-asked.halves" if halves else "typed.not-asked"
        raise UnreadableAnswer(tell(entry, text=_trimmed(text)))
    return float(value)


def _trimmed(text: str) -> str:
    """Return the text without outer spaces of any kind, with one kind of minus."""
    if len(text) > LONGEST:
        raise UnreadableAnswer(tell("typed.too-long", n=len(text), most=LONGEST))
    return text.strip().replace("−", "-").replace("–", "-")


def _split_unit(trimmed: str) -> tuple[str, Unit | None]:
    match = re.fullmatch(r"(?P<figures>[^a-zA-Zµμ\"″']*)(?P<unit>.*)", trimmed, re.DOTALL)
    assert match is not None  # the pattern fits every text
    if not match["unit"]:
        return trimmed, None
    name = match["unit"].strip().lower()
    if name not in UNITS:
        raise UnreadableAnswer(tell("typed.unknown-unit", text=match["unit"]))
    return match["figures"].strip(), UNITS[name]


def _why_not_a_number(trimmed: str) -> str:
    if not trimmed:
        return tell("typed.nothing")
    if len(re.findall("[.,]", trimmed)) > 1:
        return tell("typed.two-signs", text=trimmed)
    if re.search(r"[0-9]\s+[0-9]", trimmed):
        return tell("typed.space", text=trimmed)
    if set(trimmed) <= set("0123456789.,+-"):
        return tell("typed.sign", text=trimmed)
    odd = next(c for c in trimmed if not (c.isascii() and c.isdigit()) and c not in ".,+-")
    return tell("typed.odd", text=trimmed, odd=odd)
