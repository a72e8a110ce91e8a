"""Which command asks for an account, and asking for it. Drilling, own results and scoring never ask."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.passphrases import unlock
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.records.archive import Archive

# command: the act of `trainer.signoff.roles` that it is; in an archive with accounts it takes a role that may
ASKS = {
    "people add": "add a person",
    "people import-list": "add a person",
    "people rename": "rename a person",
    "people archive-person": "put a person away",
    "people pseudonymise": "pseudonymise a person",
    "people dossier": "export personal data",
    "export": "export personal data",
    "archive backup": "back up the archive",
    "archive move": "move the archive",
}

ActingOption = Annotated[
    str | None,
    typer.Option("--as", metavar="ACCOUNT", help="The account that acts, where the archive has accounts."),
]


def permitted(
    archive: "Archive", command: str, account: str | None, key_file: Path | None, phrase_file: Path | None
) -> str:
    """Return who acts, for the log: the account, or "" in an archive without accounts.

    Raise `NotAllowed` where the archive has accounts and none, or one without the role, is named.
    """
    from trainer.records import permits

    act = ASKS[command]
    if permits.is_open(archive):
        if account is not None and not archive.read_only:
            raise Refusal(f"this archive has no accounts, so {account!r} cannot act in it; leave --as out")
        return ""
    if account is None:
        permits.refuse_without_account(archive, act)
        return ""
    return permits.permit(archive, act, account, unlock(archive, account, key_file, phrase_file))
