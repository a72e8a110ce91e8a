"""The reports of a person and of a team: pages, words and numbers that are really in the files."""

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from pypdf import PdfReader

from tests.reports.simulated import answers
from trainer.reports import habits_section, person_report, team_report
from trainer.reports.files import UnusableReport
from trainer.reports.heading import ReportHeader
from trainer.reports.wording import fixed, in_tenths
from trainer.scoring.person import Misreads
from trainer.scoring.table import score_people

POINTS_PER_MM = 72 / 25.4


def text_of(path):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())


@pytest.fixture
def frame(chance):
    return answers(chance, sessions=5, slips=0.05)


@pytest.fixture
def score(frame):
    return score_people(frame).people[0]


def test_a_report_has_two_to_four_pages_of_a4_and_says_what_was_scored(tmp_path, frame, score):
    header = ReportHeader(conditions="seen at 400 mm", remark="Invented readings.", program_version="9.8.7")
    path = person_report.write(tmp_path / "r.pdf", score, frame, header)
    pages = PdfReader(path).pages
    assert 2 <= len(pages) <= 4
    for page in pages:
        size = float(page.mediabox.width), float(page.mediabox.height)
        assert size == pytest.approx((210 * POINTS_PER_MM, 297 * POINTS_PER_MM), abs=0.1)
    text = text_of(path)
    for wanted in (
        "Ada Sample",
        "seen at 400 mm",
        "Invented readings.",
        "9.8.7",
        "must be confirmed on a real instrument",
        "not accredited",
        fixed(score.bias_tenths.value, sign=True),
        fixed(score.spread_tenths.value),
        fixed(score.u_reading.tenths),
        f"{score.misreads.total} of 100 readings",
        "a graduation too many or too few",
    ):
        assert wanted in text, wanted


def test_many_kinds_of_misread_leave_the_caption_its_place(score):
    kinds = {"turn": 2, "graduation": 7, "wrong-side": 1, "swapped-digits": 3, "unexplained": 4}
    rows = habits_section.slips(replace(score, misreads=Misreads(17, kinds)))
    assert [number for _, number in rows] == ["7", "4", "3", "3"]
    assert rows[-1][0] == "other kinds"
    few = habits_section.slips(replace(score, misreads=Misreads(3, {"turn": 2, "unexplained": 1})))
    assert few == [["a turn miscounted", "2"], ["not explained", "1"]]


def test_conditions_too_long_for_the_head_end_in_an_ellipsis(tmp_path, frame, score):
    station = " ".join(f"bench{n}" for n in range(80))
    header = ReportHeader(conditions=f"full reading, station {station}")
    text = text_of(person_report.write(tmp_path / "r.pdf", score, frame, header))
    assert "bench10" in text
    assert "bench79" not in text
    assert "…" in text


def test_readings_without_a_session_are_shown_but_make_no_session_of_their_own(tmp_path, frame, score):
    unnamed = frame.assign(session=frame["session"].where(frame["session"] != frame["session"].iloc[0]))
    path = person_report.write(tmp_path / "r.pdf", score, unnamed)
    assert f"{score.readings} in" in text_of(path)


def test_letter_paper_and_the_bench_have_their_own_size_and_caution(tmp_path, frame, score):
    path = person_report.write(
        tmp_path / "r.pdf", score, frame, ReportHeader(paper="letter", setting="bench")
    )
    page = PdfReader(path).pages[0]
    assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx((612, 792), abs=0.1)
    assert "taken on a real instrument" in text_of(path)
    with pytest.raises(UnusableReport, match="a4, letter"):
        ReportHeader(paper="foolscap")


def test_equal_data_give_equal_files_without_dates(tmp_path, frame, score):
    first = person_report.write(tmp_path / "a.pdf", score, frame).read_bytes()
    second = person_report.write(tmp_path / "b.pdf", score, frame).read_bytes()
    assert first == second
    assert b"CreationDate" not in first
    about = PdfReader(io.BytesIO(first)).metadata
    assert about.title == "Reading report: Ada Sample"


def test_png_pages_are_as_many_as_pdf_pages(tmp_path, frame, score):
    pages = len(PdfReader(person_report.write(tmp_path / "r.pdf", score, frame)).pages)
    pictures = person_report.write_png(tmp_path / "r.png", score, frame, dots_per_inch=50)
    assert [p.name for p in pictures] == ["r.png", *(f"r-{n}.png" for n in range(2, pages + 1))]
    for picture in pictures:
        assert picture.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("readings", [1, 2, 9])
def test_a_report_of_a_handful_of_readings_says_that_they_are_few(tmp_path, frame, readings):
    said = re.compile(r"\b\d readings? (is|are) few: take more before drawing conclusions")
    few = frame.iloc[:readings]
    for rows, told in ((few, True), (frame, False)):
        path = person_report.write(tmp_path / "r.pdf", score_people(rows).people[0], rows)
        assert bool(said.search(text_of(path))) is told


def test_all_misreads_leave_nothing_to_score_but_a_report(tmp_path, frame):
    lost = frame.assign(answer_tenths=frame["truth_tenths"] + 500)
    path = person_report.write(tmp_path / "r.pdf", score_people(lost).people[0], lost)
    assert "0 usable readings: too few" in text_of(path)


@pytest.mark.parametrize("name", ["=1+1", "$x^2$ & <b>", "木村 さん", "Kim\nLee", "x" * 300, 'O"Neil, "Jr."'])
def test_any_name_can_head_a_report(tmp_path, frame, name):
    named = frame.iloc[:20].assign(person=name)
    path = person_report.write(tmp_path / "r.pdf", score_people(named).people[0], named)
    assert PdfReader(path).metadata.title == f"Reading report: {name}"


def test_a_report_that_cannot_be_written_leaves_nothing_behind(tmp_path, frame, score):
    with pytest.raises(FileNotFoundError):
        person_report.write(tmp_path / "missing" / "r.pdf", score, frame)
    (tmp_path / "r.pdf").mkdir()
    with pytest.raises(OSError, match="r.pdf"):
        person_report.write(tmp_path / "r.pdf", score, frame)
    assert [p.name for p in tmp_path.iterdir()] == ["r.pdf"]


def test_a_team_report_names_everybody_and_the_spread_of_any_of_them(tmp_path, chance):
    import pandas as pd

    biases = np.linspace(-0.4, 0.8, 6)
    frame = pd.concat([answers(chance, f"Person {i}", bias=b) for i, b in enumerate(biases)])
    scores = score_people(frame).people
    header = ReportHeader(bias_limit_tenths=0.5, spread_limit_tenths=1.0, remark="Invented people.")
    path = team_report.write(tmp_path / "t.pdf", scores, frame, header, title="First shift")
    text = text_of(path)
    for score in scores:
        assert score.person in text
        assert fixed(score.bias_tenths.value, sign=True) in text
    precision = team_report.team_precision(scores, frame)
    assert f"has a spread of {in_tenths(precision.reproducibility_sd.value)} (" in text
    assert "spread to 1.00 tenths" in text


def test_a_team_of_nobody_is_refused(tmp_path, frame):
    lost = frame.assign(answer_tenths=frame["truth_tenths"] + 500)
    with pytest.raises(UnusableReport, match="at least one person"):
        team_report.write(tmp_path / "t.pdf", score_people(lost).people, lost)
    assert list(tmp_path.iterdir()) == []


def test_a_large_team_goes_over_several_pages(tmp_path, chance):
    import pandas as pd

    frame = pd.concat([answers(chance, f"P{i}", sessions=1, slips=0) for i in range(60)])
    path = team_report.write(tmp_path / "t.pdf", score_people(frame).people, frame)
    assert len(PdfReader(path).pages) >= 3
    assert "Everyone's bias and spread, continued" in text_of(path)
