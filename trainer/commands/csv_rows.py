"""Rows of a CSV file that people type: three separators, UTF-8 or Latin-1, comments before the header."""

import csv
import io
from collections.abc import Iterator, Sequence
from pathlib import Path

from trainer.instrument.given_file import some_bytes
from trainer.instrument.refusal import Refusal


def rows(
    path: Path, columns: Sequence[str], largest: int, unusable: type[Refusal]
) -> Iterator[tuple[int, dict[str, str]]]:
    """Yield (line, cells by column) of a file, empty rows left out; columns beside those named are left out.

    Raises `unusable` with file, line and remedy for what is no such file, or is larger than `largest` bytes.
    """
    lines = plain_lines(text_of(path, largest, unusable))
    start = next((i for i, line in enumerate(lines) if line.strip() and not line.startswith("#")), None)
    if start is None:
        raise unusable(f"{path}: it is empty; it needs the header {','.join(columns)} and rows under it")
    delimiter = max(",;\t", key=lines[start].count)
    reader = csv.reader(io.StringIO("\n".join(lines[start:])), delimiter=delimiter)
    try:
        header = [name.strip().lower() for name in next(reader)]
        for wanted in columns:
            if header.count(wanted) != 1:
                raise unusable(
                    f"{path}, line {start + 1}: column {wanted!r} must be there once; the header has "
                    f"{', '.join(map(repr, header[:12]))}"
                )
        for fields in reader:
            if not any(field.strip() for field in fields):
                continue
            line = start + reader.line_num
            if len(fields) != len(header):
                raise unusable(
                    f"{path}, line {line}: {len(fields)} fields, but the header has {len(header)}; "
                    "put a decimal comma in quotes, or separate fields with semicolons"
                )
            cells = dict(zip(header, (field.strip() for field in fields), strict=True))
            yield line, {name: cells[name] for name in columns}
    except csv.Error as fault:
        raise unusable(f"{path}, line {start + reader.line_num}: it is not CSV: {fault}") from None


def text_of(path: Path, largest: int, unusable: type[Refusal]) -> str:
    """Return a file's text, UTF-8 or Latin-1."""
    try:
        raw = some_bytes(path, largest)
    except FileNotFoundError:
        raise unusable(f"{path}: there is no such file; check the path") from None
    if len(raw) > largest:
        raise unusable(f"{path}: it is larger than {largest >> 20} MiB; split it")
    if b"\0" in raw:
        raise unusable(f"{path}: it is no text file; save it as CSV UTF-8")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def plain_lines(text: str) -> list[str]:
    """Return the lines of a text, whichever way they end."""
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
