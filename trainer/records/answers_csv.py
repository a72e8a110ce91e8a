"""Answers from a CSV file: fast for whole files, exact about what is wrong in one.

The fast path reads the columns that scoring knows with the C parser. Whatever it cannot read goes to the
patient path, which either reads it (decimal commas, spaces) or names line, field, value and remedy.
"""

import csv
import io
import warnings
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from trainer.instrument.given_file import some_bytes
from trainer.instrument.refusal import Refusal
from trainer.records.cells import MARK, restored

NEEDED = ("person", "truth_tenths", "answer_tenths")
HEADER = ",".join(NEEDED)
NUMBERS = ("truth_tenths", "answer_tenths", "seconds", "item")
TEXTS = ("person", "session", "at", "instrument", "drill", "outcome", "typed", "asks", "conditions")
NOT_ANSWERED = ("skipped", "timed-out")
OUTCOMES = ("answered", *NOT_ANSWERED, "")
# Before pandas 3.1 the C parser rounds the last digit of a number unless told not to.
EXACT: dict[str, Any] = (
    {} if tuple(map(int, pd.__version__.split(".")[:2])) >= (3, 1) else {"float_precision": "round_trip"}
)
LONGEST_SHOWN = 40  # characters of a field repeated in a refusal

LARGEST = 1 << 30  # bytes; about 15 million answers


class UnreadableAnswers(Refusal):
    """A file of answers cannot be read; the text names file, line, field, value and remedy."""


@dataclass(frozen=True, slots=True)
class _Sheet:
    """The text of a file from its header on, with what was found out about it."""

    name: str
    text: str
    first_line: int  # number of the header's line in the file
    separator: str
    header: tuple[str, ...]


def read(path: str | Path) -> pd.DataFrame:
    """Return the answers in a CSV file, one row a reading, in the file's order.

    Columns: person, truth_tenths, answer_tenths and, where the file has them, session, item, at, seconds,
    instrument, drill, outcome, typed, asks, conditions; others are left out. Lines before the header that
    begin with `#` are comments. Comma, semicolon or tab separate fields; a decimal comma is read where the
    comma does not separate. An empty answer stays empty (NaN): the reading was skipped.
    Raises `UnreadableAnswers` with one sentence.
    """
    sheet = _sheet(Path(path))
    frame = _fast(sheet)
    if frame is None:
        frame = _patient(sheet)
    if frame.empty:
        raise UnreadableAnswers(f"{sheet.name} has a header but no answers under it")
    return frame


def _sheet(path: Path) -> _Sheet:
    """Return the file's text; refuse what is no text, has no header, or a header that cannot serve."""
    try:
        data = some_bytes(path, LARGEST)
    except OSError as fault:
        raise UnreadableAnswers(f"{path} cannot be read: {fault.strerror or fault}") from None
    if len(data) > LARGEST:
        raise UnreadableAnswers(f"{path.name} is larger than {LARGEST >> 20} MiB; split it")
    text = _decoded(path.name, data)
    if not text.strip():
        raise UnreadableAnswers(
            f"{path.name} is empty; it needs a header line {','.join(NEEDED)} and answers"
        )
    begin, line = 0, 1
    while text.startswith("#", begin) or text[begin : begin + 1] in ("\n", "\r"):
        end = text.find("\n", begin)
        begin, line = end + 1 if end >= 0 else len(text), line + 1
    if not text[begin:].strip():
        raise UnreadableAnswers(f"{path.name} has only comments; it needs a header line {HEADER}")
    head_end = text.find("\n", begin)
    head = text[begin : head_end if head_end >= 0 else len(text)].rstrip("\r")
    separator = max(",;\t", key=head.count)
    try:
        fields = tuple(name.strip().lower() for name in next(csv.reader([head], delimiter=separator), []))
    except csv.Error as fault:
        raise UnreadableAnswers(f"{path.name}, line {line}: no header can be read: {fault}") from None
    _check_header(path.name, line, fields)
    return _Sheet(path.name, text[begin:], line, separator, fields)


def _decoded(name: str, data: bytes) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise UnreadableAnswers(f"{name} is UTF-16 text, not UTF-8; save it as CSV UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        # the codec counts from behind a byte order mark
        place = fault.start + (3 if data.startswith(b"\xef\xbb\xbf") else 0)
        line = data.count(b"\n", 0, place) + 1
        raise UnreadableAnswers(
            f"{name}, line {line}: byte 0x{data[place]:02x} at position {place} is not UTF-8; "
            "save the file as CSV UTF-8"
        ) from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise UnreadableAnswers(f"{name}, line {line}: holds a zero byte, so it is not a CSV text file")
    return text


def _check_header(name: str, line: int, fields: tuple[str, ...]) -> None:
    known = [field for field in fields if field in NEEDED + NUMBERS + TEXTS]
    for field in known:
        if known.count(field) > 1:
            raise UnreadableAnswers(f"{name}, line {line}: column {field!r} occurs twice; keep one of them")
    missing = [field for field in NEEDED if field not in fields]
    if missing:
        found = ", ".join(repr(field[:LONGEST_SHOWN]) for field in fields[:12]) or "none"
        raise UnreadableAnswers(
            f"{name}, line {line}: there is no column {' or '.join(repr(field) for field in missing)} "
            f"(columns found: {found}); name it in the header line"
        )


def _fast(sheet: _Sheet) -> pd.DataFrame | None:
    """Return the answers read by the C parser, or None where it finds anything it cannot be sure of."""
    if not _regular(sheet):
        return None
    try:
        frame = _parsed(sheet, "category")
        if not _is_text(frame["person"]):  # all names are numbers: 007 must not become 7
            frame = _parsed(sheet, "str")
    except (ValueError, OverflowError, pd.errors.ParserWarning):  # pandas' ParserError is a ValueError
        return None
    for name in ("session", "instrument", "drill", "outcome", "asks", "conditions"):
        if name in frame and not _is_text(frame[name]):
            frame[name] = frame[name].cat.rename_categories(str)
    return frame if _sound(frame) else None


def _parsed(sheet: _Sheet, person: str) -> pd.DataFrame:
    """Return the known columns; few different texts are kept as categories, which is fast and small."""
    used = [field for field in sheet.header if field in NUMBERS + TEXTS]
    kinds = dict.fromkeys(NUMBERS, "float64") | dict.fromkeys(TEXTS, "category")
    kinds |= {"person": person, "at": "str", "typed": "str"}
    with warnings.catch_warnings():
        warnings.simplefilter("error", pd.errors.ParserWarning)
        frame: pd.DataFrame = pd.read_csv(
            io.StringIO(sheet.text),
            sep=sheet.separator,
            header=0,
            names=list(sheet.header),
            usecols=used,
            index_col=False,
            decimal="," if sheet.separator != "," and "," in sheet.text else ".",
            dtype={name: kinds[name] for name in used},
            keep_default_na=False,
            na_values={name: [""] for name in used},
            **EXACT,
        )
        return frame


def _is_text(column: pd.Series) -> bool:
    """Return whether a column holds texts, or categories that are texts."""
    held = column.cat.categories if isinstance(column.dtype, pd.CategoricalDtype) else column
    return pd.api.types.is_string_dtype(held) or len(held) == 0


def _regular(sheet: _Sheet) -> bool:
    """Return whether every line has as many fields as the header, told by counting separators."""
    if len(set(sheet.header)) != len(sheet.header):
        return False
    if '"' in sheet.text:
        rows = csv.reader(io.StringIO(sheet.text, newline=""), delimiter=sheet.separator)
        try:
            return all(len(row) == len(sheet.header) for row in rows)
        except csv.Error:
            return False
    data = np.frombuffer(sheet.text.encode(), np.uint8)
    ends = np.flatnonzero(data == ord("\n"))
    if not sheet.text.endswith("\n"):
        ends = np.append(ends, len(data))
    separators = np.flatnonzero(data == ord(sheet.separator))
    each = np.diff(np.searchsorted(separators, ends), prepend=0)
    return bool((each == len(sheet.header) - 1).all())


def _sound(frame: pd.DataFrame) -> bool:
    """Return whether all values are ones that scoring takes; if not, the patient path says which is not."""
    truth, answer = frame["truth_tenths"].to_numpy(), frame["answer_tenths"].to_numpy()
    if not np.isfinite(truth).all() or np.isinf(answer).any() or frame["person"].isna().any():
        return False
    if "seconds" in frame and not (frame["seconds"].isna() | (frame["seconds"] >= 0)).all():
        return False
    if "outcome" in frame:
        if not set(frame["outcome"].cat.categories) <= set(OUTCOMES):
            return False
        if (frame["outcome"].isin(NOT_ANSWERED) & frame["answer_tenths"].notna()).any():
            return False
    if "at" in frame and frame["at"].notna().any():
        at = pd.to_datetime(frame["at"], errors="coerce", utc=True, format="ISO8601")
        if (at.isna() & frame["at"].notna()).any():
            return False
    names = pd.Index(frame["person"].unique()).astype("str")
    return bool((names == names.str.strip()).all() and not names.str.startswith(MARK).any())


def _patient(sheet: _Sheet) -> pd.DataFrame:
    """Return the answers read line by line, or refuse the first line that cannot be used."""
    rows = csv.reader(io.StringIO(sheet.text, newline=""), delimiter=sheet.separator)
    used = [(place, field) for place, field in enumerate(sheet.header) if field in NUMBERS + TEXTS]
    columns: dict[str, list[object]] = {field: [] for _, field in used}
    try:
        for fields in rows:
            line = sheet.first_line + rows.line_num - 1
            if rows.line_num == 1 or not any(field.strip() for field in fields):
                continue
            if len(fields) != len(sheet.header):
                raise UnreadableAnswers(
                    f"{sheet.name}, line {line}: has {len(fields)} fields, the header has "
                    f"{len(sheet.header)}; fields may lack quotes, or decimals use the separating comma"
                )
            for place, field in used:
                columns[field].append(_value(sheet.name, line, field, fields[place]))
            if "outcome" in columns and columns["outcome"][-1] in NOT_ANSWERED:
                _refuse_answer(sheet, line, fields)
    except csv.Error as fault:
        line = sheet.first_line + rows.line_num - 1
        raise UnreadableAnswers(f"{sheet.name}, line {line}: is no CSV line: {fault}") from None
    return pd.DataFrame(columns).astype({field: "float64" for field in columns if field in NUMBERS})


def _refuse_answer(sheet: _Sheet, line: int, fields: list[str]) -> None:
    """Refuse an answer in a line whose outcome says that there is none: it would go uncounted."""
    given = dict(zip(sheet.header, fields, strict=True))
    if answer := given["answer_tenths"].strip():
        raise UnreadableAnswers(
            f"{sheet.name}, line {line}: outcome is {given['outcome'].strip()}, but answer_tenths is "
            f"{answer[:LONGEST_SHOWN]!r}; empty the one that is wrong"
        )


def _value(name: str, line: int, field: str, text: str) -> object:
    """Return one field's value; refuse it by line, field, value and remedy."""
    where = f"{name}, line {line}: {field} is {text.strip()[:LONGEST_SHOWN]!r}"
    trimmed = text.strip()
    if field in NUMBERS:
        return _number(where, field, trimmed)
    if field == "person" and not trimmed:
        raise UnreadableAnswers(f"{name}, line {line}: person is empty; every answer needs a name")
    if field == "outcome" and trimmed not in OUTCOMES:
        raise UnreadableAnswers(f"{where}; it must be answered, skipped or timed-out")
    if field == "at" and trimmed and not _is_time(trimmed):
        raise UnreadableAnswers(f"{where}, which is no time; write it as 2026-01-31T08:30:00Z")
    return restored(trimmed) or None


def _is_time(text: str) -> bool:
    try:
        datetime.fromisoformat(text)
    except ValueError:  # the rarer forms of ISO 8601
        return bool(pd.notna(pd.to_datetime(text, errors="coerce", utc=True, format="ISO8601")))
    return True


def _number(where: str, field: str, text: str) -> float:
    if not text:
        if field == "truth_tenths":
            raise UnreadableAnswers(f"{where}; every reading needs its true position in tenths")
        return float("nan")
    plain = text.replace("−", "-")
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    try:
        value = float(plain) if "_" not in plain else float("nan")
    except ValueError:
        value = float("nan")
    if np.isnan(value):
        raise UnreadableAnswers(f"{where}, which is not a number; write tenths of a division such as 7384.3")
    if np.isinf(value):
        raise UnreadableAnswers(f"{where}, which is not finite; write tenths of a division such as 7384.3")
    if field == "seconds" and value < 0:
        raise UnreadableAnswers(f"{where}; a time cannot be negative")
    return value
