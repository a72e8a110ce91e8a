"""Keys that were compromised before it was known: what they signed since counts no more, and nothing else."""

from datetime import timedelta

import pytest

from tests.signoff.test_statement import NOW, PHRASE, lab  # noqa: F401
from trainer.signoff import accounts, keys
from trainer.signoff.accounts import UnusableAccount
from trainer.signoff.canonical import UnusableDocument
from trainer.signoff.keyring import Keyring


def days(count):
    return NOW + timedelta(days=count)


@pytest.fixture
def three(lab):  # noqa: F811
    """Return a keyring of three supervisors, Ruth, Ben and Cai, and their keys; Ruth vouches for both."""
    ring, ruth, ben, random_bytes = lab
    made = accounts.countersigned(
        ring, ruth, "Cai", "p3", ("supervisor",), PHRASE, now=days(-20), random_bytes=random_bytes
    )
    ring = Keyring.of([*(one.document for one in ring.certificates), made.certificate])
    return ring, ruth, ben, keys.unlocked(made.key_file, "Cai", PHRASE), random_bytes


def with_eve(ring, ben, random_bytes):
    """Return the keyring with Eve, a supervisor whom Ben vouches for on the first day, and her key."""
    made = accounts.countersigned(
        ring, ben, "Eve", None, ("supervisor",), PHRASE, now=days(1), random_bytes=random_bytes
    )
    known = [one.document for one in ring.certificates]
    return Keyring.of([*known, made.certificate]), keys.unlocked(made.key_file, "Eve", PHRASE)


def test_a_revocation_by_a_key_that_was_compromised_by_then_counts_no_more(three):
    ring, ruth, ben, cai, _ = three
    ring = ring.with_revocation(accounts.revoked(ring, ben, cai.public, "left", "moved", now=days(1)))
    assert "revoked" in ring.fault(cai.public, days(2))
    stolen = accounts.revoked(ring, ruth, ben.public, "compromised", "stolen", now=days(5), since=NOW)
    after = ring.with_revocation(stolen)
    assert after.fault(cai.public, days(6)) == ""
    assert [one.kind for one in after.undone] == ["left"]
    assert "revoked" in after.fault(ben.public, days(6))


def test_a_revocation_before_the_key_was_compromised_stands(three):
    ring, ruth, ben, cai, _ = three
    ring = ring.with_revocation(accounts.revoked(ring, ben, cai.public, "left", "moved", now=days(1)))
    stolen = accounts.revoked(ring, ruth, ben.public, "compromised", "stolen", now=days(5), since=days(2))
    after = ring.with_revocation(stolen)
    assert "revoked" in after.fault(cai.public, days(6))
    assert after.undone == ()


def test_whoever_was_vouched_for_by_a_compromised_key_revokes_nothing(three):
    ring, ruth, ben, cai, random_bytes = three
    ring, eve = with_eve(ring, ben, random_bytes)
    ring = ring.with_revocation(accounts.revoked(ring, eve, cai.public, "left", "gone", now=days(2)))
    stolen = accounts.revoked(ring, ruth, ben.public, "compromised", "stolen", now=days(5), since=NOW)
    after = ring.with_revocation(stolen)
    assert after.fault(cai.public, days(6)) == ""
    assert "Ben" in after.fault(eve.public, days(6))


def test_a_revocation_by_a_key_that_was_revoked_already_is_refused(three):
    ring, ruth, ben, cai, _ = three
    late = accounts.revoked(ring, ben, cai.public, "left", "moved", now=days(3))
    left = accounts.revoked(ring, ruth, ben.public, "left", "moved", now=days(1))
    with pytest.raises(UnusableDocument, match="revoked itself by then"):
        Keyring.of([one.document for one in ring.certificates], [late, left])


def test_a_stolen_key_does_not_undo_its_own_revocation(three):
    """Whoever holds it says that the supervisor who revoked it was compromised before."""
    ring, _, ben, cai, _ = three
    known = [one.document for one in ring.certificates]
    stolen = accounts.revoked(ring, cai, ben.public, "compromised", "stolen", now=days(1), since=NOW)
    evil = accounts.revoked(ring, ben, cai.public, "compromised", "not so", now=days(3), since=NOW)
    with pytest.raises(UnusableDocument, match="revoked itself by then"):
        Keyring.of(known, [stolen, evil])


def test_nor_does_a_key_that_the_stolen_one_vouched_for(three):
    ring, _, ben, cai, random_bytes = three
    ring, eve = with_eve(ring, ben, random_bytes)
    known = [one.document for one in ring.certificates]
    stolen = accounts.revoked(ring, cai, ben.public, "compromised", "stolen", now=days(2), since=NOW)
    evil = accounts.revoked(ring, eve, cai.public, "compromised", "not so", now=days(3), since=NOW)
    after = Keyring.of(known, [stolen, evil])
    assert "revoked" in after.fault(ben.public, days(4))
    assert after.fault(eve.public, days(4)) != ""
    assert after.fault(cai.public, days(4)) == ""
    assert [one.by for one in after.undone] == [eve.public]


def test_nobody_takes_the_ground_from_their_own_key(three):
    ring, ruth, ben, _, _ = three
    with pytest.raises(UnusableAccount, match="rests on it since later"):
        accounts.revoked(ring, ben, ruth.public, "compromised", "stolen", now=days(5), since=days(-60))
    later = accounts.revoked(ring, ben, ruth.public, "compromised", "stolen", now=days(5), since=days(-10))
    assert ring.with_revocation(later).fault(ben.public, days(6)) == ""


def test_one_s_own_key_can_be_revoked(three):
    ring, ruth, _, _, _ = three
    own = accounts.revoked(ring, ruth, ruth.public, "lost", "a lost laptop", now=days(1))
    assert "lost" in ring.with_revocation(own).fault(ruth.public, days(1))
