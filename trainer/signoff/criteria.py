"""The criteria that come with the program, and finding a criterion by name or path."""

import difflib
import re
from pathlib import Path

from trainer.signoff.criterion import Criterion, UnusableCriterion, load

PACKAGE = Path(__file__).resolve().parent.parent


def shipped_folder() -> Path:
    """Return the folder of shipped criteria: inside the installed package, or beside it in a checkout."""
    installed = PACKAGE / "_shipped" / "sessions"
    return (installed if installed.is_dir() else PACKAGE.parent / "sessions") / "criteria"


def shipped_files() -> dict[str, Path]:
    """Return the shipped criteria's files by name; the number in front of a file's name only orders them."""
    return {re.sub(r"^\d+-", "", path.stem): path for path in sorted(shipped_folder().glob("*.toml"))}


def shipped() -> list[Criterion]:
    """Return the shipped criteria, first level first."""
    return [load(path) for path in shipped_files().values()]


def find(name_or_path: str) -> Criterion:
    """Return the shipped criterion of that name, or the one in that file; raise `UnusableCriterion`."""
    files = shipped_files()
    if name_or_path in files:
        return load(files[name_or_path])
    path = Path(name_or_path)
    if path.suffix == ".toml" or path.is_file():
        return load(path)
    near = difflib.get_close_matches(name_or_path, files, 1)
    hint = f"did you mean {near[0]}?" if near else f"the shipped ones are {', '.join(files)}"
    raise UnusableCriterion(f"there is no criterion {name_or_path!r}; {hint}")
