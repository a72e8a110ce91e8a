"""Accounts in the archive: the keyring, wrong passphrases, and unlocking a key."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from trainer.instrument.given_file import some_bytes
from trainer.records import documents
from trainer.records.tables import acts
from trainer.records.whole import whole_file
from trainer.signoff.canonical import UnusableDocument
from trainer.signoff.evidence import moment
from trainer.signoff.keyring import Keyring
from trainer.signoff.keys import WRONG, PrivateKey, UnusableKey, spend_the_same_time, unlocked
from trainer.signoff.passphrase import Tries, WrongPassphrase
from trainer.signoff.words import tell

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.signoff.accounts import NewKey

LARGEST_FILE = 1 << 20  # bytes; a key file has some hundred
KEY, REVOCATION = "key", "revocation"
WRONG_ACT, RIGHT_ACT = "wrong-passphrase", "right-passphrase"


def keyring(archive: "Archive") -> Keyring:
    """Return the archive's keyring; raise `UnusableDocument` where a document in it does not fit."""
    return Keyring.of(
        [one.document for one in documents.listed(archive, KEY)],
        [one.document for one in documents.listed(archive, REVOCATION)],
    )


def keep_key(archive: "Archive", made: "NewKey", file: Path, *, who: str) -> None:
    """Write the key file, then keep certificate and revocation. The file must not exist yet."""
    if file.exists():
        raise UnusableKey(tell("key.there", file=str(file)))
    file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with whole_file(file) as temporary:
        temporary.write_text(made.key_file, encoding="utf-8")
        temporary.chmod(0o600)
    account = str(made.certificate["body"]["account"])
    documents.keep(archive, KEY, account, made.certificate, who=who)
    if made.revocation is not None:
        documents.keep(archive, REVOCATION, account, made.revocation, who=who)


def keep_revocation(archive: "Archive", account: str, revocation: Mapping[str, Any], *, who: str) -> None:
    """Keep a revocation."""
    documents.keep(archive, REVOCATION, account, revocation, who=who)


def tries(archive: "Archive", account: str) -> Tries:
    """Return the wrong passphrases of an account since its last right one."""
    query = (
        select(acts.c.kind, acts.c.at)
        .where(acts.c.kind.in_((WRONG_ACT, RIGHT_ACT)), acts.c.who == account)
        .order_by(acts.c.at, acts.c.chain, acts.c.seq)
    )
    found = Tries()
    with archive.store.read() as connection:
        for kind, at in connection.execute(query):
            found = Tries() if kind == RIGHT_ACT else found.after_wrong(moment(at).timestamp())
    return found


def unlock(archive: "Archive", account: str, file: Path, passphrase: str) -> PrivateKey:
    """Return an account's private key from its key file.

    Raise `WrongPassphrase` (which of account and passphrase is wrong is not said), `LockedOut` after
    several, `UnusableKey` for a lost or damaged file. The delay is the account's own.
    """
    now = moment(archive.store.now())
    before = tries(archive, account)
    before.refuse_if_locked(now.timestamp())
    ring = keyring(archive)
    try:
        text = some_bytes(file, LARGEST_FILE)[:LARGEST_FILE].decode("utf-8")
    except FileNotFoundError:
        spend_the_same_time(passphrase)
        raise UnusableKey(tell("key.none", file=str(file))) from None
    except (OSError, UnicodeDecodeError) as fault:
        raise UnusableKey(tell("key.unread", file=str(file), reason=str(fault))) from None
    try:
        key = unlocked(text, account, passphrase, str(file))
        holder = ring.certificate(key.public)
    except WrongPassphrase:
        archive.act(WRONG_ACT, who=account)
        raise
    except UnusableDocument:
        archive.act(WRONG_ACT, who=account)
        raise WrongPassphrase(WRONG) from None
    if holder.account != account:
        raise WrongPassphrase(WRONG)
    if before.wrong:
        archive.act(RIGHT_ACT, who=account)
    if reason := ring.fault(key.public, now):
        raise UnusableKey(tell("key.newer", account=account, fault=reason))
    return key
