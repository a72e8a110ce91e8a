"""A budget from a TOML file: reading components filled in from the archive, faults told with their line."""

import re
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.commands.lengths import UM_PER_UNIT
from trainer.commands.toml_lines import key_lines, line_of
from trainer.instrument.given_file import some_bytes, toml
from trainer.instrument.refusal import Refusal
from trainer.scoring.budget import Budget, from_dict
from trainer.scoring.component import component

if TYPE_CHECKING:
    from trainer.reports.quote import Quote

Quoting = Callable[[list[str], bool, Mapping[str, Any]], "Quote"]

LARGEST = 256 * 1024  # bytes; a budget is a page
READING_FIELDS = (
    "from_person", "from_team", "instrument", "since", "from", "practice", "provisional", "bias", "readings",
)  # fmt: skip
BIAS = ("left in", "corrected")
FIRST_LINE = re.compile(r"line (\d+)")


class UnusableBudgetFile(Refusal):
    """The budget's file cannot be used; the sentence names file and line."""


def load(path: Path, quoting: Quoting) -> tuple[Budget, dict[str, "Quote"]]:
    """Return the budget in a file, and the quotes behind its reading components by input name.

    `quoting` gives the quote of people (all of a team when the second argument is true) by the fields of
    an input. Raises UnusableBudgetFile with file and line, or OSError.
    """
    text = _text(path)
    try:
        data = toml(text)
    except tomllib.TOMLDecodeError as fault:
        raise UnusableBudgetFile(f"{path}: this is not valid TOML: {fault}") from None
    lines = key_lines(text)
    quotes: dict[str, Quote] = {}
    inputs = data.get("inputs")
    if isinstance(inputs, Mapping):
        data["inputs"] = {
            name: _input(path, lines, name, fields, quoting, quotes) for name, fields in inputs.items()
        }
    try:
        return from_dict(data), quotes
    except Refusal as refusal:
        raise _placed(path, text, lines, str(refusal)) from None


def _text(path: Path) -> str:
    raw = some_bytes(path, LARGEST)
    if len(raw) > LARGEST:
        raise UnusableBudgetFile(f"{path}: the file is too long; a budget has fewer than {LARGEST} bytes")
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        raise UnusableBudgetFile(f"{path}, line {line}: this is not UTF-8; save the file as UTF-8") from None


def _input(
    path: Path,
    lines: Mapping[tuple[str, ...], int],
    name: str,
    fields: Any,
    quoting: Quoting,
    quotes: dict[str, "Quote"],
) -> Any:
    """Return an input's fields, a reading component as what the archive says of it; check each alone."""
    if not isinstance(fields, Mapping):
        return fields
    try:
        if "from_person" in fields or "from_team" in fields:
            quote = quoting(*_who(name, fields), fields)
            quotes[name] = quote
            fields = reading_fields(name, fields, quote)
        component(name, fields)
    except Refusal as refusal:
        field = re.match(
            rf'input {re.escape(name)}\b.*? has (?:an unknown field "([^"]+)"|(\w+) )', str(refusal)
        )
        at = (name, (field[1] or field[2]) if field else "")
        line = line_of(lines, ("inputs", *at))
        said = str(refusal) if f"input {name}" in str(refusal) else f"input {name}: {refusal}"
        raise UnusableBudgetFile(f"{path}, line {line or 1}: {said}") from None
    return fields


def _who(name: str, fields: Mapping[str, Any]) -> tuple[list[str], bool]:
    """Return the names asked for, and whether everybody is."""
    if "from_person" in fields and "from_team" in fields:
        raise Refusal(f"input {name} has from_team = ... beside from_person; keep one of them")
    person, team = fields.get("from_person"), fields.get("from_team")
    if person is not None:
        if not isinstance(person, str):
            raise Refusal(f"input {name} has from_person = {person!r}; give one name in quotes")
        return [person], False
    if team == "everybody":
        return [], True
    if not isinstance(team, list) or not team or not all(isinstance(one, str) for one in team):
        raise Refusal(f'input {name} has from_team = {team!r}; give "everybody" or a list of names')
    return list(team), False


def reading_fields(name: str, fields: Mapping[str, Any], quote: "Quote") -> dict[str, Any]:
    """Return the fields of a reading component: what is to be added to an indication, and its uncertainty.

    The value is 0 with the bias left in, and minus the bias where readings are corrected. Units other than
    tenths need an instrument of the catalogue.
    """
    from trainer.reports.quote import averaged_u

    known = {*READING_FIELDS, "unit", "note", "value"}
    unknown = sorted(set(fields) - known)
    if unknown:
        raise Refusal(
            f'input {name} has an unknown field "{unknown[0]}"; known are {", ".join(sorted(known))}'
        )
    bias = fields.get("bias", BIAS[0])
    if bias not in BIAS:
        raise Refusal(f'input {name} has bias = {bias!r}; write "left in" or "corrected"')
    readings = fields.get("readings", 1)
    if isinstance(readings, bool) or not isinstance(readings, int) or not 1 <= readings <= 1000:
        raise Refusal(f"input {name} has readings = {readings!r}; write how many are averaged, 1 to 1000")
    corrected = bias == "corrected"
    u_tenths = averaged_u(quote, readings, corrected=corrected)
    if u_tenths is None:
        raise Refusal(f"input {name}: the readings of {', '.join(quote.people)} give no uncertainty")
    scale = _per_tenth(name, str(fields.get("unit", "")), quote)
    offset = -(quote.bias.tenths or 0.0) if corrected else 0.0
    value = fields.get("value", 0.0)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Refusal(f"input {name} has value = {value!r}; a number is needed")
    made = {
        "value": float(value) + offset * scale,
        "u": u_tenths * scale,
        "unit": str(fields.get("unit", "")),
        "note": str(fields.get("note", "")) or _story(quote, readings, corrected=corrected),
    }
    df = (quote.u_corrected if corrected else quote.u).df
    return made | ({"df": df} if df is not None else {})


def _per_tenth(name: str, unit: str, quote: "Quote") -> float:
    if unit in ("tenth", "tenths"):
        return 1.0
    if unit not in UM_PER_UNIT:
        known = ", ".join([*UM_PER_UNIT, "tenth"])
        raise Refusal(f"input {name} has unit = {unit!r}; a reading component is in one of {known}")
    if quote.um_per_tenth is None:
        raise Refusal(f"input {name}: the instrument is not in the catalogue, so give unit = 'tenth'")
    return quote.um_per_tenth / UM_PER_UNIT[unit]


def _story(quote: "Quote", readings: int, *, corrected: bool) -> str:
    who = quote.people[0] if not quote.team else f"any of {len(quote.people)} people"
    mean = f", mean of {readings}" if readings > 1 else ""
    bias = "bias corrected" if corrected else "bias left in"
    return f"reading by {who}, {quote.setting}, {quote.used} readings, {bias}{mean}"


def _placed(path: Path, text: str, lines: Mapping[tuple[str, ...], int], sentence: str) -> UnusableBudgetFile:
    """Return the refusal with the line that its sentence is about."""
    line = None
    if sentence.startswith(("the model", "model")):
        line = line_of(lines, ("model",))
    elif "correlation" in sentence:
        named = re.findall(r'"(\w+)"|correlation of (\w+)', sentence)
        line = _correlation_line(text, next((a or b for a, b in named), ""))
    for pattern, table in (
        (r"term \"?(\w+)", "terms"),
        (r"circle: (\w+)", "terms"),
        (r"input \"?(\w+)", "inputs"),
    ):
        match = re.search(pattern, sentence)
        if line is None and match:
            line = line_of(lines, (table, match[1]))
    match = re.match(r'(\w+) is (?:both|defined|")|.*unknown entry "(\w+)"', sentence)
    if line is None and match:
        name = match[1] or match[2]
        line = next((at for key, at in sorted(lines.items(), key=lambda k: k[1]) if key[-1] == name), None)
    return UnusableBudgetFile(f"{path}, line {line or 1}: {sentence}")


def _correlation_line(text: str, name: str) -> int | None:
    """Return the line on which correlations are given, that with the name where there is one."""
    rows = text.split("\n")
    start = next((n for n, row in enumerate(rows, 1) if re.match(r"\s*(\[\[)?\s*correlations\b", row)), None)
    if start is None:
        return None
    quoted = (
        n for n, row in enumerate(rows[start - 1 :], start) if re.search(rf'["\']{re.escape(name)}["\']', row)
    )
    return next(quoted, start) if name else start
