"""Printing of results: JSON without NaN, and files that appear whole or not at all."""

import contextlib
import json
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any


def print_json(value: Any, *, one_line: bool = False) -> None:
    """Print a value as JSON at full double precision; a NaN in it is a fault of the program."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, indent=None if one_line else 2)
    print(text, flush=True)


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a temporary name beside `path`; when all went well it takes the place of `path` in one step."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def progress_wanted() -> bool:
    """Return whether long work should show its progress: only where a person looks at stderr."""
    return sys.stderr.isatty()
