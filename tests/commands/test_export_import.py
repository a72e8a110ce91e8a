"""`tenthwise export` and `tenthwise import`: there and back, filters, refusals."""

import json

import pytest

from trainer.commands.main import main

TEXT = (
    "person,truth_tenths,answer_tenths,session,item,drill\n"
    "Ana,10.25,10,S1,1,x\nAna,20.5,,S1,2,x\n=B,1,2,S2,1,y\n"
)


@pytest.fixture(autouse=True)
def place(tmp_path, monkeypatch):
    monkeypatch.setenv("TENTHWISE_ARCHIVE", str(tmp_path / "a.tenthwise"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "in.csv").write_text(TEXT, "utf-8")


def test_there_and_back(capsys, tmp_path):
    assert main(["import", "in.csv", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {
        "answers": 3, "sessions": 2, "people_added": ["Ana", "=B"], "sessions_there_already": 0,
        "sessions_unnamed": 0,
    }  # fmt: skip
    assert main(["export", "--out", "out.csv"]) == 0
    assert "'=B,1.0,2.0,S2" in (tmp_path / "out.csv").read_text("utf-8")
    assert main(["import", "out.csv", "--archive", "b.tenthwise"]) == 0
    assert main(["export", "--out", "again.csv", "--archive", "b.tenthwise"]) == 0
    rows = [(tmp_path / name).read_text("utf-8").split("\n")[4:] for name in ("out.csv", "again.csv")]
    assert rows[0] == rows[1]


def test_filters_and_json(capsys):
    assert main(["import", "in.csv"]) == 0
    capsys.readouterr()
    assert main(["export", "answers", "--person", "ana", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["answers"]
    assert [(row["person"], row["truth_tenths"], row["answer_tenths"]) for row in rows] == [
        ("Ana", 10.25, 10.0),
        ("Ana", 20.5, None),
    ]
    assert main(["export", "sessions", "--drill", "y", "--json"]) == 0
    assert [row["session"] for row in json.loads(capsys.readouterr().out)["sessions"]] == ["S2"]
    assert main(["export", "answers", "--checks", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"answers": []}


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["export", "--out", "x.xyz"], 1, "must end in"),
        (["export", "--person", "Zoe"], 1, "no person called"),
        (["export", "--archive", "none"], 1, "no such archive"),
        (["export", "spoons"], 2, "cannot be exported"),
        (["import", "none.csv"], 1, "no such file"),
        (["import", "."], 1, "folder"),
    ],
)
def test_refusals(capsys, arguments, code, words):
    assert main(["import", "in.csv"]) == 0
    capsys.readouterr()
    assert main(arguments) == code
    assert words in capsys.readouterr().err


def test_a_file_without_names_of_sessions_is_said_to_be_one_to_take_in_once(tmp_path, capsys):
    path = tmp_path / "plain.csv"
    path.write_text("person,truth_tenths,answer_tenths\nKim,12.3,12\nKim,45.6,46\n", encoding="utf-8")
    place = str(tmp_path / "new.sqlite")
    assert main(["import", str(path), "--dry-run", "--archive", place]) == 0
    assert "would be kept twice" in capsys.readouterr().out
    assert main(["import", str(path), "--archive", place]) == 0
    assert "would be kept twice" in capsys.readouterr().err
    named = tmp_path / "named.csv"
    named.write_text("person,session,truth_tenths,answer_tenths\nKim,a,12.3,12\n", encoding="utf-8")
    assert main(["import", str(named), "--archive", place]) == 0
    assert "twice" not in capsys.readouterr().err
