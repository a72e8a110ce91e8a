"""A faulty file layer without a compiler: real writes of this process that the system refuses.

`no_longer_than` lets the system write a part of what it is given and refuse the rest (RLIMIT_FSIZE; POSIX,
setrlimit): short writes at any byte. `write_to` puts another file under the descriptors by which a file is
open, so that the writes of SQLite's own code meet /dev/full (ENOSPC) or a descriptor that may only be read
(EBADF, which SQLite takes as it takes EIO: https://www.sqlite.org/rescode.html#ioerr_write).
"""

import contextlib
import os
import struct
from collections.abc import Iterator
from pathlib import Path

try:
    import resource
except ImportError:  # not on Windows
    resource = None  # type: ignore[assignment]

POSIX = resource is not None
LINUX = Path("/proc/self/fd").is_dir() and Path("/dev/full").exists()


@contextlib.contextmanager
def no_longer_than(size: int) -> Iterator[None]:
    """Let no file of this process grow past a size, in bytes."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@contextlib.contextmanager
def write_to(path: Path, other: Path, flags: int) -> Iterator[int]:
    """Let what this process writes to an open file go to another one; give how many descriptors that are."""
    kept: list[tuple[int, int]] = []
    for one in list(Path("/proc/self/fd").iterdir()):
        with contextlib.suppress(OSError):  # the descriptor by which the folder itself was read
            if one.readlink() == path:
                kept.append((int(one.name), os.dup(int(one.name))))
    instead = os.open(other, flags)
    try:
        for descriptor, _ in kept:
            os.dup2(instead, descriptor)
        yield len(kept)
    finally:
        for descriptor, before in kept:
            os.dup2(before, descriptor)
            os.close(before)
        os.close(instead)


def frames(wal: bytes) -> list[int]:
    """Return where the header and each frame of a write-ahead log end (SQLite file format, section 4.1)."""
    page = struct.unpack(">I", wal[8:12])[0]
    return list(range(32, len(wal) + 1, 24 + page))
