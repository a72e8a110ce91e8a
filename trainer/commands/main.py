"""The command line: finds the command, loads only its module, turns refusals into one sentence."""

import contextlib
import errno
import importlib
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainer import __version__
from trainer.commands.plain_signs import make_printable
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import typer

DONE, NO, WRONG_USAGE, INTERRUPTED = 0, 1, 2, 130
COMPLETION = "_TENTHWISE_COMPLETE"  # set by the shell's completion script (made by --install-completion)

# command: (module in trainer.commands, function or group in it)
COMMANDS: dict[str, tuple[str, str]] = {
    "drill": ("drill", "drill"),
    "demo": ("demo", "demo"),
    "draw": ("draw", "draw"),
    "score": ("score", "score"),
    "compare": ("compare", "compare"),
    "people": ("people", "people"),
    "plans": ("plans", "plans"),
    "export": ("export_", "export"),
    "import": ("import_", "import_"),
    "bench": ("bench", "bench"),
    "sheet": ("sheet", "sheet"),
    "mark": ("mark", "mark"),
    "quote": ("quote", "quote"),
    "budget": ("budget", "budget"),
    "report": ("report", "report"),
    "capability": ("capability", "capability"),
    "archive": ("archive", "archive"),
    "signoff": ("signoff", "signoff"),
    "verify": ("verify", "verify"),
}

ABOUT = """Train and measure the reading of a micrometer between its graduations.

Without a command the window opens. A screen score shows skill on a picture and must be confirmed on a
real instrument before it supports a release decision.
"""


def app(wanted: str | None = None) -> "typer.Typer":
    """Return the command line with one command loaded, or with all of them when none is named."""
    import typer

    program = typer.Typer(
        name="tenthwise",
        help=flowing(ABOUT),
        no_args_is_help=True,
        pretty_exceptions_enable=False,
        add_completion=True,
    )

    @program.callback()
    def options(
        version: bool = typer.Option(False, "--version", help="Print the version."),
    ) -> None:
        """Hold the options of the program itself; `--version` is answered before the commands are loaded."""

    for name in [wanted] if wanted in COMMANDS else COMMANDS:
        module, attribute = COMMANDS[name]
        command = getattr(importlib.import_module(f"trainer.commands.{module}"), attribute)
        if isinstance(command, typer.Typer):
            _let_flow(command)
            program.add_typer(command, name=name)
        else:
            program.command(name, help=flowing(command.__doc__ or ""))(command)
    return program


def _let_flow(group: "typer.Typer") -> None:
    """Let the terminal break the lines of the help of every command in a group."""
    for one in group.registered_commands:
        if one.callback is not None:
            one.help = flowing(one.callback.__doc__ or "")
    for inner in group.registered_groups:
        if inner.typer_instance is not None:
            _let_flow(inner.typer_instance)


def flowing(text: str) -> str:
    """Return help in paragraphs of one line each, broken by the terminal's width alone; an example is one.

    >>> flowing("Do it.\\n\\n    At once\\n    and well.\\n    Example: tenthwise it")
    'Do it.\\n\\nAt once and well.\\n\\nExample: tenthwise it'
    """
    apart = text.replace("\n    Example:", "\n\nExample:")
    return "\n\n".join(" ".join(one.split()) for one in apart.strip().split("\n\n"))


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 done, 1 "no" or refused, 2 wrong usage."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    make_printable()
    if given == ["--version"]:
        print(f"tenthwise {__version__}")
        return DONE
    try:
        if _opens_window(given) and COMPLETION not in os.environ:
            return _window(given)
        return _command(given)
    except Refusal as refusal:
        _say(str(refusal))
    except KeyboardInterrupt:
        _say("stopped; what was entered before is kept")
        return INTERRUPTED
    except BrokenPipeError:
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except OSError as fault:
        _say(_sentence(fault))
    except MemoryError:
        _say("there is not enough memory for this; use a smaller file or picture")
    return NO


def _opens_window(given: Sequence[str]) -> bool:
    """Return whether only the archive is named, if anything: then the window opens."""
    return not given or given[0].startswith("--archive")


def _window(given: Sequence[str]) -> int:
    from trainer.commands.window import open_window

    where = None
    if given:
        name, _, value = given[0].partition("=")
        rest = [*([value] if value else []), *given[1:]]
        if name != "--archive" or len(rest) != 1:
            print("usage: tenthwise [--archive URL-or-path]   or   tenthwise COMMAND --help", file=sys.stderr)
            return WRONG_USAGE
        where = rest[0]
    return open_window(where)


def _command(given: list[str]) -> int:
    import typer.main

    words = given or os.environ.get("COMP_WORDS", "").split()[1:]  # the latter when the shell completes
    command = typer.main.get_command(app(*words[:1]))
    try:
        command.main(args=given, prog_name="tenthwise")
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else DONE if leaving.code is None else NO
    return DONE


def _say(sentence: str) -> None:
    with contextlib.suppress(OSError):
        print(f"tenthwise: {sentence}", file=sys.stderr)


def _sentence(fault: OSError) -> str:
    """Return what an operating-system fault means for the person."""
    where = f"{fault.filename}: " if fault.filename else ""
    remedy = {
        errno.ENOSPC: "the disk is full; free some space and try again, nothing half-written is left",
        errno.EACCES: "access is denied; choose another place or ask for the right",
        errno.EROFS: "this place can only be read; choose another",
        errno.ENOENT: "there is no such file or folder; check the path",
        errno.EISDIR: "this is a folder; name a file",
        errno.ENOTDIR: "a part of this path is a file, not a folder; check the path",
    }.get(fault.errno or 0, f"{fault.strerror or fault}; check the path and the disk")
    return where + remedy


def run() -> None:
    """Run the program as the shell does."""
    sys.exit(main())
