"""The sections on every drill: known people come back in the numbers, and only what was taken is told.

All people are simulated. Tolerances are four standard errors of the simulated figure.
"""

import numpy as np
import pytest
from pypdf import PdfReader

from tests.practice.people import sit
from tests.reports.simulated import answers
from trainer.practice.plan import Plan
from trainer.practice.skills import KeptSitting
from trainer.reports import figures, figures_skills, house, person_report, progress_section, team_report
from trainer.reports.heading import ReportHeader
from trainer.reports.skill_values import Skills
from trainer.reports.skills import difference, rate, skills_of
from trainer.reports.team_sections import due_words
from trainer.reports.wording import true_minus
from trainer.scoring.intervals import Interval
from trainer.scoring.reference import ReferenceUncertainty
from trainer.scoring.table import score_people, score_readings
from trainer.scoring.transfer import compare


def kept(plan, chance, conditions="clear", **person):
    session = sit(plan, chance, **person)
    return KeptSitting(
        "s", plan.drill, plan.instrument, plan.for_record, conditions, "2026-05-01T08:00:00+00:00",
        session.items, session.answers,
    )  # fmt: skip


def plan_of(drill, items, instrument="metric", **more):
    return Plan("t", "T", drill, instrument, items, **more)


def check_of(drill, items, instrument="metric"):
    return plan_of(drill, items, instrument, feedback=False, for_record=True)


def text_of(path):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())


def test_a_lenient_judge_is_found_with_the_threshold_and_its_false_accepts(chance):
    sittings = [kept(check_of("judge", 100), chance, spread=0.5, threshold=0.6) for _ in range(3)]
    (one,) = skills_of(sittings).judging
    accepts, outside, rejects, inside = one.counts()
    assert outside + inside == one.rates.items == 300
    assert one.curve.threshold_tenths.low <= 0.6 <= one.curve.threshold_tenths.high
    assert one.curve.width_tenths.low <= 0.5 <= one.curve.width_tenths.high
    assert accepts > rejects
    assert one.rates.false_accept.value == accepts / outside
    assert one.taken == "checks"


def test_checks_count_alone_where_there_are_some_and_practice_only_when_asked_for(chance):
    sittings = [kept(check_of("judge", 30), chance), kept(plan_of("judge", 20), chance)]
    (checks,) = skills_of(sittings).judging
    assert (checks.rates.items, checks.taken) == (30, "checks")
    (both,) = skills_of(sittings, practice=True).judging
    assert (both.rates.items, both.taken) == (50, "checks and practice")
    (practice,) = skills_of(sittings[1:]).judging
    assert (practice.rates.items, practice.taken) == (20, "practice")


def test_tolerances_and_instruments_are_never_pooled(chance):
    sittings = [
        kept(plan_of("judge", 20, settings={"tolerance_tenths": 1.0}), chance),
        kept(plan_of("judge", 20), chance),
        kept(plan_of("judge", 20, "inch"), chance),
    ]
    found = skills_of(sittings).judging
    assert [(one.instrument, one.tolerance_tenths) for one in found] == [
        ("metric", 1.0), ("metric", 2.0), ("inch", 2.0),
    ]  # fmt: skip


@pytest.mark.parametrize("drill", ["set-to", "set-line"])
def test_a_setting_is_told_by_the_way_of_approach(drill, chance):
    (one,) = skills_of([kept(check_of(drill, 200), chance, spread=0.4, bias=0.3)]).setting
    assert one.score.bias_tenths.value == pytest.approx(0.3, abs=4 * 0.4 / 200**0.5)
    assert one.score.spread_tenths.value == pytest.approx(0.4, abs=4 * 0.4 / 400**0.5)
    assert one.rising.readings + one.falling.readings == 200
    assert one.difference.low < one.difference.value < one.difference.high
    assert one.turned_back == pytest.approx(0.3, abs=4 * (0.3 * 0.7 / 200) ** 0.5)
    assert not one.typed


def test_an_approach_that_shifts_the_setting_shows_in_the_difference_of_the_ways():
    rng = np.random.default_rng(3)
    truth = np.arange(40) * 13.0 + 100
    up = score_readings(truth, truth + 0.8 + rng.normal(0, 0.3, 40))
    down = score_readings(truth, truth - 0.2 + rng.normal(0, 0.3, 40))
    found = difference(up, down)
    assert found.low > 0
    assert found.low <= 1.0 <= found.high
    assert difference(up, None) is None
    # Welch's interval by hand: the standard error of a difference of means
    s2 = (up.spread_tenths.value**2 + down.spread_tenths.value**2) / 40
    assert (found.high - found.low) / 2 == pytest.approx(1.991 * s2**0.5, rel=0.005)  # t(78) = 1.991


def test_vernier_lines_are_told_as_right_near_tie_and_neighbour(chance):
    sharp = kept(check_of("vernier", 100, "metric-vernier"), chance, spread=0.0)
    (one,) = skills_of([sharp]).vernier
    assert one.right.value == 1.0
    assert (one.next_line, one.further) == (0, 0)
    assert one.clear[0] + one.ties[0] == one.lines == 100
    assert one.ties[0] == pytest.approx(30, abs=2)  # the plan's share of near-ties is 0.3
    dull = kept(check_of("vernier", 400, "metric-vernier"), chance, spread=0.7)
    (one,) = skills_of([dull]).vernier
    assert one.next_line > one.further > 0
    assert round(one.right.value * 400) + one.next_line + one.further == 400
    assert one.ties[1].value > one.clear[1].value  # in a near-tie two lines are right


def test_a_self_check_compares_the_estimate_with_the_vernier_and_with_the_truth(chance):
    (one,) = skills_of([kept(plan_of("self-check", 100, "metric-vernier"), chance, spread=0.4)]).self_check
    assert one.pairs == 100
    assert one.borne_out.low <= one.borne_out.value <= one.borne_out.high
    # two answers, each with this spread and rounded to a tenth; the vernier's answer is rounded too
    expected = (2 * (0.4**2 + 1 / 12)) ** 0.5
    assert one.against.spread_tenths.value == pytest.approx(expected, abs=0.2)
    assert one.against_truth.spread_tenths.value < one.against.spread_tenths.value


def test_a_calibration_run_tells_verdicts_and_the_risk_of_such_verdicts(chance):
    (sharp,) = skills_of([kept(plan_of("calibration", 6), chance, spread=0.01)]).calibrating
    (dull,) = skills_of([kept(plan_of("calibration", 6), chance, spread=2.0)]).calibrating
    for one in (sharp, dull):
        assert sum(one.verdicts()) == len(one.runs) == 6
        assert one.mpe_tenths == 4.0
    assert dull.risk.false_reject > 3 * sharp.risk.false_reject
    assert dull.readings.spread_tenths.value > 1.0


def test_half_line_slips_are_told_by_their_side(chance):
    sitting = kept(plan_of("half-line", 200), chance, slip=0.3)  # this person adds a turn
    (one,) = skills_of([sitting]).half_line
    (before, early), (after, missed) = one.before, one.after
    assert before + after == 200
    assert early.value == pytest.approx(0.3, abs=4 * (0.21 / before) ** 0.5)
    assert missed.value < 0.05


def test_conditions_make_rows_of_their_own_and_leave_the_clear_ones_alone(chance):
    clear = kept(plan_of("set-to", 20), chance)
    dim = kept(plan_of("full-reading", 20), chance, "glare 0.4", bias=1.0)
    blurred = kept(plan_of("judge", 30), chance, "blur 0.1 mm")
    found = skills_of([clear, dim, blurred])
    assert {(row.conditions, row.drill, row.answers) for row in found.conditions} == {
        ("glare 0.4", "full-reading", 20), ("blur 0.1 mm", "judge", 30),
    }  # fmt: skip
    assert found.judging == ()
    assert found.setting[0].score.readings == 20
    assert not skills_of([])


def test_a_share_has_the_exact_interval():
    # Clopper and Pearson: 4 of 20 is 0.0573 to 0.4366 (Beta quantiles, e.g. any table of exact limits)
    found = rate(4, 20)
    assert (found.low, found.high) == (pytest.approx(0.0573, abs=1e-4), pytest.approx(0.4366, abs=1e-4))
    assert rate(0, 0).value is None


def test_the_numbers_of_the_report_are_those_of_the_scores(tmp_path, chance):
    frame = answers(chance, sessions=3)
    skills = skills_of(
        [
            kept(check_of("judge", 100), chance, threshold=0.5),
            kept(plan_of("size-it", 40), chance),
            kept(check_of("set-to", 40), chance),
            kept(check_of("vernier", 40, "metric-vernier"), chance),
            kept(plan_of("calibration", 2), chance),
            kept(plan_of("full-reading", 20), chance, "glare 0.4"),
        ]
    )
    path = person_report.write(tmp_path / "r.pdf", score_people(frame).people[0], frame, skills=skills)
    assert 2 <= len(PdfReader(path).pages) <= 4
    text = text_of(path)
    accepts, outside, rejects, inside = skills.judging[0].counts()
    for wanted in (
        f"false accepts ({accepts} of {outside})",
        f"false rejects ({rejects} of {inside})",
        f"{skills.judging[0].curve.threshold_tenths.value:+.2f}".replace("-", "−"),
        f"rising ({skills.setting[0].rising.used})",
        f"{100 * skills.vernier[0].right.value:.1f} %",
        f"{skills.calibrating[0].verdicts()[0]} of 2",
        "glare 0.4: full reading, metric",
        "JCGM 106:2012",
    ):
        assert wanted in text, wanted
    same = person_report.write(tmp_path / "s.pdf", score_people(frame).people[0], frame, skills=skills)
    assert path.read_bytes() == same.read_bytes()


def test_without_further_drills_the_report_has_no_further_sections(tmp_path, chance):
    frame = answers(chance)
    path = person_report.write(tmp_path / "r.pdf", score_people(frame).people[0], frame, skills=Skills())
    text = text_of(path)
    for absent in ("Judging", "Sizing", "Setting", "vernier drill", "Calibration runs", "viewing conditions"):
        assert absent not in text, absent


def points(spreads, used=60):
    return [figures.SessionPoint(str(k), used, Interval(0.0), Interval(s)) for k, s in enumerate(spreads)]


def test_a_forecast_is_drawn_where_it_can_be_told_and_its_reason_where_not():
    falling = [0.5 + 2.1 * 0.75**k for k in range(5)]
    told = progress_section.forecast_of(points(falling, 400), 1.0)
    when = told.sessions_to_limit
    assert when.low <= 1 + np.log(0.5 / 2.1) / np.log(0.75) <= when.high  # where the true curve crosses
    words = progress_section.forecast_words(told)
    assert f"in session {when.value:.0f} (80 % interval {when.low:.0f} to {when.high:.0f})" in words
    assert "a forecast is no sign-off" in words
    ax = figures.spread_over_sessions(points(falling, 400), house.new_axes(), 1.0)
    figures_skills.forecast_mark(told, ax)
    diamond = next(line for line in ax.lines if line.get_marker() == "D")
    assert diamond.get_xydata().tolist() == [[when.value, 1.0]]
    assert ax.get_xlim()[1] > when.high
    few = progress_section.forecast_of(points(falling[:3]), 1.0)
    assert "needs at least 4 sessions" in progress_section.forecast_words(few)
    assert progress_section.forecast_of(points([1.4, 1.2, 0.9]), 1.0) is None  # the limit is kept already
    assert progress_section.forecast_of(points(falling), None) is None


def test_the_bench_is_set_beside_the_screen(tmp_path, chance):
    screen = answers(chance, sessions=4)
    bench = answers(chance, sessions=2, bias=0.9, drill="bench-check", first_day="2026-04-01")
    transfer = compare(screen, bench, ReferenceUncertainty(1.0), instrument="metric")
    score = score_people(screen).people[0]
    path = person_report.write(tmp_path / "r.pdf", score, screen, transfer=transfer)
    text = text_of(path)
    assert "On a real instrument against the screen" in text
    for sentence in transfer.sentences():
        assert true_minus(sentence[1:]) in text
    assert "bench over screen, spread" in text
    assert "On a real instrument against the screen" not in text_of(
        person_report.write(tmp_path / "s.pdf", score, screen)
    )


def test_a_team_report_says_who_is_due_who_judges_how_and_keeps_conditions_apart(tmp_path, chance):
    import pandas as pd

    frame = pd.concat([answers(chance, name) for name in ("Ada Sample", "Bo Sample")])
    scores = score_people(frame).people
    skills = {
        "Ada Sample": skills_of([kept(check_of("judge", 60), chance)]),
        "Bo Sample": skills_of([kept(plan_of("full-reading", 20), chance, "glare 0.4")]),
    }
    due = {"Ada Sample": (-12.0, "90 days after the last sitting"), "Bo Sample": (5.0, "their error grows")}
    header = ReportHeader(bias_limit_tenths=0.5, spread_limit_tenths=1.0, criterion="House rule")
    text = text_of(team_report.write(tmp_path / "t.pdf", scores, frame, header, skills=skills, due=due))
    for wanted in (
        "Ada Sample overdue by 12 days", "Bo Sample in 5 days", "House rule: bias within ±0.50",
        "Judging overlap: in or out of tolerance", "±2.0 µm 60", "Bo Sample: glare 0.4 20",
        "Bo Sample: clear 80",
    ):  # fmt: skip
        assert wanted in text, wanted
    plain = text_of(team_report.write(tmp_path / "u.pdf", scores, frame, header))
    for absent in ("Who is due", "Judging overlap", "Under viewing conditions"):
        assert absent not in plain


def test_when_somebody_is_due_in_words():
    assert [due_words(d) for d in (-1, 0.2, 1, 30)] == [
        "overdue by 1 day", "today", "in 1 day", "in 30 days",
    ]  # fmt: skip


def test_figures_of_sizes_and_settings_show_every_value_and_keep_to_their_axes():
    ax = house.new_axes()
    offset, said = np.array([-3.0, 0.5, 2.0]), np.array([-2.0, 0.0, 2.0])
    figures_skills.sizes_said(offset, said, ax)
    ring = next(line for line in ax.lines if line.get_marker() == "o")
    assert ring.get_xydata().tolist() == [[-3.0, -2.0], [0.5, 0.0], [2.0, 2.0]]
    ax = house.new_axes()
    figures_skills.setting_errors([0.5, -0.2, 40.0], ["rising", "falling", "falling"], ax)
    assert [text.get_text() for text in ax.get_yticklabels()] == ["rising", "falling"]
    marks = {line.get_marker(): line.get_xdata() for line in ax.lines if line.get_marker() in ("^", "v")}
    assert marks["^"].tolist() == [0.5]
    assert marks["v"].tolist() == [-0.2, ax.get_xlim()[1]]  # beyond the scale: at its edge


def test_drills_beside_bench_readings_are_said_to_be_of_the_screen(tmp_path, chance):
    frame = answers(chance, drill="bench-check")
    score = score_people(frame).people[0]
    dim = kept(plan_of("full-reading", 20), chance, "glare 0.4")
    skills = skills_of([kept(plan_of("set-to", 20), chance), dim])
    header = ReportHeader(setting="bench")
    text = text_of(person_report.write(tmp_path / "r.pdf", score, frame, header, skills=skills))
    told = text.index("Drills on the screen This score was taken on pictures.")
    assert text.index("This score was taken on a real instrument") < told < text.index("Setting to a reading")
    assert "glare 0.4: full reading, metric" in text
    assert "clear: whole readings" not in text, "bench readings do not stand beside pictures"
    plain = text_of(person_report.write(tmp_path / "s.pdf", score, frame, header))
    assert "Drills on the screen" not in plain
