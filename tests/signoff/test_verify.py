"""A statement that says what is not so is found although its signature fits.

Each case is the statement of an honest laboratory with one thing changed and signed anew by the same key.
"""

import copy
from dataclasses import replace
from datetime import timedelta

import pytest

from tests.signoff.test_statement import FIRST, NOW, lab, sessions, signed, source  # noqa: F401 - a fixture
from trainer.signoff import accounts, keys
from trainer.signoff.attempts import history
from trainer.signoff.sealed import seal
from trainer.signoff.statement import watch_digest
from trainer.signoff.verify import AtHand, verify


def wrong(document, lab, **more):  # noqa: F811
    """Return what does not hold of a document, by what it is about."""
    given = {"now": NOW, "trusted": lab[1].public} | more
    return {one.what: one.sentence for one in verify(document, **given).findings if not one.holds}


def signed_anew(lab, change):  # noqa: F811
    """Return the statement with one thing changed in its body, signed by the supervisor who signs."""
    made = copy.deepcopy(dict(signed(lab)))
    change(made["body"])
    return {**seal(made["body"], lab[2]), "keys": made["keys"]}


def of_limits(name, **changed):
    def change(body):
        next(one for one in body["decision"]["limits"] if one["name"] == name).update(changed)

    return change


LIES = {
    "another verdict": (
        lambda b: b["decision"].update(verdict="shown to fail"),
        "verdict is not that everything",
    ),
    "a limit not shown": (of_limits("spread", verdict="not yet shown"), "verdict is not that everything"),
    "another limit": (of_limits("bias", limit=0.6), "its limits are not those of its criterion"),
    "a limit left out": (
        lambda b: b["decision"]["limits"].pop(),
        "its limits are not those of its criterion",
    ),
    "more readings": (
        lambda b: b["decision"].update(readings=100),
        "its evidence is not that of its decision",
    ),
    "a check less": (lambda b: b["evidence"].pop(), "its evidence is not that of its decision"),
    "another check": (
        lambda b: b["evidence"][0].update(session="s9"),
        "its evidence is not that of its decision",
    ),
    "valid for longer": (lambda b: b.update(valid_until="2029-03-10T08:00:00Z"), "valid for another time"),
    "evidence of tomorrow": (
        lambda b: b["evidence"][0].update(started_at="2026-03-11T08:00:00Z"),
        "signed before its evidence was taken",
    ),
    "another supervisor": (lambda b: b["supervisor"].update(account="Ruth"), "names another supervisor"),
    "the supervisor's own": (lambda b: b["person"].update(id="p2"), "Ben signed for themself"),
    "a name like the supervisor's": (lambda b: b["person"].update(name="BEN"), "Ben signed for themself"),
    "another title": (lambda b: b["criterion"].update(title="Stricter"), "does not have the hash and title"),
    "another hash": (lambda b: b["criterion"].update(sha256="0" * 64), "does not have the hash and title"),
    "something missing": (lambda b: b.pop("evidence"), "lacks something"),
}


@pytest.mark.parametrize("lie", LIES)
def test_what_is_signed_and_not_so_is_found(lab, lie):  # noqa: F811
    change, words = LIES[lie]
    found = wrong(signed_anew(lab, change), lab)
    assert any(words in sentence for sentence in found.values()), found


def test_the_same_signed_anew_without_a_change_holds(lab):  # noqa: F811
    assert wrong(signed_anew(lab, lambda body: None), lab) == {}


def test_a_key_of_somebody_else_is_no_reason_to_trust(lab):  # noqa: F811
    stranger = accounts.set_up("Eve", None, "lantern orbit velvet nine", now=NOW, random_bytes=source(7000))
    eve = keys.unlocked(stranger.key_file, "Eve", "lantern orbit velvet nine").public
    found = wrong(signed(lab), lab, trusted=eve)
    assert found == {"trust": f"the key that you trust, {eve.fingerprint}, is not among those that signed"}


def test_without_any_trust_the_first_key_of_the_chain_is_named(lab):  # noqa: F811
    _, ruth, _, _ = lab
    found = wrong(signed(lab), lab, trusted=None)
    assert found["trust"].startswith(
        f"nothing says that the first key, {ruth.public.fingerprint} (Ruth), is your"
    )


@pytest.mark.parametrize("keys_given", [None, [], "x", [{}]])
def test_without_its_certificates_nothing_holds(lab, keys_given):  # noqa: F811
    assert not verify({**signed(lab), "keys": keys_given}, now=NOW, trusted=lab[1].public).good


@pytest.mark.parametrize(
    ("hours", "holds"),
    [(-0.01, False), (0.0, True), (24 * 365 - 0.01, True), (24 * 365, False)],
)
def test_it_holds_from_its_signing_to_the_end_of_its_year(lab, hours, holds):  # noqa: F811
    """valid_days = 365 in the criterion."""
    assert (wrong(signed(lab), lab, now=NOW + timedelta(hours=hours)) == {}) is holds


def at_hand(lab, made, **more):  # noqa: F811
    """Return what an honest archive adds."""
    given = {"ring": lab[0], "copy": made, "standing": "", "history": lambda c: history(c, sessions(5))}
    return AtHand(**(given | more))


@pytest.mark.parametrize(
    ("minutes", "holds"), [(0, True), (60, True), (-60, True), (61, False), (-61, False)]
)
def test_it_was_recorded_within_an_hour_of_what_it_says(lab, minutes, holds):  # noqa: F811
    made = signed(lab)
    hand = at_hand(lab, made, recorded_at=NOW + timedelta(minutes=minutes))
    assert ("record time" not in wrong(made, lab, archive=hand)) is holds


def test_standing_copy_and_revocation_are_told_from_the_archive(lab):  # noqa: F811
    made = signed(lab)
    assert wrong(made, lab, archive=at_hand(lab, made)) == {}
    assert "it is withdrawn" in wrong(made, lab, archive=at_hand(lab, made, standing="withdrawn"))["standing"]
    assert "no such statement" in wrong(made, lab, archive=at_hand(lab, None))["record"]
    other = {**made, "keys": made["keys"][:1]}
    assert "is another one" in wrong(made, lab, archive=at_hand(lab, other))["record"]
    late = at_hand(lab, made, after_revocation=True)
    assert "the log has the key's revocation before it" in wrong(made, lab, archive=late)["key status"]


WATCH = {"ticket": "t", "marks": [], "flags": ["paused 1 time"], "attested": "I did", "ended_how": "finished"}


def test_the_records_of_the_checks_are_those_that_were_signed(lab):  # noqa: F811
    def watched(body):
        for row in body["evidence"]:
            row.update(flags=WATCH["flags"], attested=True, watch_sha256=watch_digest(WATCH))

    made = signed_anew(lab, watched)
    same = {f"s{n}": WATCH for n in range(5)}
    assert "guard" not in wrong(made, lab, archive=at_hand(lab, made, watches=same))
    for other, words in (
        ({**same, "s2": {**WATCH, "attested": ""}}, "session s2 is another one than was signed"),
        ({name: one for name, one in same.items() if name != "s3"}, "session s3 is missing"),
        ({**same, "s0": {**WATCH, "flags": []}}, "session s0 is another one than was signed"),
    ):
        assert words in wrong(made, lab, archive=at_hand(lab, made, watches=other))["guard"]


def test_flags_are_compared_where_the_statement_has_no_hash_and_where_it_has(lab):  # noqa: F811
    """Statements of earlier versions give the flags alone; a later one may give flags that are not those."""

    def flagged(**given):
        def change(body):
            for row in body["evidence"]:
                row.pop("watch_sha256", None)
                row.update(flags=WATCH["flags"], attested=True, **given)

        return signed_anew(lab, change)

    same = {f"s{n}": WATCH for n in range(5)}
    old = flagged()
    assert "guard" not in wrong(old, lab, archive=at_hand(lab, old, watches=same))
    other = {**same, "s3": {**WATCH, "flags": []}}
    assert "session s3 is another" in wrong(old, lab, archive=at_hand(lab, old, watches=other))["guard"]
    hash_alone = flagged(watch_sha256=watch_digest({**WATCH, "flags": []}))
    empty = {f"s{n}": {**WATCH, "flags": []} for n in range(5)}
    hand = at_hand(lab, hash_alone, watches=empty)
    assert "session s0 is another" in wrong(hash_alone, lab, archive=hand)["guard"]


def test_an_archive_that_knows_the_key_is_reason_to_trust(lab):  # noqa: F811
    made = signed(lab)
    found = verify(made, now=NOW, archive=at_hand(lab, made)).findings
    assert [(one.holds, one.sentence) for one in found if one.what == "trust"] == [
        (True, "the archive knows the key")
    ]


@pytest.mark.parametrize(
    ("kind", "since", "holds", "words"),
    [
        ("left", None, True, "the key was revoked later, on 2026-03-11 (left)"),
        ("compromised", NOW - timedelta(days=2), False, "when it was signed, "),
    ],
)
def test_a_revocation_is_told_with_when_and_why(lab, kind, since, holds, words):  # noqa: F811
    ring, ruth, ben, _ = lab
    made = signed(lab)
    cancel = accounts.revoked(
        ring,
        ruth,
        ben.public,
        kind,
        "why",
        now=NOW + timedelta(days=1),
        **({"since": since} if since else {}),
    )
    hand = at_hand(lab, made, ring=ring.with_revocation(cancel))
    found = verify(made, now=NOW + timedelta(days=2), archive=hand).findings
    (status,) = [one for one in found if one.what == "key status"]
    assert status.holds is holds
    assert status.sentence.startswith(words)


def evidence(lab, kept, body=lambda body: None):  # noqa: F811
    """Return what verifying says of the evidence where the archive has some sessions, or "" if it holds."""
    made = signed_anew(lab, body)
    hand = at_hand(lab, made, history=lambda criterion: history(criterion, kept))
    return wrong(made, lab, archive=hand).get("evidence", "")


def test_what_became_of_the_evidence_is_told_session_by_session(lab):  # noqa: F811
    five = sessions(5)
    assert evidence(lab, five) == ""
    second = evidence(lab, five, lambda body: body["attempt"].update(number=9))
    assert second == "the archive's sessions make no attempt 9"
    assert evidence(lab, five[:3]) == "session s3 is not in the archive's attempt"
    changed = replace(five[2], errors_tenths=(*five[2].errors_tenths[:-1], 0.0))
    assert evidence(lab, [*five[:2], changed, *five[3:]]) == "session s2 was changed since it was signed"
    late = replace(five[1], id="x", started_at="2026-03-03T20:00:00Z", seed="x")
    assert evidence(lab, [*five[:2], late, *five[2:]]) == (
        "session x of 2026-03-03 belongs to the evidence and was not in the archive when it was signed"
    )
    after = replace(five[1], id="y", started_at="2026-03-07T08:00:00Z", seed="y")
    assert evidence(lab, [*five, after]) == ""


def test_the_decision_has_to_be_upon_the_sessions_of_the_evidence(lab):  # noqa: F811
    found = evidence(lab, sessions(5), lambda body: body["decision"]["sessions"].reverse())
    assert found.startswith("the archive's evidence now gives: ")
