"""What the docs tell people to type or to write, taken out of their pages.

Two places: fenced blocks, each with a language (an indented block is none, a test says so), and code in
backticks in a text. In a `console` block lines that begin with `$ ` are commands, the others what they print;
the lines of an `sh` block are commands alone.
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
HOMES = ("docs", "sessions", "packaging", "trainer", "tests")
PAGES = sorted([*ROOT.glob("*.md"), *(page for home in HOMES for page in (ROOT / home).rglob("*.md"))])
GENERATED = (  # from the program by scripts beside this one; tests keep them current
    "docs/columns.md",
    "docs/commands.md",
    "docs/json.md",
    "docs/methods/published-values.md",
)
PROGRAM = "tenthwise"


@dataclass(frozen=True)
class Block:
    """A fenced block: where it begins, its language, and its text."""

    page: Path
    line: int
    language: str
    text: str

    def __str__(self) -> str:
        return f"{self.page.relative_to(ROOT).as_posix()}:{self.line}"


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


def named(page: Path) -> str:
    """Return a page's name as it stands in the repository."""
    return page.relative_to(ROOT).as_posix()


def blocks(page: Path) -> list[Block]:
    """Return the fenced blocks of a page, in order."""
    found: list[Block] = []
    lines = page.read_text(encoding="utf-8").splitlines()
    at = 0
    while at < len(lines):
        if not lines[at].startswith("```"):
            at += 1
            continue
        end = lines.index("```", at + 1)
        text = "".join(f"{line}\n" for line in lines[at + 1 : end])
        found.append(Block(page, at + 1, lines[at].removeprefix("```").strip(), text))
        at = end + 1
    return found


def prose(page: Path) -> str:
    """Return a page's text with its fenced blocks blanked, line by line as it stands."""
    text, fenced = [], False
    for line in page.read_text(encoding="utf-8").splitlines():
        inside = fenced or line.startswith("```")
        fenced = not fenced if line.startswith("```") else fenced
        text.append("" if inside else line)
    return "\n".join(text) + "\n"


def spans(page: Path) -> list[Command]:
    """Return what stands in backticks in the texts of a page, also where it goes over a line's end."""
    text, found = prose(page), []
    for one in re.finditer(r"`((?:[^`\n]|\n(?!\n))+)`", text):
        line = text.count("\n", 0, one.start()) + 1
        found.append(Command(page, line, " ".join(one[1].split())))
    return found


def consoles(page: Path) -> list[list[Command]]:
    """Return the commands of each console block of a page."""
    return [
        _console(page, block.text.splitlines(), block.line)
        for block in blocks(page)
        if block.language == "console"
    ]


def _console(page: Path, lines: list[str], above: int) -> list[Command]:
    found: list[Command] = []
    heads = [n for n, line in enumerate(lines) if line.startswith("$ ")]
    for head, after in zip(heads, [*heads[1:], len(lines)], strict=True):
        text, first = lines[head][2:], head + 1
        while text.endswith("\\"):
            text, first = text[:-1] + lines[first].strip(), first + 1
        found.append(Command(page, above + head + 1, text, tuple(lines[first:after]), first - head))
    return found


def shell_lines(block: Block) -> list[Command]:
    """Return the commands of an `sh` block, without their comments, those joined by `&&` one by one."""
    found: list[Command] = []
    for number, line in enumerate(block.text.splitlines(), start=block.line + 1):
        plain = re.sub(r"\s{2,}# .*$", "", line).strip()
        found += [Command(block.page, number, part.strip()) for part in plain.split(" && ") if part]
    return found


def examples() -> list[Command]:
    """Return the examples that the program's own help gives, as they stand on the page of commands."""
    page = ROOT / "docs" / "commands.md"
    lines = enumerate(page.read_text(encoding="utf-8").splitlines(), start=1)
    return [
        Command(page, n, line.removeprefix("Example: ")) for n, line in lines if line.startswith("Example: ")
    ]


def is_script(block: Block) -> bool:
    """Return whether an `sh` block only makes sense as a whole."""
    return "<<" in block.text


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
    """Return the program's commands in `sh` blocks and in backticks; the latter may be given in part."""
    lines = [
        line
        for block in blocks(page)
        if block.language == "sh" and not is_script(block)
        for line in shell_lines(block)
    ]
    return [one for one in (*lines, *spans(page)) if re.match(rf"{PROGRAM} [a-z-]", one.text)]
