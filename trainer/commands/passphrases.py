"""Passphrases: from a prompt without echo, a file or the environment, never from an argument."""

import getpass
import os
import sys
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.instrument.given_file import some_bytes
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.signoff.keys import PrivateKey

LONGEST = 64 << 10  # bytes of a file with a passphrase
VARIABLE, NEW_VARIABLE = "TENTHWISE_PASSPHRASE", "TENTHWISE_NEW_PASSPHRASE"

AccountOption = Annotated[str, typer.Option("--as", metavar="ACCOUNT", help="The account that acts.")]
KeyFileOption = Annotated[
    Path | None, typer.Option("--key-file", metavar="FILE", help="The account's key file.")
]
PassphraseFile = Annotated[
    Path | None,
    typer.Option(
        "--passphrase-file", metavar="FILE", help=f"Its first line; else ${VARIABLE}, else asked for."
    ),
]
NewPassphraseFile = Annotated[
    Path | None,
    typer.Option(
        "--new-passphrase-file",
        metavar="FILE",
        help=f"The new key's passphrase: first line; else ${NEW_VARIABLE}, else asked for.",
    ),
]


def passphrase(file: Path | None, *, new: bool = False, whose: str = "", sealing: bool = False) -> str:
    """Return a passphrase; raise `Refusal` when there is none to be had.

    A `new` one is typed twice and has a variable of its own, beside that of the account which acts; one for
    `sealing` a file has not, since no account acts.
    """
    if file is not None:
        try:
            lines = some_bytes(file, LONGEST)[:LONGEST].decode("utf-8").splitlines()
        except (OSError, UnicodeDecodeError) as fault:
            raise Refusal(f"{file}: the passphrase cannot be read: {fault}") from None
        return lines[0] if lines else ""
    own = new and not sealing
    given = os.environ.get(NEW_VARIABLE if own else VARIABLE)
    if given is not None:
        return given
    words = f"New passphrase for {whose}" if new else f"Passphrase of {whose}"
    return _asked(words, "--new-passphrase-file" if own else "--passphrase-file", own=own, twice=new)


def _asked(words: str, option: str, *, own: bool, twice: bool) -> str:
    """Ask for a passphrase without echo; raise `Refusal` where there is no terminal that can hide it."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", getpass.GetPassWarning)
        try:
            return str(typer.prompt(words, hide_input=True, confirmation_prompt=twice, err=True))
        except (getpass.GetPassWarning, typer.Abort):
            print(file=sys.stderr)  # the prompt stands there without an end of line
            variable = NEW_VARIABLE if own else VARIABLE
            raise Refusal(
                f"no passphrase was given; type it at a terminal, or use {option} or ${variable}"
            ) from None


def unlock(archive: "Archive", account: str, file: Path | None, phrase_file: Path | None) -> "PrivateKey":
    """Return the acting account's key."""
    from trainer.records import office

    return office.unlock(archive, account, passphrase(phrase_file, whose=account), file)
