"""Where the keys of printed sheets are: in the archive, or in a file sealed under a passphrase."""

import json
import secrets
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.instrument import catalogue
from trainer.instrument.given_file import some_bytes
from trainer.practice.sheets import Sheet, UnusableSheet

if TYPE_CHECKING:
    from trainer.records.archive import Archive

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

    refuse_missing(path)
    try:
        raw = some_bytes(path, LARGEST_FILE)
        if len(raw) > LARGEST_FILE:
            raise ValueError
        text = raw.decode("utf-8")
    except ValueError:
        raise UnusableSealedFile(f"{path}: it is not a sealed file of {KIND}") from None
    return inside(opened(text, KIND, phrase, str(path)), str(path))


def inside(text: str, what: str) -> dict[str, dict[str, Any]]:
    """Return the keys in what was sealed, by the sheets' numbers; whoever has the passphrase wrote it."""
    try:
        return {str(key["number"]): dict(key) for key in json.loads(text)["sheets"]}
    except (ValueError, KeyError, TypeError, RecursionError):
        raise UnusableSheet(f"{what}: what is sealed in it are no keys of sheets; take a backup") from None


def refuse_missing(path: Path) -> None:
    """Raise `UnusableSheet` when a key file is not there, before its passphrase is asked for."""
    if not path.exists():
        raise UnusableSheet(
            f"{path}: there is no such key file; without it the sheet cannot be marked, "
            "so look for it in a backup or give out a fresh sheet"
        )


@dataclass(frozen=True, slots=True)
class Known:
    """The keys of the sheets that are to be marked; `sealed` tells that a key file was looked into too."""

    keys: Mapping[str, Mapping[str, Any]]
    sealed: bool

    def key_of(self, number: str) -> dict[str, Any]:
        """Return a sheet's key; raise `UnusableSheet` when neither the archive nor the key file has it."""
        if number in self.keys:
            return dict(self.keys[number])
        where = "neither this archive nor the key file has" if self.sealed else "this archive has not"
        raise UnusableSheet(
            f"{where} the key of sheet {number}; name the archive it was made in, or its --key-file"
        )


def known(
    archive: "Archive", numbers: Collection[str], sealed_keys: Mapping[str, Mapping[str, Any]] | None
) -> Known:
    """Return the keys of these sheets, those in a key file before those in the archive."""
    from trainer.records import sheets as kept

    left = [number for number in numbers if not sealed_keys or number not in sealed_keys]
    found = kept.find_all(archive, left) if left else {}
    return Known({**found, **(sealed_keys or {})}, sealed_keys is not None)


def sheet_of(key: Mapping[str, Any]) -> Sheet:
    """Return the sheet that a key describes."""
    try:
        if key["instrument"] not in catalogue.names():
            raise ValueError
        return Sheet.from_dict(key)
    except (KeyError, TypeError, ValueError, AttributeError):
        raise UnusableSheet("the key of this sheet is not whole; give out a fresh sheet") from None
