"""Files that somebody gave: read no further than such a file can be long, and TOML that cannot harm."""

import tomllib
from pathlib import Path
from typing import Any


def some_bytes(path: Path, most: int) -> bytes:
    """Return a file's bytes, at most `most` and one more, which tells that it is too long. Raises OSError."""
    with path.open("rb") as file:
        return file.read(most + 1)


def toml(text: str) -> dict[str, Any]:
    """Return the values in a TOML text; raise `tomllib.TOMLDecodeError` for whatever is wrong with it.

    The standard reader has other words for numbers of thousands of digits and for brackets nested deep.

    >>> toml("a = " + "[" * 5000)
    Traceback (most recent call last):
    tomllib.TOMLDecodeError: brackets are nested too deep
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except RecursionError:
        raise tomllib.TOMLDecodeError("brackets are nested too deep") from None
    except ValueError as fault:
        raise tomllib.TOMLDecodeError(str(fault).partition(";")[0]) from None
