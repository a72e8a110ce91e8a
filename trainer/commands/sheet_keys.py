"""Where the keys of printed sheets are: in the archive, or in a file sealed under a passphrase."""

import json
import os
import secrets
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from trainer.instrument.refusal import Refusal
from trainer.practice.sheets import Sheet, UnusableSheet

if TYPE_CHECKING:
    from trainer.records.archive import Archive

VARIABLE = "TENTHWISE_PASSPHRASE"
KIND = "keys of printed sheets"
LARGEST_FILE = 64 * 1024 * 1024  # bytes


def write(path: Path, keys: Sequence[Mapping[str, Any]], phrase: str) -> None:
    """Write the keys of sheets into a sealed file, whole or not at all; an older one is never replaced."""
    from trainer.records.whole import whole_file
    from trainer.signoff.sealing import sealed

    refuse_existing(path)
    text = sealed(json.dumps({"sheets": list(keys)}), KIND, phrase, random_bytes=secrets.token_bytes)
    with whole_file(path) as temporary:
        temporary.write_text(text, encoding="utf-8")


def refuse_existing(path: Path) -> None:
    """Raise `UnusableSheet` when a file is there that could hold the only keys of other sheets."""
    if path.exists():
        raise UnusableSheet(
            f"{path} is there already and may hold the keys of other sheets; name another file"
        )


def read(path: Path, phrase: str) -> dict[str, dict[str, Any]]:
    """Return the keys in a sealed file by the sheets' numbers."""
    from trainer.signoff.sealing import UnusableSealedFile, opened

    if not path.exists():
        raise UnusableSheet(
            f"{path}: there is no such key file; without it the sheet cannot be marked, "
            "so look for it in a backup or give out a fresh sheet"
        )
    raw = path.read_bytes()
    try:
        if len(raw) > LARGEST_FILE:
            raise ValueError
        text = raw.decode("utf-8")
    except ValueError:
        raise UnusableSealedFile(f"{path}: it is not a sealed file of {KIND}") from None
    found = json.loads(opened(text, KIND, phrase, str(path)))
    return {key["number"]: key for key in found["sheets"]}


def passphrase(path: Path, *, new: bool) -> str:
    """Return the passphrase of a key file, from the environment or a prompt without echo."""
    given = os.environ.get(VARIABLE)
    if given is not None:
        return given
    words = f"{'New passphrase' if new else 'Passphrase'} for {path.name}"
    try:
        return str(typer.prompt(words, hide_input=True, confirmation_prompt=new, err=True))
    except typer.Abort:
        raise Refusal(f"no passphrase was given; type it, or set {VARIABLE}") from None


def find(
    archive: "Archive", number: str, sealed_keys: Mapping[str, Mapping[str, Any]] | None
) -> dict[str, Any]:
    """Return a sheet's key; raise `UnusableSheet` when neither the archive nor the key file has it."""
    from trainer.records import sheets as kept

    key = dict(sealed_keys[number]) if sealed_keys and number in sealed_keys else kept.find(archive, number)
    if key is None:
        where = (
            "neither this archive nor the key file has" if sealed_keys is not None else "this archive has not"
        )
        raise UnusableSheet(
            f"{where} the key of sheet {number}; name the archive it was made in, or its --key-file"
        )
    return key


def sheet_of(key: Mapping[str, Any]) -> Sheet:
    """Return the sheet that a key describes."""
    try:
        return Sheet.from_dict(key)
    except (KeyError, TypeError):
        raise UnusableSheet("the key of this sheet is not whole; give out a fresh sheet") from None
