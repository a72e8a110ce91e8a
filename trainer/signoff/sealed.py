"""Signed documents: a body, who signed it, and the signature over the body's canonical bytes."""

from collections.abc import Mapping
from typing import Any

from trainer.signoff.canonical import UnusableDocument, canonical, from_base64, tidy, to_base64
from trainer.signoff.keys import PrivateKey, PublicKey

SIGNATURE_BYTES, KEY_BYTES = 64, 32


def seal(body: Mapping[str, Any], key: PrivateKey) -> dict[str, Any]:
    """Return a document: the body, tidied, with a signature by `key`."""
    tidied = tidy(dict(body))
    return {
        "body": tidied,
        "public": to_base64(key.public.raw),
        "signature": to_base64(key.sign(canonical(tidied))),
    }


def body_of(document: Mapping[str, Any], form: str, what: str) -> dict[str, Any]:
    """Return the body of a document of the named form; raise `UnusableDocument` for another."""
    body = document.get("body")
    if not isinstance(body, dict) or body.get("format") != form:
        raise UnusableDocument(f"{what}: it is not a document of the form {form}")
    return body


def signer_of(document: Mapping[str, Any], what: str) -> PublicKey:
    """Return the key that a document names as its signer's."""
    return PublicKey(from_base64(document.get("public"), f"the public key of {what}", KEY_BYTES))


def refuse_unless_signed(document: Mapping[str, Any], what: str, by: PublicKey | None = None) -> None:
    """Raise `UnusableDocument` unless the signature fits the body, and is by `by` where that is given."""
    key = signer_of(document, what)
    if by is not None and key != by:
        raise UnusableDocument(f"{what}: it is signed with another key than {by.fingerprint}")
    signature = from_base64(document.get("signature"), f"the signature of {what}", SIGNATURE_BYTES)
    if not key.verifies(signature, canonical(document.get("body"))):
        raise UnusableDocument(f"{what}: the signature does not fit; it was changed after it was signed")
