"""`verify` with files that are none, and with documents altered in the archive past the program."""

import json
import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest

from trainer.commands.main import main
from trainer.records import accounts, documents
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.signoff import accounts as rules
from trainer.signoff import keys

NOW = datetime(2026, 3, 10, 8, 0, tzinfo=UTC)
FLIPS = {
    "id": "id || 'x'",
    "kind": "'statement'",
    "about": "about || 'x'",
    "body": "replace(body, 'Ruth', 'Rita')",
    "chain": "chain || 'x'",
    "seq": "seq + 1000",
}


@pytest.mark.parametrize(
    ("content", "word"),
    [
        ("", "not JSON"),
        ("[]", "not a JSON object"),
        ('{"a": 1, "a": 2}', "appears twice"),
        ("\x00\xff", "not JSON"),
    ],
)
def test_a_file_that_is_no_statement_is_refused_in_a_sentence(tmp_path, capsys, content, word):
    file = tmp_path / "s.json"
    file.write_text(content, encoding="utf-8")
    assert main(["verify", str(file)]) == 1
    told = capsys.readouterr().err
    assert word in told
    assert told.count("\n") == 1


def test_another_document_and_a_wrong_key_are_refused(tmp_path, capsys):
    file = tmp_path / "s.json"
    file.write_text(json.dumps({"body": {"format": "else"}}), encoding="utf-8")
    assert main(["verify", str(file)]) == 1
    assert "not a document of the form" in capsys.readouterr().out
    assert main(["verify", str(file), "--key", str(file)]) == 1
    assert "not a public key in PEM form" in capsys.readouterr().err


@pytest.mark.parametrize("day", ["30.6.2026", "2026-13-40", "2026-06-30T25:00"])
def test_a_day_that_is_none_is_refused_as_it_was_typed(tmp_path, capsys, day):
    file = tmp_path / "s.json"
    file.write_text(json.dumps({"body": {}}), encoding="utf-8")
    assert main(["verify", str(file), "--on", day]) == 1
    assert capsys.readouterr().err == f"tenthwise: --on is {day!r}; type a day such as 2026-06-30\n"


@pytest.fixture
def archive(tmp_path, monkeypatch):
    monkeypatch.setattr(keys.locked, "__kwdefaults__", {**keys.locked.__kwdefaults__, "log2_n": 10})
    path = tmp_path / "lab.db"
    counter = iter(range(1, 100))
    with Archive.open(path) as opened:
        made = rules.set_up(
            "Ruth",
            None,
            "lantern orbit velvet nine",
            now=NOW,
            random_bytes=lambda n: bytes([next(counter)]) * n,
        )
        accounts.keep_key(opened, made, tmp_path / "ruth.key", who="Ruth")
    return path


def tampered(path: Path, statement: str) -> list[str]:
    connection = sqlite3.connect(path)
    with connection:
        connection.execute(statement)
    connection.close()
    with Archive.open(path, create=False) as opened:
        return check(opened.store).findings


@pytest.mark.parametrize("column", FLIPS)
def test_every_field_of_a_document_is_watched(archive, column):
    assert tampered(archive, "SELECT 1") == []
    assert tampered(archive, f"UPDATE documents SET {column} = {FLIPS[column]}") != []


def test_documents_taken_away_or_slipped_in_are_named(archive):
    slipped = "INSERT INTO documents SELECT id || 'x', kind, about, body, chain, seq FROM documents"
    assert any("no act" in one for one in tampered(archive, slipped))
    assert any("missing" in one for one in tampered(archive, "DELETE FROM documents"))


def test_a_document_is_kept_with_its_act(archive):
    with Archive.open(archive, create=False) as opened:
        kept = documents.listed(opened, accounts.KEY, "Ruth")
    assert [one.document["body"]["account"] for one in kept] == ["Ruth"]
