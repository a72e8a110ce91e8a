"""Statements and keys: every field altered in turn is found; keys that do not count are refused."""

import base64
import copy
import itertools
import json
import secrets
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from trainer.instrument.sentence import Sentence
from trainer.signoff import accounts, keys
from trainer.signoff.attempts import AttemptRefused, history, opened
from trainer.signoff.canonical import UnusableDocument, canonical, parsed, tidy
from trainer.signoff.criteria import find
from trainer.signoff.evidence import CheckSession, moment
from trainer.signoff.keyring import Keyring
from trainer.signoff.passphrase import (
    LockedOut,
    Tries,
    WeakPassphrase,
    WrongPassphrase,
    check_strength,
    suggestion,
)
from trainer.signoff.readers import Reader, errors
from trainer.signoff.sealed import seal
from trainer.signoff.statement import CannotSign, Subject, statement
from trainer.signoff.verify import AtHand, verify

FIRST = find("first-level-metric")
NOW = datetime(2026, 3, 10, 8, 0, tzinfo=UTC)
PHRASE = "lantern orbit velvet nine"
KIM = Subject("p1", "Kim Vale", "0.1.0", ("1",))


def sessions(count, *, bias=0.1, spread=0.6, misreads=0, gap_hours=24, seed=1, start=0):
    chance = np.random.default_rng(seed)
    error, misread = errors(Reader(bias, spread), (count, 20), chance)
    made = []
    for number in range(count):
        kept = tuple(float(e) for e in error[number][~misread[number]][: 20 - misreads])
        hours = (start + number) * gap_hours
        at = np.datetime64("2026-03-02T08:00:00") + np.timedelta64(int(hours * 60), "m")
        made.append(CheckSession(f"s{start + number}", f"{at}Z", kept, misreads, seed=str(start + number)))
    return made


def source(start=1):
    """Return a source of bytes that never repeats, in place of chance."""
    counter = itertools.count(start)

    def take(size):
        number = next(counter)
        return number.to_bytes(4, "big") * 8 if size == 32 else number.to_bytes(size, "big")

    return take


@pytest.fixture
def lab(monkeypatch):
    monkeypatch.setattr(keys.locked, "__kwdefaults__", {**keys.locked.__kwdefaults__, "log2_n": 10})
    random_bytes = source()
    made = accounts.set_up("Ruth", None, PHRASE, now=NOW - timedelta(days=30), random_bytes=random_bytes)
    ruth = keys.unlocked(made.key_file, "Ruth", PHRASE)
    ring = Keyring.of([made.certificate])
    other = accounts.countersigned(
        ring,
        ruth,
        "Ben",
        "p2",
        ("supervisor",),
        PHRASE,
        now=NOW - timedelta(days=29),
        random_bytes=random_bytes,
    )
    ben = keys.unlocked(other.key_file, "Ben", PHRASE)
    return Keyring.of([made.certificate, other.certificate]), ruth, ben, random_bytes


def signed(lab, *, by=None, subject=KIM, now=NOW, ring=None, **more):
    whole, _, ben, random_bytes = lab
    return statement(
        ring or whole,
        by or ben,
        FIRST,
        subject,
        history(FIRST, sessions(5)),
        now=now,
        random_bytes=random_bytes,
        **more,
    )


def leaves(value, path=()):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from leaves(inner, (*path, place))
    else:
        yield path


def flipped(document, path):
    other = copy.deepcopy(document)
    inner = other
    for step in path[:-1]:
        inner = inner[step]
    old = inner[path[-1]]
    if isinstance(old, str):
        inner[path[-1]] = ("A" if old[:1] != "A" else "B") + old[1:]
    else:
        inner[path[-1]] = 1 if old is None else not old if isinstance(old, bool) else old + 1
    return other


def test_a_statement_verifies_and_every_altered_field_is_found(lab):
    _, ruth, ben, _ = lab
    made = signed(lab)
    for trusted in (ruth.public, ben.public):
        assert verify(made, now=NOW, trusted=trusted).good
    assert not verify(made, now=NOW).good  # nobody says whose keys these are
    paths = list(leaves(made))
    assert len(paths) > 80
    unnoticed = [path for path in paths if verify(flipped(made, path), now=NOW, trusted=ruth.public).good]
    assert unnoticed == []


def test_sentences_are_signed_as_plain_english_text(lab):
    """Why a check did not count is a sentence of the catalogue; into the document goes its text alone."""
    whole, _, ben, random_bytes = lab
    taken = sessions(5)
    again = replace(taken[0], id="s9", started_at=taken[-1].started_at)  # dealt from a seed used before
    found = history(FIRST, [*taken, again])
    assert type(found.refused[0].reason) is Sentence
    made = statement(whole, ben, FIRST, KIM, found, now=NOW, random_bytes=random_bytes)
    rows = made["body"]["not_counted"]
    assert rows == [{"reason": "it was dealt from the same seed as s0", "sessions": 1}]

    def kinds(value):
        if isinstance(value, dict):
            return set().union(*(kinds(one) for one in value.values()), *(kinds(one) for one in value))
        return set().union(*map(kinds, value)) if isinstance(value, list) else {type(value)}

    assert kinds(made) <= {str, int, float, bool, type(None)}


def test_a_signature_is_of_one_statement_alone(lab):
    one, other = signed(lab), signed(lab, subject=Subject("p3", "Lee Orr", "0.1.0"))
    replayed = {**other, "signature": one["signature"]}
    assert not verify(replayed, now=NOW, trusted=lab[1].public).good


def test_public_tools_alone_verify_the_canonical_bytes(lab):
    """The signature is over RFC 8785 bytes; checked with json and cryptography alone."""
    made = json.loads(json.dumps(signed(lab)))
    body = json.dumps(made["body"], sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
    key = Ed25519PublicKey.from_public_bytes(base64.b64decode(made["public"]))
    key.verify(base64.b64decode(made["signature"]), body)
    assert canonical(made["body"]) == body


@pytest.mark.parametrize("moment_signed", ["0001-01-01T00:00:00+05:00", "9999-12-31T23:59:59Z"])
def test_a_moment_that_no_calendar_holds_is_told(lab, moment_signed):
    _, _, ben, _ = lab
    body = {**signed(lab)["body"], "signed_at": moment_signed}
    made = {**seal(body, ben), "keys": signed(lab)["keys"]}
    report = verify(made, now=NOW, trusted=ben.public)
    assert not report.good


def test_time_is_watched(lab):
    made = signed(lab)
    assert not verify(made, now=NOW + timedelta(days=366), trusted=lab[1].public).good
    assert not verify(made, now=NOW - timedelta(days=1), trusted=lab[1].public).good
    with pytest.raises(CannotSign, match="set the clock right"):
        signed(lab, now=moment("2026-03-03T08:00:00Z"))
    with pytest.raises(CannotSign, match="expired"):
        signed(lab, now=NOW + timedelta(days=365 * 4))
    with pytest.raises(CannotSign, match="take a check first"):
        signed(lab, now=NOW + timedelta(days=90))


def test_nobody_signs_for_themself_and_no_attempt_is_signed_twice(lab):
    with pytest.raises(CannotSign, match="themself"):
        signed(lab, subject=Subject("p2", "Somebody", "0.1.0"))
    with pytest.raises(CannotSign, match="themself"):
        signed(lab, subject=Subject("p9", "ben", "0.1.0"))
    with pytest.raises(CannotSign, match="signed on"):
        signed(lab, earlier=[signed(lab)])


def test_nothing_is_signed_on_what_was_shown_before_an_attempt_without_success(lab):
    ring, ruth, ben, random_bytes = lab
    taken = [*sessions(5), *sessions(4, spread=2.4, seed=3, start=5)]
    failed = history(FIRST, taken)
    assert [one.decision.verdict for one in failed.attempts] == ["shown", "shown to fail"]
    later = failed.last.ended_at + timedelta(days=8)
    again = opened(
        ring, ruth, FIRST, "p1", failed, reason="two weeks of drills", now=later, random_bytes=random_bytes
    )
    for found in (failed, history(FIRST, taken, [again])):
        with pytest.raises(CannotSign, match="there is nothing to sign yet"):
            statement(ring, ben, FIRST, KIM, found, now=later, random_bytes=random_bytes)


def test_while_checks_gather_for_a_renewal_the_attempt_before_is_signed(lab):
    ring, _, ben, random_bytes = lab
    found = history(FIRST, sessions(6))
    assert [one.decision.ended for one in found.attempts] == [True, False]
    made = statement(ring, ben, FIRST, KIM, found, now=NOW, random_bytes=random_bytes)
    assert made["body"]["attempt"]["number"] == 1


def test_a_revoked_key_does_not_sign_and_a_compromised_one_loses_its_statements(lab):
    ring, ruth, ben, _ = lab
    made = signed(lab)
    later = NOW + timedelta(days=1)
    cancel = accounts.revoked(
        ring, ruth, ben.public, "compromised", "stolen", now=later, since=NOW - timedelta(days=2)
    )
    certificates = [one.document for one in ring.certificates]
    after = Keyring.of(certificates, [cancel])
    with pytest.raises(CannotSign, match="revoked"):
        signed(lab, ring=after, now=later)
    hand = AtHand(after, made, "", lambda criterion: history(criterion, sessions(5)))
    assert not verify(made, now=later, archive=hand).good
    left = Keyring.of(certificates, [accounts.revoked(ring, ruth, ben.public, "left", "moved", now=later)])
    hand = AtHand(left, made, "", lambda criterion: history(criterion, sessions(5)))
    assert verify(made, now=later, archive=hand).good  # what was signed before stands


def test_the_archive_must_still_give_the_same_verdict(lab):
    ring = lab[0]
    made = signed(lab)
    for evidence in (sessions(5, seed=2), sessions(3), [*sessions(2, bias=2.0), *sessions(3, start=2)]):
        hand = AtHand(ring, made, "", lambda criterion, found=evidence: history(criterion, found))
        assert not verify(made, now=NOW, archive=hand).good
    hand = AtHand(ring, None, "", lambda criterion: history(criterion, sessions(5)))
    assert not verify(made, now=NOW, archive=hand).good


def test_a_key_that_vouches_for_itself_cannot_be_slipped_in(lab):
    stranger = accounts.set_up("Eve", None, PHRASE, now=NOW, random_bytes=source(5000))
    with pytest.raises(UnusableDocument, match="first keys"):
        Keyring.of([*(one.document for one in lab[0].certificates), stranger.certificate])


def test_a_new_attempt_needs_a_reason_a_wait_and_a_failed_one_before(lab):
    ring, ruth, _, random_bytes = lab
    failed = history(FIRST, sessions(4, spread=2.2))

    def ask(found, reason, now):
        return opened(ring, ruth, FIRST, "p1", found, reason=reason, now=now, random_bytes=random_bytes)

    with pytest.raises(AttemptRefused, match="reason"):
        ask(failed, " ", NOW + timedelta(days=30))
    with pytest.raises(AttemptRefused, match="7 days"):
        ask(failed, "drills", failed.last.ended_at + timedelta(days=6))
    with pytest.raises(AttemptRefused, match="without success"):
        ask(history(FIRST, sessions(2)), "drills", NOW)
    opening = ask(failed, "drills", NOW + timedelta(days=5))
    again = history(FIRST, [*sessions(4, spread=2.2), *sessions(5, start=20)], [opening])
    assert [one.decision.verdict for one in again.attempts][:2] == ["shown to fail", "shown"]


def test_a_key_file_opens_with_its_passphrase_alone(lab):
    key = keys.new_private_key(source(900))
    text = keys.locked(key, "Ruth", PHRASE, random_bytes=source(901))
    assert keys.unlocked(text, "Ruth", PHRASE) == key
    assert PHRASE not in text
    for account, phrase in (("Ruth", PHRASE + "."), ("Ben", PHRASE)):
        with pytest.raises(WrongPassphrase, match="do not go together"):
            keys.unlocked(text, account, phrase)
    found = parsed(text, "")
    for path in leaves(found):
        with pytest.raises((WrongPassphrase, keys.UnusableKey)):
            keys.unlocked(json.dumps(flipped(found, path)), "Ruth", PHRASE)


@pytest.mark.parametrize(
    "phrase",
    [
        "short",
        "aaaaaaaaaaaaaaaaaa",
        "password1234567890",
        "Ruth Ruth password",
        "abcdefghijklmnopqrs",
        "password 12345678",
        "lantern lantern",
        "lantern 1111 4321 lantern",
    ],
)
def test_weak_passphrases_are_refused_with_help(phrase):
    with pytest.raises(WeakPassphrase):
        check_strength(phrase, "Ruth")


def test_suggested_passphrases_pass():
    for _ in range(50):
        check_strength(suggestion(secrets.randbelow), "Ruth")


def test_the_delay_grows_and_ends():
    tries, waits = Tries(), []
    for number in range(14):
        tries = tries.after_wrong(1000.0 + number)
        waits.append(tries.delay_s)
    assert waits[:6] == [0, 0, 2, 4, 8, 16]
    assert waits[-1] == 900


def test_a_wait_is_told_in_whole_seconds_that_are_long_enough():
    tries = Tries(3, 1000.0)
    for now_s, words in ((1000.6, "in 2 seconds"), (1001.5, "in 1 second")):
        with pytest.raises(LockedOut, match=f"{words}$"):
            tries.refuse_if_locked(now_s)
    tries.refuse_if_locked(1002.0)


def test_a_document_nested_too_deep_is_refused_in_a_sentence():
    deep = parsed('{"a":' + "[" * 700 + "]" * 700 + "}", "x.json")
    with pytest.raises(UnusableDocument, match="nested too deep"):
        canonical(deep)


def test_numbers_are_written_as_rfc_8785_does():
    """RFC 8785, 3.2.2 and appendix B: shortest form, whole numbers without a point, minus zero as 0."""
    assert (
        canonical(tidy({"b": -0.0, "a": [1.0, 0.5, 333333333.33333329]}))
        == b'{"a":[1,0.5,333333333.3333],"b":0}'
    )


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("José Vale", "jose\u0301  vale", True),  # composed or not, the eye sees one name
        ("Kim\u200b Vale", "Kim Vale", True),  # a space of no width
        ("Straße", "STRASSE", True),
        ("Kim Vale", "Kim Vail", False),
    ],
)
def test_nobody_signs_for_themself_under_a_name_that_looks_the_same(one, other, same):
    assert accounts.same_name(one, other) is same
