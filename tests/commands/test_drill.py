"""`tenthwise drill --no-window`: a whole drill taken by a reader that measures the pictures."""

import importlib.util
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from trainer.commands.main import main
from trainer.drawing import png
from trainer.instrument import catalogue
from trainer.records.archive import Archive

ROOT = Path(__file__).resolve().parent.parent.parent
READER = ROOT / "tests" / "drawing" / "reader.py"
PLAN = """
title = "A long check"
drill = "full-reading"
instrument = "{instrument}"
items = {items}
feedback = false
"""


def picture_reader():
    """Return the module that measures pictures."""
    spec = importlib.util.spec_from_file_location("picture_reader", READER)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


class MeasuringPerson:
    """Standard input that measures the newest picture whenever a line is asked for."""

    def __init__(self, folder, instrument, decimals):
        self.folder, self.decimals = folder, decimals
        self.micrometer = catalogue.load(instrument)
        self.reader = picture_reader()
        self.item = 0

    def readline(self):
        self.item += 1
        picture = png.read(self.folder / f"item-{self.item:03d}.png")
        found = self.reader.read(picture, self.micrometer, px_per_mm=20.0)
        return f"{self.micrometer.reading_of(found.position_tenths):.{self.decimals}f}\n"


def take(monkeypatch, capsys, tmp_path, instrument, items, decimals):
    """Take a whole drill on plain pictures; return the score of the last line and the answers kept."""
    plan = tmp_path / "long.toml"
    plan.write_text(PLAN.format(instrument=instrument, items=items))
    archive = str(tmp_path / "a.sqlite")
    folder = tmp_path / "pictures"
    monkeypatch.setattr(sys, "stdin", MeasuringPerson(folder, instrument, decimals))
    given = [
        "drill",
        str(plan),
        "--person",
        "R",
        "--new-person",
        "--no-window",
        str(folder),
        "--json",
        "--plain",
    ]
    assert main([*given, "--size", "960x420", "--seed", "11", "--archive", archive]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line["item"] for line in lines[:-1]] == list(range(1, items + 1))
    with Archive.open(archive) as kept:
        return lines, kept.answers("R")


@pytest.mark.parametrize(("instrument", "decimals"), [("metric", 3), ("inch", 4)])
def test_a_reader_that_measures_scores_rounding_and_nothing_else(
    monkeypatch, capsys, tmp_path, instrument, decimals
):
    lines, answers = take(monkeypatch, capsys, tmp_path, instrument, 120, decimals)
    assert lines[0] == {
        "item": 1,
        "of": 120,
        "picture": "item-001.png",
        "asks": "full-reading",
        "unit": catalogue.load(instrument).unit,
    }
    score = lines[-1]["people"][0]
    rounding = np.rint(answers["truth_tenths"]) - answers["truth_tenths"]
    assert (score["readings"], score["used"], score["misreads"]["total"]) == (120, 120, 0)
    # bias within 0.02 tenth of a perfect reader's, whose errors are those of rounding
    assert score["bias_tenths"]["value"] == pytest.approx(rounding.mean(), abs=0.02)
    assert score["spread_tenths"]["value"] == pytest.approx(rounding.std(), abs=0.02)
    # rounding to a tenth: 1/sqrt(12) = 0.29 tenth (JCGM 100:2008, F.2.2.1), four standard errors of 120
    assert score["spread_tenths"]["value"] == pytest.approx(12**-0.5, abs=4 * 0.29 * 0.45 / np.sqrt(120))


def test_a_reader_without_rounding_finds_the_truth(monkeypatch, capsys, tmp_path):
    lines, _ = take(monkeypatch, capsys, tmp_path, "metric", 60, 6)
    score = lines[-1]["people"][0]
    assert abs(score["bias_tenths"]["value"]) < 0.02
    assert score["rms_tenths"] < 0.02


def run(lines, *arguments):
    """Run the program with lines on standard input; return what it did."""
    return subprocess.run(
        [sys.executable, "-m", "trainer", "drill", *arguments],
        input="".join(line + "\n" for line in lines), cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.fixture
def place(tmp_path):
    with Archive.open(tmp_path / "a.sqlite") as archive:
        archive.add_person("Kim")
    return ["--no-window", str(tmp_path / "p"), "--archive", str(tmp_path / "a.sqlite"), "--size", "320x180"]


def test_feedback_and_refusals_ride_on_the_next_prompt(place):
    done = run(
        ["4", "eleven", "12", "0", *["5"] * 18], "first-tenths-metric", "--person", "Kim", "--json", *place
    )
    assert done.returncode == 0, done.stderr
    prompts = [json.loads(line) for line in done.stdout.splitlines()][:-1]
    assert len(prompts) == 22  # twenty items, two of them asked twice
    assert prompts[0]["unit"] == "tenth"
    assert 0 <= prompts[0]["lower_line"] < 50
    assert "refused" in prompts[2]
    assert "from 0 to 10" in prompts[3]["refused"]
    assert prompts[4]["previous"]["item"] == 2
    assert prompts[1]["previous"]["error_tenths"] == pytest.approx(prompts[1]["previous"]["error_um"])


def test_what_was_answered_is_kept_and_can_be_gone_on_with(place):
    first = run(["1.5", "skip", "22.7"], "check-metric", "--person", "Kim", *place)
    assert first.returncode == 1
    assert "after 3 of 20" in first.stderr
    assert first.stderr.count("\n") == 1
    rest = run(["3.3"] * 17, "check-metric", "--person", "Kim", "--resume", "--json", *place)
    assert rest.returncode == 0
    assert json.loads(rest.stdout.splitlines()[0])["item"] == 4
    with Archive.open(place[3]) as archive:
        answers = archive.answers("Kim")
        assert list(answers["outcome"][:3]) == ["answered", "skipped", "answered"]
        assert answers["session"].nunique() == 1
        assert len(answers) == 20
    again = run([], "check-metric", "--person", "Kim", "--resume", *place)
    assert again.returncode == 1
    assert "no unfinished session" in again.stderr


def test_an_option_in_the_place_of_the_folder_is_told():
    done = run([], "check-metric", "--no-window", "--person", "Kim")
    assert done.returncode == 2
    told = " ".join(done.stderr.replace("│", " ").split())
    assert "name the folder for the pictures before --person" in told


def test_a_killed_process_loses_only_the_answer_being_typed(place):
    process = subprocess.Popen(
        [sys.executable, "-m", "trainer", "drill", "check-metric", "--person", "Kim", "--json", *place],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    for k in range(5):
        assert json.loads(process.stdout.readline())["item"] == k + 1
        process.stdin.write("5.5\n")
        process.stdin.flush()
    assert json.loads(process.stdout.readline())["item"] == 6  # so the fifth answer is on disk
    process.stdin.write("7.")
    process.stdin.flush()
    time.sleep(0.05)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    process.stdin.close()
    process.stdout.close()
    with Archive.open(place[3]) as archive:
        stored = archive.unfinished("Kim")[0]
        assert len(stored.answers) == 5
        assert len(stored.items) == 20


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["no-such-plan", "--person", "Kim"], "there is no plan 'no-such-plan'"),
        (["check-metric", "--person", "Nobody"], "no person called 'Nobody'"),
        (["check-metric", "--person", "Kim", "--seed", "3"], "fresh seed"),
        (["check-metric", "--person", "Kim", "--size", "tiny"], "such as 1280x720"),
        (["check-metric", "--person", "Kim", "--size", "10x10"], "width is 10 px; it must be from 64"),
        (["check-metric", "--person", "Kim", "--px-per-mm", "0"], "--px-per-mm is 0"),
        (["check-metric", "--person", "Kim", "--new-person"], "Kim"),
    ],
)
def test_bad_input_is_one_sentence(place, arguments, why):
    if "--size" in arguments:
        place = place[:4]
    done = run([], *arguments, *place)
    assert done.returncode == 1
    assert why in done.stderr
    assert re.fullmatch(r"tenthwise: .+\n", done.stderr)
    assert "Traceback" not in done.stderr


def test_an_instrument_a_plan_does_not_know_is_refused_with_its_line(place, tmp_path):
    plan = tmp_path / "odd.toml"
    plan.write_text(PLAN.format(instrument="caliper", items=5))
    done = run([], str(plan), "--person", "Kim", *place)
    assert done.returncode == 1
    assert "odd.toml, line 4: instrument: 'caliper' is not in the catalogue" in done.stderr
