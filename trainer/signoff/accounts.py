"""Accounts: the first supervisor at set-up, others countersigned; rotate, revoke, recover.

Every function takes the time and the random bytes, and returns documents; nothing is kept here.
"""

import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.signoff.canonical import UnusableDocument, canonical, tidy, to_base64
from trainer.signoff.evidence import moment
from trainer.signoff.keyring import (
    COMPROMISED,
    KEY_FORM,
    KINDS,
    LOST,
    REVOCATION_FORM,
    ROTATED,
    Certificate,
    Keyring,
)
from trainer.signoff.keys import PrivateKey, PublicKey, RandomBytes, locked, new_private_key
from trainer.signoff.passphrase import check_strength
from trainer.signoff.roles import KEEPER, ROLES, SUPERVISOR, refuse_unless_allowed
from trainer.signoff.sealed import seal
from trainer.signoff.words import tell

KEY_YEARS = 3  # common practice, no source


class UnusableAccount(Refusal):
    """An account cannot be made or changed like this; the sentence says why."""


@dataclass(frozen=True, slots=True)
class NewKey:
    """A new key: its certificate for the archive, and the text of the key file for its owner."""

    certificate: dict[str, Any]
    key_file: str
    revocation: dict[str, Any] | None = None


def iso(at: datetime) -> str:
    """Return a moment as documents write it: ISO 8601, UTC, whole seconds.

    >>> iso(moment("2026-03-02T08:00:00.4+01:00"))
    '2026-03-02T07:00:00Z'
    """
    return moment(at.isoformat()).strftime("%Y-%m-%dT%H:%M:%SZ")


def set_up(
    account: str, person: str | None, passphrase: str, *, now: datetime, random_bytes: RandomBytes
) -> NewKey:
    """Return the key of the first supervisor, who also keeps the archive until somebody else does."""
    return _made(
        account, person, (SUPERVISOR, KEEPER), passphrase, signer=None, now=now, random_bytes=random_bytes
    )


def countersigned(
    ring: Keyring,
    by: PrivateKey,
    account: str,
    person: str | None,
    roles: tuple[str, ...],
    passphrase: str,
    *,
    now: datetime,
    random_bytes: RandomBytes,
) -> NewKey:
    """Return a key for a new account, countersigned by a supervisor in force."""
    _refuse_unless_supervisor(ring, by, now, "countersign a key")
    if any(same_name(account, known) for known in ring.accounts()):
        raise UnusableAccount(tell("account.there", account=account))
    return _made(account, person, roles, passphrase, signer=by, now=now, random_bytes=random_bytes)


def rotated(
    ring: Keyring, old: PrivateKey, passphrase: str, *, now: datetime, random_bytes: RandomBytes
) -> NewKey:
    """Return a new key for the holder of `old`, certified by `old`, and the revocation of `old`.

    Only a supervisor's key can certify its successor; another account's key is recovered by a supervisor.
    """
    holder = _refuse_unless_supervisor(ring, old, now, "countersign a key")
    made = _made(
        holder.account,
        holder.person,
        holder.roles,
        passphrase,
        signer=old,
        now=now,
        random_bytes=random_bytes,
    )
    # the old key counts until the second after: it certifies the new one
    since = now + timedelta(seconds=1)
    cancel = _revocation(old, old.public, ROTATED, "a new key took its place", now, since)
    return NewKey(made.certificate, made.key_file, cancel)


def revoked(
    ring: Keyring,
    by: PrivateKey,
    key: PublicKey,
    kind: str,
    reason: str,
    *,
    now: datetime,
    since: datetime | None = None,
) -> dict[str, Any]:
    """Return the revocation of a key. A compromised key may be revoked from an earlier moment on.

    Not from before it vouched for the key that signs the revocation: nobody good would have signed it then.
    """
    holder = _refuse_unless_supervisor(ring, by, now, "revoke a key")
    if kind not in KINDS:
        raise UnusableAccount(f"a key is revoked as {', '.join(KINDS[:-1])} or {KINDS[-1]}, not as {kind!r}")
    if not reason.strip():
        raise UnusableAccount("a revocation needs a reason; write what happened")
    whose = ring.certificate(key)
    start = since or now
    if start > now:
        raise UnusableAccount("a key cannot be revoked from a later moment on; leave the moment out")
    if kind != COMPROMISED and start < now:
        raise UnusableAccount("only a compromised key is revoked from an earlier moment on")
    left = [
        one
        for one in ring.certificates
        if SUPERVISOR in one.roles and one.public != key and not ring.fault(one.public, now)
    ]
    if SUPERVISOR in whose.roles and not left:
        raise UnusableAccount(
            f"{whose.account} is the only supervisor left; countersign another one before revoking this key"
        )
    made = _revocation(by, key, kind, reason, now, start)
    if by.public != key and ring.with_revocation(made).fault(by.public, now):
        raise UnusableAccount(
            f"{holder.account} cannot revoke the key of {whose.account} from {iso(start)} on: "
            f"{holder.account}'s own key rests on it since later; name a later moment, or ask a supervisor "
            "whose key does not"
        )
    return made


def recovered(
    ring: Keyring,
    by: PrivateKey,
    account: str,
    passphrase: str,
    *,
    reason: str,
    now: datetime,
    random_bytes: RandomBytes,
) -> NewKey:
    """Return a new key for an account whose key or passphrase is lost, and the revocation of the old one.

    A second supervisor does it: nobody recovers their own account.
    """
    helper = _refuse_unless_supervisor(ring, by, now, "recover an account")
    if same_name(helper.account, account):
        raise UnusableAccount("nobody recovers their own account; ask another supervisor")
    old = next((one for one in reversed(ring.certificates) if one.account == account), None)
    if old is None:
        raise UnusableAccount(
            f"there is no account {account!r}; the accounts are {', '.join(ring.accounts())}"
        )
    made = _made(account, old.person, old.roles, passphrase, signer=by, now=now, random_bytes=random_bytes)
    cancel = None
    if ring.revocation(old.public) is None:
        cancel = _revocation(by, old.public, LOST, reason or "recovered", now, now)
    return NewKey(made.certificate, made.key_file, cancel)


def same_name(one: str, other: str) -> bool:
    """Return whether two names would be taken for one another: alike to the eye, in whatever code points.

    >>> same_name("Jos\u00e9  Vale", "jose\u0301 vale"), same_name("Kim Vale", "Kim Vail")
    (True, False)
    """
    return _seen(one) == _seen(other)


def _seen(name: str) -> str:
    """Return a name without what the eye passes over: case, spaces, composition, unseen characters."""
    plain = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
    return " ".join("".join(c for c in plain if unicodedata.category(c) != "Cf").split())


def _refuse_unless_supervisor(ring: Keyring, key: PrivateKey, now: datetime, act: str) -> Certificate:
    found = ring.certificate(key.public)
    refuse_unless_allowed(found.account, found.roles, act)
    if fault := ring.fault(key.public, now):
        raise UnusableDocument(
            tell("not-allowed.key", account=found.account, act=tell(f"act.{act}"), fault=fault)
        )
    return found


def _made(
    account: str,
    person: str | None,
    roles: tuple[str, ...],
    passphrase: str,
    *,
    signer: PrivateKey | None,
    now: datetime,
    random_bytes: RandomBytes,
) -> NewKey:
    name = " ".join(account.split())
    if not name:
        raise UnusableAccount(tell("account.empty"))
    if not roles or set(roles) - set(ROLES):
        raise UnusableAccount(
            f"an account has roles from {', '.join(ROLES)}, not {', '.join(roles) or 'none'}"
        )
    check_strength(passphrase, name)
    key = new_private_key(random_bytes)
    body = tidy(
        {
            "format": KEY_FORM,
            "account": name,
            "person": person,
            "roles": list(roles),
            "public": to_base64(key.public.raw),
            "made_at": iso(now),
            "valid_until": iso(now + timedelta(days=365 * KEY_YEARS)),
        }
    )
    document = {**seal(body, signer or key), "own": to_base64(key.sign(canonical(body)))}
    return NewKey(document, locked(key, name, passphrase, random_bytes=random_bytes))


def _revocation(
    by: PrivateKey, key: PublicKey, kind: str, reason: str, now: datetime, since: datetime
) -> dict[str, Any]:
    return seal(
        {
            "format": REVOCATION_FORM,
            "public": to_base64(key.raw),
            "kind": kind,
            "reason": " ".join(reason.split()),
            "at": iso(now),
            "since": iso(since),
        },
        by,
    )
