"""`tenthwise archive`: info, check, backup, restore, move, rescue, upgrade."""

import json
import os
import sqlite3
from pathlib import Path

import pytest

from trainer.commands.main import main


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give an archive with two people, named by the environment."""
    path = tmp_path / "a.tenthwise"
    monkeypatch.setenv("TENTHWISE_ARCHIVE", str(path))
    monkeypatch.setenv("TENTHWISE_STATION", "TESTSTAT")
    assert main(["people", "add", "Kim"]) == 0
    assert main(["people", "add", "Ito"]) == 0
    return path


def test_info_counts(kept, capsys):
    capsys.readouterr()
    assert main(["archive", "info", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["engine"], told["people"], told["acts"], told["place"]) == ("SQLite", 2, 3, str(kept))


def test_check_is_content_then_names_what_was_changed(kept, capsys, tmp_path):
    capsys.readouterr()
    assert main(["archive", "check", "--json"]) == 0
    (tmp_path / "heads.json").write_text(capsys.readouterr().out)
    assert main(["archive", "check", "--since", str(tmp_path / "heads.json")]) == 0
    connection = sqlite3.connect(kept)
    connection.execute("UPDATE people SET name = 'Kym', name_key = 'kym' WHERE name = 'Kim'")
    connection.commit()
    connection.close()
    capsys.readouterr()
    assert main(["archive", "check"]) == 1
    out = capsys.readouterr().out
    assert "(Kym) has been changed past the log" in out
    assert "NOT whole" in out


def test_backup_restore_move_and_rescue_give_whole_archives(kept, tmp_path, capsys):
    backup, restored, moved, rescued = (str(tmp_path / name) for name in "bcde")
    assert main(["archive", "backup", backup]) == 0
    assert main(["archive", "restore", backup, "--archive", restored]) == 0
    assert main(["archive", "move", str(kept), moved]) == 0
    assert main(["archive", "rescue", str(kept), rescued]) == 0
    for place in (backup, restored, moved, rescued):
        assert main(["archive", "check", "--archive", place]) == 0
        capsys.readouterr()
        assert main(["people", "list", "--archive", place]) == 0
        assert capsys.readouterr().out.split() == ["Ito", "Kim"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["archive", "check", "--archive", "none"], "no such archive"),
        (["archive", "backup", "a.tenthwise"], "exists already"),
        (["archive", "check", "--since", "a.tenthwise"], "archive check --json"),
        (["archive", "rescue", "none", "x"], "no such file"),
        (["archive", "info", "--archive", "mysql://x/y"], "not supported"),
    ],
)
def test_what_cannot_be_done_is_one_sentence_and_exit_1(kept, capsys, monkeypatch, arguments, words):
    monkeypatch.chdir(kept.parent)
    capsys.readouterr()
    assert main(arguments) == 1
    said = capsys.readouterr().err
    assert words in said
    assert said.startswith("tenthwise: ")
    assert said.count("\n") == 1


def test_a_damaged_archive_is_refused_with_the_way_out(kept, capsys):
    whole = kept.read_bytes()
    kept.write_bytes(whole[:8192] + os.urandom(8192) + whole[16384:])
    assert main(["people", "list"]) == 1
    assert "archive rescue" in capsys.readouterr().err


def test_upgrade_says_when_there_is_nothing_to_do(kept, capsys):
    capsys.readouterr()
    assert main(["archive", "upgrade", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["from"] == told["to"]
    assert told["backup"] is None
