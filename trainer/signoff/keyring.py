"""The keyring: certified public keys and revocations; who may sign, and when a key was good.

The first key certifies itself at set-up; every other is countersigned by a supervisor's key that was in
force. So a statement can be traced to the first key, which a laboratory publishes.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from trainer.instrument.sentence import Moment
from trainer.signoff.canonical import UnusableDocument, canonical, from_base64
from trainer.signoff.evidence import moment
from trainer.signoff.keys import PublicKey
from trainer.signoff.roles import ROLES, SUPERVISOR
from trainer.signoff.sealed import KEY_BYTES, SIGNATURE_BYTES, body_of, refuse_unless_signed, signer_of
from trainer.signoff.words import tell

KEY_FORM, REVOCATION_FORM = "tenthwise-key-1", "tenthwise-revocation-1"
ROTATED, LOST, COMPROMISED, LEFT = "rotated", "lost", "compromised", "left"
KINDS = (ROTATED, LOST, COMPROMISED, LEFT)


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certified key: whose, with what roles, from when until when, and who vouched for it."""

    document: Mapping[str, Any]
    account: str
    person: str | None
    roles: tuple[str, ...]
    public: PublicKey
    by: PublicKey
    made_at: datetime
    valid_until: datetime

    @property
    def first(self) -> bool:
        """Return whether the key vouches for itself: the first key, made at set-up."""
        return self.by == self.public

    @classmethod
    def of(cls, document: Mapping[str, Any]) -> "Certificate":
        """Return the certificate in a document; raise `UnusableDocument` unless both signatures fit."""
        what = "a key's certificate"
        body = body_of(document, KEY_FORM, what)
        try:
            public = PublicKey(from_base64(body["public"], f"the public key in {what}", KEY_BYTES))
            roles = tuple(str(role) for role in body["roles"])
            made, until = moment(body["made_at"]), moment(body["valid_until"])
            account, person = str(body["account"]), body["person"]
        except (KeyError, TypeError) as fault:
            raise UnusableDocument(f"{what}: {fault} is missing") from None
        if not roles or set(roles) - set(ROLES):
            raise UnusableDocument(f"{what}: its roles are {', '.join(roles) or 'none'}")
        refuse_unless_signed(document, f"{what} of {account}")
        own = from_base64(document.get("own"), f"the own signature in {what} of {account}", SIGNATURE_BYTES)
        if not public.verifies(own, canonical(body)):
            raise UnusableDocument(f"{what} of {account}: whoever asked for it did not hold the key")
        return cls(document, account, person, roles, public, signer_of(document, what), made, until)


@dataclass(frozen=True, slots=True)
class Revocation:
    """A key that counts no more. `since` is the moment from which its signatures do not count."""

    document: Mapping[str, Any]
    public: PublicKey
    kind: str
    reason: str
    at: datetime
    since: datetime
    by: PublicKey

    @classmethod
    def of(cls, document: Mapping[str, Any]) -> "Revocation":
        """Return the revocation in a document; raise `UnusableDocument` unless its signature fits."""
        what = "a revocation"
        body = body_of(document, REVOCATION_FORM, what)
        try:
            public = PublicKey(from_base64(body["public"], f"the public key in {what}", KEY_BYTES))
            kind, reason = str(body["kind"]), str(body["reason"])
            at, since = moment(body["at"]), moment(body["since"])
        except (KeyError, TypeError) as fault:
            raise UnusableDocument(f"{what}: {fault} is missing") from None
        if kind not in KINDS:
            raise UnusableDocument(f"{what}: its kind is {kind!r}; it is one of {', '.join(KINDS)}")
        refuse_unless_signed(document, what)
        return cls(document, public, kind, reason, at, since, signer_of(document, what))


@dataclass(frozen=True, slots=True)
class Keyring:
    """Certificates and revocations that fit together; made by `of`, which checks all of them.

    `revocations` are those that count; `undone` are those whose signer's key was declared compromised from
    a moment before they were signed, or was vouched for by such a key.
    """

    certificates: tuple[Certificate, ...] = ()
    revocations: tuple[Revocation, ...] = ()
    undone: tuple[Revocation, ...] = ()
    _by_key: Mapping[bytes, Certificate] = field(default_factory=dict, repr=False)
    _unsound: dict[bytes, str] = field(default_factory=dict, repr=False)  # keys nobody good vouched for

    @classmethod
    def of(
        cls, certificates: Iterable[Mapping[str, Any]], revocations: Iterable[Mapping[str, Any]] = ()
    ) -> "Keyring":
        """Return the keyring of documents, in any order; raise `UnusableDocument` where one does not fit."""
        found = sorted(
            (Certificate.of(one) for one in certificates), key=lambda one: (one.made_at, one.account)
        )
        every = sorted((Revocation.of(one) for one in revocations), key=lambda one: one.at)
        by_key = {one.public.raw: one for one in found}
        if len(by_key) != len(found):
            raise UnusableDocument("a key has two certificates; the keyring was put together wrongly")
        firsts = [one for one in found if one.first]
        if found and len(firsts) != 1:
            raise UnusableDocument(
                f"the keyring has {len(firsts)} first keys and should have one; "
                "a key that vouches for itself was put in"
            )
        counting: list[Revocation] = []
        for one in every:
            counting = cls._with(found, by_key, counting, one)
        ring = cls._weighed(found, by_key, counting)
        for cancel in counting:
            ring._check_revocation(cancel)
        left_out = tuple(one for one in every if not any(one is other for other in counting))
        return replace(ring, undone=left_out)

    @classmethod
    def _with(
        cls,
        found: Sequence[Certificate],
        by_key: Mapping[bytes, Certificate],
        counting: Sequence[Revocation],
        one: Revocation,
    ) -> list[Revocation]:
        """Return the revocations that count once a further one, signed after them, is known.

        A key that is revoked as compromised from an earlier moment on has signed nothing since, revocations
        included; nor does a key revoke anything that nobody good vouched for. But a key that was revoked, or
        unsound, when it signed takes the ground from nothing: or whoever stole it would undo its revocation.
        """
        if one.by == one.public:
            return [*counting, one]
        if any(k.public == one.by and k.since <= one.at for k in counting):
            return [*counting, one]  # refused in the end, with the reason
        if one.by.raw in cls._weighed(found, by_key, counting)._unsound:
            return list(counting)
        kept = [
            k for k in counting if k.by == k.public or k.by != one.public or not one.since <= k.at < one.at
        ]
        unsound = cls._weighed(found, by_key, [*kept, one])._unsound
        return [*(k for k in kept if k.by == k.public or k.by.raw not in unsound), one]

    @classmethod
    def _weighed(
        cls, found: Sequence[Certificate], by_key: Mapping[bytes, Certificate], counting: Sequence[Revocation]
    ) -> "Keyring":
        """Return a keyring with some revocations, its certificates weighed in their order of time."""
        ring = cls(tuple(found), tuple(counting), (), by_key)
        for one in found:
            if not one.first:
                ring._weigh(one)
        return ring

    def certificate(self, key: PublicKey) -> Certificate:
        """Return a key's certificate; raise `UnusableDocument` for a key that is not in the ring."""
        found = self._by_key.get(key.raw)
        if found is None:
            raise UnusableDocument(f"the key {key.fingerprint} is not in the keyring; nobody vouches for it")
        return found

    def revocation(self, key: PublicKey) -> Revocation | None:
        """Return the revocation of a key with the earliest `since`, or None."""
        own = [one for one in self.revocations if one.public == key]
        return min(own, key=lambda one: one.since) if own else None

    def of_account(self, account: str, at: datetime) -> Certificate | None:
        """Return the key of an account that is in force, or None."""
        for one in reversed(self.certificates):
            if one.account == account and not self.fault(one.public, at):
                return one
        return None

    def with_revocation(self, document: Mapping[str, Any]) -> "Keyring":
        """Return the keyring with one more revocation."""
        known = [one.document for one in (*self.revocations, *self.undone)]
        return Keyring.of((one.document for one in self.certificates), [*known, document])

    def accounts(self) -> list[str]:
        """Return the names of all accounts, in the order in which they were made."""
        return list(dict.fromkeys(one.account for one in self.certificates))

    def fault(self, key: PublicKey, at: datetime) -> str:
        """Return why a key is not in force at a moment, or nothing when it is."""
        found = self.certificate(key)
        if key.raw in self._unsound:
            return self._unsound[key.raw]
        if at < found.made_at:
            return tell("key.later", account=found.account, made=Moment(found.made_at))
        if at >= found.valid_until:
            return tell("key.expired", account=found.account, day=f"{found.valid_until:%Y-%m-%d}")
        cancel = self.revocation(key)
        if cancel is not None and at >= cancel.since:
            since = Moment(cancel.since)
            return tell(
                "key.revoked", account=found.account, since=since, kind=cancel.kind, reason=cancel.reason
            )
        return ""

    def refuse_unless_good(self, key: PublicKey, at: datetime, what: str) -> None:
        """Raise `UnusableDocument` unless a supervisor's key was in force at a moment."""
        found = self.certificate(key)
        if SUPERVISOR not in found.roles:
            raise UnusableDocument(f"{what}: {found.account} is no supervisor and may not sign it")
        if fault := self.fault(key, at):
            raise UnusableDocument(f"{what}: {fault}")

    def chain(self, key: PublicKey) -> list[Certificate]:
        """Return the certificates from a key up to the first key."""
        steps = [self.certificate(key)]
        while not steps[-1].first:
            above = self.certificate(steps[-1].by)
            if above in steps:
                raise UnusableDocument("the keys vouch for one another in a circle")
            steps.append(above)
        return steps

    def _weigh(self, one: Certificate) -> None:
        """Note that a certificate does not count when whoever signed it could not: the key is compromised."""
        try:
            self.refuse_unless_good(one.by, one.made_at, f"the certificate of {one.account}")
        except UnusableDocument as fault:
            if one.by.raw not in self._by_key:
                raise
            self._unsound[one.public.raw] = str(fault)

    def _check_revocation(self, cancel: Revocation) -> None:
        whose = self.certificate(cancel.public).account
        signer = self.certificate(cancel.by)
        what = f"the revocation of the key of {whose}"
        if SUPERVISOR not in signer.roles and signer.account != whose:
            raise UnusableDocument(f"{what}: {signer.account} is no supervisor and may not sign it")
        if not signer.made_at <= cancel.at < signer.valid_until:
            raise UnusableDocument(f"{what}: the key of {signer.account} was not in force when it was signed")
        others = [one for one in self.revocations if one.public == cancel.by and one is not cancel]
        if cancel.by != cancel.public and any(one.since <= cancel.at for one in others):
            raise UnusableDocument(f"{what}: the key of {signer.account} was revoked itself by then")
