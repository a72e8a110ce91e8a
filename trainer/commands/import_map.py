"""A mapping file: TOML that says how a laboratory's own CSV is read; faults are told with their line."""

import codecs
import difflib
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Any, NoReturn
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from trainer.commands.toml_lines import Path as KeyPath
from trainer.commands.toml_lines import key_lines, line_of
from trainer.instrument import catalogue
from trainer.instrument.given_file import some_bytes, toml
from trainer.instrument.refusal import Refusal
from trainer.practice.kinds import DRILLS
from trainer.records.foreign_map import FIELDS, UNITS, Column, ForeignMap

LARGEST = 64 * 1024  # bytes; a map is a page
TABLES: dict[str, Mapping[str, type | tuple[type, ...]]] = {
    "file": {
        "encoding": str, "delimiter": str, "quote": str, "decimal": str, "skip_lines": int, "comment": str,
        "header": bool,
    },
    "columns": dict.fromkeys(FIELDS, (str, int)),
    "values": {
        "unit": str, "date_format": str, "time_format": str, "time_zone": str, "skipped": list,
    },
    "words": dict.fromkeys(("person", "instrument", "drill", "conditions", "outcome", "session"), dict),
    "constants": dict.fromkeys(("person", "instrument", "drill", "conditions", "session"), str),
    "sessions": {"by": list, "prefix": str},
}  # fmt: skip
OFFSET = re.compile(r"([+-])([0-9]{2}):?([0-9]{2})")
CALLED = {
    str: "a text in quotes",
    int: "a whole number",
    bool: "true or false",
    list: "a list",
    dict: "a table",
}


class UnusableMap(Refusal):
    """The mapping file cannot be used; the sentence names file, line and field."""


def load(path: Path) -> ForeignMap:
    """Return the map in a TOML file. Raises UnusableMap, or OSError where there is no file."""
    raw = some_bytes(path, LARGEST)
    if len(raw) > LARGEST:
        raise UnusableMap(f"{path}: the file is too long; a map has fewer than {LARGEST} bytes")
    try:
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
        data = toml(text)
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        raise UnusableMap(f"{path}, line {line}: this is not UTF-8; save the map as UTF-8") from None
    except tomllib.TOMLDecodeError as fault:
        raise UnusableMap(f"{path}: this is not valid TOML: {fault}") from None
    lines = key_lines(text)

    def refuse(where: KeyPath, why: str) -> NoReturn:
        line = line_of(lines, where)
        place = f"{path}, line {line}" if line else str(path)
        raise UnusableMap(f"{place}: {'.'.join(where)}: {why}")

    return _checked(data, refuse)


Refuse = Callable[[KeyPath, str], NoReturn]


def _checked(data: Mapping[str, Any], refuse: Refuse) -> ForeignMap:
    _known(data, refuse)
    file, columns, values, words, constants, sessions = (data.get(name, {}) for name in TABLES)
    _needed(columns, values, constants, sessions, refuse)
    unit = str(values["unit"])
    if unit not in UNITS:
        refuse(("values", "unit"), f"is {unit!r}; it is one of {', '.join(UNITS)}")
    by = tuple(sessions.get("by", ["day"] if {"at", "date"} & set(columns) else []))
    _sessions(by, columns, constants, refuse)
    _constants(constants, words, refuse)
    forms = [values.get(name) for name in ("date_format", "time_format")]
    return ForeignMap(
        columns=dict(columns),
        unit=unit,
        encoding=_encoding(file.get("encoding"), refuse),
        delimiter=_sign(file, "delimiter", refuse),
        quote=_sign(file, "quote", refuse) or '"',
        decimal=_decimal(file.get("decimal", "."), refuse),
        skip_lines=_skipped(file.get("skip_lines", 0), refuse),
        comment=file.get("comment") or None,
        header=_header(file.get("header", True), columns, by, refuse),
        date_format=" ".join(form for form in forms if form) or None,
        zone=_zone(values.get("time_zone"), refuse),
        skipped=("", *_texts(values.get("skipped", []), ("values", "skipped"), refuse)),
        words={name: dict(table) for name, table in words.items()},
        constants=dict(constants),
        by=by,
        prefix=str(sessions.get("prefix", "")),
    )


def _known(data: Mapping[str, Any], refuse: Refuse) -> None:
    """Refuse tables, fields and kinds of value that no map has."""
    for table, fields in data.items():
        if table in ("title", "note") and isinstance(fields, str):
            continue
        if table not in TABLES:
            refuse((table,), f"is no table of a map{_near(table, list(TABLES))}")
        if not isinstance(fields, Mapping):
            refuse((table,), "is a table; write it in brackets on a line of its own")
        for name, value in fields.items():
            kind = TABLES[table].get(name)
            if kind is None:
                refuse((table, name), f"is no field of [{table}]{_near(name, list(TABLES[table]))}")
            kinds = kind if isinstance(kind, tuple) else (kind,)
            if not isinstance(value, kinds) or (isinstance(value, bool) and bool not in kinds):
                refuse((table, name), f"is {value!r}; give {' or '.join(CALLED[k] for k in kinds)}")
    for name, table in data.get("words", {}).items():
        for word, meant in table.items():
            if not isinstance(meant, str):
                refuse(("words", name, word), f"is {meant!r}; give a text in quotes")


def _near(name: str, names: Sequence[str]) -> str:
    near = difflib.get_close_matches(name, names, 1)
    return f"; did you mean {near[0]!r}?" if near else f"; there are {', '.join(names)}"


def _needed(
    columns: Mapping[str, Any], values: Mapping[str, Any], constants: Mapping[str, Any],
    sessions: Mapping[str, Any], refuse: Refuse,
) -> None:  # fmt: skip
    if "truth" not in columns:
        refuse(
            ("columns",), "truth is missing; readings without their true value say nothing and do not come in"
        )
    if ("answer" in columns) == ("error" in columns):
        refuse(("columns",), "give answer, or error (answer minus truth) in its place, and not both")
    if "unit" not in values:
        refuse(("values",), f"unit is missing; it is one of {', '.join(UNITS)}")
    for name in ("person", "instrument"):
        if (
            name not in columns
            and name not in constants
            and not (name == "instrument" and values["unit"] == "tenths")
        ):
            refuse(("columns",), f"{name} is missing; name its column, or write it under [constants]")
        if name in columns and name in constants:
            refuse(("constants", name), "is a column as well; keep one of the two")
    if "at" in columns and ({"date", "time"} & set(columns)):
        refuse(("columns", "at"), "holds date and time; leave date and time out, or at")
    if "time" in columns and "date" not in columns:
        refuse(("columns", "time"), "needs a date beside it")
    if "by" in sessions and ("session" in columns or "session" in constants):
        refuse(("sessions", "by"), "makes sessions, but session is named already; keep one of the two")


def _sessions(
    by: tuple[Any, ...], columns: Mapping[str, Any], constants: Mapping[str, str], refuse: Refuse
) -> None:
    for part in by:
        if not isinstance(part, str | int) or isinstance(part, bool):
            refuse(("sessions", "by"), f'holds {part!r}; give "day", or headings or numbers of columns')
    if "day" in by and not {"at", "date"} & set(columns):
        refuse(("sessions", "by"), 'says "day", but there is no column at or date')


def _constants(constants: Mapping[str, str], words: Mapping[str, Mapping[str, str]], refuse: Refuse) -> None:
    for field, known in (("instrument", list(catalogue.names())), ("drill", list(DRILLS))):
        named: list[tuple[KeyPath, str]] = []
        if field in constants:
            named.append((("constants", field), constants[field]))
        named += [(("words", field, word), meant) for word, meant in words.get(field, {}).items()]
        for where, value in named:
            if value not in known:
                refuse(where, f"is {value!r}{_near(value, known)}")


def _encoding(name: str | None, refuse: Refuse) -> str | None:
    if name is None:
        return None
    try:
        found = codecs.lookup(name)
        "a".encode(found.name)  # refuses what is no encoding of text
    except (LookupError, ValueError):  # the latter for a name that holds a character nought
        refuse(
            ("file", "encoding"), f"is {name!r}; write utf-8, utf-16, latin-1, cp1252 or another known one"
        )
    return found.name


def _sign(file: Mapping[str, Any], name: str, refuse: Refuse) -> str | None:
    value = {"tab": "\t"}.get(file.get(name, ""), file.get(name))
    if value is not None and (len(value) != 1 or value in "\r\n"):
        refuse(("file", name), f'is {value!r}; give one character, such as ";" or "tab"')
    return value


def _decimal(value: str, refuse: Refuse) -> str:
    if value not in (".", ","):
        refuse(("file", "decimal"), f'is {value!r}; it is "." or ","')
    return value


def _skipped(value: int, refuse: Refuse) -> int:
    if not 0 <= value <= 10_000:
        refuse(("file", "skip_lines"), f"is {value}; give 0 to 10000")
    return value


def _header(value: bool, columns: Mapping[str, Column], by: tuple[Any, ...], refuse: Refuse) -> bool:
    if not value:
        for name, column in columns.items():
            if isinstance(column, str):
                refuse(
                    ("columns", name),
                    f"is {column!r}, but the file has no header; give the column's number from 1",
                )
        if any(isinstance(part, str) and part != "day" for part in by):
            refuse(("sessions", "by"), "names a heading, but the file has no header; give numbers from 1")
    return value


def _texts(values: Sequence[Any], where: KeyPath, refuse: Refuse) -> list[str]:
    for value in values:
        if not isinstance(value, str):
            refuse(where, f"holds {value!r}; give texts in quotes")
    return [value.strip() for value in values]


def _zone(name: str | None, refuse: Refuse) -> tzinfo | None:
    if name is None:
        return None
    if name.upper() in ("UTC", "Z"):
        return UTC
    if offset := OFFSET.fullmatch(name.strip()):
        span = timedelta(hours=int(offset[2]), minutes=int(offset[3]))
        if span < timedelta(hours=24):
            return timezone(span if offset[1] == "+" else -span)
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        why = 'write "UTC", an offset such as "+01:00", or a name such as "Europe/Oslo"'
        refuse(("values", "time_zone"), f"is {name!r}, which this computer does not know; {why}")
