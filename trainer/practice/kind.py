"""What a kind of drill is: what it asks, how its items lie, how an answer is read and how it is scored."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

import numpy as np

from trainer.instrument.micrometer import Micrometer
from trainer.practice.items import Answer, Item
from trainer.practice.wording import figure

if TYPE_CHECKING:
    from trainer.practice.plan import Plan

Scored = Literal["position", "judgement", "none"]
Reader: TypeAlias = Callable[[str, Item, Micrometer, bool], float]
Dealer: TypeAlias = "Callable[[Plan, Micrometer, np.random.Generator], tuple[Item, ...]]"
Due: TypeAlias = "Callable[[Plan, Sequence[Item], Sequence[Answer]], bool]"

MM_TENTH, INCH_TENTH = "µm", "0.0001 in"


@dataclass(frozen=True, slots=True)
class Setting:
    """A field of a plan that belongs to some kinds of drill only.

    A number lies between `low` and `high`; a text is one of `choices`; a list holds numbers.
    """

    name: str
    meaning: str
    default: Any
    low: float = 0.0
    high: float = 0.0
    choices: tuple[str, ...] = ()

    def fault(self, value: Any) -> str | None:
        """Return what is wrong with a value and what would be right, or None."""
        if isinstance(self.default, bool):
            return None if isinstance(value, bool) else f"is {value!r}; write true or false"
        if self.choices:
            wanted = " or ".join(f'"{choice}"' for choice in self.choices)
            return None if value in self.choices else f"is {value!r}; write {wanted}"
        if isinstance(self.default, tuple):
            right = isinstance(value, list | tuple) and all(map(_is_number, value))
            return None if right else f"is {value!r}; write a list of numbers in square brackets"
        whole = isinstance(self.default, int)
        if not _is_number(value) or (whole and not isinstance(value, int)):
            return f"is {value!r}; write a {'whole ' if whole else ''}number"
        if not self.low <= value <= self.high:
            return f"is {value}; {self.meaning} is {self.low:g} to {self.high:g}"
        return None


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def by_count(plan: "Plan", items: Sequence[Item], answers: Sequence[Answer]) -> bool:
    """Return whether fewer items were dealt than the plan asks for."""
    return len(items) < plan.items


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of drill, or of question within a drill.

    `read` turns typed text into the answered position in tenths: where the answer is no position, into the
    one nearest to the truth that agrees with it. It raises `UnreadableAnswer`. `clipped` says that answers
    cannot leave the interval shown, so that the kind gives no record. A kind without `deal` is asked only
    within another. `serial` drills are dealt as one goes, since the next item hangs on the answers;
    `adaptive` ones can be. `turned` answers are set by turning the thimble. `tells` says whether feedback
    may follow at once. `bounded` answers are doubted outside the travel.
    """

    name: str
    summary: str
    question: str
    read: Reader
    clipped: bool = False
    deal: "Dealer | None" = None
    due: "Due" = by_count
    settings: tuple[Setting, ...] = ()
    scored: Scored = "position"
    unit: Literal["reading", "tenths", "length", "line", "words"] = "reading"
    adaptive: bool = False
    serial: bool = False
    turned: bool = False
    tells: bool = True
    bounded: bool = True
    needs_vernier: bool = False
    recordable: bool = True

    def unit_of(self, micrometer: Micrometer) -> str:
        """Return the unit in which an answer is given, as a prompt names it."""
        names = {
            "reading": micrometer.unit,
            "tenths": "tenth",
            "length": length_unit(micrometer),
            "line": "line",
            "words": "",
        }
        return names[self.unit]


def length_unit(micrometer: Micrometer) -> str:
    """Return the name of a tenth of a division as a length: µm, or 0.0001 in.

    >>> from trainer.instrument import catalogue
    >>> length_unit(catalogue.load("inch"))
    '0.0001 in'
    """
    return MM_TENTH if micrometer.unit == "mm" else INCH_TENTH


def length_words(tenths: float, micrometer: Micrometer, *, signed: bool = True) -> str:
    """Return a small length as people at the bench write it.

    >>> from trainer.instrument import catalogue
    >>> length_words(1.5, catalogue.load("metric")), length_words(-2, catalogue.load("inch"))
    ('+1.5 µm', '−0.00020 in')
    """
    if micrometer.unit == "mm":
        return f"{figure(tenths * micrometer.tenth_um, 1, signed=signed)} µm"
    return f"{figure(tenths / micrometer.tenths_per_unit, 5, signed=signed)} in"
