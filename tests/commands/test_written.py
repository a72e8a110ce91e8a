"""Every command that writes a file says so in one way, on stderr, and standard output holds results alone."""

import json
from pathlib import Path

import pytest

from trainer.commands.main import main

SAMPLE = Path(__file__).resolve().parents[2] / "sessions" / "recorded" / "pump-shop.sqlite"
READER = ["Inspector 1", "--instrument", "metric"]

WRITING = {
    "draw": (["draw", "--reading", "7.384", "--plain", "--out", "a.png"], "a.png"),
    "budget": (["budget", "shaft", "--figure", "a.pdf"], "a.pdf"),
    "capability": (["capability", *READER, "--figure", "a.png"], "a.png"),
    "quote": (["quote", *READER, "--out", "a.md"], "a.md"),
    "quote as a spreadsheet": (["quote", *READER, "--out", "a.xlsx"], "a.xlsx"),
    "report": (["report", *READER, "--out", "a.pdf"], "a.pdf"),
    "export": (["export", "people", "--out", "a.csv"], "a.csv (6 rows of people)"),
    "cost": (["signoff", "cost", "first-level-metric", "--people", "200", "--out", "a.png"], "a.png"),
    "publish": (["signoff", "keys", "publish", "Supervisor 1", "--out", "a.pem"], "a.pem"),
}


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TENTHWISE_ARCHIVE", str(SAMPLE))
    return tmp_path


@pytest.mark.parametrize("command", WRITING)
def test_what_was_written_is_said_on_stderr(command, place, capsys):
    arguments, told = WRITING[command]
    assert main(arguments) in (0, 1)  # 1: the answer is no
    said = capsys.readouterr()
    assert said.err.splitlines()[-1] == f"written: {told}"
    assert "written" not in said.out
    assert (place / told.split()[0]).stat().st_size > 100


@pytest.mark.parametrize("command", ["draw", "budget", "capability", "cost"])
def test_beside_a_file_json_stays_json(command, place, capsys):
    assert main([*WRITING[command][0], "--json"]) in (0, 1)
    assert json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("command", [one for one in WRITING if one != "publish"])  # a key has any name
def test_a_name_with_another_ending_is_refused_before_anything_is_done(command, place, capsys):
    assert main([*WRITING[command][0][:-1], "a.odt"]) == 1
    said = capsys.readouterr()
    assert said.err.startswith("tenthwise: a.odt: the name must end in ")
    assert said.err.count("\n") == 1
    assert list(place.iterdir()) == []
