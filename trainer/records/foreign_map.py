"""How a laboratory's own CSV is read, as a value."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import tzinfo

FIELDS = (
    "person", "truth", "answer", "error", "session", "item", "at", "date", "time", "seconds", "instrument",
    "drill", "conditions", "outcome", "typed",
)  # fmt: skip
UNITS = ("mm", "um", "in", "tenths")
Column = str | int


@dataclass(frozen=True, slots=True)
class ForeignMap:
    """How a laboratory's file is read; docs/files.md explains every field.

    `columns` gives for each of `FIELDS` the heading of a column, or its number from 1; `constants` what
    holds for the whole file; `words` what texts of a field mean here. `by` makes sessions of what shares
    these: "day", or headings.
    """

    columns: Mapping[str, Column]
    unit: str
    encoding: str | None = None
    delimiter: str | None = None
    quote: str = '"'
    decimal: str = "."
    skip_lines: int = 0
    comment: str | None = None
    header: bool = True
    date_format: str | None = None
    zone: tzinfo | None = None
    skipped: tuple[str, ...] = ("",)
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    constants: Mapping[str, str] = field(default_factory=dict)
    by: tuple[Column, ...] = ()
    prefix: str = ""
