"""A criterion: what must be shown before somebody is signed off, checked with sentences that teach."""

import difflib
import hashlib
import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trainer.instrument.given_file import some_bytes, toml
from trainer.instrument.micrometer import Micrometer
from trainer.instrument.refusal import Refusal
from trainer.instrument.sentence import joined
from trainer.signoff.criterion_faults import LIMITS, Faults, Key, value_faults
from trainer.signoff.words import tell

LONGEST_FILE = 64 * 1024  # bytes; a criterion is a page
ROUNDING_TENTHS = 1 / 12**0.5  # sd of rounding to a tenth: uniform, JCGM 100:2008, 4.3.7
UNITS = {"mm": "millimetres", "in": "inches"}
TEXT, WHOLE, NUMBER = "a text in quotes", "a whole number", "a number"
TEXTS, TRUTH, PAIR = "a list of texts", "true or false", "a list of two numbers"

# section, field: (what to write, default; ... where the criterion must say it)
FIELDS: dict[tuple[str, str], tuple[str, Any]] = {
    ("", "title"): (TEXT, ...),
    ("", "protects"): (TEXT, ...),
    ("", "confidence"): (NUMBER, 0.95),
    ("", "plan"): (TEXT, ...),
    ("", "conditions"): (TEXTS, ()),
    ("limits", "bias_tenths"): (NUMBER, None),
    ("limits", "spread_tenths"): (NUMBER, None),
    ("limits", "misread_rate"): (NUMBER, None),
    ("judgement", "tolerance_tenths"): (NUMBER, None),
    ("judgement", "offset_tenths"): (PAIR, None),
    ("judgement", "false_accept_rate"): (NUMBER, None),
    ("judgement", "inside_tenths"): (NUMBER, None),
    ("judgement", "false_reject_rate"): (NUMBER, None),
    ("pace", "seconds"): (NUMBER, None),
    ("pace", "slow_rate"): (NUMBER, None),
    ("scope", "unit"): (TEXT, ...),
    ("scope", "kinds"): (TEXTS, ("outside",)),
    ("scope", "vernier"): (TRUTH, False),
    ("scope", "drills"): (TEXTS, ("full-reading",)),
    ("scope", "viewing_deg"): (PAIR, (-15.0, 15.0)),
    ("evidence", "sittings_at_least"): (WHOLE, 4),
    ("evidence", "sittings_apart_hours"): (NUMBER, 16.0),
    ("evidence", "readings_a_session"): (WHOLE, 20),
    ("evidence", "readings_at_most"): (WHOLE, ...),
    ("evidence", "attended"): (TRUTH, True),
    ("evidence", "waiting_days"): (WHOLE, 7),
    ("standing", "valid_days"): (WHOLE, 365),
    ("standing", "monitor_days"): (WHOLE, 30),
    ("standing", "grace_days"): (WHOLE, 14),
}


class UnusableCriterion(Refusal):
    """The criterion cannot be used; the sentence names file, line, field, value and remedy."""


@dataclass(frozen=True, slots=True)
class Scope:
    """What a sign-off speaks of: the scales, the drills and the angles under which they were read."""

    unit: str
    kinds: tuple[str, ...]
    vernier: bool
    drills: tuple[str, ...]
    viewing_deg: tuple[float, float]

    def refuses(self, micrometer: Micrometer) -> str:
        """Return why readings of an instrument do not count here, or nothing when they do."""
        if micrometer.unit != self.unit:
            own, wanted = (tell(f"scope.unit.{one}") for one in (micrometer.unit, self.unit))
            return tell("scope.unit", own=own, wanted=wanted)
        if micrometer.kind not in self.kinds:
            return tell("scope.kind", kind=micrometer.kind, kinds=joined(self.kinds, "or"))
        if (micrometer.vernier is not None) is not self.vernier:
            return tell("scope.vernier.has" if micrometer.vernier else "scope.vernier.none")
        return ""


@dataclass(frozen=True, slots=True)
class Criterion:
    """Limits, scope, and how the evidence is gathered; made by `parse` or `load`, which check it.

    Limits are in tenths of a division; `spread_tenths` includes rounding. Rates are shares of 1. A criterion
    either limits readings, or `judges`: then it limits the rates of offsets wrongly accepted (from
    `offset_tenths[0]` to `offset_tenths[1]`) and wrongly rejected (up to `inside_tenths`), and its limits on
    readings are infinite.
    `text` is the whole file, which goes into every statement together with its hash.
    """

    name: str
    text: str
    title: str
    protects: str
    plan: str
    bias_tenths: float
    spread_tenths: float
    misread_rate: float
    scope: Scope
    readings_at_most: int
    confidence: float = 0.95
    conditions: tuple[str, ...] = ()
    tolerance_tenths: float | None = None
    offset_tenths: tuple[float, float] | None = None
    false_accept_rate: float | None = None
    inside_tenths: float | None = None
    false_reject_rate: float | None = None
    seconds: float | None = None
    slow_rate: float | None = None
    sittings_at_least: int = 4
    sittings_apart_hours: float = 16.0
    readings_a_session: int = 20
    attended: bool = True
    waiting_days: int = 7
    valid_days: int = 365
    monitor_days: int = 30
    grace_days: int = 14

    @property
    def sha256(self) -> str:
        """Return the hash of the criterion's text, in hexadecimal."""
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()

    @property
    def judges(self) -> bool:
        """Return whether it is about judging in or out, and not about readings."""
        return self.false_accept_rate is not None

    @property
    def one_sitting(self) -> bool:
        """Return whether a single sitting may be enough, so that nothing is said of other days."""
        return self.sittings_at_least < 2


def load(path: Path) -> Criterion:
    """Return the criterion in a TOML file; raise `UnusableCriterion` with every fault, one a line."""
    try:
        raw = some_bytes(path, LONGEST_FILE)
    except OSError as fault:
        raise UnusableCriterion(f"{path}: it cannot be read: {fault.strerror or fault}") from None
    if len(raw) > LONGEST_FILE:
        raise UnusableCriterion(f"{path}: it is larger than {LONGEST_FILE // 1024} KiB; no criterion is")
    try:
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        raise UnusableCriterion(f"{path}: byte {fault.start} is not UTF-8; save it as UTF-8 text") from None
    return parse(text, re.sub(r"^\d+-", "", path.stem), where=str(path))


def parse(text: str, name: str, *, where: str = "") -> Criterion:
    """Return the criterion that a TOML text describes; `where` is named in the refusals."""
    from trainer.signoff.possible import impossibilities

    where = where or f"criterion {name}"
    try:
        tables = toml(text)
    except tomllib.TOMLDecodeError as fault:
        raise UnusableCriterion(f"{where}: this is not valid TOML: {fault}") from None
    values, faults = _values(tables)
    faults = faults or value_faults(values, {field: (section, field) for section, field in FIELDS})
    if not faults:
        made = _criterion(name, text, values)
        faults = impossibilities(made)
        if not faults:
            return made
    lines = (f"{where}{_line_of(text, key)}: {_dotted(key)}: {fault}" for key, fault in faults)
    raise UnusableCriterion("\n".join(lines))


def _dotted(key: Key) -> str:
    return ".".join(part for part in key if part)


def _values(tables: Mapping[str, Any]) -> tuple[dict[str, Any], Faults]:
    """Return the fields by name with defaults filled in, and the faults of names and types."""
    faults: Faults = []
    given: dict[Key, Any] = {}
    sections = {section for section, _ in FIELDS if section}
    for name, value in tables.items():
        if name in sections and isinstance(value, dict):
            given |= {(name, field): inner for field, inner in value.items()}
        else:
            given["", name] = value
    for key, value in given.items():
        if key not in FIELDS:
            names = [_dotted(known) for known in FIELDS]
            near = difflib.get_close_matches(_dotted(key), names, 1)
            hint = f"did you mean {near[0]}?" if near else f"a criterion knows {', '.join(names)}"
            faults.append((key, f"is not a field of a criterion; {hint}"))
        elif not _fits(value, FIELDS[key][0]):
            faults.append((key, f"is {value!r}; write {FIELDS[key][0]}"))
    for key, (_, default) in FIELDS.items():
        if key not in given and default is ...:
            faults.append((key, "is missing; a criterion needs it"))
    values = {key[1]: given.get(key, default) for key, (_, default) in FIELDS.items()}
    return values, faults


def _fits(value: Any, wanted: str) -> bool:
    def number(one: Any) -> bool:
        return isinstance(one, int | float) and not isinstance(one, bool) and math.isfinite(one)

    match wanted:
        case "a text in quotes":
            return isinstance(value, str)
        case "a whole number":
            return isinstance(value, int) and not isinstance(value, bool)
        case "a number":
            return number(value)
        case "true or false":
            return isinstance(value, bool)
        case "a list of texts":
            return isinstance(value, list) and all(isinstance(one, str) for one in value)
        case _:
            return isinstance(value, list) and len(value) == 2 and all(number(one) for one in value)


def _criterion(name: str, text: str, values: Mapping[str, Any]) -> Criterion:
    low, high = values["viewing_deg"]
    scope = Scope(
        values["unit"],
        tuple(values["kinds"]),
        values["vernier"],
        tuple(values["drills"]),
        (float(low), float(high)),
    )
    in_scope = {field for section, field in FIELDS if section == "scope"}
    rest = {field: value for field, value in values.items() if field not in in_scope}
    rest["conditions"] = tuple(rest["conditions"])
    if rest["offset_tenths"] is not None:
        rest["offset_tenths"] = (float(rest["offset_tenths"][0]), float(rest["offset_tenths"][1]))
        rest |= dict.fromkeys(LIMITS, math.inf)
    return Criterion(name=name, text=text, scope=scope, **rest)


def _line_of(text: str, key: Key) -> str:
    """Return ", line N" for the line that sets a field, else for its section's heading, or nothing."""
    section, heading = "", ""
    for number, line in enumerate(text.splitlines(), 1):
        if found := re.match(r"\s*\[\s*([\w.-]+)\s*\]", line):
            section = found[1]
            heading = f", line {number}" if section == key[0] else heading
        elif section == key[0] and re.match(rf"\s*[\"']?{re.escape(key[1])}[\"']?\s*=", line):
            return f", line {number}"
    return heading
