"""`tenthwise compare --bench`, and what `bench` and `quote` say of the screen against the bench."""

import csv
import json
import re
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

from tests.reports.simulated import answers as simulated_answers
from tests.reports.simulated import put_into
from trainer.commands.main import main
from trainer.records.archive import Archive

SAMPLE = Path(__file__).resolve().parents[2] / "sessions" / "recorded" / "pump-shop.sqlite"


@pytest.fixture(scope="module")
def benched(tmp_path_factory):
    """Return an archive where Kim was read on screen and bench, Ola on the screen only."""
    path = tmp_path_factory.mktemp("benched") / "a.tenthwise"
    chance = np.random.default_rng(3)
    with Archive.open(path) as made:
        put_into(made, simulated_answers(chance, "Kim", sessions=4, bias=0.0, slips=0))
        at_bench = simulated_answers(chance, "Kim", sessions=3, bias=1.2, slips=0, drill="bench-check")
        put_into(made, at_bench, plan={"name": "bench-check", "step": "0.0005", "accuracy": "0.0003"})
        put_into(made, simulated_answers(chance, "Ola", sessions=2, slips=0))
    return str(path)


def test_the_bench_is_held_against_the_screen(capsys, benched):
    assert main(["compare", "--bench", "Kim", "--archive", benched, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    with Archive.open(benched) as opened:
        rows = opened.answers("Kim")
    errors = rows["answer_tenths"] - rows["truth_tenths"]
    bench = rows["drill"] == "bench-check"
    difference = found["bias_difference_tenths"]
    assert difference["value"] == pytest.approx(errors[bench].mean() - errors[~bench].mean(), abs=1e-9)
    assert found["bias_differs"] is True
    spread = np.sqrt(errors[bench].var() - 0.5**2 / 12)  # step 0.0005 mm is half a tenth: JCGM 100, F.2.2.1
    assert found["spread_ratio"]["value"] == pytest.approx(spread / errors[~bench].std(), rel=1e-9)
    assert main(["compare", "--bench", "kim", "--archive", benched]) == 0
    said = capsys.readouterr().out
    assert "On the bench Kim reads" in said
    assert "tenths higher than on the screen (95 %:" in said
    assert "a difference is shown" in said


def test_a_negative_end_has_a_minus_sign_and_no_hyphen(capsys):
    """The sample's Inspector 1, whose difference may be nought."""
    assert main(["compare", "--bench", "Inspector 1", "--archive", str(SAMPLE)]) == 0
    assert re.search(r"\(95 %: −0\.\d\d to 1\.\d\d\)", capsys.readouterr().out)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--bench", "Ola"], "Ola has no bench check"),
        (["--bench", "Nobody"], "Nobody"),
        (["--bench", "Kim", "--instrument", "inch"], "no whole readings on inch"),
        (["a.csv", "--bench", "Kim"], "leave file, names and the rest out"),
    ],
)
def test_what_cannot_be_held_against_the_screen_is_told(capsys, benched, arguments, told):
    assert main(["compare", *arguments, "--archive", benched]) == 1
    assert told in capsys.readouterr().err


def test_compare_without_a_file_is_wrong_usage(capsys):
    assert main(["compare"]) == 2
    assert "--bench" in capsys.readouterr().err


def test_a_quote_tells_whether_screen_and_bench_agree(capsys, benched, tmp_path):
    assert main(["quote", "Kim", "--archive", benched, "--json"]) == 0
    quote = json.loads(capsys.readouterr().out)
    assert quote["setting"] == "bench"
    assert quote["validity"].startswith("shown on a real instrument; on the bench Kim reads")
    assert quote["against_screen"]["bias_differs"] is True
    assert main(["quote", "Kim", "--archive", benched]) == 0
    assert "Validity: shown on a real instrument; on the bench Kim reads" in " ".join(
        capsys.readouterr().out.split()
    )
    assert main(["quote", "Ola", "--archive", benched, "--provisional", "--json"]) == 0
    alone = json.loads(capsys.readouterr().out)
    assert alone["validity"] == "shown on pictures on a screen, not confirmed on a real instrument yet"
    assert alone["against_screen"] is None


def test_a_bench_check_ends_with_what_the_screen_had_said(capsys, benched, tmp_path):
    rows = [f"{0.7 + 0.013 * k:.3f};{0.7 + 0.013 * k:.4f}" for k in range(24)]
    path = tmp_path / "pairs.csv"
    path.write_text("estimate;reference\n" + ";0.0000\n" * 5 + "\n".join(rows), encoding="utf-8")
    arguments = ["--instrument", "metric", "--step", "0.0005", "--accuracy", "0.001", "--from", str(path)]
    assert main(["bench", "Ola", *arguments, "--archive", benched, "--json"]) == 0
    against = json.loads(capsys.readouterr().out)["against_screen"]
    assert against["person"] == "Ola"
    assert against["bench"]["used"] == 24
    with Archive.open(benched) as opened:
        opened.add_person("New")
    assert main(["bench", "New", *arguments, "--archive", benched]) == 0
    assert "nothing to compare with yet" in capsys.readouterr().out


@pytest.mark.parametrize("ending", [".json", ".xlsx", ".csv", ".parquet"])
def test_what_was_found_goes_out_to_the_last_digit(capsys, benched, tmp_path, ending):
    assert main(["compare", "--bench", "Kim", "--archive", benched, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    out = tmp_path / f"t{ending}"
    assert main(["export", "transfer", "-p", "Kim", "--archive", benched, "--out", str(out)]) == 0
    if ending == ".json":
        (row,) = json.loads(out.read_text("utf-8"))["transfer"]
    elif ending == ".xlsx":
        head, cells = openpyxl.load_workbook(out)["transfer"].iter_rows(values_only=True)
        row = dict(zip(head, cells, strict=True))
    elif ending == ".csv":
        lines = [line for line in out.read_text("utf-8").split("\n") if not line.startswith("#")]
        (row,) = csv.DictReader(lines)
    else:
        (row,) = pd.read_parquet(out).to_dict("records")
    difference, ratio = found["bias_difference_tenths"], found["spread_ratio"]
    for name, value in {
        "bias_difference_tenths": difference["value"], "bias_difference_low_tenths": difference["low"],
        "bias_difference_high_tenths": difference["high"], "spread_ratio": ratio["value"],
        "spread_ratio_low": ratio["low"], "spread_ratio_high": ratio["high"],
        "bench_spread_tenths": found["bench"]["sd"], "screen_spread_tenths": found["screen"]["sd"],
        "bench_bias_tenths": found["bench"]["bias"], "bias_difference_p": found["p_value"],
        "alike_within_tenths": found["alike_within_tenths"],
        "across_sessions_high_tenths": found["across_sessions_tenths"]["high"],
        "reference_u_tenths": found["reference_u_tenths"], "bias_differs": found["bias_differs"],
        "finding_bias": found["sentences"][0], "bench_readings": found["bench"]["used"],
    }.items():  # fmt: skip
        as_text = repr(value) if ending == ".csv" and not isinstance(value, str) else value
        assert row[name] == as_text, name
    assert main(["export", "transfer", "--condition", "clear", "--archive", benched]) == 1
    assert "cannot be filtered by --condition" in capsys.readouterr().err
