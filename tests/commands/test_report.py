"""`tenthwise report` as its user runs it: what stands in the files, and what is refused."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pypdf
import pytest

from tests.reports.simulated import answers, put_into
from trainer.commands.main import main
from trainer.records.archive import Archive
from trainer.signoff import criteria

SAMPLE = Path(__file__).resolve().parents[2] / "sessions" / "recorded" / "pump-shop.sqlite"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    chance = np.random.default_rng(20261125)
    path = tmp_path_factory.mktemp("report") / "a.tenthwise"
    people = [
        answers(chance, "Ada", sessions=3),
        answers(chance, "Bo", sessions=3, bias=-0.3),
        answers(chance, "Inch", sessions=3, instrument="inch"),
    ]
    with Archive.open(path) as made:
        put_into(made, pd.concat(people))
    return path


def text_of(path):
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


def test_a_person_s_report_is_a_pdf_on_the_paper_asked_for(place, tmp_path):
    for paper, size_mm in (("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))):
        out = tmp_path / f"{paper}.pdf"
        assert main(["report", "Ada", "--out", str(out), "--paper", paper, "--archive", str(place)]) == 0
        box = pypdf.PdfReader(out).pages[0].mediabox
        assert (float(box.width), float(box.height)) == pytest.approx(
            [mm * 72 / 25.4 for mm in size_mm], abs=0.1
        )
        assert 2 <= len(pypdf.PdfReader(out).pages) <= 4
        assert "Ada" in text_of(out)


def test_a_team_s_report_names_everybody_on_the_instrument(place, tmp_path, capsys):
    out = tmp_path / "team.pdf"
    code = main(["report", "--team", "--instrument", "metric", "--out", str(out), "--archive", str(place)])
    assert code == 0
    assert "Ada" in text_of(out)
    assert "Bo" in text_of(out)
    assert "not in the report: Inch" in capsys.readouterr().err


def test_pages_as_pictures(place, tmp_path):
    out = tmp_path / "p.png"
    assert main(["report", "Ada", "--out", str(out), "--archive", str(place)]) == 0
    made = sorted(tmp_path.glob("*.png"))
    assert out in made
    assert len(made) >= 2
    assert all(path.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n" for path in made)  # PNG, ISO/IEC 15948


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["Ada", "--out", "x.doc"], 1, "must end in .pdf or .png"),
        (["Ada", "Inch"], 1, "differ in instrument"),
        (["Ada", "--until", "soon"], 1, "--until is 'soon'"),
        (["Ada", "--until", "1999-01-01"], 1, "Ada"),
        (["Zoe"], 1, "no person called"),
        (["Ada", "--paper", "a7"], 1, "paper 'a7' is not known"),
        ([], 2, "name one or more people"),
    ],
)
def test_refusals_leave_nothing(place, tmp_path, monkeypatch, capsys, arguments, code, words):
    monkeypatch.chdir(tmp_path)
    assert main(["report", *arguments, "--archive", str(place)]) == code
    assert words in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_the_limits_drawn_are_of_the_criterion_named_or_else_of_the_one_that_applies(place, tmp_path):
    out = tmp_path / "r.pdf"
    wanted = ["report", "Ada", "--out", str(out), "--archive", str(place)]
    assert main(wanted) == 0
    assert "inside the criterion “First level, metric outside micrometer" in " ".join(text_of(out).split())
    mine = tmp_path / "mine.toml"
    text = criteria.shipped_files()["first-level-metric"].read_text(encoding="utf-8")
    title = re.search(r'^title = "(.*)"$', text, re.MULTILINE)[1]
    mine.write_text(text.replace(title, "Our own rule"), encoding="utf-8")
    assert main([*wanted, "--criterion", str(mine)]) == 0
    assert "inside the criterion “Our own rule”" in " ".join(text_of(out).split())
    team = ["report", "--team", "--instrument", "metric", "--out", str(out), "--archive", str(place)]
    assert main([*team, "--criterion", str(mine)]) == 0
    shown = " ".join(text_of(out).split())
    assert "Our own rule: bias within" in shown
    assert "Who is due for a short drill" in shown
    assert "Ada overdue by" in shown  # the last of these sittings was in March 2026


def test_the_methods_do_not_make_a_page_of_their_own_where_lower_figures_save_it(tmp_path):
    out = tmp_path / "r.pdf"
    asked = ["report", "Inspector 1", "--instrument", "metric", "--practice", "--out", str(out)]
    assert main([*asked, "--archive", str(SAMPLE)]) == 0
    last = pypdf.PdfReader(out).pages[-1].extract_text()
    assert "How these figures are made" in last
    assert "Drills of parts of a reading" in last
