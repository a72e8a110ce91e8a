"""Every number in the texts of README, guide and sample is looked up where it comes from.

A number that no phrase below covers, or a phrase that the page has no longer, fails. Numbers in consoles are
those that the commands print (`test_snippets.py`).
"""

import json
import math
import re
import tomllib
from datetime import datetime
from functools import cache

import numpy as np
import pytest

from tests.docs.snippets import ROOT, blocks, prose
from trainer.commands import demo
from trainer.instrument import catalogue
from trainer.practice import coaching, plans
from trainer.practice.calibration import BLOCKS_INCH, BLOCKS_MM
from trainer.records import office, sheets
from trainer.records.archive import Archive
from trainer.scoring.intervals import CONFIDENCE
from trainer.scoring.table import score_people
from trainer.signoff import criteria
from trainer.signoff.decision import FAILED, NOT_YET, SHOWN

SAMPLE = ROOT / "sessions" / "recorded" / "pump-shop.sqlite"
SPELT = "two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|twenty|thirty|fifty|hundred|thousand"
NUMBER = re.compile(rf"\d[\d.,]*|\b(?:{SPELT})\b", re.IGNORECASE)


@cache
def sample():
    """Return the sample's answers and sessions."""
    with Archive.open(SAMPLE, create=False) as archive:
        return archive.answers(), archive.sessions()


def sessions_of(number):
    """Return the sessions of an inspector, in order."""
    frame = sample()[1]
    return frame[frame["person"] == f"Inspector {number}"].sort_values("started_at")


def whole_readings(number, *, record=None):
    """Return the score of an inspector's whole readings, of checks or practice alone where that is said."""
    answers, sessions = sample()
    if record is not None:
        answers = answers[answers["session"].isin(sessions[sessions["for_record"] == record]["session"])]
    mine = answers[(answers["person"] == f"Inspector {number}") & (answers["drill"] == "full-reading")]
    (score,) = score_people(mine, by_instrument=True).people[:1]
    return score


def errors_by_month(number, months):
    answers = sample()[0]
    mine = answers[(answers["person"] == f"Inspector {number}") & answers["at"].str[5:7].isin(months)]
    errors = (mine["answer_tenths"] - mine["truth_tenths"]).dropna()
    return errors[errors.abs() < 5]


def divisions():
    """A tenth of a division of both kinds of thimble, in their own unit and in µm."""
    metric, inch = catalogue.load("metric"), catalogue.load("inch")
    assert (metric.division_um, inch.division_um) == pytest.approx((0.01e3, 0.001 * 25_400))
    assert metric.tenth_um == pytest.approx(1.0)
    assert inch.tenth_um == pytest.approx(0.0001 * 25_400)


def a_check_of_twenty():
    plan = plans.find("check-metric")
    assert (plan.items, plan.drill, plan.feedback, plan.for_record) == (20, "full-reading", False, True)


def a_check_of_a_hundred():
    for name in ("judging-metric", "judging-inch"):
        criterion = criteria.find(name)
        assert (criterion.false_accept_rate, criterion.false_reject_rate) == (0.05, 0.10)
        assert plans.find(criterion.plan).items == criterion.readings_a_session == 100


def risk_of_five():
    assert {criterion.confidence for criterion in criteria.shipped()} == {0.95}


def three_invented_people():
    assert len(demo.invented_people()) == 3


def six_people():
    with Archive.open(SAMPLE, create=False) as archive:
        assert [one.name for one in archive.people()] == [f"Inspector {n}" for n in range(1, 7)]


def half_a_year():
    starts = sorted(sample()[1]["started_at"])
    first, last = (datetime.fromisoformat(one) for one in (starts[0], starts[-1]))
    assert (first.year, first.month, last.year, last.month) == (2026, 1, 2026, 7)
    assert 175 <= (last - first).days <= 190


def what_was_signed():
    with Archive.open(SAMPLE, create=False) as archive:
        assert len(office.due(archive)) == 2
    drills = sample()[1]["drill"].value_counts()
    assert drills["bench-check"] == 1
    assert len(list((ROOT / "sessions" / "recorded").glob("sheet-*.pdf"))) == 1


def a_drill_takes_ten_minutes():
    """The sample's drills of twenty items: all are over within ten minutes."""
    sessions = sample()[1]
    drills = sessions[(sessions["items"] == 20) & ~sessions["for_record"].astype(bool)]
    ended, began = (drills[name].map(datetime.fromisoformat) for name in ("ended_at", "started_at"))
    minutes = np.array([(b - a).total_seconds() / 60 for a, b in zip(began, ended, strict=True)])
    assert len(minutes) > 50
    assert minutes.max() < 10


def rounding():
    assert round(1 / math.sqrt(12), 2) == 0.29


def confidence():
    assert CONFIDENCE == 0.95


def two_sentences():
    assert coaching.MOST_SENTENCES == 2


def python():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["requires-python"] == ">=3.11"


def two_budgets():
    assert len(list((ROOT / "sessions" / "budgets").glob("*.toml"))) == 2


def ten_lines():
    (block,) = [one for one in blocks(ROOT / "docs" / "archive.md") if one.language == "sh"]
    assert len(block.text.splitlines()) == 10


def nine_lines():
    (block,) = [one for one in blocks(ROOT / "docs" / "verify-by-hand.md") if one.language == "sh"]
    assert len(block.text.splitlines()) == 9
    assert block.text.splitlines().index("EOF") == 6  # "Seven lines make the two files"


def three_answers():
    assert len({SHOWN, NOT_YET, FAILED}) == 3


def five_lines():
    (block,) = blocks(ROOT / "sessions" / "plans" / "README.md")
    assert len(block.text.splitlines()) == 5


def ten_blocks():
    for name, usual in (("calibration-metric", BLOCKS_MM), ("calibration-inch", BLOCKS_INCH)):
        assert len(plans.find(name).setting("blocks") or usual) == 10


def twelve_steps():
    steps = re.findall(r"^\| (\d+) \|", prose(ROOT / "sessions" / "plans" / "README.md"), re.MULTILINE)
    assert steps == [str(n) for n in range(1, 13)]


def inspector_1():
    statement = json.loads((ROOT / "sessions" / "recorded" / "inspector-1.json").read_text(encoding="utf-8"))
    assert statement["body"]["person"]["name"] == "Inspector 1"
    assert set(sessions_of(1)["drill"]) > {"bench-check"}


def inspector_2():
    statement = json.loads((ROOT / "sessions" / "recorded" / "inspector-2.json").read_text(encoding="utf-8"))
    assert statement["body"]["person"]["name"] == "Inspector 2"
    first, last = errors_by_month(2, ["01", "02"]), errors_by_month(2, ["06", "07"])
    assert first.mean() - 3 * first.std() / len(first) ** 0.5 > max(0.2, last.mean())


def inspector_3():
    score = whole_readings(3)
    assert score.digit_preference.p_value < 0.01
    assert set(score.digit_preference.favoured) <= {0, 5}
    assert sessions_of(3)["for_record"].any()


def inspector_4():
    kinds = whole_readings(4).misreads.by_kind
    assert kinds["half-millimetre"] >= 1
    assert kinds["graduation"] >= 1
    with Archive.open(SAMPLE, create=False) as archive:
        assert sheets.sessions_of(archive) <= set(sessions_of(4)["session"])


def inspector_5():
    assert sessions_of(5)["started_at"].iloc[0][:7] == "2026-04"
    assert errors_by_month(5, ["04"]).std() > errors_by_month(5, ["06", "07"]).std()


def inspector_6():
    score = whole_readings(6)
    assert score.instrument == "inch"
    assert score.bias_tenths.high < 0


def way_of_speaking():
    """Nothing is measured by it: two lines, two jobs, a key's name, the title of a standard."""


UNITS = {
    "graduated in 0.01 mm (or 0.001 in)": divisions,
}
CHECKED = {
    "README.md": {**UNITS, "lets three invented people take the shipped check": three_invented_people},
    "docs/index.md": UNITS,
    "docs/guide/inspector.md": {
        "Ten minutes between two jobs are enough for a drill": a_drill_takes_ten_minutes,
        "the tenth between two lines": way_of_speaking,
        "which two lines the index line lies between": way_of_speaking,
        "a digit from 0 to 10": way_of_speaking,
        "0 is the lower line, 10 the upper one": way_of_speaking,
        "divided in ten": way_of_speaking,
        "F3": way_of_speaking,
        "graduated in 0.01 mm a tenth is 1 µm; on one graduated in 0.001 in it is 0.0001 in": divisions,
        "Perfect eyes that round to a tenth have 0.29": rounding,
        "its 95 % interval": confidence,
        "Fifty readings say more than twenty": way_of_speaking,
        "one or two sentences": two_sentences,
    },
    "docs/guide/installing.md": {
        "Python 3.11 or newer": python,
        "three invented people take a check": three_invented_people,
        "(about 320 MB)": way_of_speaking,  # of a build that was made by hand
        "these two builds were prepared, not tried": way_of_speaking,
        "[ten lines of set-up]": ten_lines,
    },
    "docs/guide/manager.md": {
        "inspection bench of six people": six_people,
        "How the two are compared": way_of_speaking,
        "two come with the program": two_budgets,
        "whether the two agree within the tolerance of JCGM 101": way_of_speaking,
    },
    "docs/guide/supervisor.md": {
        "false accepts below 5 %": a_check_of_a_hundred,
        "false rejects below 10 %": a_check_of_a_hundred,
        "A check is then a hundred judgements": a_check_of_a_hundred,
        "a risk of at most 5 %": risk_of_five,
        "A check is twenty whole readings without feedback": a_check_of_twenty,
        "there are three answers": three_answers,
        "takes nine lines": nine_lines,
        "favour 0 and 5": inspector_3,
    },
    "sessions/plans/README.md": {
        "the tenth between two given lines": way_of_speaking,
        "how much two lines overlap": way_of_speaking,
        "items between two lines": way_of_speaking,
        "ten gauge blocks and a verdict": ten_blocks,
        "twenty whole readings for the record": a_check_of_twenty,
        "Five lines are enough": five_lines,
        "1 µm on a 0.01 mm thimble, 0.0001 in on a 0.001 in thimble": divisions,
        **{f"| {n} |": twelve_steps for n in range(1, 13)},
    },
    "sessions/recorded/README.md": {
        "from January to July 2026": half_a_year,
        "six inspectors by number": six_people,
        "two sign-offs, one bench check, one printed sheet": what_was_signed,
        "| 1 | good, and signed off; confirmed on a real instrument |": inspector_1,
        "| 2 | read high at first, learned, signed off |": inspector_2,
        "| 3 | favours 0 and 5; checks taken, not yet shown |": inspector_3,
        "| 4 | good, with now and then a slip of half a millimetre or a graduation;": inspector_4,
        "| 5 | joined in April, still learning |": inspector_5,
        "| 6 | reads steadily low, on an inch instrument |": inspector_6,
    },
}


def text_of(page):
    """Return a page's text without code, targets of links and line ends."""
    text = re.sub(r"`[^`]*`", "``", prose(ROOT / page))
    return " ".join(re.sub(r"\]\([^)]*\)", "]", text).split())


@pytest.mark.parametrize("page", CHECKED)
def test_every_number_of_a_page_has_its_origin(page):
    left = text_of(page)
    for phrase in sorted(CHECKED[page], key=len, reverse=True):
        assert phrase in left, f"{page} has no longer {phrase!r}"
        left = left.replace(phrase, " … ")
    around = {one[0]: left[max(0, one.start() - 40) : one.end() + 30] for one in NUMBER.finditer(left)}
    assert around == {}, f"{page}: say in CHECKED where this comes from"


def test_every_page_of_the_guide_is_looked_through():
    guide = {f"docs/guide/{path.name}" for path in (ROOT / "docs" / "guide").glob("*.md")}
    assert guide <= set(CHECKED)


CHECKS = sorted(
    {check for known in CHECKED.values() for check in known.values()}, key=lambda one: one.__name__
)


@pytest.mark.parametrize(
    "check", [one for one in CHECKS if one is not way_of_speaking], ids=lambda one: one.__name__
)
def test_a_number_is_right(check):
    check()
