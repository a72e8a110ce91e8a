"""Permits: whether an account may do an act to this archive, asked before the act.

An archive without accounts is open: one person on one machine looks after it, and nothing is asked. From its
first supervisor on, what roles are for is asked of an account. This holds back whoever uses the program; it
cannot hold back whoever may write the archive's file (docs/security.md).
"""

from typing import TYPE_CHECKING

from trainer.records import accounts
from trainer.signoff.evidence import moment
from trainer.signoff.keys import UnusableKey
from trainer.signoff.roles import NotAllowed, may, refuse_unless_allowed
from trainer.signoff.words import tell

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.signoff.keys import PrivateKey


def is_open(archive: "Archive") -> bool:
    """Return whether nothing is asked of anybody: the archive has no accounts, or can only be looked at."""
    return archive.read_only or not accounts.keyring(archive).certificates


def refuse_without_account(archive: "Archive", act: str) -> None:
    """Raise `NotAllowed`, with the role that may and who holds it, unless the archive is open."""
    if is_open(archive):
        return
    ring, now, able = accounts.keyring(archive), moment(archive.store.now()), may(act)
    held = [
        one for one in ring.certificates if set(one.roles) & set(able) and not ring.fault(one.public, now)
    ]
    names = ", ".join(dict.fromkeys(one.account for one in held))
    here = f" (here: {names})" if names else ""
    raise NotAllowed(
        f"this archive has accounts: to {act} takes a {' or '.join(able)}{here}; name one with --as ACCOUNT"
    )


def permit(archive: "Archive", act: str, account: str, key: "PrivateKey") -> str:
    """Return the account's name, for the log, when it may do the act.

    `key` is the account's, unlocked. Raise `NotAllowed` where its roles do not hold the act, `UnusableKey`
    where the key is not in force.
    """
    ring = accounts.keyring(archive)
    holder = ring.certificate(key.public)
    refuse_unless_allowed(holder.account, holder.roles, act)
    if fault := ring.fault(key.public, moment(archive.store.now())):
        raise UnusableKey(tell("not-allowed.key", account=account, act=tell(f"act.{act}"), fault=fault))
    return holder.account
