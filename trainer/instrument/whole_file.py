"""Files that appear whole or not at all: written under a temporary name beside their place, then renamed."""

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a temporary name beside `path`; when all went well it takes the place of `path` in one step.

    Only the owner may read the file. Raises OSError where the folder is missing or cannot be written to.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name[:60]}.", dir=path.parent)
    except OSError as fault:  # told of the name asked for, not of the temporary one
        raise OSError(fault.errno, fault.strerror, str(path)) from None
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        temporary.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise


def write_whole(path: Path, content: bytes) -> Path:
    """Write a file that others may read too, such as a report to be handed on; return `path`.

    Raises OSError where the folder is missing or cannot be written to.
    """
    with whole_file(path) as temporary:
        temporary.write_bytes(content)
        temporary.chmod(0o644)
    return path
