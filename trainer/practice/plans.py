"""The plans that come with the program, and finding a plan by name or path."""

import difflib
import os
import re
from pathlib import Path

from trainer.practice.plan import Plan, UnusablePlan, load

PACKAGE = Path(__file__).resolve().parent.parent


def shipped_folder() -> Path:
    """Return the folder of shipped sessions: inside the installed package, or beside it in a checkout."""
    installed = PACKAGE / "_shipped" / "sessions"
    return installed if installed.is_dir() else PACKAGE.parent / "sessions"


def shipped() -> list[Plan]:
    """Return the shipped plans, in the order in which they are best taken."""
    return [load(path) for path in shipped_files().values()]


def shipped_files() -> dict[str, Path]:
    """Return the shipped plans' files by name; the number in front of a file's name only orders them."""
    files = sorted((shipped_folder() / "plans").glob("*.toml"))
    return {re.sub(r"^\d+-", "", path.stem): path for path in files}


def find(name_or_path: str) -> Plan:
    """Return the shipped plan of that name, or the plan in that file.

    Raise `UnusablePlan` if neither is there or the file is at fault.
    """
    files = shipped_files()
    if name_or_path in files:
        return load(files[name_or_path])
    path = Path(name_or_path)
    if path.suffix == ".toml" or os.path.isfile(path):  # noqa: PTH113 - is_file raises on overlong names
        return load(path)
    near = difflib.get_close_matches(name_or_path, files, 1)
    hint = f"did you mean {near[0]}?" if near else "`tenthwise plans list` shows those that are shipped"
    raise UnusablePlan(f"there is no plan {name_or_path!r}; {hint}")
