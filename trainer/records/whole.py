"""Files that appear whole or not at all."""

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path

from trainer.records.faults import refusal_for


@contextlib.contextmanager
def whole_file(path: str | os.PathLike[str]) -> Iterator[Path]:
    """Give a temporary name beside `path`; when all went well it is put on disk and takes `path`'s place.

    Only its owner may read it until then and after. Raises `UnusableArchive` or a subclass for what the
    disk refuses; nothing is left behind then.
    """
    wanted = Path(path)
    temporary = wanted.with_name(f".{wanted.name[:100]}.{secrets.token_hex(4)}")
    try:
        os.close(os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        yield temporary
        _put_on_disk(temporary)
        temporary.replace(wanted)
    except OSError as fault:
        raise refusal_for(fault, str(wanted)) from fault
    finally:
        for beside in ("", "-journal", "-wal", "-shm"):  # what SQLite leaves where it was stopped
            with contextlib.suppress(OSError):
                temporary.with_name(temporary.name + beside).unlink(missing_ok=True)


def _put_on_disk(path: Path) -> None:
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
