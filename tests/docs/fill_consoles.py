"""Write into the docs what their consoles print: `python tests/docs/fill_consoles.py [PAGE...]`.

A command whose printed lines hold `…` is left alone: somebody shortened it by hand. Look at the changes.
"""

import contextlib
import io
import os
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from snippets import PAGES, ROOT, Command, consoles, typed

WIDTH = "110"


def printed(command: Command) -> list[str]:
    """Run a command in the present folder and return its lines, what it complains of last."""
    from trainer.commands.main import main

    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        typed(command, main)
    return [line.rstrip() for line in (out.getvalue() + err.getvalue()).strip().splitlines()]


def fill(page: Path) -> None:
    """Write one page anew."""
    lines = page.read_text(encoding="utf-8").splitlines()
    found = [command for block in consoles(page) for command in block]
    shown = {command.line: printed(command) for command in found}
    for command in reversed(found):
        if any("…" in line for line in command.printed or ()):
            continue
        first = command.line + command.text_lines - 1
        lines[first : first + len(command.printed or ())] = shown[command.line]
    page.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main() -> None:
    """Fill the pages named, or all of them."""
    pages = [Path(word).resolve() for word in sys.argv[1:]] or [
        page
        for page in PAGES
        if consoles(page) and page.name != "DEVELOPERS.md"  # runs on a changed copy
    ]
    os.environ["COLUMNS"] = WIDTH
    for page in pages:
        with tempfile.TemporaryDirectory() as folder:
            os.environ["XDG_DATA_HOME"] = folder
            os.environ.pop("TENTHWISE_ARCHIVE", None)
            os.chdir(folder)
            Path("sessions").symlink_to(ROOT / "sessions")
            fill(page)
            os.chdir(ROOT)


if __name__ == "__main__":
    main()
