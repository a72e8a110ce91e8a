"""`tenthwise bench` as its user runs it: typed lines, files, bad files."""

import io
import json
import sys

import pytest

from trainer.commands.main import main
from trainer.records.archive import Archive

ZEROS = ["0", "0.00005", "0", "-0.00005", "0"]
ZERO_ROWS = "estimate,reference\n" + ",0.00000\n" * 5
ARGUMENTS = ["--instrument", "inch", "--step", "0.00005", "--accuracy", "0.0001"]


@pytest.fixture
def archive(tmp_path):
    path = tmp_path / "bench.sqlite"
    with Archive.open(path) as made:
        made.add_person("Kim")
    return str(path)


def run(monkeypatch, lines, *arguments):
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(lines) + "\n"))
    return main(["bench", "Kim", *ARGUMENTS, *arguments])


def pairs(count=24):
    """Return estimates that read 0.5 tenth low, with their references."""
    for k in range(count):
        reference = 500 + 371 * k + (k % 10) + 0.5
        yield f"{(reference - 0.5) / 10_000:.4f}", f"{reference / 10_000:.5f}"


def test_a_bench_check_is_taken_scored_and_kept(monkeypatch, capsys, archive):
    lines = [*ZEROS, "", *(text for pair in pairs() for text in pair)]
    assert run(monkeypatch, lines, "--readings", "24", "--archive", archive, "--json") == 0
    result = json.loads(capsys.readouterr().out)
    assert result["bias_tenths"]["value"] == pytest.approx(-0.5)
    assert result["readings"] == 24
    with Archive.open(archive) as kept:
        answers = kept.answers("Kim")
        assert len(answers) == 24
        assert set(answers["drill"]) == {"bench-check"}
        stored = kept.session(answers["session"].iloc[0])
        assert stored.ended_how == "finished"
        kinds = [note.kind for note in stored.notes]
        assert kinds.count("zero-observed") == 5
        assert kinds.count("estimate-locked") == 24


def test_estimates_are_kept_when_input_ends(monkeypatch, capsys, archive):
    lines = [*ZEROS, "", "0.2785", "0.27855", "0.5001"]
    assert run(monkeypatch, lines, "--readings", "20", "--archive", archive) == 0
    assert "cannot be had from so few readings" in capsys.readouterr().out
    with Archive.open(archive) as kept:
        assert len(kept.answers("Kim")) == 1


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1"])
@pytest.mark.parametrize(
    ("separator", "decimal", "end"), [(",", ".", "\n"), (";", ",", "\r\n"), ("\t", ",", "\r")]
)
def test_a_file_of_any_make_gives_the_same_result(
    monkeypatch, capsys, archive, tmp_path, encoding, separator, decimal, end
):
    rows = [("estimate", "reference", "note")]
    rows += [("", zero, "nullpunkt größe") for zero in ZEROS] + [(*pair, "") for pair in pairs()]
    text = end.join(separator.join(rows[0:1][0]) if row is rows[0] else
                    separator.join((row[0].replace(".", decimal), row[1].replace(".", decimal), row[2]))
                    for row in rows)  # fmt: skip
    path = tmp_path / "bench.csv"
    path.write_bytes(text.encode(encoding))
    assert run(monkeypatch, [], "--from", str(path), "--archive", archive, "--json") == 0
    result = json.loads(capsys.readouterr().out)
    assert (result["readings"], result["bias_tenths"]["value"]) == (24, pytest.approx(-0.5))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "it is empty; it needs the header estimate,reference"),
        ("a,b\n1,2\n", "line 1: column 'estimate' must be there once"),
        ("estimate,estimate,reference\n1,1,1\n", "line 1: column 'estimate' must be there once"),
        ("estimate,reference\n0.2785,0.27855\n", "line 2: zero: 0 of at least 5 observations"),
        ("estimate,reference\n,0\n,0\n,0\n,0\n,0\nsix,0.6\n", "line 7: estimate: 'six'"),
        ("estimate,reference\n,0\n,0\n,0\n,0\n,0\n0.6,\n", "line 7: reference: nothing was typed"),
        (ZERO_ROWS + "0.6,0.60000\n,0.7\n", "line 8: estimate is empty; an estimate comes before"),
        (ZERO_ROWS, "there is no pair of estimate and reference"),
        (
            ZERO_ROWS + "0.2785,7.0750\n",
            "line 7: reference: 7.0750 looks like the other unit; set the reference to in",
        ),
        (
            ZERO_ROWS + "0.2785,0.278\n",
            "line 7: reference: 0.278 has fewer digits than the display shows; correct",
        ),
        (ZERO_ROWS + "0.2785,0.27857\n", "line 7: reference: 0.27857 is no multiple of the reference's step"),
        (ZERO_ROWS + "0.2785,1.27850\n", "line 7: reference: 1.27850 lies outside the instrument's travel"),
        (ZERO_ROWS + "0.27855,0.27855\n", "line 7: estimate: 0.27855 has 5 decimals, as only the reference"),
        (
            ZERO_ROWS + "0,2785,0,27855\n",
            "line 7: 4 fields, but the header has 2; put a decimal comma in quotes",
        ),
        ("estimate,reference," + "x" * 200_000 + "\n", "line 1: it is not CSV: field larger than"),
        ("estimate,reference\n\0,1\n", "it is no text file; save it as CSV UTF-8"),
    ],
)
def test_a_faulty_file_is_refused_with_its_line(monkeypatch, capsys, archive, tmp_path, text, why):
    path = tmp_path / "bench.csv"
    path.write_text(text)
    assert run(monkeypatch, [], "--from", str(path), "--archive", archive) == 1
    said = capsys.readouterr().err
    assert why in said
    assert said.count("\n") == 1
    with Archive.open(archive) as kept:
        assert kept.sessions().empty  # all or nothing: not even a session was begun


def test_a_doubted_reference_of_a_file_is_taken_when_somebody_insists(monkeypatch, capsys, archive, tmp_path):
    path = tmp_path / "bench.csv"
    path.write_text(ZERO_ROWS + "0.2785,0.278\n" + "0.5001,0.50015\n")
    assert run(monkeypatch, [], "--from", str(path), "--even-so", "--archive", archive, "--json") == 0
    assert json.loads(capsys.readouterr().out)["readings"] == 2
    with Archive.open(archive) as kept:
        assert kept.answers("Kim")["truth_tenths"].tolist() == pytest.approx([2780.0, 5001.5])


def test_other_bad_input(monkeypatch, capsys, archive, tmp_path):
    assert run(monkeypatch, [], "--archive", archive, "--reference", "laser") == 1
    assert "display or vernier" in capsys.readouterr().err
    assert run(monkeypatch, [], "--archive", archive, "--from", str(tmp_path / "none.csv")) == 1
    assert "no such file" in capsys.readouterr().err
    assert main(["bench", "Nobody", *ARGUMENTS, "--archive", archive]) == 1
    assert "Nobody" in capsys.readouterr().err


def test_what_is_printed_has_true_minus_signs_and_a_spread_without_a_sign(archive, tmp_path, capsys):
    file = tmp_path / "pairs.csv"
    file.write_text("estimate,reference\n7.384,7.386\n8.111,8.112\n", encoding="utf-8")
    asked = ["--instrument", "metric-vernier", "--reference", "vernier", "--step", "0,001"]
    assert main(["bench", "Kim", *asked, "--from", str(file), "--archive", archive]) == 0
    told = capsys.readouterr().out
    assert "bias: −1.50 tenths (95 %: −7.85 to +4.85), −1.50 µm" in told
    assert "spread, reference's part out: 0." in told
