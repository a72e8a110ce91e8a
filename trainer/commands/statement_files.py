"""A statement's files: the JSON that is signed, and the page that shows it."""

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from trainer.commands.output import whole_file
from trainer.desktop.words import say
from trainer.instrument.refusal import Refusal


def writable(folder: str) -> Path:
    """Return a folder that can be written to, made where it was not there."""
    into = Path(folder.strip().strip('"')).expanduser()
    if not folder.strip():
        raise Refusal(say("files.no-folder"))
    try:
        into.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=into):
            pass
    except OSError as fault:
        raise Refusal(say("files.unwritable", path=into, why=fault.strerror or fault)) from None
    return into


def text_of(document: Mapping[str, Any]) -> str:
    """Return a statement as the text of its file."""
    return json.dumps(dict(document), ensure_ascii=False, indent=1) + "\n"


def written(document: dict[str, Any], into: Path) -> tuple[str, ...]:
    """Write a statement into a folder as JSON and PDF; return the files' paths."""
    from trainer.reports.certificate import write

    body = document["body"]
    name = "".join(c if c.isalnum() else "-" for c in str(body["person"]["name"]))[:60]
    path = into / f"statement-{name}-{body['id']}.json"
    with whole_file(path) as temporary:
        temporary.write_text(text_of(document), encoding="utf-8")
    page = path.with_suffix(".pdf")
    write(page, document)
    return str(path), str(page)
