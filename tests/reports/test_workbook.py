"""Spreadsheets read back by a second library: every number exact, every text harmless and whole."""

import io
import math
from datetime import datetime

import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.reports.simulated import answers
from trainer.reports import people_workbook, workbook
from trainer.reports.files import UnusableReport
from trainer.reports.workbook import Field, Table, workbook_bytes
from trainer.scoring.table import score_people

FIELDS = [Field("name", "Who."), Field("value", "What.", "tenths")]


def rows_of(content, sheet=0):
    book = openpyxl.load_workbook(io.BytesIO(content))
    return [list(row) for row in book.worksheets[sheet].iter_rows(values_only=True)]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=20))
def test_every_number_comes_back_with_all_its_digits(numbers):
    content = workbook_bytes([Table("t", FIELDS, [("x", n) for n in numbers])])
    assert [row[1] for row in rows_of(content)[1:]] == numbers


def test_what_is_no_number_is_an_empty_cell_and_large_whole_numbers_keep_their_digits():
    values = [None, math.nan, True, 7, 2**53, 2**63, math.inf]
    content = workbook_bytes([Table("t", FIELDS, [("x", v) for v in values])])
    assert [row[1] for row in rows_of(content)[1:]] == [None, None, True, 7, 2**53, str(2**63), "inf"]


@pytest.mark.parametrize(
    "name", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "＝1+1", "'quoted", '=HYPERLINK("http://x","y")']
)
def test_a_text_that_looks_like_a_formula_is_text_and_stays_it(name):
    content = workbook_bytes([Table("t", FIELDS, [(name, 1)])])
    cell = openpyxl.load_workbook(io.BytesIO(content)).worksheets[0]["A2"]
    assert cell.value == name
    assert cell.data_type == "s"
    assert cell.quotePrefix  # edited in a spreadsheet, it still is a text
    assert cell.hyperlink is None


@pytest.mark.parametrize(
    "name", ["木村 さん", "Ünal, Ö.", 'O"Neil\nLee', "ﻋﻠﻲ", "https://example.org", "007", " x "]
)
def test_any_script_survives(name):
    assert rows_of(workbook_bytes([Table("t", FIELDS, [(name, 1)])]))[1][0] == name


def test_columns_have_notes_and_a_sheet_explains_them():
    content = workbook_bytes([Table("people", FIELDS, [("Ann", 0.5)], "One row a person.")], title="t")
    book = openpyxl.load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["people", "columns"]
    assert book["people"]["B1"].comment.text.startswith("What. Unit: tenths.")
    assert rows_of(content, 1)[1:] == [
        ["people", None, None, "One row a person."],
        ["people", "name", None, "Who."],
        ["people", "value", "tenths", "What."],
    ]


def test_equal_data_give_equal_files_and_a_date_only_when_told():
    tables = [Table("t", FIELDS, [("x", 1.5)])]
    undated = workbook_bytes(tables)
    assert undated == workbook_bytes(tables)
    # the clock of the test has seconds, as the file has: without a date of its own two files would be alike
    assert openpyxl.load_workbook(io.BytesIO(undated)).properties.created == datetime(2000, 1, 1)  # noqa: DTZ001
    dated = workbook_bytes(tables, prepared_at=datetime(2026, 11, 25, 8, 0))  # noqa: DTZ001
    assert openpyxl.load_workbook(io.BytesIO(dated)).properties.created == datetime(2026, 11, 25, 8, 0)  # noqa: DTZ001


def test_sheet_names_are_made_fit():
    tables = [Table(name, FIELDS, []) for name in ("a/b", "a:b", "x" * 40, "")]
    names = openpyxl.load_workbook(io.BytesIO(workbook_bytes(tables))).sheetnames
    assert names == ["a b", "a b 2", "x" * 28, "sheet", "columns"]


def test_many_rows_go_through_and_too_many_are_refused(monkeypatch):
    rows = [(f"p{n}", n / 7) for n in range(30_000)]
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes([Table("t", FIELDS, rows)])), read_only=True)
    read = [row[1] for row in book.worksheets[0].iter_rows(min_row=2, values_only=True)]
    assert read == [n / 7 for n in range(30_000)]
    monkeypatch.setattr(workbook, "MOST_ROWS", 10)
    with pytest.raises(UnusableReport, match="more than 10 rows"):
        workbook_bytes([Table("t", FIELDS, rows)])


def test_a_text_too_long_for_a_cell_is_refused_and_nothing_written(tmp_path):
    with pytest.raises(UnusableReport, match="too long"):
        workbook.write(tmp_path / "x.xlsx", [Table("t", FIELDS, [("x" * 40_000, 1)])])
    assert list(tmp_path.iterdir()) == []


def test_the_workbook_of_people_holds_their_scores_and_a_figure(tmp_path, chance):
    frame = pd.concat([answers(chance, "=Ann"), answers(chance, "Bo", instrument="inch").iloc[:3]])
    scores = score_people(frame, by_instrument=True).people
    picture = people_workbook.people_png(scores)
    path = workbook.write(
        tmp_path / "people.xlsx", [people_workbook.table(scores)], title="People", figure_png=picture
    )
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["people", "figure", "columns"]
    assert len(book["figure"]._images) == 1
    rows = list(book["people"].iter_rows(values_only=True))
    named = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    for row, score in zip(named, scores, strict=True):
        plain = score.to_dict()
        assert row["person"] == score.person
        assert row["bias_tenths"] == score.bias_tenths.value
        assert row["spread_high_tenths"] == score.spread_tenths.high
        assert row["misread_rate_high"] == plain["misread_rate"]["high"]
        assert row["u_corrected_tenths"] == plain["u_reading"]["corrected_tenths"]
        assert row["drift_p"] == plain["drift"]["p_value"]
        assert row["provisional"] is score.provisional
    explained = {row[1] for row in book["columns"].iter_rows(min_row=2, values_only=True)}
    assert set(rows[0]) <= explained
