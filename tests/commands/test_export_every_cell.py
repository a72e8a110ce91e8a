"""Every kind of export of the shipped sample: each cell, read by a second library, is what the JSON says."""

import json
import zipfile
from pathlib import Path

import openpyxl
import pytest

from trainer.commands.main import main

SAMPLE = Path(__file__).resolve().parent.parent.parent / "sessions" / "recorded" / "pump-shop.sqlite"
KINDS = ("answers", "sessions", "people", "statistics", "signoffs", "transfer")


@pytest.fixture
def written(tmp_path, capsys):
    """Give a function that exports one kind and returns JSON's rows and the workbook's path."""

    def export(kind):
        for ending in ("json", "xlsx"):
            assert (
                main(["export", kind, "--out", str(tmp_path / f"x.{ending}"), "--archive", str(SAMPLE)]) == 0
            )
        capsys.readouterr()
        values = json.loads((tmp_path / "x.json").read_text(encoding="utf-8"))
        return next(value for value in values.values() if isinstance(value, list)), tmp_path / "x.xlsx"

    return export


@pytest.mark.parametrize("kind", KINDS)
def test_every_cell(written, kind):
    rows, workbook = written(kind)
    book = openpyxl.load_workbook(workbook)
    head, *lines = book.worksheets[0].iter_rows(values_only=True)
    assert len(lines) == len(rows) > 0
    numbers = 0
    for row, line in zip(rows, lines, strict=True):
        assert list(row) == list(head)
        for name, cell in zip(head, line, strict=True):
            value = row[name]
            if isinstance(value, bool) or value is None or value == "":
                assert cell in (value, None) or str(cell).casefold() == str(value).casefold(), name
            elif isinstance(value, int | float):
                assert isinstance(cell, int | float), f"{name} is text"
                assert cell == pytest.approx(value, rel=1e-15, abs=0), name  # a workbook keeps 16 digits
                numbers += 1
            else:
                assert _text(cell) == _text(value), name
    assert numbers or kind == "people"
    told = {cell for line in book["columns"].iter_rows(values_only=True) for cell in line}
    assert set(head) <= told, "every column stands in the data dictionary"


def _text(value):
    """Return a text as both forms may hold it: moments without zone and `T`, lists as their JSON."""
    if isinstance(value, list | dict):
        return json.dumps(value, ensure_ascii=False)
    return str(value).replace("T", " ").removesuffix("Z").removesuffix("+00:00").rstrip("0").rstrip(".:")


def test_no_workbook_holds_a_macro_a_link_or_a_formula(written):
    _, workbook = written("statistics")
    names = zipfile.ZipFile(workbook).namelist()
    assert not [name for name in names if "vba" in name.casefold() or "externalLink" in name]
    cells = [c for sheet in openpyxl.load_workbook(workbook) for line in sheet.iter_rows() for c in line]
    assert not [cell.coordinate for cell in cells if cell.data_type == "f"]
