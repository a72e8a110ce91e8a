"""Lines from the terminal with the moment of their first key, so that a display's typing can be told.

A digital display that types its value sends all characters within milliseconds; fingers do not.
"""

import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TextIO


@dataclass(frozen=True, slots=True)
class Line:
    """One entered line; `began_at_s` is its first key's moment (None where keys cannot be seen)."""

    text: str
    began_at_s: float | None
    at_s: float


def read_line(source: TextIO | None = None, clock: Callable[[], float] = time.monotonic) -> Line | None:
    """Return the next line, or None at the end of input."""
    stream = sys.stdin if source is None else source
    if stream.isatty() and os.name == "posix":
        return _keys(stream, clock)
    text = stream.readline()
    return Line(text.strip("\r\n"), None, clock()) if text else None


def _keys(stream: TextIO, clock: Callable[[], float]) -> Line | None:
    """Read key by key from a terminal, echoing what is typed."""
    import termios
    import tty

    descriptor = stream.fileno()
    before = termios.tcgetattr(descriptor)
    typed, began_at_s = b"", None
    try:
        tty.setcbreak(descriptor)
        while True:
            key = os.read(descriptor, 1)
            began_at_s = clock() if began_at_s is None else began_at_s
            if key in (b"\n", b"\r"):
                _echo(b"\n")
                return Line(typed.decode("utf-8", "replace"), began_at_s, clock())
            if key in (b"", b"\x04") and not typed:  # end of input
                return None
            if key in (b"\x7f", b"\x08"):
                shorter = typed.decode("utf-8", "ignore")[:-1].encode()
                _echo(b"\b \b" if shorter != typed else b"")
                typed = shorter
            elif key >= b" ":
                typed += key
                _echo(key)
    finally:
        termios.tcsetattr(descriptor, termios.TCSADRAIN, before)


def _echo(text: bytes) -> None:
    os.write(sys.stdout.fileno(), text)
