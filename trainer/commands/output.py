"""Results printed and options read: JSON without NaN, counts in words, and the door to whole files."""

import contextlib
import json
import math
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from trainer.commands.plain_signs import holds_everything
from trainer.instrument.refusal import Refusal
from trainer.instrument.whole_file import whole_file as whole_file
from trainer.practice.wording import listed


def print_json(value: Any, *, one_line: bool = False) -> None:
    """Print a value as JSON at full double precision; a NaN in it is a fault of the program.

    Where standard output is not in UTF-8, which JSON asks for (RFC 8259, 8.1), it is ASCII with escapes.
    """
    ascii_only = not holds_everything(sys.stdout)
    text = json.dumps(value, ensure_ascii=ascii_only, allow_nan=False, indent=None if one_line else 2)
    print(text, flush=True)


def tell_written(*files: Path | str) -> None:
    """Say which files were written, on stderr: standard output is for results."""
    print(f"written: {', '.join(map(str, files))}", file=sys.stderr)


def progress_wanted() -> bool:
    """Return whether long work should show its progress: only where a person looks at stderr."""
    return sys.stderr.isatty()


def as_typed(path: Path) -> str:
    """Return a path as it is typed into a command: in quotes where it has a space.

    >>> as_typed(Path("a/b.toml")), as_typed(Path("my plans/b.toml"))
    ('a/b.toml', '"my plans/b.toml"')
    """
    return f'"{path}"' if " " in str(path) else str(path)


@contextlib.contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """Yield what shows how far long work is, on one line of stderr that is wiped when the work is over."""
    longest = 0

    def told(text: str) -> None:
        nonlocal longest
        longest = max(longest, len(text))
        print(f"\r{text:<{longest}}", end="", file=sys.stderr, flush=True)

    try:
        yield told if progress_wanted() else lambda text: None
    finally:
        if longest:
            print(f"\r{'':<{longest}}\r", end="", file=sys.stderr, flush=True)


def counted(count: int, one: str, several: str | None = None) -> str:
    """Return a number of things in words.

    >>> counted(1, "person", "people"), counted(3, "answer")
    ('1 person', '3 answers')
    """
    return f"{count} {one if count == 1 else several or one + 's'}"


def told_counts(counts: Mapping[str, int]) -> str:
    """Return counts by name (sessions, people, ...) in words, one of a kind in the singular.

    >>> told_counts({"acts": 1, "people": 1, "answers": 20})
    '1 act, 1 person, 20 answers'
    """
    ones = {"people": "person", "tallies": "tally"}
    return ", ".join(counted(n, ones.get(name, name.removesuffix("s")), name) for name, n in counts.items())


def typed_number(text: str, option: str, least: float = -math.inf, most: float = math.inf) -> float:
    """Return the number typed to an option, with a decimal point or comma; raise a Refusal for what is none.

    >>> typed_number("0,1", "--drift", 0, 2)
    0.1
    """
    from trainer.instrument.typed import UnreadableAnswer, number

    try:
        value = float(number(text))
    except UnreadableAnswer as fault:
        raise Refusal(f"{option}: {fault}") from None
    if not least <= value <= most:
        raise Refusal(f"{option} is {text}; it goes from {least:g} to {most:g}")
    return value


def typed_size(text: str, option: str) -> tuple[int, int]:
    """Return a picture's width and height in pixels as typed to an option.

    >>> typed_size("1280 x 720", "--size")
    (1280, 720)
    """
    from trainer.drawing.viewing import checked_size

    match = re.fullmatch(r"\s*([0-9]{1,6})\s*[xX×]\s*([0-9]{1,6})\s*", text)
    if match is None:
        raise Refusal(f"{option} is {text!r}; give width and height in pixels, such as 1280x720")
    return checked_size((int(match[1]), int(match[2])))


def refuse_ending(path: Path | None, endings: Iterable[str]) -> None:
    """Raise a Refusal for a file whose name does not end in one of those that can be written."""
    if path is not None and path.suffix.lower() not in (known := tuple(endings)):
        raise Refusal(f"{path}: the name must end in {listed(known, 'or')}, so that the form is clear")
