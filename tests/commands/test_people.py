"""`tenthwise people`: list, add, rename, put away, pseudonymise, a list of names."""

import json

import pytest

from trainer.commands.main import main


@pytest.fixture(autouse=True)
def place(tmp_path, monkeypatch):
    monkeypatch.setenv("TENTHWISE_ARCHIVE", str(tmp_path / "a.tenthwise"))


def names(capsys, *options: str) -> list[str]:
    capsys.readouterr()
    assert main(["people", "list", "--json", *options]) == 0
    return [person["person"] for person in json.loads(capsys.readouterr().out)["people"]]


def test_people_come_are_renamed_and_are_put_away(capsys):
    assert main(["people", "add", "Kim Vale"]) == 0
    assert main(["people", "add", "Ito"]) == 0
    assert main(["people", "rename", "ito", "Ito Berg"]) == 0
    assert main(["people", "archive-person", "Kim Vale"]) == 0
    assert names(capsys) == ["Ito Berg"]
    assert names(capsys, "--all") == ["Ito Berg", "Kim Vale"]
    assert main(["people", "archive-person", "Kim Vale", "--back"]) == 0
    assert names(capsys) == ["Ito Berg", "Kim Vale"]


def test_a_list_of_names_is_taken_whole_or_not_at_all(capsys, tmp_path):
    good, bad = tmp_path / "good.txt", tmp_path / "bad.txt"
    good.write_text("# a class\nAna\n\nBo\nana\n", "utf-8")
    bad.write_text("Cy\n" + "x" * 201 + "\n", "utf-8")
    assert main(["people", "import-list", str(good)]) == 0
    assert "2 added, 1 was there already" in capsys.readouterr().out
    assert main(["people", "import-list", str(bad)]) == 1
    assert "bad.txt, line 2" in capsys.readouterr().err
    assert names(capsys) == ["Ana", "Bo"]


def test_a_name_goes_for_good_only_when_said_so(capsys):
    assert main(["people", "add", "Kim"]) == 0
    assert main(["people", "pseudonymise", "Kim"]) == 1
    assert names(capsys) == ["Kim"]
    assert main(["people", "pseudonymise", "Kim", "--yes"]) == 0
    (name,) = names(capsys)
    assert name.startswith("Person ")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["add", " "], "empty"),
        (["add", "Ana"], "already a person"),
        (["rename", "Anna", "Bo"], "did you mean Ana"),
        (["archive-person", "Zoe"], "no person called"),
        (["import-list", "none.txt"], "no such file"),
    ],
)
def test_refusals_are_one_sentence_and_exit_1(capsys, arguments, words):
    assert main(["people", "add", "Ana"]) == 0
    capsys.readouterr()
    assert main(["people", *arguments]) == 1
    said = capsys.readouterr().err
    assert words in said
    assert said.count("\n") == 1
