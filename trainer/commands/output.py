"""Printing of results: JSON without NaN, and the door to files that appear whole or not at all."""

import json
import sys
from typing import Any

from trainer.instrument.whole_file import whole_file as whole_file


def print_json(value: Any, *, one_line: bool = False) -> None:
    """Print a value as JSON at full double precision; a NaN in it is a fault of the program."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, indent=None if one_line else 2)
    print(text, flush=True)


def progress_wanted() -> bool:
    """Return whether long work should show its progress: only where a person looks at stderr."""
    return sys.stderr.isatty()
