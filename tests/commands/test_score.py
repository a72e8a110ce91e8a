"""`tenthwise score`: what is printed, what is refused, and that it is the contract."""

import json

import numpy as np
import pandas as pd
import pytest

from trainer.commands.main import main
from trainer.records import answers_csv
from trainer.scoring.simulated import SimulatedReader, stratified_positions
from trainer.scoring.table import score_people

HEAD = "person,truth_tenths,answer_tenths\n"


@pytest.fixture
def answers(tmp_path, chance):
    """Three invented people: 200, 60 and 5 readings."""
    readers = {
        "Ana": (SimulatedReader("a", 0.2, 0.5, misread_rates={"turn": 0.03, "graduation": 0.03}), 200),
        "Ben": (SimulatedReader("b", 0.0, 0.6, pull=0.4), 60),
        "Cy": (SimulatedReader("c"), 5),
    }
    parts = []
    for name, (reader, n) in readers.items():
        truth = stratified_positions(n, chance)
        answer = reader.answers(truth, chance)
        parts.append(pd.DataFrame({"person": name, "truth_tenths": truth, "answer_tenths": answer}))
    path = tmp_path / "answers.csv"
    pd.concat(parts).to_csv(path, index=False)
    return path


def run(capsys, *arguments):
    code = main(["score", *map(str, arguments)])
    out, err = capsys.readouterr()
    return code, out, err


def test_json_is_the_score_of_the_file_at_full_precision(answers, capsys):
    code, out, err = run(capsys, answers, "--json")
    assert (code, err) == (0, "")
    assert json.loads(out) == score_people(answers_csv.read(answers)).to_dict()


def test_text_says_what_is_set_apart_and_why_values_are_missing(answers, capsys):
    code, out, _ = run(capsys, answers)
    assert code == 0
    assert "3 people, 265 readings" in out
    assert "set apart from bias and spread" in out
    assert "an interval for the spread needs at least 20 readings; there are 5" in out
    assert "bias in this session" in out
    assert "* provisional" in out
    assert "Confirm it on a real instrument" in out
    assert "nan" not in out.lower()
    lines = {line.split()[0]: line for line in out.splitlines() if line.startswith(("Ana", "Ben", "Cy"))}
    ana = score_people(answers_csv.read(answers)).person("Ana")
    assert f"{ana.used}/200" in lines["Ana"]
    assert f"{ana.bias_tenths.value:+.2f}" in lines["Ana"]


def test_one_person_is_shown_in_detail(answers, capsys):
    code, out, _ = run(capsys, answers, "--person", "Ben")
    assert code == 0
    assert "1 person, 60 readings" in out
    assert "digits 0–9 answered:" in out
    assert "mean error in each tenth" in out
    assert "Ana" not in out
    one = json.loads(run(capsys, answers, "--person", "Ben", "--json")[1])
    assert [person["person"] for person in one["people"]] == ["Ben"]
    detail = one["people"][0]["detail"]
    assert set(detail) == {
        "interpolation",
        "rank_trend",
        "first_five",
        "pace",
        "serial_correlation",
        "learning",
        "sessions",
    }


def test_an_unknown_person_is_refused(answers, capsys):
    code, out, err = run(capsys, answers, "--person", "Dee")
    assert (code, out) == (1, "")
    assert err == "tenthwise: answers.csv: there is no person 'Dee'; there are Ana, Ben, Cy\n"


def test_a_refused_file_exits_with_one_sentence(tmp_path, capsys):
    path = tmp_path / "wrong.csv"
    path.write_text(HEAD + "Ana,1,two\n", encoding="utf-8")
    code, out, err = run(capsys, path, "--json")
    assert (code, out) == (1, "")
    assert err.startswith("tenthwise: wrong.csv, line 2: answer_tenths is 'two'")
    assert err.count("\n") == 1


def test_two_instruments_of_one_person_ask_how(tmp_path, capsys):
    path = tmp_path / "mixed.csv"
    path.write_text(HEAD.strip() + ",instrument\nAna,1,1,metric\nAna,1,2,inch\n", encoding="utf-8")
    code, _, err = run(capsys, path)
    assert code == 1
    assert "Ana has answers on 2 instruments (inch, metric)" in err
    code, out, _ = run(capsys, path, "--by-instrument", "--json")
    assert code == 0
    assert [p["instrument"] for p in json.loads(out)["people"]] == ["metric", "inch"]
    code, out, _ = run(capsys, path, "--by-instrument", "--person", "Ana", "--json")
    assert code == 0
    assert all("detail" in person for person in json.loads(out)["people"])
    code, out, _ = run(capsys, path, "--instrument", "inch", "--json")
    assert [p["instrument"] for p in json.loads(out)["people"]] == ["inch"]


def test_wrong_usage_exits_with_two(capsys):
    assert main(["score"]) == 2
    assert main(["score", "a.csv", "--wrong"]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_help_has_an_example(capsys):
    assert main(["score", "--help"]) == 0
    assert "tenthwise score answers.csv" in " ".join(capsys.readouterr().out.split())


def test_names_with_brackets_are_printed_as_they_are(tmp_path, capsys):
    path = tmp_path / "answers.csv"
    path.write_text(HEAD + "[red]Ana[/],1,1\n[red]Ana[/],2,2.5\n", encoding="utf-8")
    code, out, _ = run(capsys, path)
    assert code == 0
    assert "[red]Ana[/]" in out


def test_repeated_rows_and_skips_are_said(tmp_path, capsys):
    path = tmp_path / "answers.csv"
    head = HEAD.strip() + ",session,item,outcome\n"
    rows = "Ana,1,1,1,1,answered\nAna,1,1,1,1,answered\nAna,2,,1,2,skipped\nAna,3,,1,3,timed-out\n"
    path.write_text(head + rows, encoding="utf-8")
    out = run(capsys, path)[1]
    assert "1 row repeats an earlier row exactly" in out
    assert "1 reading without an answer (skipped): not scored." in out
    assert "1 reading without an answer in time: not scored." in out


def test_a_sharp_reader_shows_the_spread_of_rounding_alone(tmp_path, chance, capsys):
    """Rounding to tenths of continuous truths: 1/sqrt(12) = 0.2887 tenths (JCGM 100:2008, 4.3.7)."""
    truth = stratified_positions(4000, chance)
    frame = pd.DataFrame({"person": "sharp", "truth_tenths": truth, "answer_tenths": np.rint(truth)})
    path = tmp_path / "sharp.csv"
    frame.to_csv(path, index=False)
    person = json.loads(run(capsys, path, "--json")[1])["people"][0]
    assert person["spread_tenths"]["value"] == pytest.approx(12**-0.5, abs=0.006)
    assert abs(person["bias_tenths"]["value"]) < 0.015
    assert person["spread_tenths"]["low"] < 12**-0.5 < person["spread_tenths"]["high"]


@pytest.fixture
def lights(tmp_path, chance):
    """One person: 40 clear readings, 30 under glare that read a tenth and a half high, 20 unmarked."""
    parts = []
    for words, n, bias in (("clear", 40, 0.0), ("glare 0.6", 30, 1.5), ("", 20, 0.0)):
        truth = stratified_positions(n, chance)
        answer = SimulatedReader("a", bias, 0.4).answers(truth, chance)
        part = pd.DataFrame({"person": "Ana", "truth_tenths": truth, "answer_tenths": answer})
        parts.append(part.assign(session=f"S{words}", instrument="metric", conditions=words))
    path = tmp_path / "lights.csv"
    pd.concat(parts).to_csv(path, index=False)
    return path


def test_readings_under_viewing_conditions_are_set_apart_and_that_is_said(lights, capsys):
    code, out, err = run(capsys, lights, "--json")
    (ana,) = json.loads(out)["people"]
    assert (code, ana["readings"]) == (0, 60)
    assert abs(ana["bias_tenths"]["value"]) < 0.4  # all together the bias would be half a tenth
    assert "set apart (30 with glare 0.6); --by-conditions scores them" in err
    frame = answers_csv.read(lights)
    clear = frame[frame["conditions"].astype(object) != "glare 0.6"]
    assert ana == score_people(clear).to_dict()["people"][0]


def test_each_condition_is_scored_by_itself_where_asked_for(lights, capsys):
    code, out, err = run(capsys, lights, "--by-conditions", "--json", "--instrument", "metric")
    clear, glare = json.loads(out)["people"]
    assert (code, err) == (0, "")
    assert (clear["conditions"], clear["readings"]) == ("clear", 60)
    assert (glare["conditions"], glare["readings"]) == ("glare 0.6", 30)
    assert glare["bias_tenths"]["value"] == pytest.approx(1.5, abs=4 * 0.5 / 30**0.5)
    text = run(capsys, lights, "--by-conditions", "--person", "Ana")[1]
    assert text.index("Conditions: clear") < text.index("Conditions: glare 0.6")


def test_without_a_clear_reading_the_conditions_are_named(lights, capsys):
    frame = pd.read_csv(lights)
    frame[frame["conditions"] == "glare 0.6"].to_csv(lights, index=False)
    code, out, _ = run(capsys, lights, "--json")
    (ana,) = json.loads(out)["people"]
    assert (code, ana["conditions"], ana["readings"]) == (0, "glare 0.6", 30)


def test_of_mixed_drills_the_readings_alone_are_scored(tmp_path, capsys):
    """Of a self-check the estimates, of a calibration run the readings at the blocks."""
    rows = [
        ("self-check", "estimate", 1.0), ("self-check", "self-check", 9.0),
        ("calibration", "block-reading", 2.0), ("calibration", "block-error", 0.0),
        ("calibration", "verdict", 0.0),
    ]  # fmt: skip
    lines = [
        f"Ana,{10 * n}.5,{10 * n + given},{drill},{asks}" for n in range(1, 21) for drill, asks, given in rows
    ]
    path = tmp_path / "mixed.csv"
    path.write_text("person,truth_tenths,answer_tenths,drill,asks\n" + "\n".join(lines) + "\n")
    code, out, err = run(capsys, path, "--json")
    (ana,) = json.loads(out)["people"]
    assert (code, ana["readings"]) == (0, 40)
    assert ana["bias_tenths"]["value"] == pytest.approx(1.0)  # of 0.5 and 1.5
    assert "60 answers of drills that are no readings are left out" in err


def test_no_forecast_is_told_of_a_spread_that_is_within_the_limit_already(tmp_path, capsys):
    chance = np.random.default_rng(7)
    rows = ["person,truth_tenths,answer_tenths,session,at"]
    for session in range(1, 9):
        truths = chance.uniform(0, 5000, 20)
        answers = np.rint(truths + chance.normal(0, 0.4, 20))
        rows += [
            f"Kim,{truth:.3f},{answer:.0f},s{session},2026-03-{session:02d}T08:00:00Z"
            for truth, answer in zip(truths, answers, strict=True)
        ]
    file = tmp_path / "a.csv"
    file.write_text("\n".join(rows), encoding="utf-8")
    assert main(["score", str(file), "--person", "Kim"]) == 0
    told = capsys.readouterr().out
    assert "bias over 8 sessions" in told
    assert "learning" not in told
