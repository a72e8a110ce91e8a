"""`tenthwise signoff keys`: set-up, further accounts, rotate, revoke, recover, publish."""

import secrets
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import ArchiveOption, JsonOption, OutOption
from trainer.commands.output import print_json, tell_written, whole_file
from trainer.commands.passphrases import (
    AccountOption,
    KeyFileOption,
    NewPassphraseFile,
    PassphraseFile,
    passphrase,
    unlock,
)
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.signoff.keyring import Keyring

keys = typer.Typer(
    no_args_is_help=True, help="Set up, countersign, rotate, revoke, recover and publish keys."
)

Account = Annotated[str, typer.Argument(help="The account's name.")]
PersonOption = Annotated[
    str | None,
    typer.Option(
        "--person", help="The person in the archive who holds the account; nobody signs for themself."
    ),
]
NewKeyFile = Annotated[
    Path | None, typer.Option("--new-key-file", metavar="FILE", help="Where the new key goes.")
]


def _now(archive: "Archive") -> datetime:
    from trainer.signoff.evidence import moment

    return moment(archive.store.now())


@keys.command("set-up")
def set_up(
    account: Account,
    person: PersonOption = None,
    new_key_file: NewKeyFile = None,
    new_passphrase_file: NewPassphraseFile = None,
    archive: ArchiveOption = None,
) -> None:
    """Make the first supervisor's key. Publish its fingerprint: all trust starts from it.

    Example: tenthwise signoff keys set-up "Ruth Amsel"
    """
    from trainer.records import accounts, office
    from trainer.records.archive import Archive
    from trainer.signoff import accounts as rules
    from trainer.signoff.keyring import Certificate

    with Archive.open(archive) as opened:
        if accounts.keyring(opened).certificates:
            raise Refusal("the archive is set up already; a supervisor adds further accounts with `keys add`")
        holder = opened.person(person).id if person else None
        phrase = passphrase(new_passphrase_file, new=True, whose=account)
        made = rules.set_up(account, holder, phrase, now=_now(opened), random_bytes=secrets.token_bytes)
        accounts.keep_key(opened, made, office.key_path(account, new_key_file), who=account)
    print(f"the first key is made; its fingerprint: {Certificate.of(made.certificate).public.fingerprint}")


@keys.command()
def add(
    account: Account,
    by: AccountOption,
    role: Annotated[
        list[str] | None, typer.Option("--role", help="supervisor (default) or keeper; again for both.")
    ] = None,
    person: PersonOption = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    new_key_file: NewKeyFile = None,
    new_passphrase_file: NewPassphraseFile = None,
    archive: ArchiveOption = None,
) -> None:
    """Add an account; a supervisor countersigns its key.

    Example: tenthwise signoff keys add "Ben Olt" --as "Ruth Amsel"
    """
    from trainer.records import accounts, office
    from trainer.records.archive import Archive
    from trainer.signoff import accounts as rules

    with Archive.open(archive, create=False) as opened:
        holder = opened.person(person).id if person else None
        key = unlock(opened, by, key_file, passphrase_file)
        phrase = passphrase(new_passphrase_file, new=True, whose=account)
        made = rules.countersigned(
            accounts.keyring(opened), key, account, holder, tuple(role or ["supervisor"]), phrase,
            now=_now(opened), random_bytes=secrets.token_bytes,
        )  # fmt: skip
        accounts.keep_key(opened, made, office.key_path(account, new_key_file), who=by)
    print(f"{account} is added, countersigned by {by}")


@keys.command()
def rotate(
    by: AccountOption,
    new_key_file: Annotated[
        Path, typer.Option("--new-key-file", metavar="FILE", help="Where the new key goes.")
    ],
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    new_passphrase_file: NewPassphraseFile = None,
    archive: ArchiveOption = None,
) -> None:
    """Replace one's own key by a new one; what the old one signed stands.

    Example: tenthwise signoff keys rotate --as "Ruth Amsel" --new-key-file ruth-2.key
    """
    from trainer.records import accounts
    from trainer.records.archive import Archive
    from trainer.signoff import accounts as rules

    with Archive.open(archive, create=False) as opened:
        key = unlock(opened, by, key_file, passphrase_file)
        phrase = passphrase(new_passphrase_file, new=True, whose=by)
        ring = accounts.keyring(opened)
        made = rules.rotated(ring, key, phrase, now=_now(opened), random_bytes=secrets.token_bytes)
        accounts.keep_key(opened, made, new_key_file, who=by)
    print(f"{by} has a new key in {new_key_file}; the old one is revoked from now on")


@keys.command()
def revoke(
    account: Account,
    by: AccountOption,
    kind: Annotated[str, typer.Option("--kind", help="lost, compromised or left.")],
    reason: Annotated[str, typer.Option("--reason", help="What happened.")],
    since: Annotated[
        str | None,
        typer.Option(
            "--since", metavar="TIME", help="For a compromised key: from when, 2026-03-29T14:05:00Z."
        ),
    ] = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    archive: ArchiveOption = None,
) -> None:
    """Revoke an account's key.

    Example: tenthwise signoff keys revoke "Ben Olt" --as "Ruth Amsel" --kind left --reason "new employer"
    """
    from trainer.records import accounts
    from trainer.records.archive import Archive
    from trainer.signoff import accounts as rules
    from trainer.signoff.evidence import moment

    with Archive.open(archive, create=False) as opened:
        ring, now = accounts.keyring(opened), _now(opened)
        key = unlock(opened, by, key_file, passphrase_file)
        held = ring.of_account(account, now)
        if held is None:
            raise Refusal(f"{account} has no key in force; `tenthwise signoff keys list` shows all")
        start = moment(since) if since else None
        made = rules.revoked(ring, key, held.public, kind, reason, now=now, since=start)
        accounts.keep_revocation(opened, account, made, who=by)
    print(f"the key of {account} is revoked ({kind})")
    for sentence in _falls_with_it(ring, ring.with_revocation(made), now):
        print(f"note: {sentence}")


def _falls_with_it(before: "Keyring", after: "Keyring", now: datetime) -> list[str]:
    """Return what counts no more since it rested on a key that is revoked from an earlier moment on."""
    told = [
        f"the key of {one.account} counts no more, since the revoked one vouched for it; add the account anew"
        for one in after.certificates
        if not before.fault(one.public, now) and after.certificate(one.by).account != one.account
        and after.revocation(one.public) is None and after.fault(one.public, now)
    ]  # fmt: skip
    known = [one.document for one in before.undone]
    return told + [
        f"the revocation of the key of {after.certificate(one.public).account} counts no more, since the "
        "revoked key signed it; revoke it again"
        for one in after.undone
        if one.document not in known
    ]


@keys.command()
def recover(
    account: Account,
    by: AccountOption,
    reason: Annotated[str, typer.Option("--reason", help="What happened.")],
    new_key_file: Annotated[
        Path, typer.Option("--new-key-file", metavar="FILE", help="Where the new key goes.")
    ],
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    new_passphrase_file: NewPassphraseFile = None,
    archive: ArchiveOption = None,
) -> None:
    """Give another account a new key when its key file or passphrase is lost.

    Example: tenthwise signoff keys recover "Ben Olt" --as "Ruth Amsel" --reason lost --new-key-file ben.key
    """
    from trainer.records import accounts
    from trainer.records.archive import Archive
    from trainer.signoff import accounts as rules

    with Archive.open(archive, create=False) as opened:
        key = unlock(opened, by, key_file, passphrase_file)
        phrase = passphrase(new_passphrase_file, new=True, whose=account)
        made = rules.recovered(
            accounts.keyring(opened), key, account, phrase,
            reason=reason, now=_now(opened), random_bytes=secrets.token_bytes,
        )  # fmt: skip
        accounts.keep_key(opened, made, new_key_file, who=by)
    print(f"{account} has a new key in {new_key_file}; the old one is revoked")


@keys.command("list")
def list_(json: JsonOption = False, archive: ArchiveOption = None) -> None:
    """List the keys, who vouches for each, and whether it is in force.

    Example: tenthwise signoff keys list
    """
    from trainer.records import accounts
    from trainer.records.archive import Archive

    with Archive.open(archive, create=False) as opened:
        ring, now = accounts.keyring(opened), _now(opened)
    rows = [
        {
            "account": one.account,
            "roles": list(one.roles),
            "fingerprint": one.public.fingerprint,
            "vouched_for_by": ring.certificate(one.by).account,
            "state": ring.fault(one.public, now) or "in force",
        }
        for one in ring.certificates
    ]
    if json:
        print_json({"keys": rows})
        return
    for row in rows:
        roles = ", ".join(row["roles"])
        print(f"{row['account']} ({roles}): {row['fingerprint']}, by {row['vouched_for_by']}: {row['state']}")
    if not rows:
        print("no key has been made yet; `tenthwise signoff keys set-up NAME` makes the first supervisor's")


@keys.command()
def publish(account: Account, out: OutOption = None, archive: ArchiveOption = None) -> None:
    """Write an account's public key as PEM, for whoever verifies statements.

    Example: tenthwise signoff keys publish "Ruth Amsel" --out ruth.pem
    """
    from trainer.records import accounts
    from trainer.records.archive import Archive

    with Archive.open(archive, create=False) as opened:
        held = accounts.keyring(opened).of_account(account, _now(opened))
    if held is None:
        raise Refusal(f"{account} has no key in force; `tenthwise signoff keys list` shows all")
    if out is None:
        print(held.public.pem, end="")
        return
    with whole_file(out) as temporary:
        temporary.write_text(held.public.pem, encoding="ascii")
    tell_written(out)
