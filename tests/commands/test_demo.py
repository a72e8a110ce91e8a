"""The demo, as a newcomer runs it: one run, looked at from several sides."""

import json

import pytest
from pypdf import PdfReader

from trainer.commands.main import main
from trainer.drawing import png
from trainer.records.archive import Archive


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """Run the demo once; return its folder."""
    folder = tmp_path_factory.mktemp("demo") / "out"
    assert main(["demo", "--out", str(folder), "--json"]) == 0
    return folder


def people(folder):
    return {p["person"][9]: p for p in json.loads((folder / "people.json").read_text())["people"]}


def test_the_habits_that_were_put_in_are_found(shown):
    found = people(shown)
    assert list(found) == ["A", "B", "C"]
    a, b, c = found.values()
    assert a["bias_tenths"]["low"] > 0.2  # reads 0.45 tenth high
    assert a["digit_preference"]["p_value"] > 0.05
    assert b["digit_preference"]["p_value"] < 0.001  # favours 0 and 5
    assert b["spread_tenths"]["low"] > a["spread_tenths"]["high"]
    assert c["misreads"]["total"] >= 4
    assert c["used"] + c["misreads"]["total"] == c["readings"] == 120
    assert c["misreads"]["by_kind"]["half-millimetre"] >= 1


def test_pictures_archive_and_reports_are_there(shown):
    with Archive.open(shown / "archive.sqlite", create=False) as archive:
        answers = archive.answers()
        assert len(answers) == 360
        assert answers["session"].nunique() == 18
        assert not archive.unfinished("Invented A, reads high")
    pictures = sorted(shown.glob("pictures/*/*.png"))
    assert len(pictures) == 18
    assert png.read(pictures[0]).shape == (560, 1280, 3)
    text = "".join(page.extract_text() for page in PdfReader(shown / "report.pdf").pages)
    assert "Invented people and invented readings" in text
    for name in ("report.png", "person-a.pdf", "person-b.png", "people.csv"):
        assert (shown / name).stat().st_size > 100


def test_the_demo_takes_its_own_place_again_and_nobody_elses(shown, tmp_path, capsys):
    strange = tmp_path / "strange"
    strange.mkdir()
    (strange / "letter.txt").write_text("mine")
    assert main(["demo", "--out", str(strange)]) == 1
    assert "holds other things" in capsys.readouterr().err
    assert main(["demo", "--out", str(strange / "letter.txt")]) == 1
    assert "is a file" in capsys.readouterr().err
    assert (strange / "letter.txt").read_text() == "mine"
    assert main(["demo", "--out", str(shown)]) == 0
    said = capsys.readouterr().out
    assert "Invented B, favours 0 and 5" in said
    assert "Confirm it on a real instrument" in said  # the caution stands beside the numbers
