"""Write docs/commands.md from the program's own help: `python tests/docs/make_commands.py`."""

import inspect
import textwrap
from pathlib import Path
from typing import Any

import typer.main

from trainer.commands.main import ABOUT, COMMANDS, app

PAGE = Path(__file__).resolve().parent.parent.parent / "docs" / "commands.md"
WIDTH = 104
HEAD = """# Commands

This page is made from the program's own help (`python tests/docs/make_commands.py`); a test keeps it current.

Exit codes: 0 done; 1 the answer is "no" or the data were refused, with one sentence on standard error; 2
wrong usage. `--archive` (or `TENTHWISE_ARCHIVE`) chooses the archive: a file, or a database address.
"""


def page() -> str:
    """Return the whole page."""
    program: Any = typer.main.get_command(app())
    parts = [HEAD, ABOUT.strip(), ""]
    for name in COMMANDS:
        parts += section(program.commands[name], name, 2)
    return "\n".join(parts).rstrip() + "\n"


def broken(text: str) -> str:
    """Return help, whose paragraphs are one line each, in lines of a page; an example is one line."""
    paragraphs = text.replace("\f", "").split("\n\n")
    return "\n\n".join(
        one if one.startswith("Example:") else textwrap.fill(one, WIDTH, break_on_hyphens=False)
        for one in paragraphs
    )


def section(command: Any, name: str, depth: int) -> list[str]:
    """Return the lines about one command, and about its own commands if it is a group."""
    lines = [f"{'#' * depth} {name}", "", broken(inspect.cleandoc(command.help or "")), ""]
    rows = [
        parameter(p)
        for p in command.params
        if p.name not in ("help", "install_completion", "show_completion")
    ]
    if rows:
        lines += ["| argument or option | meaning |", "|---|---|", *rows, ""]
    for sub in getattr(command, "commands", {}):
        lines += section(command.commands[sub], f"{name} {sub}", depth + 1)
    return lines


def parameter(p: Any) -> str:
    """Return one row of the table of arguments and options."""
    is_option = p.param_type_name == "option"
    spelt = ", ".join(f"`{o}`" for o in [*p.opts, *p.secondary_opts]) if is_option else f"`{p.name.upper()}`"
    default = p.default if not callable(p.default) else None
    shown = "" if default in (None, False, (), "") or not is_option else f" Default: {default}."
    needed = " Required." if p.required and is_option else ""
    about = (getattr(p, "help", "") or "").replace("|", "\\|")
    return f"| {spelt} | {about}{needed}{shown} |"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
