"""Every signed document, not statements alone: each altered field is refused, and no signature fits twice."""

from datetime import timedelta

import pytest

from tests.signoff.test_statement import FIRST, NOW, PHRASE, flipped, lab, leaves, sessions, signed  # noqa: F401
from trainer.instrument.refusal import Refusal
from trainer.signoff import accounts, guard
from trainer.signoff.attempts import Opening, history, opened
from trainer.signoff.keyring import Keyring
from trainer.signoff.standing import SUSPEND, Change, changed, standing

LATER = NOW + timedelta(days=1)


def ticket(lab):  # noqa: F811
    ring, ruth, _, random_bytes = lab
    return guard.ticket(
        ring, ruth, FIRST, "p1", "Kim Vale", plan={"name": "check-metric"}, now=NOW, random_bytes=random_bytes
    ).document


def opening(lab):  # noqa: F811
    ring, ruth, _, random_bytes = lab
    failed = history(FIRST, sessions(4, spread=2.2))
    return opened(
        ring,
        ruth,
        FIRST,
        "p1",
        failed,
        reason="drills",
        now=NOW + timedelta(days=5),
        random_bytes=random_bytes,
    ).document


def change(lab):  # noqa: F811
    ring, ruth, _, _ = lab
    made = signed(lab)
    present = standing(FIRST, made, [], [], now=LATER)
    return changed(ring, ruth, made, present, SUSPEND, "a complaint", now=LATER).document


def certificate(lab):  # noqa: F811
    return lab[0].certificates[1].document


def revocation(lab):  # noqa: F811
    ring, ruth, ben, _ = lab
    return accounts.revoked(ring, ruth, ben.public, "left", "moved", now=LATER)


def ring_with(lab, key=None, cancel=None):  # noqa: F811
    first, second = (one.document for one in lab[0].certificates)
    return Keyring.of([first, key or second], [cancel] if cancel else [])


READ = {  # how a document is made, and how the program takes it from the archive
    ticket: lambda lab, document: guard.Ticket.of(document, lab[0]),  # noqa: F811
    opening: lambda lab, document: Opening.of(document, lab[0]),  # noqa: F811
    change: lambda lab, document: Change.of(document, lab[0]),  # noqa: F811
    certificate: lambda lab, document: ring_with(lab, key=document),  # noqa: F811
    revocation: lambda lab, document: ring_with(lab, cancel=document),  # noqa: F811
}


@pytest.mark.parametrize("made", READ, ids=lambda one: one.__name__)
def test_every_field_of_every_kind_of_document_is_watched(lab, made):  # noqa: F811
    document, read = made(lab), READ[made]
    read(lab, document)
    paths = list(leaves(document))
    assert len(paths) >= 7
    for path in paths:
        with pytest.raises(Refusal):
            read(lab, flipped(document, path))


@pytest.mark.parametrize("made", READ, ids=lambda one: one.__name__)
def test_no_signature_of_another_document_fits(lab, made):  # noqa: F811
    document = made(lab)
    for other in READ:
        if other is not made:
            with pytest.raises(Refusal):
                READ[made](lab, {**document, "signature": other(lab)["signature"]})


def test_a_document_does_not_pass_for_another_kind(lab):  # noqa: F811
    for made in READ:
        for other, read in READ.items():
            if other is not made:
                with pytest.raises(Refusal):
                    read(lab, made(lab))


def test_a_key_that_has_expired_or_was_revoked_opens_nothing(lab):  # noqa: F811
    ring, ruth, ben, random_bytes = lab
    over = NOW + timedelta(days=365 * 4)
    with pytest.raises(Refusal, match="expired"):
        guard.ticket(ring, ben, FIRST, "p1", "Kim Vale", now=over, random_bytes=random_bytes)
    cancelled = ring_with(lab, cancel=revocation(lab))
    with pytest.raises(Refusal, match="revoked"):
        guard.ticket(
            cancelled, ben, FIRST, "p1", "Kim Vale", now=LATER + timedelta(hours=1), random_bytes=random_bytes
        )
    with pytest.raises(Refusal, match="expired"):
        accounts.countersigned(
            ring, ruth, "Eve", None, ("supervisor",), PHRASE, now=over, random_bytes=random_bytes
        )


def test_a_keeper_signs_nothing(lab):  # noqa: F811
    ring, ruth, _, random_bytes = lab
    made = accounts.countersigned(
        ring, ruth, "Ida", None, ("keeper",), PHRASE, now=NOW, random_bytes=random_bytes
    )
    from trainer.signoff import keys

    ida = keys.unlocked(made.key_file, "Ida", PHRASE)
    whole = Keyring.of([*(one.document for one in ring.certificates), made.certificate])
    with pytest.raises(Refusal, match="takes a supervisor"):
        guard.ticket(whole, ida, FIRST, "p1", "Kim Vale", now=LATER, random_bytes=random_bytes)
    with pytest.raises(Refusal, match="takes a supervisor"):
        signed(lab, by=ida, ring=whole, now=LATER)
