"""`tenthwise export` to XLSX and Parquet, read back by other libraries, every value compared."""

import sys

import numpy as np
import openpyxl
import pandas as pd
import pytest

from tests.reports.simulated import answers, put_into
from trainer.commands.main import main
from trainer.records.archive import Archive


@pytest.fixture
def place(tmp_path):
    path = tmp_path / "a.tenthwise"
    with Archive.open(path) as made:
        put_into(made, answers(np.random.default_rng(7), "=cmd|A0", sessions=2))
        made.add_person('Lučić, "Ana"')
    return path


@pytest.mark.parametrize("what", ["answers", "sessions", "people"])
def test_every_cell_of_the_spreadsheet_is_the_archive_s(place, tmp_path, what):
    out = tmp_path / "o.xlsx"
    assert main(["export", what, "--out", str(out), "--archive", str(place)]) == 0
    book = openpyxl.load_workbook(out)
    head, *rows = book[what].iter_rows()
    assert all(cell.comment for cell in head)
    names = [cell.value for cell in head]
    assert [row[1] for row in book["columns"].iter_rows(min_row=2, values_only=True)] == names
    with Archive.open(place) as kept:
        frame = {"answers": kept.answers, "sessions": kept.sessions}.get(what, lambda: None)()
        if frame is None:
            people = kept.people(include_archived=True)
            assert [row[0].value for row in rows] == [person.name for person in people]
            return
    assert len(rows) == len(frame)
    for name, column in zip(names, zip(*rows, strict=True), strict=True):
        for cell, value in zip(column, frame[name], strict=True):
            assert cell.data_type != "f"
            if value == "":
                assert cell.value in (None, "")
            elif pd.isna(value):
                assert cell.value is None
            else:
                assert cell.value == value


def test_parquet_holds_the_same_frame(place, tmp_path):
    out = tmp_path / "o.parquet"
    assert main(["export", "answers", "--out", str(out), "--archive", str(place)]) == 0
    with Archive.open(place) as kept:
        pd.testing.assert_frame_equal(
            pd.read_parquet(out), kept.answers(), check_exact=True, check_dtype=False
        )


def test_without_the_library_parquet_is_refused_and_nothing_is_left(place, tmp_path, monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    out = tmp_path / "o.parquet"
    assert main(["export", "answers", "--out", str(out), "--archive", str(place)]) == 1
    assert "install tenthwise[parquet]" in capsys.readouterr().err
    assert not out.exists()
