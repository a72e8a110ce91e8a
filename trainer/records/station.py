"""Which station this is: a code of its own, kept in the user's data folder, that names its chain of acts."""

import json
import os
import re
from pathlib import Path

from trainer.records.place import user_folder
from trainer.records.refusals import UnusableArchive

VARIABLE = "TENTHWISE_STATION"
FILE_NAME = "station.json"
CODE = re.compile(r"[0-9A-HJKMNP-TV-Z]{8}")


def code(folder: Path | None = None) -> str:
    """Return this station's code, made and written down at first use.

    A station that is set up anew gets a new code, and with it a new chain, so its acts can never be taken
    for those of its former self.
    """
    named = os.environ.get(VARIABLE)
    if named:
        return _checked(named, f"the environment variable {VARIABLE}")
    path = (folder or user_folder()) / FILE_NAME
    try:
        return _checked(json.loads(path.read_text(encoding="utf-8"))["station"], str(path))
    except FileNotFoundError:
        return _make(path)
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as fault:
        if isinstance(fault, UnusableArchive):
            raise
        raise UnusableArchive(
            f"{path}: the station's code cannot be read; remove the file to get a new one"
        ) from fault


def _checked(found: object, where: str) -> str:
    if not isinstance(found, str) or not CODE.fullmatch(found):
        raise UnusableArchive(f"{where}: {found!r} is not a station's code (eight letters or digits)")
    return found


def _make(path: Path) -> str:
    from trainer.records.upgrade import new_code

    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    made = new_code()
    temporary = path.with_name(f".{path.name}.{made}")
    try:
        with temporary.open("w", encoding="utf-8") as file:
            json.dump({"station": made}, file)
            file.flush()
            os.fsync(file.fileno())
        try:
            os.link(temporary, path)  # whole from its first moment on, and never in place of another
        except FileExistsError:  # another window of this station was first
            return code(path.parent)
        except OSError:  # a drive without links
            temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)
    return made
