"""Tampering round a statement: archives replayed, files edited, clocks set back, trails incomplete."""

import json
import shutil
import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest

from tests.commands.laboratory import BEN, RUTH, Laboratory
from trainer.commands.main import main


@pytest.fixture
def lab(tmp_path, monkeypatch, capsys):
    made = Laboratory(monkeypatch, capsys, tmp_path)
    made.set_up()
    return made


@pytest.fixture
def signed(lab):
    """Give a laboratory with a statement signed, and a copy of the archive from before its last check."""
    for seed in range(3):
        lab.check(seed)
    shutil.copy(lab.archive, "older.db")
    Path("heads.json").write_text(lab.done("archive", "check", "--json"), encoding="utf-8")
    lab.check(3)
    lab.later(hours=1)
    lab.done("signoff", "sign", "Kim Vale", "--out", "kim.json", "--pdf", "kim.pdf", by=BEN)
    return lab


def wrong(lab, *arguments):
    """Return what of the statement does not hold, by what it is about."""
    return {one["what"]: one["sentence"] for one in lab.finding(*arguments)["findings"] if not one["holds"]}


def test_an_older_archive_put_back_beside_newer_statements_is_found(signed):
    Path("heads.json").write_text(signed.done("archive", "check", "--json"), encoding="utf-8")
    assert wrong(signed, "kim.json") == {}
    shutil.copy("older.db", signed.archive)
    found = wrong(signed, "kim.json")
    assert "holds no such statement" in found["record"]
    assert "evidence" in found
    assert main(["archive", "check"]) == 0  # of itself it is whole ...
    code, out, _ = signed.run("archive", "check", "--since", "heads.json")
    assert code == 1  # ... and is found by the heads of a later check
    assert "stood at the earlier check" in out


def test_a_statement_replayed_into_an_older_archive_does_not_verify_there(signed):
    with sqlite3.connect(signed.archive) as now, sqlite3.connect("older.db") as older:
        row = now.execute("SELECT * FROM documents WHERE kind = 'statement'").fetchone()
        older.execute("INSERT INTO documents VALUES (?, ?, ?, ?, ?, ?)", row)
    now.close()
    older.close()
    assert main(["archive", "check", "--archive", "older.db"]) == 1
    assert "evidence" in wrong(signed, "kim.json", "--archive", "older.db")


def test_an_edited_file_is_found_and_the_page_proves_nothing(signed):
    document = json.loads(Path("kim.json").read_text(encoding="utf-8"))
    for name, value in (("Lee Orme", ("person", "name")), ("2030-01-01T00:00:00Z", ("valid_until",))):
        body = json.loads(json.dumps(document["body"]))
        inner = body
        for step in value[:-1]:
            inner = inner[step]
        inner[value[-1]] = name
        Path("edited.json").write_text(json.dumps({**document, "body": body}), encoding="utf-8")
        assert "signature" in wrong(signed, "edited.json")
        assert signed.run("verify", "edited.json")[0] == 1
    content = Path("kim.pdf").read_bytes()
    Path("edited.pdf").write_bytes(content.replace(b"/Producer", b"/Producex"))
    for page in ("kim.pdf", "edited.pdf"):  # whole or edited, a page is no statement
        assert page in signed.refused("verify", page)


def test_a_clock_set_back_to_sign_with_a_key_that_was_revoked_since(signed):
    """Ben's key is revoked; a clock set back makes it look in force. That is refused, whatever it says."""
    signed.later(days=1)
    for seed in range(10, 14):
        signed.check(seed)
    signed.later(hours=5)
    revoke = ["signoff", "keys", "revoke", BEN, "--kind", "left", "--reason", "moved"]
    signed.done(*revoke, by=RUTH)
    assert "revoked" in signed.refused("signoff", "sign", "Kim Vale", "--out", "late.json", by=BEN)
    signed.now -= timedelta(days=2)  # before the evidence: refused
    assert "set the clock right" in signed.refused(
        "signoff", "sign", "Kim Vale", "--out", "late.json", by=BEN
    )
    signed.now += timedelta(days=2) - timedelta(hours=2)  # between evidence and revocation: told in the log
    assert "key was revoked on" in signed.refused("signoff", "sign", "Kim Vale", "--out", "late.json", by=BEN)
    assert [kind for kind, _ in documents_by(signed)][-1] == "revocation"


def test_a_statement_kept_after_its_keys_revocation_is_found_by_the_order_of_the_log(signed, monkeypatch):
    """Somebody goes round the refusal at signing; `verify` sees the order of the acts."""
    from trainer.signoff.keyring import Keyring

    signed.later(days=1)
    for seed in range(10, 14):
        signed.check(seed)
    signed.later(hours=5)
    signed.done("signoff", "keys", "revoke", BEN, "--kind", "left", "--reason", "moved", by=RUTH)
    signed.now -= timedelta(hours=2)
    with monkeypatch.context() as round_it:
        round_it.setattr(Keyring, "revocation", lambda self, key: None)
        signed.done("signoff", "sign", "Kim Vale", "--out", "late.json", by=BEN)
    assert [kind for kind, _ in acts(signed)][-2:] == ["clock-set-back", "document"]
    signed.now += timedelta(hours=3)
    assert main(["verify", "late.json", "--archive", signed.archive]) == 1
    assert main(["verify", "kim.json", "--archive", signed.archive]) == 0


def acts(lab):
    """Return (kind, who) of every act in the log."""
    with sqlite3.connect(lab.archive) as store:
        return [tuple(row) for row in store.execute("SELECT kind, who FROM acts ORDER BY seq")]


def documents_by(lab):
    """Return (kind of document, who) of every document's act."""
    with sqlite3.connect(lab.archive) as store:
        query = "SELECT detail, who FROM acts WHERE kind = 'document' ORDER BY seq"
        return [(json.loads(detail)["kind"], who) for detail, who in store.execute(query)]


def test_every_act_of_a_laboratory_is_in_the_log_with_who_did_it(signed):
    """Added person, check, sign, export, setting, accounts: the list of issue 6, item 7."""
    signed.done("people", "rename", "Kim Vale", "Kim Orme", by=RUTH)
    signed.done("people", "add", "Lee Orme", by=RUTH)
    signed.done("export", "people", by=RUTH)
    signed.done("people", "dossier", "Kim Orme", "--out", "kim.zip", by=RUTH)
    signed.done("archive", "backup", "copy.db", by=RUTH)
    number = json.loads(Path("kim.json").read_text(encoding="utf-8"))["body"]["id"]
    signed.later(hours=1)
    signed.done("signoff", "standing", number, "suspend", "--reason", "a complaint", by=BEN)
    revoke = ["signoff", "keys", "revoke", BEN, "--kind", "left", "--reason", "moved"]
    signed.done(*revoke, by=RUTH)
    signed.done("people", "archive-person", "Kim Orme", by=RUTH)
    told = acts(signed)
    for kind in ("person-added", "person-renamed", "export", "backup", "person-archived"):
        assert (kind, RUTH) in told, kind
    assert told.count(("export", RUTH)) == 2
    for kind in ("session-begun", "answer", "session-ended"):
        assert kind in {one for one, _ in told}, kind
    kept = documents_by(signed)
    for kind, who in (
        ("key", RUTH),
        ("check", RUTH),
        ("statement", BEN),
        ("standing", BEN),
        ("revocation", RUTH),
    ):
        assert (kind, who) in kept, kind
    assert kept.count(("check", RUTH)) == 4
    assert main(["archive", "check"]) == 0


def test_a_setting_is_an_act_and_says_who(lab):
    from trainer.records.archive import Archive

    with Archive.open(create=False) as archive:
        archive.set_setting("team", {"name": "north"}, who=RUTH)
    assert ("setting", RUTH) in acts(lab)
