"""A plan: the file that says what a sitting asks, checked with sentences that name line and remedy."""

import difflib
import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal
from trainer.practice.kinds import KINDS

MOST_ITEMS = 1000
LONGEST_FILE = 64 * 1024  # bytes; a plan is a few lines
TYPES: dict[str, tuple[type | tuple[type, ...], str]] = {
    "title": (str, "a text in quotes"),
    "drill": (str, "a text in quotes"),
    "instrument": (str, "a text in quotes"),
    "items": (int, "a whole number"),
    "feedback": (bool, "true or false"),
    "for_record": (bool, "true or false"),
    "halves": (bool, "true or false"),
    "seconds_each": ((int, float), "a number of seconds"),
    "note": (str, "a text in quotes"),
    "viewing": (dict, "a table"),
}
REQUIRED = ("title", "drill", "instrument", "items")


class UnusablePlan(Refusal):
    """The plan cannot be used; the sentence names file, line, field, value and remedy."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What a sitting asks.

    A plan `for_record` is a check: no feedback, and a kind of drill whose answers are not clipped.
    `seconds_each` of None sets no time limit. `viewing` holds viewing conditions as plain values.
    """

    name: str
    title: str
    drill: str
    instrument: str
    items: int
    feedback: bool = True
    for_record: bool = False
    halves: bool = False
    seconds_each: float | None = None
    note: str = ""
    viewing: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name, fault in _value_faults({f.name: getattr(self, f.name) for f in fields(self)}):
            raise UnusablePlan(f"plan {self.name}: {name}: {fault}")

    def to_dict(self) -> dict[str, Any]:
        """Return the plan as plain values, fit for JSON and the archive."""
        return {**asdict(self), "viewing": dict(self.viewing)}

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "Plan":
        """Return the plan that `to_dict` described; values of later versions are left out."""
        known = {f.name for f in fields(cls)}
        return cls(**{name: value for name, value in values.items() if name in known})


def _value_faults(values: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return (field, what is wrong and what would be right) for every fault in a plan's values."""
    found = []
    if not values["title"].strip():
        found.append(("title", "is empty; give the plan a title"))
    kind = KINDS.get(values["drill"])
    if kind is None:
        found.append(("drill", f"{values['drill']!r} is no kind of drill; choose one of {', '.join(KINDS)}"))
    if values["instrument"] not in catalogue.names():
        choices = ", ".join(catalogue.names())
        found.append(
            ("instrument", f"{values['instrument']!r} is not in the catalogue; choose one of {choices}")
        )
    if not 1 <= values["items"] <= MOST_ITEMS:
        found.append(("items", f"is {values['items']}; a sitting has 1 to {MOST_ITEMS} items"))
    if values["for_record"] and values["feedback"]:
        found.append(("feedback", "is true; a check for the record gives none, so set feedback = false"))
    if values["for_record"] and kind is not None and kind.clipped:
        found.append(
            (
                "drill",
                f"{kind.name!r} clips answers at the pair of lines; a check needs drill = 'full-reading'",
            )
        )
    seconds = values["seconds_each"]
    if seconds is not None and not (math.isfinite(seconds) and 0.5 <= seconds <= 600):
        found.append(("seconds_each", f"is {seconds}; a time limit is 0.5 to 600 seconds"))
    return found


DEFAULTS: dict[str, Any] = {
    f.name: {} if f.name == "viewing" else f.default
    for f in fields(Plan)
    if f.name not in ("name", *REQUIRED)
}


def load(path: Path) -> Plan:
    """Return the plan in a TOML file; raise `UnusablePlan` with every fault, one sentence a line."""
    text = _text(path)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise UnusablePlan(f"{path}: this is not valid TOML: {fault}") from None
    faults = _key_faults(values)
    if not faults:
        complete = {"name": re.sub(r"^\d+-", "", path.stem), **DEFAULTS, **values}
        complete["feedback"] = values.get("feedback", not complete["for_record"])
        faults = _value_faults(complete)
        if not faults:
            return Plan(**complete)
    raise UnusablePlan("\n".join(f"{path}{_line_of(text, name)}: {name}: {fault}" for name, fault in faults))


def _text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            raw = file.read(LONGEST_FILE + 1)
    except OSError as fault:
        raise UnusablePlan(f"{path}: the plan cannot be read: {fault.strerror or fault}") from None
    if len(raw) > LONGEST_FILE:
        raise UnusablePlan(f"{path}: the file is larger than {LONGEST_FILE // 1024} KiB, which no plan is")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise UnusablePlan(f"{path}: byte {fault.start} is not UTF-8; save the plan as UTF-8 text") from None


def _key_faults(values: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the faults that lie in the names and types of the keys."""
    found = []
    for name, value in values.items():
        if name not in TYPES:
            near = difflib.get_close_matches(name, TYPES, 1)
            hint = f"did you mean {near[0]}?" if near else f"a plan knows {', '.join(TYPES)}"
            found.append((name, f"is not a field of a plan; {hint}"))
            continue
        wanted, words = TYPES[name]
        right = isinstance(value, wanted) and (wanted is bool or not isinstance(value, bool))
        if not right:
            found.append((name, f"is {value!r}; write {words}"))
    found += [(name, "is missing; a plan needs it") for name in REQUIRED if name not in values]
    return found


def _line_of(text: str, name: str) -> str:
    """Return ", line N" for the line that sets a field, or nothing where no line does."""
    for number, line in enumerate(text.splitlines(), 1):
        if re.match(rf"\s*(\[\s*)?[\"']?{re.escape(name)}[\"']?\s*[=\].]", line):
            return f", line {number}"
    return ""
