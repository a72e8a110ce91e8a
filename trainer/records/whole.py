"""Files of the archive's room that appear whole or not at all, and are on disk when they are there."""

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

from trainer.instrument import whole_file as plainly
from trainer.records.faults import refusal_for


@contextlib.contextmanager
def whole_file(path: str | os.PathLike[str], *, private: bool = True) -> Iterator[Path]:
    """Give a temporary name beside `path`; when all went well it is put on disk and takes `path`'s place.

    Where it is `private`, only its owner may read it, until then and after. Raises `UnusableArchive` or a
    subclass for what the disk refuses; nothing is left behind then.
    """
    wanted = Path(path)
    left: list[Path] = []  # by SQLite, where it was stopped
    try:
        with plainly.whole_file(wanted, private=private) as temporary:
            left = [temporary.with_name(temporary.name + end) for end in ("-journal", "-wal", "-shm")]
            yield temporary
            _put_on_disk(temporary, os.O_RDWR)
        with contextlib.suppress(OSError):  # the name as well, on systems and drives where that can be asked
            _put_on_disk(wanted.parent, os.O_RDONLY)
    except OSError as fault:
        raise refusal_for(fault, str(wanted)) from fault
    finally:
        for one in left:
            with contextlib.suppress(OSError):
                one.unlink(missing_ok=True)


def _put_on_disk(path: Path, flags: int) -> None:
    handle = os.open(path, flags)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
