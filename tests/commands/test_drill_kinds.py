"""Every kind of drill without a window: typed answers in, an ended session and a score out."""

import io
import json
import sys

import pytest

from trainer.commands.main import main
from trainer.practice.kinds import DRILLS
from trainer.practice.results import readings
from trainer.records.archive import Archive

ANSWER = {
    "tenths": "5",
    "estimate": "5",
    "full-reading": "7.384",
    "half-line": "7.384",
    "zero-look": "+2",
    "zero-offset": "7.384",
    "vernier": "3",
    "self-check": "3",
    "set-to": "+1.5 -0.2",
    "set-line": "-2",
    "judge": "in",
    "size-it": "+1",
    "block-reading": "7.384",
    "block-error": "+2",
    "verdict": "accept",
}


class Asked(io.StringIO):
    """Standard input that answers what standard output last asked for."""

    def __init__(self, shown):
        super().__init__()
        self.shown = shown

    def readline(self):
        return ANSWER[json.loads(self.shown.lines[-1])["asks"]] + "\n"


class Shown(io.StringIO):
    """Standard output that keeps its lines."""

    @property
    def lines(self):
        return self.getvalue().splitlines()


@pytest.mark.parametrize("drill", DRILLS)
def test_every_kind_is_taken_without_a_window(drill, monkeypatch, tmp_path):
    instrument = "metric-vernier" if DRILLS[drill].needs_vernier else "metric"
    file = tmp_path / "mine.toml"
    extra = "errors_by_hand = true\n" if drill == "calibration" else ""
    items = 1 if drill == "calibration" else 4
    file.write_text(f'title = "T"\ndrill = "{drill}"\ninstrument = "{instrument}"\nitems = {items}\n{extra}')
    shown = Shown()
    monkeypatch.setattr(sys, "stdout", shown)
    monkeypatch.setattr(sys, "stdin", Asked(shown))
    archive = str(tmp_path / "a.sqlite")
    given = [
        "drill",
        str(file),
        "--person",
        "Kim",
        "--new-person",
        "--no-window",
        str(tmp_path / "p"),
        "--json",
    ]
    assert main([*given, "--size", "320x180", "--archive", archive]) == 0
    lines = [json.loads(line) for line in shown.lines]
    assert ("judgement" in lines[-1]) == (drill == "judge")
    with Archive.open(archive) as kept:
        (row,) = kept.sessions("Kim").to_dict("records")
        stored = kept.session(row["session"])
    assert stored.ended_how == "finished"
    assert len(stored.answers) == len(stored.items) == len(lines) - 1
    assert {answer.outcome for answer in stored.answers} == {"answered"}
    assert len(list((tmp_path / "p").iterdir())) == len(stored.items)


def test_an_adaptive_plan_keeps_each_item_before_it_is_shown_and_can_be_gone_on_with(
    monkeypatch, tmp_path, capsys
):
    file = tmp_path / "mine.toml"
    file.write_text(
        'title = "T"\ndrill = "judge"\ninstrument = "metric"\nitems = 6\nplacement = "adaptive"\n'
    )
    archive = str(tmp_path / "a.sqlite")
    given = ["drill", str(file), "--person", "Kim", "--no-window", str(tmp_path / "p"), "--size", "320x180"]
    monkeypatch.setattr(sys, "stdin", io.StringIO("in\nout\n"))
    assert main([*given, "--new-person", "--archive", archive]) == 1
    assert "the answers ended after 2 of 6" in capsys.readouterr().err
    monkeypatch.setattr(sys, "stdin", io.StringIO("in\nout\nin\nout\n"))
    assert main([*given, "--resume", "--archive", archive]) == 0
    shown = capsys.readouterr().out
    assert "of 6 judgements" in shown
    assert "the tolerance 2.0 µm either way" in shown
    with Archive.open(archive) as kept:
        (row,) = kept.sessions("Kim").to_dict("records")
        assert len(kept.session(row["session"]).items) == 6


def test_a_warning_is_told_with_its_number_and_kept(monkeypatch, tmp_path, capsys):
    archive = str(tmp_path / "a.sqlite")
    monkeypatch.setattr(sys, "stdin", io.StringIO("5\n" * 20))
    given = [
        "drill",
        "first-tenths-metric",
        "--person",
        "Kim",
        "--new-person",
        "--no-window",
        str(tmp_path / "p"),
    ]
    assert main([*given, "--size", "320x180", "--px-per-mm", "4", "--archive", archive]) == 0
    shown = capsys.readouterr()
    assert "warning: a division is 4.0 pixels, so a tenth of it is less than one" in shown.err
    assert "Next: tenthwise drill " in shown.out
    with Archive.open(archive) as kept:
        (row,) = kept.sessions("Kim").to_dict("records")
        (note,) = kept.session(row["session"]).notes
    assert note.kind == "warning"
    assert note.detail.startswith("a division is 4.0 pixels")


def test_without_a_window_true_size_is_said_to_have_no_effect(monkeypatch, tmp_path, capsys):
    file = tmp_path / "mine.toml"
    file.write_text('title = "T"\ndrill = "tenths"\ninstrument = "metric"\nitems = 2\ntrue_size = true\n')
    monkeypatch.setattr(sys, "stdin", io.StringIO("5\n5\n"))
    given = ["drill", str(file), "--person", "Kim", "--new-person", "--no-window", str(tmp_path / "p")]
    assert main([*given, "--size", "320x180", "--archive", str(tmp_path / "a.sqlite")]) == 0
    assert "true_size has no effect on the picture" in capsys.readouterr().err


def test_score_and_compare_leave_out_what_is_no_reading(capsys, tmp_path):
    lines = ["person,truth_tenths,answer_tenths,session,item,instrument,drill,typed"]
    for k in range(40):
        for person in ("Ada", "Bo"):
            lines.append(
                f"{person},{1000 + 10.3 * k},{round(1000 + 10.3 * k)},s1,{k + 1},metric,full-reading,x"
            )
            lines.append(f"{person},{1000 + 10.3 * k},{1003 + 10.3 * k},s2,{k + 1},metric,set-to,x")
    file = tmp_path / "answers.csv"
    file.write_text("\n".join(lines) + "\n")
    assert main(["score", str(file), "--json"]) == 0
    shown = capsys.readouterr()
    assert shown.err == "80 answers of drills that are no readings are left out\n"
    for person in json.loads(shown.out)["people"]:
        assert person["readings"] == 40
        assert abs(person["bias_tenths"]["value"]) < 0.2
    assert main(["compare", str(file), "--json"]) == 0
    assert [person["used"] for person in json.loads(capsys.readouterr().out)["people"]] == [40, 40]
    settings = [lines[0], *[line for line in lines if "set-to" in line]]
    file.write_text("\n".join(settings) + "\n")
    assert main(["score", str(file), "--json"]) == 0
    for person in json.loads(capsys.readouterr().out)["people"]:
        assert person["bias_tenths"]["value"] == pytest.approx(3.0)


def _taken(drill, more, monkeypatch, tmp_path):
    """Take four items of a drill without a window; return the result's last line and the archive."""
    instrument = "metric-vernier" if DRILLS[drill].needs_vernier else "metric"
    file = tmp_path / "mine.toml"
    items = 1 if drill == "calibration" else 4
    file.write_text(f'title = "T"\ndrill = "{drill}"\ninstrument = "{instrument}"\nitems = {items}\n{more}')
    shown = Shown()
    monkeypatch.setattr(sys, "stdout", shown)
    monkeypatch.setattr(sys, "stdin", Asked(shown))
    archive = str(tmp_path / "a.sqlite")
    given = ["drill", str(file), "--person", "Kim", "--new-person", "--no-window", str(tmp_path / "p")]
    assert main([*given, "--json", "--size", "320x180", "--archive", archive]) == 0
    return json.loads(shown.lines[-1]), archive


def test_a_result_under_viewing_conditions_says_so(monkeypatch, tmp_path):
    poor = "seconds_each = 60\n[viewing]\nblur_mm = 0.1\n"
    result, archive = _taken("tenths", poor, monkeypatch, tmp_path)
    assert result["people"][0]["conditions"] == "blur 0.1 mm, 60 s each"
    with Archive.open(archive) as kept:
        assert set(kept.answers()["conditions"]) == set(kept.sessions()["conditions"])
        assert set(kept.answers()["conditions"]) == {"blur 0.1 mm, 60 s each"}


@pytest.mark.parametrize(("drill", "asks", "count"), [("self-check", "estimate", 4),
                                                      ("calibration", "block-reading", 10)])  # fmt: skip
def test_the_readings_within_a_mixed_drill_count_as_readings(drill, asks, count, monkeypatch, tmp_path):
    result, archive = _taken(drill, "", monkeypatch, tmp_path)
    assert result["people"][0]["readings"] == count
    with Archive.open(archive) as kept:
        frame = readings(kept.answers())
    assert frame["asks"].tolist() == [asks] * count
    assert set(frame["drill"]) == {drill}


def test_the_way_of_a_setting_is_kept_beside_what_was_typed(monkeypatch, tmp_path):
    _, archive = _taken("set-to", "", monkeypatch, tmp_path)
    with Archive.open(archive) as kept:
        frame = kept.answers()
    assert set(frame["typed"]) == {"+1.5 -0.2"}
    ways = [json.loads(text) for text in frame["extra"]]
    assert [(way["by"], way["approach"], way["reversals"]) for way in ways] == [("typed", "falling", 1)] * 4
