"""Every kind of drill goes all the way: dealt, taken, kept, scored, exported and found in the report."""

import json

import numpy as np
import pypdf
import pytest

from tests.practice.people import keep, sit
from trainer.commands.main import main
from trainer.practice.kinds import DRILLS
from trainer.practice.plan import Plan
from trainer.practice.results import family
from trainer.records import answers_csv
from trainer.records.archive import Archive

# what the report says where the drill was taken, and how many items a sitting of this test has
SHOWN = {
    "tenths": ("tenths between two given lines", 20),
    "full-reading": ("Error against position within the division", 20),
    "half-line": ("by a sleeve line", 20),
    "zero-offset": ("readings corrected for a zero offset", 20),
    "vernier": ("Reading a vernier", 20),
    "self-check": ("Self-check: the estimate against the vernier", 10),
    "set-to": ("Setting to a reading", 20),
    "set-line": ("Setting a line", 20),
    "judge": ("Judging overlap at ±2.0 µm", 60),
    "size-it": ("Sizing an offset", 20),
    "calibration": ("Calibration runs, limit ±4.0 µm", 1),
}


def text_of(path):
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())


def taken(drill, place, chance):
    """Keep one sitting of a drill in a new archive; return its session."""
    instrument = "metric-vernier" if DRILLS[drill].needs_vernier else "metric"
    session = sit(Plan("mine", "Mine", drill, instrument, SHOWN[drill][1]), chance)
    with Archive.open(place) as archive:
        archive.add_person("Kim")
        keep(archive, "Kim", session)
    return session


def test_the_table_names_every_kind():
    assert set(SHOWN) == set(DRILLS)


@pytest.mark.parametrize("drill", list(DRILLS))
def test_a_drill_reaches_records_scoring_export_and_report(drill, tmp_path, chance, capsys):
    place = str(tmp_path / "a.tenthwise")
    session = taken(drill, place, chance)
    with Archive.open(place) as archive:
        kept = archive.answers("Kim")
    assert kept["typed"].tolist() == [answer.typed for answer in session.answers]
    truths = {item.number: item.position_tenths for item in session.items}
    assert kept["truth_tenths"].tolist() == [truths[number] for number in kept["item"]]

    table = tmp_path / "a.csv"
    assert main(["export", "answers", "--out", str(table), "--archive", place]) == 0
    written = answers_csv.read(table)
    assert written["answer_tenths"].to_numpy() == pytest.approx(kept["answer_tenths"].to_numpy(), abs=0)
    assert written["asks"].tolist() == [item.asks for item in session.items]
    assert main(["export", "answers", "--out", str(tmp_path / "a.json"), "--archive", place]) == 0
    assert len(json.loads((tmp_path / "a.json").read_text())["answers"]) == len(session.answers)

    capsys.readouterr()
    if drill == "judge":  # a word has no bias: judgements are scored as such
        assert main(["score", str(table)]) == 1
        assert "tenthwise compare a.csv --judged TOLERANCE" in capsys.readouterr().err
        assert main(["compare", str(table), "--judged", "2", "--json"]) == 0
        (scored,) = json.loads(capsys.readouterr().out)["people"]
        assert scored["rates"]["items"] == SHOWN[drill][1]
        assert scored["curve"]["threshold_tenths"]["value"] == pytest.approx(0.0, abs=0.6)
    else:
        assert main(["score", str(table), "--json"]) == 0
        (scored,) = json.loads(capsys.readouterr().out)["people"]
        wanted = "reading" if drill in ("self-check", "calibration") else family(drill)
        assert scored["readings"] == sum(family(item.asks) == wanted for item in session.items)
        assert abs(scored["bias_tenths"]["value"]) < 0.6

    out = tmp_path / "r.pdf"
    assert main(["report", "Kim", "--practice", "--out", str(out), "--archive", place]) == 0
    text = text_of(out)
    assert SHOWN[drill][0] in text
    for other, (words, _) in SHOWN.items():
        assert other == drill or words not in text, f"{other} was never taken"
    assert 1 <= len(pypdf.PdfReader(out).pages) <= 4


def test_somebody_who_took_everything_has_one_report_of_few_pages(tmp_path, chance):
    place = str(tmp_path / "a.tenthwise")
    with Archive.open(place) as archive:
        archive.add_person("Kim")
        for day, (drill, (_, items)) in enumerate(SHOWN.items(), 1):
            instrument = "metric-vernier" if DRILLS[drill].needs_vernier else "metric"
            when = f"2026-05-{day:02d}T08:00:00+00:00"
            keep(archive, "Kim", sit(Plan("mine", "Mine", drill, instrument, items), chance, when=when), when)
        dim = Plan("dim", "Dim", "full-reading", "metric", 20, viewing={"glare": 0.4})
        when = "2026-06-01T08:00:00+00:00"
        keep(archive, "Kim", sit(dim, chance, when=when, bias=1.0), when)
    out = tmp_path / "r.pdf"
    wanted = ["report", "Kim", "--practice", "--instrument", "metric", "--out", str(out), "--archive", place]
    assert main([*wanted, "--criterion", "first-level-metric"]) == 0
    text = text_of(out)
    for words, _ in SHOWN.values():
        assert words in text
    assert "glare 0.4: full reading, metric 20" in text
    assert "clear: whole readings, metric 20" in text
    assert len(pypdf.PdfReader(out).pages) <= 5


def test_a_criterion_that_does_not_fit_the_instrument_is_refused(tmp_path, chance, capsys):
    place = str(tmp_path / "a.tenthwise")
    taken("full-reading", place, chance)
    out = tmp_path / "r.pdf"
    wanted = ["report", "Kim", "--practice", "--out", str(out), "--archive", place, "--criterion"]
    assert main([*wanted, "first-level-inch"]) == 1
    assert "it reads in millimetres, and the criterion is for inches" in capsys.readouterr().err
    assert main([*wanted, "first-level-metrik"]) == 1
    assert "did you mean first-level-metric?" in capsys.readouterr().err
    assert not out.exists()


@pytest.fixture
def chance():
    return np.random.default_rng(20261125)
