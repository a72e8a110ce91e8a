"""The bytes that are signed: JSON in one canonical form, so that anyone with any tool gets the same bytes.

The form is that of RFC 8785 (JSON Canonicalization Scheme): keys sorted, no white space, UTF-8, escapes only
where JSON asks for them, numbers in their shortest form. To stay inside what every tool writes alike,
keys are ASCII, whole numbers are below 2**53, and other numbers are rounded to four decimals beforehand.
"""

import base64
import binascii
import json
import math
from typing import Any

from trainer.instrument.refusal import Refusal

DECIMALS = 4
LARGEST_WHOLE = 2**53  # RFC 8785, 3.2.2.3: what a double holds exactly


class UnusableDocument(Refusal):
    """A signed document, or what should become one, is not in the form that can be signed."""


def tidy(value: Any) -> Any:
    """Return a value with numbers rounded to four decimals, whole ones as integers, tuples as lists.

    Raise `UnusableDocument` for what cannot be written canonically.

    >>> tidy({"bias": 0.123456, "limit": 1.0, "none": None})
    {'bias': 0.1235, 'limit': 1, 'none': None}
    """
    match value:
        case None | bool():
            return value
        case str():
            return _text(value)
        case int():
            if abs(value) >= LARGEST_WHOLE:
                raise UnusableDocument(f"{value} is too large for a signed document; write it as text")
            return value
        case float():
            if not math.isfinite(value):
                raise UnusableDocument(f"{value} is no number for a signed document; leave it out")
            short = round(value, DECIMALS) + 0.0
            return tidy(int(short)) if short == int(short) else short
        case dict():
            if wrong := [key for key in value if not isinstance(key, str) or not key.isascii()]:
                raise UnusableDocument(f"the key {wrong[0]!r} of a signed document is not plain ASCII text")
            return {key: tidy(inner) for key, inner in value.items()}
        case list() | tuple():
            return [tidy(inner) for inner in value]
    raise UnusableDocument(f"{type(value).__name__} cannot be written into a signed document")


def canonical(value: Any) -> bytes:
    """Return the canonical bytes of a value that `tidy` leaves as it is; else raise `UnusableDocument`.

    >>> canonical({"b": [1, 2.5], "a": "µ"})
    b'{"a":"\\xc2\\xb5","b":[1,2.5]}'
    """
    try:
        if not _same(value, tidy(value)):
            raise UnusableDocument("the document holds numbers with more than four decimals; it was changed")
        text = json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))
    except RecursionError:
        raise UnusableDocument("the document is nested too deep to be one of this program") from None
    return text.encode("utf-8")


def parsed(text: str, what: str) -> dict[str, Any]:
    """Return the object in a JSON text; raise `UnusableDocument` for anything else and for repeated keys."""

    def unrepeated(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) != len(pairs):
            raise UnusableDocument(f"{what}: a key appears twice, so it could be read in two ways")
        return found

    try:
        value = json.loads(text, object_pairs_hook=unrepeated)
    except (ValueError, RecursionError) as fault:
        if isinstance(fault, UnusableDocument):
            raise
        raise UnusableDocument(f"{what}: it is not JSON: {fault}") from None
    if not isinstance(value, dict):
        raise UnusableDocument(f"{what}: it is not a JSON object")
    return value


def to_base64(raw: bytes) -> str:
    """Return bytes as base64 text."""
    return base64.b64encode(raw).decode("ascii")


def from_base64(text: Any, what: str, length: int | None = None) -> bytes:
    """Return the bytes of a base64 text; raise `UnusableDocument` when it is none or of another length."""
    try:
        raw = base64.b64decode(text, validate=True)
    except (TypeError, ValueError, binascii.Error):
        raise UnusableDocument(f"{what} is not base64 text") from None
    if to_base64(raw) != text:
        raise UnusableDocument(f"{what} is base64 text with loose bits at its end; it was changed")
    if length is not None and len(raw) != length:
        raise UnusableDocument(f"{what} has {len(raw)} bytes and should have {length}")
    return raw


def _text(value: str) -> str:
    if any(0xD800 <= ord(character) <= 0xDFFF for character in value):
        raise UnusableDocument("a text holds half of a character pair, which cannot be signed")
    return value


def _same(one: Any, other: Any) -> bool:
    """Return whether two values are alike, types included (1 and 1.0 are written differently)."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    return type(one) is type(other) and bool(one == other)
