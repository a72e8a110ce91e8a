"""Files that appear whole or not at all: written under a temporary name beside their place, then renamed."""

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def whole_file(path: Path, *, private: bool = False) -> Iterator[Path]:
    """Yield a temporary name beside `path`; when all went well it takes the place of `path` in one step.

    Whoever may read what this user writes may read the file; where it is `private`, its owner alone. Raises
    OSError where the folder is missing or cannot be written to.
    """
    try:
        temporary = _created(path, 0o600 if private else 0o666)
    except OSError as fault:  # told of the name asked for, not of the temporary one
        raise OSError(fault.errno, fault.strerror, str(path)) from None
    try:
        yield temporary
        temporary.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise


def _created(path: Path, mode: int) -> Path:
    """Return a new, empty file beside `path`; the system takes from `mode` what the user's mask takes."""
    while True:
        temporary = path.parent / f".{path.name[:60]}.{secrets.token_hex(4)}"
        with contextlib.suppress(FileExistsError):
            os.close(os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, mode))
            return temporary


def write_whole(path: Path, content: bytes) -> Path:
    """Write a file, such as a report to be handed on; return `path`.

    Raises OSError where the folder is missing or cannot be written to.
    """
    with whole_file(path) as temporary:
        temporary.write_bytes(content)
    return path
