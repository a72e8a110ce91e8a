"""A list of names in a file: plain text, or the first column of a CSV."""

import csv
import io
from pathlib import Path

from trainer.desktop.words import say
from trainer.instrument.refusal import Refusal

LARGEST_LIST = 1024 * 1024  # bytes of a list of names


class UnusableList(Refusal):
    """A list of names cannot be read; the sentence names the file and the remedy."""


def names_in(path: Path) -> list[str]:
    """Return the names in a file: one a line, or the first column of a CSV with or without a head."""
    if path.is_dir():
        raise UnusableList(say("names.folder", path=path))
    if path.stat().st_size > LARGEST_LIST:
        raise UnusableList(say("names.large", path=path, kib=LARGEST_LIST // 1024))
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise UnusableList(say("names.not-text", path=path, byte=fault.start)) from None
    if path.suffix.casefold() == ".csv":
        first = text.split("\n", 1)[0]
        mark = ";" if ";" in first and "," not in first else ","
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
        try:
            names = [row[0].strip() for row in rows if row and row[0].strip()]
        except csv.Error as fault:
            raise UnusableList(say("names.quotes", path=path, fault=fault)) from None
    else:
        names = [line.strip() for line in text.splitlines() if line.strip()]
    if names and names[0].casefold() in ("name", "person"):
        names = names[1:]
    if not names:
        raise UnusableList(say("names.none", path=path))
    return names
