"""The canonical bytes of a record, and the digests that the integrity chain is made of.

The rules are written for a reader with other tools in `docs/files.md`.
"""

import hashlib
import json
import math
from collections.abc import Callable, Mapping
from typing import Any

from trainer.records.refusals import UnusableRecord

LARGEST = 1e12  # tenths, or seconds: far beyond any instrument, and safe to add and to square
FIRST = bytes(32)  # stands for the hash before a chain's first act


def canonical_text(value: Any) -> str:
    """Return a value as JSON with sorted keys, no white space, and no escapes beyond those JSON asks for.

    Numbers are written as the shortest decimal that gives the same double (Python's `repr`).
    Raises `UnusableRecord` for NaN, infinity, and anything that JSON does not know.

    >>> canonical_text({"b": [1, 2.50], "a": "µ"})
    '{"a":"µ","b":[1,2.5]}'
    """
    try:
        return json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))
    except (TypeError, ValueError) as fault:
        raise UnusableRecord(f"a record holds a value that cannot be kept as JSON: {fault}") from fault


def digest(value: Mapping[str, Any]) -> bytes:
    """Return the SHA-256 of a value's canonical bytes, 32 bytes."""
    return hashlib.sha256(canonical_text(value).encode("utf-8")).digest()


def as_bytes(value: Any) -> bytes | None:
    """Return a byte string as a database gave it; what is none, in a tampered archive, as its beginning.

    `bytes` of a whole number would be that many zeros, which may be more than there is memory.
    """
    if value is None or type(value) is bytes:
        return value
    return bytes(value) if isinstance(value, bytearray | memoryview) else repr(value)[:40].encode()


def holds(expected: bytes | None, digest_of: Callable[[], bytes]) -> bool:
    """Return whether a record still has the digest expected; one that has no canonical bytes has not."""
    try:
        return digest_of() == expected
    except (ValueError, TypeError, KeyError):  # a Refusal is a ValueError, and so is JSON that is none
        return False


def act_hash(before: bytes, act: Mapping[str, Any]) -> bytes:
    """Return the hash of an act that follows the act whose hash is `before`: SHA-256 of both together."""
    return hashlib.sha256(before + canonical_text(act).encode("utf-8")).digest()


def number(value: Any, field: str) -> float:
    """Return a finite float that every engine gives back unchanged (minus zero becomes zero)."""
    try:
        result = float(value) + 0.0
    except (TypeError, ValueError) as fault:
        raise UnusableRecord(f"{field} is {value!r}; a number is needed") from fault
    if not math.isfinite(result):
        raise UnusableRecord(f"{field} is {value!r}; a finite number is needed")
    if abs(result) > LARGEST:
        raise UnusableRecord(f"{field} is {value!r}, which no scale can show; look for a mistyped number")
    return result


def plain_text(value: Any) -> str:
    """Return text that every engine can store: characters that none can are shown as U+FFFD.

    >>> plain_text("7.3\\x00")
    '7.3\ufffd'
    """
    text = str(value)
    if "\x00" in text or any(0xD800 <= ord(character) <= 0xDFFF for character in text):
        return "".join("\ufffd" if c == "\x00" or 0xD800 <= ord(c) <= 0xDFFF else c for c in text)
    return text
