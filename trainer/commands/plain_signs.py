"""Signs that a terminal's encoding lacks, told in plain ones: on Windows a file is seldom UTF-8."""

import codecs
import contextlib
import sys
from typing import TextIO

PLAIN = {
    "−": "-", "–": "-", "…": "...", "≤": "<=", "≥": ">=", "±": "+/-", "×": "x", "²": "2", "µ": "u", "μ": "u",
    "″": "in", "—": "-", "°": " deg", "\N{NO-BREAK SPACE}": " ", "’": "'", "“": '"', "”": '"', "→": "->",
    "α": "alpha", "κ": "kappa",
}  # fmt: skip
HANDLER = "tenthwise-plain"


def put_plainly(fault: UnicodeError) -> tuple[str, int]:
    """Return plain signs for what an encoding lacks; a letter of a name that it lacks becomes `?`.

    >>> codecs.register_error(HANDLER, put_plainly)
    >>> "−0.3 ≤ 0.5 µm".encode("ascii", HANDLER)
    b'-0.3 <= 0.5 um'
    """
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    lacking = fault.object[fault.start : fault.end]
    return "".join(PLAIN.get(sign, "?") for sign in lacking), fault.end


def make_printable() -> None:
    """Let what is printed never fail over a sign that the encoding of the terminal or file lacks."""
    codecs.register_error(HANDLER, put_plainly)
    for stream in (sys.stdout, sys.stderr):
        if not holds_everything(stream) and hasattr(stream, "reconfigure"):
            with contextlib.suppress(OSError, ValueError):  # it is closed
                stream.reconfigure(errors=HANDLER)


def holds_everything(stream: TextIO | None) -> bool:
    """Return whether a stream is in an encoding that has every sign."""
    name = getattr(stream, "encoding", None) or "utf-8"
    return name.lower().replace("_", "-").startswith(("utf-", "utf8"))
