"""`tenthwise compare`: text and JSON, two people, before and after, refusals in one sentence."""

import json
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from trainer.commands import main


@pytest.fixture
def answers_csv(tmp_path, chance):
    rows = []
    for i, bias in enumerate((0.0, 0.2, -0.3, 0.1, 0.4, -0.1)):
        truth = chance.uniform(0, 5000, 60)
        answer = np.round(truth + bias + 0.5 * chance.standard_normal(60))
        rows += [
            (f"Person {i}", t, a, f"{i}-{j // 20}", f"2026-0{j // 20 + 1}-02T10:{j % 20:02d}:00Z")
            for j, (t, a) in enumerate(zip(truth, answer, strict=True))
        ]
    path = tmp_path / "answers.csv"
    columns = ["person", "truth_tenths", "answer_tenths", "session", "at"]
    pd.DataFrame(rows, columns=columns).to_csv(path, index=False)
    return path


def test_everybody_as_text(answers_csv, capsys):
    assert main.main(["compare", str(answers_csv)]) == 0
    text = capsys.readouterr().out
    for word in (
        "Person 0",
        "Person 5",
        "repeatability",
        "between people",
        "reproducibility",
        "Cochran",
        "Grubbs",
    ):
        assert word in text
    assert "…" not in text  # nothing cut off
    assert "real instrument" in text


def test_everybody_as_json(answers_csv, capsys):
    assert main.main(["compare", str(answers_csv), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [p["person"] for p in found["people"]] == [f"Person {i}" for i in range(6)]
    spread = found["precision"]["reproducibility_sd"]
    assert spread["low"] < spread["value"] < spread["high"]
    assert {s["name"] for s in found["screenings"]} >= {"Cochran", "Grubbs"}


def test_two_people(answers_csv, capsys):
    assert main.main(["compare", str(answers_csv), "Person 2", "Person 4"]) == 0
    text = capsys.readouterr().out
    assert "Person 4 less Person 2" in text
    assert "across sessions" in text
    assert main.main(["compare", str(answers_csv), "Person 2", "Person 4", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["bias_difference_tenths"]["value"] == pytest.approx(0.7, abs=0.5)


def test_before_and_after(answers_csv, capsys):
    assert main.main(["compare", str(answers_csv), "Person 2", "--since", "2026-02-15"]) == 0
    text = capsys.readouterr().out
    assert "Person 2 after less Person 2 before" in text
    assert "at least 3" in text  # one session after: nothing can be said of other days


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["Person 1"], "name two to compare"),
        (["Person 1", "Person 2", "Person 3"], "3 people were named"),
        (["Person 1", "Nobody"], 'answers.csv: nobody is named "Nobody"'),
        (["--since", "2026-02-01"], "0 were named"),
        (["Person 1", "--since", "tomorrow-ish"], "type a date such as"),
        (["--instrument", "metric", "Person 1", "Person 1"], "named twice"),
    ],
)
def test_refusals_are_one_sentence_and_exit_1(answers_csv, capsys, arguments, said):
    assert main.main(["compare", str(answers_csv), *arguments]) == 1
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.err.count("\n") == 1
    assert shown.out == ""


def test_a_missing_file_and_an_unknown_option(tmp_path, capsys):
    assert main.main(["compare", str(tmp_path / "none.csv")]) == 1
    assert "none.csv" in capsys.readouterr().err
    assert main.main(["compare", str(tmp_path / "none.csv"), "--nonsense"]) == 2


def test_help_has_an_example(capsys):
    assert main.main(["compare", "--help"]) == 0
    assert "tenthwise compare answers.csv --json" in capsys.readouterr().out


@pytest.fixture
def judgements_csv(tmp_path, chance):
    """Return three invented people's judgements of the same items, tolerance 2 tenths; Bo is lenient."""
    offsets = chance.uniform(-4, 4, 200)
    truth = 10 * chance.integers(1, 400, 200) + offsets
    rows = []
    for name, threshold in (("Ann", 0.0), ("Bo", 0.9), ("Cy", 0.1)):
        said_out = np.abs(offsets) - 2.0 + 0.4 * chance.standard_normal(200) > threshold
        words = np.where(said_out, "out", "in").tolist()
        words[:3] = [{"in": "Y", "out": "n"}[w] for w in words[:3]]  # as people type
        rows += [(name, t, None, "metric", "judge", "answered", w) for t, w in zip(truth, words, strict=True)]
    rows.append(("Ann", 12.0, None, "metric", "judge", "skipped", None))
    path = tmp_path / "judged.csv"
    columns = ["person", "truth_tenths", "answer_tenths", "instrument", "drill", "outcome", "typed"]
    pd.DataFrame(rows, columns=columns).to_csv(path, index=False)
    return path


def test_judgements_of_everybody(judgements_csv, capsys):
    assert main.main(["compare", str(judgements_csv), "--judged", "2,0"]) == 0
    text = capsys.readouterr().out
    for word in ("false accept", "threshold", "Fleiss' kappa", "Ann and Bo", "real instrument"):
        assert word in text
    assert "…" not in text
    assert main.main(["compare", str(judgements_csv), "--judged", "2", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    thresholds = {p["person"]: p["curve"]["threshold_tenths"]["value"] for p in found["people"]}
    assert thresholds["Bo"] == pytest.approx(0.9, abs=0.35)
    assert abs(thresholds["Ann"]) < 0.35
    assert found["people"][0]["rates"]["items"] == 200
    assert found["between"]["judges"] == 3


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--judged", "two"], "not a number"),
        (["--judged", "-1"], "--judged is -1; it goes from 0 to 1000"),
        (["--judged", "2", "Ann", "Bo"], "leave names and --since out"),
        (["--judged", "2", "--instrument", "inch"], 'no answers of the drill "judge"'),
    ],
)
def test_judgements_that_cannot_be_compared_are_refused(judgements_csv, capsys, arguments, said):
    assert main.main(["compare", str(judgements_csv), *arguments]) == 1
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.err.count("\n") == 1


def test_readings_hold_no_judgements(answers_csv, capsys):
    assert main.main(["compare", str(answers_csv), "--judged", "2"]) == 1
    assert "judgements need drill and typed" in capsys.readouterr().err


def keys_of(value):
    """Yield every key in a result, but not in the reasons, whose keys are those they explain."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from keys_of(inner) if key != "reasons" else ()
    elif isinstance(value, list):
        for inner in value:
            yield from keys_of(inner)


@pytest.mark.parametrize(
    ("fixture", "arguments"),
    [
        ("answers_csv", []),
        ("answers_csv", ["Person 1", "Person 2"]),
        ("judgements_csv", ["--judged", "2"]),
    ],
)
def test_every_key_of_the_json_is_documented(fixture, arguments, request, capsys):
    page = (Path(__file__).parents[2] / "docs" / "methods" / "comparing.md").read_text(encoding="utf-8")
    page += (Path(__file__).parents[2] / "docs" / "methods" / "judgement.md").read_text(encoding="utf-8")
    words = set(re.findall(r"\w+", page))
    assert main.main(["compare", str(request.getfixturevalue(fixture)), *arguments, "--json"]) == 0
    assert set(keys_of(json.loads(capsys.readouterr().out))) <= words
