"""What the docs tell people to type, taken out of their pages.

Three forms: a fenced `console` block, whose lines beginning with `$ ` are commands and whose other lines are
what they print; an indented line that begins with `tenthwise `; and `tenthwise …` in backticks in a text.
"""

import io
import os
import re
import shlex
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).resolve().parent.parent.parent
PAGES = sorted([*ROOT.glob("docs/**/*.md"), ROOT / "README.md", ROOT / "DEVELOPERS.md"])
PROGRAM = "tenthwise"


@dataclass(frozen=True)
class Command:
    """A command line on a page, and what the page says that it prints (None where it does not say)."""

    page: Path
    line: int
    text: str
    printed: tuple[str, ...] | None = None
    text_lines: int = 1

    @property
    def words(self) -> list[str]:
        """Return the words after the program's name, without comment and redirection."""
        words = shlex.split(self.text, comments=True)[1:]
        return words[: words.index("<")] if "<" in words else words

    @property
    def fed_from(self) -> str | None:
        """Return the file that is fed to the command, if any."""
        words = shlex.split(self.text, comments=True)
        return words[words.index("<") + 1] if "<" in words else None

    def __str__(self) -> str:
        return f"{self.page.relative_to(ROOT)}:{self.line}"


def consoles(page: Path) -> list[list[Command]]:
    """Return the commands of each console block of a page."""
    blocks: list[list[Command]] = []
    lines = page.read_text(encoding="utf-8").splitlines()
    at = 0
    while at < len(lines):
        if lines[at].strip() != "```console":
            at += 1
            continue
        end = lines.index("```", at + 1)
        blocks.append(_block(page, lines, at + 1, end))
        at = end + 1
    return blocks


def _block(page: Path, lines: list[str], start: int, end: int) -> list[Command]:
    found: list[Command] = []
    heads = [n for n in range(start, end) if lines[n].startswith("$ ")]
    for head, after in zip(heads, [*heads[1:], end], strict=True):
        text, first = lines[head][2:], head + 1
        while text.endswith("\\"):
            text, first = text[:-1] + lines[first].strip(), first + 1
        found.append(Command(page, head + 1, text, tuple(lines[first:after]), first - head))
    return found


def typed(command: Command, main: Callable[[list[str]], int]) -> int:
    """Do what a line of a console says, by calling the program's `main`, and return its exit code.

    Besides the program, `export NAME=VALUE` is understood.
    """
    if command.text.startswith("export "):
        name, _, value = command.text.removeprefix("export ").partition("=")
        os.environ[name] = value
        return 0
    fed = Path(command.fed_from).read_text(encoding="utf-8") if command.fed_from else ""
    with mock.patch.object(sys, "stdin", io.StringIO(fed)):
        return main(command.words)


def mentioned(page: Path) -> list[Command]:
    """Return the commands of indented lines and of backticks; the latter may be given in part."""
    found = []
    fenced = False
    for number, line in enumerate(page.read_text(encoding="utf-8").splitlines(), start=1):
        if line.startswith("```"):
            fenced = not fenced
        elif fenced:
            continue
        elif re.match(rf"( {{4}}|\t){PROGRAM} ", line):
            found.append(Command(page, number, line.strip()))
        else:
            found += [Command(page, number, text) for text in re.findall(rf"`({PROGRAM} [a-z][^`]*)`", line)]
    return found
