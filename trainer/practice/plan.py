"""A plan: the file that says what a sitting asks, checked with sentences that name line and remedy."""

import difflib
import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from decimal import Decimal
from pathlib import Path
from typing import Any

from trainer.instrument import catalogue
from trainer.instrument.given_file import some_bytes, toml
from trainer.instrument.refusal import Refusal
from trainer.practice import conditions
from trainer.practice.kinds import DRILLS, KINDS, SETTINGS, drills_with
from trainer.practice.wording import listed

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
    "exposure_seconds": ((int, float), "a number of seconds"),
    "placement": (str, "a text in quotes"),
    "true_size": (bool, "true or false"),
    "note": (str, "a text in quotes"),
    "viewing": (dict, "a table"),
}
HALVED = ("tenths",)
PLACEMENTS = ("stratified", "adaptive")
REQUIRED = ("title", "drill", "instrument", "items")


class UnusablePlan(Refusal):
    """The plan cannot be used; the sentence names file, line, field, value and remedy."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What a sitting asks.

    A plan `for_record` is a check: no feedback, and a kind of drill whose answers are not clipped.
    `seconds_each` of None sets no time limit; after `exposure_seconds` the instrument is hidden and the
    answer may still be given. With `placement` "adaptive" the items are dealt as one goes, more of what
    the person gets wrong. `true_size` asks for pictures as large as the instrument itself, else they fill
    the window. `viewing` holds viewing conditions as plain values, `settings` the fields that
    only this drill has.
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
    exposure_seconds: float | None = None
    placement: str = "stratified"
    settings: Mapping[str, Any] = field(default_factory=dict)
    true_size: bool = False

    @property
    def serial(self) -> bool:
        """Return whether the items are dealt as one goes."""
        return self.placement == "adaptive" or KINDS[self.drill].serial

    def setting(self, name: str) -> Any:
        """Return a field that belongs to this plan's drill, or its default."""
        return self.settings.get(name, SETTINGS[name].default)

    def __post_init__(self) -> None:
        for name, fault in _value_faults({f.name: getattr(self, f.name) for f in fields(self)}):
            raise UnusablePlan(f"plan {self.name}: {name}: {fault}")

    def to_dict(self) -> dict[str, Any]:
        """Return the plan as plain values, fit for JSON and the archive."""
        return {**asdict(self), "viewing": dict(self.viewing), "settings": dict(self.settings)}

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "Plan":
        """Return the plan that `to_dict` described; values of later versions are left out."""
        known = {f.name for f in fields(cls)}
        return cls(**{name: value for name, value in values.items() if name in known})


Fault = tuple[str, str]
"""A field, and what is wrong with it and what would be right."""


def _value_faults(values: Mapping[str, Any]) -> list[Fault]:
    """Return every fault in a plan's values, each alone and then together."""
    found: list[Fault] = []
    if not values["title"].strip():
        found.append(("title", "is empty; give the plan a title"))
    if values["drill"] not in DRILLS:
        found.append(("drill", f"{values['drill']!r} is no kind of drill; choose one of {', '.join(DRILLS)}"))
    if values["instrument"] not in catalogue.names():
        choices = ", ".join(catalogue.names())
        found.append(
            ("instrument", f"{values['instrument']!r} is not in the catalogue; choose one of {choices}")
        )
    if not 1 <= values["items"] <= MOST_ITEMS:
        found.append(("items", f"is {values['items']}; a sitting has 1 to {MOST_ITEMS} items"))
    for name, words in (("seconds_each", "a time limit"), ("exposure_seconds", "an exposure")):
        low, seconds = (0.5 if name == "seconds_each" else 0.05), values[name]
        if seconds is not None and not (math.isfinite(seconds) and low <= seconds <= 600):
            found.append((name, f"is {seconds}; {words} is {low:g} to 600 seconds"))
    if values["placement"] not in PLACEMENTS:
        found.append(("placement", f'is {values["placement"]!r}; write "stratified" or "adaptive"'))
    found += [(f"viewing.{name}", fault) for name, fault in conditions.faults(values["viewing"])]
    if values["for_record"]:
        found += _record_faults(values)
    return found + (_drill_faults(values) if values["drill"] in DRILLS else [])


def _record_faults(values: Mapping[str, Any]) -> list[Fault]:
    """Return what keeps a plan from being a check for the record."""
    found: list[Fault] = []
    kind = DRILLS.get(values["drill"])
    if values["feedback"]:
        found.append(("feedback", "is true; a check for the record gives none, so set feedback = false"))
    if kind is not None and kind.clipped:
        found.append(
            (
                "drill",
                f"{kind.name!r} clips answers at the pair of lines; a check needs drill = 'full-reading'",
            )
        )
    elif kind is not None and not kind.recordable:
        found.append(("drill", f"{kind.name!r} is practice only; leave for_record out"))
    if values["placement"] == "adaptive":
        found.append(("placement", "is 'adaptive', which would bias a check; leave it out"))
    return found


def _drill_faults(values: Mapping[str, Any]) -> list[Fault]:
    """Return what does not go together with the kind of drill."""
    kind, found = DRILLS[values["drill"]], []
    known = {setting.name for setting in kind.settings}
    for name, value in values["settings"].items():
        if name not in known:
            found.append(
                (name, f"belongs to {listed(drills_with(name))}, not to {kind.name!r}; leave it out")
            )
        elif fault := SETTINGS[name].fault(value):
            found.append((name, fault))
    if values["halves"] and kind.name not in HALVED:
        found.append(("halves", f"is for drill = 'tenths' only; leave it out of {kind.name!r}"))
    if values["placement"] == "adaptive" and not kind.adaptive:
        able = listed([name for name, other in DRILLS.items() if other.adaptive])
        found.append(("placement", f"is 'adaptive', which only {able} can be; leave it out"))
    if not found and values["instrument"] in catalogue.names():
        found += _instrument_faults(values)
    return found


def _instrument_faults(values: Mapping[str, Any]) -> list[Fault]:
    """Return what does not go together with the instrument."""
    kind, micrometer = DRILLS[values["drill"]], catalogue.load(values["instrument"])
    settings, found = values["settings"], []
    if kind.needs_vernier and micrometer.vernier is None:
        able = [name for name in catalogue.names() if catalogue.load(name).vernier is not None]
        found.append(
            ("instrument", f"{micrometer.name!r} has no vernier; {kind.name!r} needs {listed(able, 'or')}")
        )
    if kind.name == "judge":
        tolerance, largest = (
            settings.get(name, SETTINGS[name].default) for name in ("tolerance_tenths", "range_tenths")
        )
        if largest < 1.5 * tolerance:
            least = f"{1.5 * tolerance:g}"
            found.append(
                (
                    "range_tenths",
                    f"is {largest:g}; beside a tolerance of {tolerance:g} it must be {least} or more",
                )
            )
    for length in settings.get("blocks", ()):
        if not micrometer.low <= Decimal(str(length)) <= micrometer.high:
            found.append(
                ("blocks", f"{length} lies outside {micrometer.low} to {micrometer.high} {micrometer.unit}")
            )
    return found


DEFAULTS: dict[str, Any] = {
    f.name: {} if f.name in ("viewing", "settings") else f.default
    for f in fields(Plan)
    if f.name not in ("name", *REQUIRED)
}


def load(path: Path) -> Plan:
    """Return the plan in a TOML file; raise `UnusablePlan` with every fault, one sentence a line."""
    text = _text(path)
    try:
        values = toml(text)
    except tomllib.TOMLDecodeError as fault:
        raise UnusablePlan(_toml_fault(path, text, str(fault))) from None
    faults = _key_faults(values)
    if not faults:
        settings = {name: value for name, value in values.items() if name in SETTINGS}
        plain = {name: value for name, value in values.items() if name not in SETTINGS}
        complete = {"name": re.sub(r"^\d+-", "", path.stem), **DEFAULTS, **plain, "settings": settings}
        complete["feedback"] = values.get("feedback", not complete["for_record"])
        faults = _value_faults(complete)
        if not faults:
            return Plan(**complete)
    raise UnusablePlan("\n".join(f"{path}{_place(text, name)}: {name}: {fault}" for name, fault in faults))


BESIDE = {"range_tenths": "tolerance_tenths", "feedback": "for_record"}  # what a default clashes with


def _place(text: str, name: str) -> str:
    """Return the line that sets a field, or the one beside which its default is wrong."""
    return _line_of(text, name) or (_line_of(text, BESIDE[name]) if name in BESIDE else "")


def _text(path: Path) -> str:
    try:
        raw = some_bytes(path, LONGEST_FILE)
    except OSError as fault:
        raise UnusablePlan(f"{path}: the plan cannot be read: {fault.strerror or fault}") from None
    if len(raw) > LONGEST_FILE:
        raise UnusablePlan(f"{path}: the file is larger than {LONGEST_FILE // 1024} KiB, which no plan is")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise UnusablePlan(f"{path}: byte {fault.start} is not UTF-8; save the plan as UTF-8 text") from None


def _toml_fault(path: Path, text: str, fault: str) -> str:
    """Return what is wrong with a file that is no TOML, with the line shown and the likeliest remedy."""
    place = re.search(r"\(at line (\d+), column (\d+)\)", fault)
    if place is None:
        return f"{path}: this is not valid TOML: {fault}"
    number = int(place[1])
    line = text.splitlines()[number - 1].strip() if number <= len(text.splitlines()) else ""
    value = line.partition("=")[2].strip()
    if fault.startswith("Cannot overwrite"):
        remedy = "this field is set twice; leave one of the lines out"
    elif "=" not in line:
        remedy = "each line is a field, an equals sign and a value"
    elif re.match(r"[+-]?\d+,\d", value):
        remedy = "a number in a plan is written with a decimal point"
    elif value.lower() in ("true", "false", "yes", "no"):
        remedy = "write true or false in small letters"
    elif re.match(r"[^\W\d]", value):
        remedy = "put texts in double quotes"
    else:
        remedy = fault[0].lower() + fault[1:].replace(place[0], "").rstrip()
    return f"{path}, line {number}: {line!r} is not valid TOML; {remedy}"


def _key_faults(values: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the faults that lie in the names and types of the keys."""
    found = []
    for name, value in values.items():
        if name in SETTINGS:
            continue
        if name not in TYPES:
            near = difflib.get_close_matches(name, [*TYPES, *SETTINGS], 1)
            hint = f"did you mean {near[0]}?" if near else f"a plan knows {', '.join([*TYPES, *SETTINGS])}"
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
    last = re.escape(name.rpartition(".")[2])
    for number, line in enumerate(text.splitlines(), 1):
        if re.match(rf"\s*(\[\s*)?[\"']?{last}[\"']?\s*[=\].]", line):
            return f", line {number}"
    return ""
