"""Keys: Ed25519 pairs, the private one encrypted at rest under a passphrase, the public one certified.

Encrypted with ChaCha20-Poly1305 (RFC 8439) under a key from scrypt (RFC 7914); everything readable in the
key file is covered by the encryption's own check, so that no part of it can be changed.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from cryptography.exceptions import InvalidSignature, InvalidTag, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    PublicFormat,
    load_pem_public_key,
)

from trainer.instrument.refusal import Refusal
from trainer.signoff.canonical import UnusableDocument, canonical, from_base64, parsed, to_base64
from trainer.signoff.passphrase import WrongPassphrase, normal
from trainer.signoff.words import tell

KEY_FILE_FORMAT = "tenthwise-private-key-1"
SCRYPT_LOG2_N, SCRYPT_R, SCRYPT_P = 16, 8, 1  # 64 MiB, about a fifth of a second on an office computer
LARGEST_LOG2_N = 17  # a file that asks for more would take over a second, or half a GiB of memory
WRONG = tell("passphrase.wrong")
RandomBytes = Callable[[int], bytes]


class UnusableKey(Refusal):
    """A key or a key file cannot be used; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True)
class PublicKey:
    """A public key: 32 bytes."""

    raw: bytes

    @property
    def fingerprint(self) -> str:
        """Return the first 20 bytes of the key's SHA-256, in groups that can be compared by eye."""
        text = hashlib.sha256(self.raw).hexdigest()[:40]
        return " ".join(text[start : start + 4] for start in range(0, 40, 4))

    @property
    def pem(self) -> str:
        """Return the key as PEM text, which openssl and others read."""
        key = Ed25519PublicKey.from_public_bytes(self.raw)
        return key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo).decode("ascii")

    def verifies(self, signature: bytes, message: bytes) -> bool:
        """Return whether a signature over a message was made with this key."""
        try:
            Ed25519PublicKey.from_public_bytes(self.raw).verify(signature, message)
        except InvalidSignature:
            return False
        return True

    @classmethod
    def of_pem(cls, text: str, what: str = "the key") -> "PublicKey":
        """Return the key of a PEM text; raise `UnusableKey` when it is no Ed25519 public key."""
        try:
            key = load_pem_public_key(text.encode("ascii"))
        except (ValueError, UnicodeEncodeError, UnsupportedAlgorithm):
            raise UnusableKey(f"{what}: it is not a public key in PEM form (BEGIN PUBLIC KEY)") from None
        if not isinstance(key, Ed25519PublicKey):
            raise UnusableKey(f"{what}: it is a public key of another kind than Ed25519")
        return cls(key.public_bytes(Encoding.Raw, PublicFormat.Raw))


@dataclass(frozen=True, slots=True, repr=False)
class PrivateKey:
    """An unlocked private key; it is never printed."""

    raw: bytes

    def __repr__(self) -> str:
        """Return a text without the secret."""
        return "PrivateKey(...)"

    @property
    def public(self) -> PublicKey:
        """Return its public key."""
        key = Ed25519PrivateKey.from_private_bytes(self.raw).public_key()
        return PublicKey(key.public_bytes(Encoding.Raw, PublicFormat.Raw))

    def sign(self, message: bytes) -> bytes:
        """Return the signature over a message, 64 bytes."""
        return Ed25519PrivateKey.from_private_bytes(self.raw).sign(message)


def new_private_key(random_bytes: RandomBytes) -> PrivateKey:
    """Return a new private key from 32 random bytes (hand in `secrets.token_bytes`)."""
    return PrivateKey(random_bytes(32))


def locked(
    key: PrivateKey,
    account: str,
    passphrase: str,
    *,
    random_bytes: RandomBytes,
    log2_n: int = SCRYPT_LOG2_N,
) -> str:
    """Return the text of a key file: the private key under a passphrase."""
    head = {
        "format": KEY_FILE_FORMAT,
        "account": account,
        "public": to_base64(key.public.raw),
        "scrypt": {"log2_n": log2_n, "r": SCRYPT_R, "p": SCRYPT_P, "salt": to_base64(random_bytes(16))},
        "nonce": to_base64(random_bytes(12)),
    }
    secret = stretched(passphrase, head["scrypt"])
    nonce = from_base64(head["nonce"], "nonce", 12)
    sealed = ChaCha20Poly1305(secret).encrypt(nonce, key.raw, canonical(head))
    return canonical({**head, "sealed": to_base64(sealed)}).decode("utf-8") + "\n"


def unlocked(text: str, account: str, passphrase: str, what: str = "the key file") -> PrivateKey:
    """Return the private key in a key file.

    Raise `WrongPassphrase`, which does not say whether account or passphrase is wrong, or `UnusableKey`
    for a file that is no key file.
    """
    try:
        found = parsed(text, what)
        if found.get("format") != KEY_FILE_FORMAT:
            raise UnusableKey(f"{what}: it is not a key file of this program")
        sealed = from_base64(found.pop("sealed", None), "sealed", 48)
        nonce = from_base64(found.get("nonce"), "nonce", 12)
        secret = stretched(passphrase, found.get("scrypt"))
        raw = ChaCha20Poly1305(secret).decrypt(nonce, sealed, canonical(found))
    except UnusableDocument as fault:
        raise UnusableKey(f"{what}: {fault}; take it from a backup, or recover the account") from None
    except InvalidTag:
        raise WrongPassphrase(WRONG) from None
    key = PrivateKey(raw)
    if found.get("account") != account or to_base64(key.public.raw) != found.get("public"):
        raise WrongPassphrase(WRONG)
    return key


def spend_the_same_time(passphrase: str, log2_n: int = SCRYPT_LOG2_N) -> None:
    """Stretch a passphrase for an account that does not exist, so that the time taken tells nothing."""
    stretched(passphrase, {"log2_n": log2_n, "r": SCRYPT_R, "p": SCRYPT_P, "salt": to_base64(bytes(16))})


def stretched(passphrase: str, scrypt: Any) -> bytes:
    """Return the 32-byte secret that a passphrase gives by scrypt (RFC 7914) under a file's settings.

    `scrypt` has log2_n, r, p and a salt in base64. Raise `UnusableDocument` for settings that this program
    does not write, since a file could otherwise ask for any amount of memory.
    """
    if not isinstance(scrypt, dict):
        raise UnusableDocument("its scrypt settings are missing")
    log2_n, r, p = (scrypt.get(name) for name in ("log2_n", "r", "p"))
    if type(log2_n) is not int or not 10 <= log2_n <= LARGEST_LOG2_N or r != SCRYPT_R or p != SCRYPT_P:
        raise UnusableDocument("its scrypt settings are none that this program writes")
    n = 1 << log2_n
    salt = from_base64(scrypt.get("salt"), "salt", 16)
    memory = 128 * r * n + (1 << 20)
    return hashlib.scrypt(normal(passphrase), salt=salt, n=n, r=r, p=p, maxmem=memory, dklen=32)
