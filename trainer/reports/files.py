"""Report files that appear whole or not at all."""

import contextlib
import os
import tempfile
from pathlib import Path

from trainer.instrument.refusal import Refusal


class UnusableReport(Refusal):
    """A report cannot be made as asked."""


def write_whole(path: Path, content: bytes) -> Path:
    """Write a file under a temporary name beside `path` and put it in place in one step; return `path`.

    Raises OSError where the folder is missing or cannot be written to.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        temporary.chmod(0o644)  # a temporary file is private; a report is made to be handed on
        temporary.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise
    return path
