"""`tenthwise draw`: pictures, PDF and geometry, and its refusals."""

import json

import pytest

import reader
from trainer.commands.main import main
from trainer.drawing import png
from trainer.instrument import catalogue


def printed(capsys):
    return json.loads(capsys.readouterr().out)


def test_a_plain_picture_shows_the_reading_asked_for(tmp_path, capsys):
    picture = tmp_path / "a.png"
    given = ["draw", "--instrument", "metric", "--reading", "7.3742", "--px-per-mm", "20"]
    assert main([*given, "--size", "1280x720", "--plain", "--json", "--out", str(picture)]) == 0
    placed = printed(capsys)
    found = reader.read(png.read(picture), catalogue.load("metric"), 20.0)
    assert found.position_tenths == pytest.approx(7374.2, abs=0.01)
    assert placed["reading"] == 7.3742
    assert placed["edge_x_px"] == found.edge_x_px == 768
    assert placed["index_y_px"] == pytest.approx(found.index_y_px, abs=0.01)


@pytest.mark.parametrize(
    ("name", "reading", "source"),
    [
        ("metric", "22.36", "Army TM 9-243, p. 7-6"),
        ("inch", "0.712", "Navy training course 14001, ch. 2, figs. 2-23 and 2-24"),
        ("inch", "0.241", "Army subcourse OD1642, fig. 37"),
        ("inch", "0.4915", "Machine Shop Work, Micrometers continued, fig. 21"),
        ("depth-inch", "0.435", "Navy training course 14310, fig. 2-30"),
        ("inch-vernier", "0.2862", "Army TM 9-243, p. 7-5"),
    ],
)
def test_examples_are_drawn_as_they_read(tmp_path, name, reading, source):
    picture = tmp_path / "a.png"
    given = ["draw", "--instrument", name, "--reading", reading, "--plain", "--roll", "0"]
    assert main([*given, "--out", str(picture)]) == 0, source
    micrometer = catalogue.load(name)
    found = reader.read(png.read(picture), micrometer, 20.0)
    assert micrometer.format_reading(found.position_tenths, micrometer.decimals) == micrometer.format_reading(
        micrometer.position_of(reading), micrometer.decimals
    )


def test_geometry_alone_needs_no_file_and_takes_a_decimal_comma(capsys):
    assert main(["draw", "--reading", "7,3742", "--px-per-mm", "7,56", "--json"]) == 0
    placed = printed(capsys)
    assert {"reading", "unit", "px_per_mm", "division_px", "edge_x_px", "index_y_px", "lines"} <= set(placed)
    assert placed["px_per_mm"] == 7.56
    assert all(set(line) == {"number", "y_px"} for line in placed["lines"])


def test_a_pdf_is_at_true_scale(tmp_path):
    import pypdf

    assert main(["draw", "--reading", "7.3742", "--size", "1000x400", "--out", str(tmp_path / "a.pdf")]) == 0
    box = pypdf.PdfReader(tmp_path / "a.pdf").pages[0].mediabox
    assert float(box.width) * 25.4 / 72 == pytest.approx(50.0, abs=1e-6)


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (["--reading", "30"], "--reading 30 is outside the instrument's scale; metric reads from 0 to 25"),
        (["--reading", "-1"], "--reading -1 is outside"),
        (["--reading", "seven"], "not a unit"),
        (["--reading", "1", "--instrument", "caliper"], "there is no instrument 'caliper'; choose one of"),
        (["--reading", "1", "--size", "10x10"], "the picture's width is 10 px; it must be from 64 to 8192"),
        (["--reading", "1", "--size", "99999x720"], "must be from 64 to 8192"),
        (["--reading", "1", "--size", "big"], "--size is 'big'; give width and height in pixels"),
        (["--reading", "1", "--px-per-mm", "0"], "px_per_mm is 0.0; it must be a number from 0.5 to 1000"),
        (["--reading", "1", "--px-per-mm", "1e9"], "--px-per-mm: '1e9' is not a number"),
        (["--reading", "1", "--roll", "200"], "roll_deg is 200.0; it must be a number from -80 to 80"),
    ],
)
def test_what_cannot_be_drawn_is_refused_in_one_sentence(options, why, capsys):
    assert main(["draw", *options, "--json"]) == 1
    captured = capsys.readouterr()
    assert why in captured.err
    assert captured.err.count("\n") == 1
    assert captured.out == ""


def test_a_file_that_cannot_be_is_refused(tmp_path, capsys):
    assert main(["draw", "--reading", "1", "--out", str(tmp_path / "no" / "a.png")]) == 1
    assert "cannot be written" in capsys.readouterr().err
    assert main(["draw", "--reading", "1", "--out", str(tmp_path / "a.jpg")]) == 1
    assert "the name must end in .png or .pdf" in capsys.readouterr().err
    assert main(["draw", "--reading", "1"]) == 2
    assert list(tmp_path.iterdir()) == []


def test_a_picture_too_small_to_read_is_drawn_with_a_caution(tmp_path, capsys):
    small = ["draw", "--reading", "1", "--px-per-mm", "0.5", "--size", "64x64", "--out"]
    assert main([*small, str(tmp_path / "a.png")]) == 0
    assert "nothing between its lines can be shown" in capsys.readouterr().err
    assert main([*small, str(tmp_path / "a.pdf")]) == 0  # paper has no pixels
    assert capsys.readouterr().err == f"written: {tmp_path / 'a.pdf'}\n"
