"""Files that somebody gave: read no further than such a file can be long, and TOML that cannot harm."""

import tomllib
from pathlib import Path
from typing import Any

MOST_DOTS = 500  # on a line: the standard reader's time grows with the square of a dotted key's parts


def some_bytes(path: Path, most: int) -> bytes:
    """Return a file's bytes, at most `most` and one more, which tells that it is too long. Raises OSError."""
    with path.open("rb") as file:
        return file.read(most + 1)


def toml(text: str) -> dict[str, Any]:
    """Return the values in a TOML text; raise `tomllib.TOMLDecodeError` for whatever is wrong with it.

    The standard reader has other words for numbers of thousands of digits and for brackets nested deep, and
    takes whole numbers beyond 64 bits, which TOML 1.0.0 ("Integer") bids to refuse.

    >>> toml("a = " + "[" * 5000)
    Traceback (most recent call last):
    tomllib.TOMLDecodeError: brackets are nested too deep
    """
    if any(line.count(".") > MOST_DOTS for line in text.split("\n")):
        raise tomllib.TOMLDecodeError(f"a line has more than {MOST_DOTS} dots")
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except RecursionError:
        raise tomllib.TOMLDecodeError("brackets are nested too deep") from None
    except ValueError as fault:
        raise tomllib.TOMLDecodeError(str(fault).partition(";")[0]) from None
    left: list[Any] = [values]
    while left:  # not by recursion: dotted keys nest as deep as they like
        one = left.pop()
        if isinstance(one, int) and not -(2**63) <= one < 2**63:
            raise tomllib.TOMLDecodeError("a whole number is larger than 64 bits hold")
        left += one.values() if isinstance(one, dict) else one if isinstance(one, list) else ()
    return values
