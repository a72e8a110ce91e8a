"""Texts sealed under a passphrase: nobody reads or changes them without it.

Encrypted with ChaCha20-Poly1305 (RFC 8439) under a key from scrypt (RFC 7914), as key files are; what the
file says readably (its kind, the settings) is covered by the encryption's own check.
"""

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

from trainer.instrument.refusal import Refusal
from trainer.signoff.canonical import UnusableDocument, canonical, from_base64, parsed, to_base64
from trainer.signoff.keys import SCRYPT_LOG2_N, SCRYPT_P, SCRYPT_R, RandomBytes, stretched
from trainer.signoff.passphrase import WrongPassphrase, check_strength

FORMAT = "tenthwise-sealed-1"


class UnusableSealedFile(Refusal):
    """A sealed file is none, or was changed; the sentence says what to do."""


def sealed(
    text: str, kind: str, passphrase: str, *, random_bytes: RandomBytes, log2_n: int = SCRYPT_LOG2_N
) -> str:
    """Return a text sealed under a passphrase; `kind` says readably what is inside.

    Hand in `secrets.token_bytes`. Raises `WeakPassphrase` when the passphrase is too easy to guess.
    """
    check_strength(passphrase, "")
    head = {
        "format": FORMAT,
        "kind": kind,
        "scrypt": {"log2_n": log2_n, "r": SCRYPT_R, "p": SCRYPT_P, "salt": to_base64(random_bytes(16))},
        "nonce": to_base64(random_bytes(12)),
    }
    nonce = from_base64(head["nonce"], "nonce", 12)
    secret = stretched(passphrase, head["scrypt"])
    body = ChaCha20Poly1305(secret).encrypt(nonce, text.encode("utf-8"), canonical(head))
    return canonical({**head, "sealed": to_base64(body)}).decode("utf-8") + "\n"


def opened(text: str, kind: str, passphrase: str, what: str) -> str:
    """Return the text that was sealed.

    Raises `UnusableSealedFile` for a file of another form or kind, `WrongPassphrase` when the passphrase
    does not open it (a file that was changed cannot be told from that).
    """
    try:
        found = parsed(text, what)
        if found.get("format") != FORMAT or found.get("kind") != kind:
            raise UnusableSealedFile(f"{what}: it is not a sealed file of {kind}")
        body = from_base64(found.pop("sealed", None), "sealed")
        nonce = from_base64(found.get("nonce"), "nonce", 12)
        secret = stretched(passphrase, found.get("scrypt"))
        return ChaCha20Poly1305(secret).decrypt(nonce, body, canonical(found)).decode("utf-8")
    except UnusableDocument as fault:
        raise UnusableSealedFile(f"{what}: {fault}; take it from a backup") from None
    except InvalidTag:
        raise WrongPassphrase(
            f"{what}: this passphrase does not open it, or the file was changed; try again, "
            "or take the file from a backup"
        ) from None
