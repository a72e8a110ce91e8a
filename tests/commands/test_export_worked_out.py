"""`tenthwise export statistics` and `signoffs`, teams and filters: every number compared in every form."""

import csv
import io
import json

import numpy as np
import openpyxl
import pandas as pd
import pytest

from tests.commands.test_signoff import PHRASES, RUTH, lab, set_up, sign, take_check  # noqa: F401 - a fixture of theirs
from tests.reports.simulated import answers, put_into
from trainer.commands.main import main
from trainer.records.archive import Archive
from trainer.reports.people_workbook import FIELDS
from trainer.scoring.table import score_people

NAMES = ["=cmd|' /C calc'!A0", 'O\'Neil, "Bo"', "王小明", "+1", "نور"]
CLEAR = {"px_per_mm": 20.0}
BENCH = {"name": "bench-check", "step": "0.0005", "accuracy": "0.0003"}


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    path = tmp_path_factory.mktemp("worked") / "a.tenthwise"
    chance = np.random.default_rng(5)
    with Archive.open(path) as made:
        for n, name in enumerate(NAMES):
            put_into(made, answers(chance, name, sessions=2, first_day=f"2026-0{n + 3}-01"), viewing=CLEAR)
        put_into(
            made,
            answers(chance, NAMES[0], sessions=1, instrument="inch", first_day="2026-09-01"),
            viewing=CLEAR,
        )
        put_into(
            made,
            answers(chance, NAMES[1], sessions=2, drill="bench-check", first_day="2026-09-02"),
            plan=BENCH,
        )
        practice = answers(chance, NAMES[2], sessions=1, first_day="2026-10-01")
        put_into(made, practice, for_record=False, viewing=CLEAR)
        blurred = answers(chance, NAMES[2], sessions=1, first_day="2026-10-05")
        put_into(made, blurred, viewing={**CLEAR, "blur_mm": 0.1})
    return str(path)


def expected(place):
    """Return the statistics worked out past the export: {(person, instrument, setting): score}."""
    with Archive.open(place) as opened:
        frame = opened.answers()
    frame = frame[frame["conditions"].isin(("clear", ""))]
    found = {}
    for where, rows in frame.groupby(frame["drill"].eq("bench-check").map({True: "bench", False: "screen"})):
        for score in score_people(rows, by_instrument=True).people:
            found[score.person, score.instrument, where] = score
    return found


def value_of(score, path):
    for part in path.split("."):
        score = getattr(score, part)
    return score


def exported(place, tmp_path, ending, *arguments):
    """Return the rows of an export as a list of dictionaries, read by another library."""
    out = tmp_path / f"o{ending}"
    assert main(["export", "statistics", "--out", str(out), "--archive", place, *arguments]) == 0
    if ending == ".xlsx":
        sheet = openpyxl.load_workbook(out)["statistics"]
        head, *rows = sheet.iter_rows(values_only=True)
        return [dict(zip(head, row, strict=True)) for row in rows]
    if ending == ".parquet":
        return pd.read_parquet(out).astype(object).replace({np.nan: None}).to_dict("records")
    text = out.read_text("utf-8")
    if ending == ".json":
        return json.loads(text)["statistics"]
    lines = text.split("\n")
    return list(csv.DictReader(io.StringIO("\n".join(line for line in lines if not line.startswith("# ")))))


@pytest.mark.parametrize("ending", [".xlsx", ".parquet", ".json", ".csv"])
def test_every_number_of_everybody_s_statistics(place, tmp_path, ending):
    rows, scores = exported(place, tmp_path, ending), expected(place)
    assert len(rows) == len(scores) == 7
    compared = 0
    for row in rows:
        person = row["person"].removeprefix("'") if ending == ".csv" else row["person"]
        score = scores[person, row["instrument"], row["setting"]]
        for field, path in FIELDS[2:]:
            value, got = value_of(score, path), row[field.name]
            if value is None:
                assert got in (None, "")
            elif ending == ".csv":
                assert got == repr(value)
            else:
                assert got == value
                assert isinstance(got, bool) == isinstance(value, bool)
            compared += value is not None
    assert compared > 7 * 20


def test_the_workbook_explains_its_columns_and_draws_a_figure(place, tmp_path):
    out = tmp_path / "o.xlsx"
    assert main(["export", "statistics", "--out", str(out), "--archive", place]) == 0
    book = openpyxl.load_workbook(out)
    assert all(cell.comment for cell in next(book["statistics"].iter_rows()))
    named = {row[1] for row in book["columns"].iter_rows(min_row=2, values_only=True) if row[1]}
    assert named == {cell.value for cell in next(book["statistics"].iter_rows())}
    (picture,) = book["figure"]._images
    assert picture.width > 300
    assert all(cell.data_type != "f" for row in book["statistics"].iter_rows() for cell in row)
    assert main(["export", "answers", "--out", str(out), "--archive", place]) == 0
    assert len(openpyxl.load_workbook(out)["figure"]._images) == 1


def test_a_team_dates_instrument_and_condition_filter(place, tmp_path, capsys):
    team = ["-p", NAMES[0], "-p", NAMES[2].upper()]
    rows = exported(place, tmp_path, ".json", *team)
    assert {row["person"] for row in rows} == {NAMES[0], NAMES[2]}
    rows = exported(place, tmp_path, ".json", "--instrument", "inch")
    assert [(row["person"], row["instrument"]) for row in rows] == [(NAMES[0], "inch")]
    rows = exported(place, tmp_path, ".json", "--since", "2026-04-01", "--until", "2026-05-02")
    assert {row["person"] for row in rows} == {NAMES[1], NAMES[2]}
    rows = exported(place, tmp_path, ".json", "--condition", "blur")
    assert [row["person"] for row in rows] == [NAMES[2]]
    assert rows[0]["readings"] == 20
    checks = {row["person"]: row["readings"] for row in exported(place, tmp_path, ".json", "--checks")}
    both = {row["person"]: row["readings"] for row in exported(place, tmp_path, ".json")}
    assert both[NAMES[2]] - checks[NAMES[2]] == 20
    capsys.readouterr()
    for kind, rows in (("answers", 20), ("sessions", 1)):
        assert main(["export", kind, "--condition", "Blur", "--json", "--archive", place]) == 0
        assert len(json.loads(capsys.readouterr().out)[kind]) == rows
    assert main(["export", "answers", "--condition", "clear", "--json", "--archive", place]) == 0
    assert len(json.loads(capsys.readouterr().out)["answers"]) == 12 * 20
    assert main(["export", "people", "-p", NAMES[3], "--json", "--archive", place]) == 0
    assert [row["person"] for row in json.loads(capsys.readouterr().out)["people"]] == [NAMES[3]]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--since", "1 March"], "--since is '1 March'; type a date such as 2026-03-31"),
        (["--until", "2026-02-30"], "--until is '2026-02-30'"),
        (["--since", "2026-05-01", "--until", "2026-05-01"], "swap the dates"),
        (["--instrument", "brass"], "no session has --instrument 'brass'; there are inch; metric"),
        (["--drill", "knitting"], "no session has --drill 'knitting'"),
        (["--condition", "fog"], "no session has --condition 'fog'; there are "),
        (["--session", "none"], "none"),
        (["-p", "Nobody"], "no person called"),
    ],
)
def test_what_would_give_an_empty_file_is_told(place, capsys, arguments, told):
    for kind in ("statistics", "answers"):
        assert main(["export", kind, *arguments, "--archive", place]) == 1
        said = capsys.readouterr()
        assert told in said.err
        assert said.out == ""


def test_people_are_not_filtered_by_what_says_nothing_of_them(place, capsys):
    assert main(["export", "people", "--since", "2026-05-01", "--archive", place]) == 1
    assert "people cannot be filtered by --since; filter by --person" in capsys.readouterr().err


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_json_does_not_go_into_a_file_of_another_form(place, tmp_path, capsys, ending):
    out = tmp_path / f"a.{ending}"
    assert main(["export", "answers", "--json", "--out", str(out), "--archive", place]) == 1
    assert "with --json the name must end in .json" in capsys.readouterr().err
    assert not out.exists()


def test_sign_offs_go_out_with_their_standing(lab, monkeypatch, capsys, tmp_path):  # noqa: F811
    set_up(monkeypatch)
    for number in range(5):
        take_check(monkeypatch, lab, number)
    assert sign(monkeypatch) == 0
    capsys.readouterr()
    monkeypatch.setenv("TENTHWISE_PASSPHRASE", PHRASES[RUTH])
    keeper = ["--as", RUTH, "--key-file", "ruth.key"]
    assert main(["signoff", "list", "--json"]) == 0
    (listed,) = json.loads(capsys.readouterr().out)["statements"]
    assert main(["export", "signoffs", "--json", *keeper]) == 0
    (row,) = json.loads(capsys.readouterr().out)["signoffs"]
    for name in ("statement", "person", "criterion", "sentence"):
        assert row[name] == listed[name]
    assert row["standing"] == listed["state"]
    assert row["in_force"] is True
    assert row["signed_by"] == "Ben Olt"
    assert main(["export", "signoffs", "--out", "s.xlsx", *keeper]) == 0
    head, cells = openpyxl.load_workbook("s.xlsx")["signoffs"].iter_rows(values_only=True)
    assert {name: value for name, value in zip(head, cells, strict=True) if value is not None} == {
        name: value for name, value in row.items() if value is not None
    }
    capsys.readouterr()
    # the team of signed-off people: Kim alone, so too few for a team's figure, whoever else reads
    assert main(["quote", "--team", "--signed-off"]) == 1
    assert "1 of 1 person has enough readings on metric; a team needs at least 2" in capsys.readouterr().err
    assert main(["export", "signoffs", "--until", "2026-01-01", "--json", *keeper]) == 0
    assert json.loads(capsys.readouterr().out) == {"signoffs": []}
    assert main(["export", "signoffs", "--checks", *keeper]) == 1
    assert "cannot be filtered by --checks" in capsys.readouterr().err
