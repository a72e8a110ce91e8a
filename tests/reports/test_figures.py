"""Figures show the values they are given, and keep within their axes; read back from the artists."""

import math
from itertools import pairwise

import numpy as np
import pytest
from matplotlib.figure import Figure

from tests.reports.simulated import answers
from trainer.reports import figures, figures_judgement, figures_risk, figures_team, house
from trainer.reports.readings import readings
from trainer.scoring import judgement
from trainer.scoring.intervals import Interval
from trainer.scoring.table import score_people


@pytest.fixture
def ax():
    return house.new_axes()


def points(ax, marker):
    """Return the data of all lines drawn with a marker."""
    found = [line.get_xydata() for line in ax.lines if line.get_marker() == marker and len(line.get_xydata())]
    return np.concatenate(found) if found else np.empty((0, 2))


def test_every_reading_is_a_ring_and_every_misread_a_triangle(chance, ax):
    frame = answers(chance, slips=0.1)
    shown, score = readings(frame), score_people(frame).people[0]
    assert figures.error_by_position(shown, score.profile, ax) is ax
    rings = points(ax, "o")
    assert len(rings) == score.used
    assert sorted(rings[:, 1]) == pytest.approx(sorted(shown.kept_tenths))
    assert len(points(ax, "^")) + len(points(ax, "v")) == score.misreads.total > 0
    reach = ax.get_ylim()[1]
    assert np.abs(points(ax, "^")[:, 1]).max() <= reach
    means = [
        line.get_ydata()[0]
        for line in ax.lines
        if line.get_color() == house.ACCENT and len(line.get_xdata()) == 2 and line.get_linestyle() == "-"
    ]
    assert means == pytest.approx([row.bias_tenths for row in score.profile])


def test_order_of_time_has_a_break_and_a_mean_for_each_session(chance, ax):
    frame = answers(chance, sessions=3, slips=0)
    shown = readings(frame)
    figures.errors_in_order(shown, ax)
    breaks = [
        line
        for line in ax.lines
        if line.get_color() == house.FAINT and line.get_xdata()[0] == line.get_xdata()[1]
    ]
    assert [line.get_xdata()[0] for line in breaks] == [20.5, 40.5]
    means = [
        line.get_ydata()[0]
        for line in ax.lines
        if line.get_color() == house.ACCENT and len(line.get_xdata()) == 2
    ]
    errors = (frame["answer_tenths"] - frame["truth_tenths"]).to_numpy().reshape(3, 20)
    assert means == pytest.approx(errors.mean(axis=1))


def test_readings_are_put_in_order_of_time_and_skips_left_out(chance):
    frame = answers(chance, sessions=2)
    frame.loc[3, "outcome"], frame.loc[3, "answer_tenths"] = "skipped", np.nan
    shuffled = readings(frame.sample(frac=1, random_state=1))
    assert len(shuffled) == 39
    assert shuffled.skipped == 1
    assert shuffled.error_tenths == pytest.approx(readings(frame).error_tenths)


def test_digits_show_counts_and_what_was_expected(chance, ax):
    habit = score_people(answers(chance, sessions=6)).people[0].digit_preference
    figures.digits_used(habit, ax)
    assert [bar.get_height() for bar in ax.patches] == pytest.approx(list(habit.counts))
    lines = ax.collections[0].get_segments()
    assert len(lines) == 10
    assert [line[0][1] for line in lines] == pytest.approx(list(habit.expected))


@pytest.mark.parametrize(
    ("draw", "limit"), [(figures.spread_over_sessions, 1.0), (figures.bias_over_sessions, 0.5)]
)
def test_learning_figures_draw_each_session_and_the_criterion(draw, limit, ax):
    known, unknown = Interval(0.4, 0.2, 0.8), Interval(0.3, None, None)
    some = [figures.SessionPoint("a", 20, known, known), figures.SessionPoint("b", 5, unknown, unknown)]
    draw(some, ax, limit)
    assert points(ax, "o").tolist() == [[1, 0.4], [2, 0.3]]
    assert any(limit in line.get_ydata() for line in ax.lines)
    assert ax.get_ylim()[1] > limit


def test_a_person_outside_the_limit_is_a_square_not_only_a_colour(chance, ax):
    import pandas as pd

    frame = pd.concat([answers(chance, "in", bias=0.0), answers(chance, "out", bias=1.2)])
    figures_team.team_bias(score_people(frame).people, ax, 0.5)
    assert len(points(ax, "o")) == len(points(ax, "s")) == 1
    assert points(ax, "s")[0][1] == 1
    spread_ax = house.new_axes()
    figures_team.team_spread(score_people(frame).people, spread_ax, 0.1)
    assert len(points(spread_ax, "s")) == 2


def test_budget_bars_are_sorted_with_the_whole_below(ax):
    parts = [figures_risk.Share("small", 0.2), figures_risk.Share("large", -2.0)]
    figures_risk.budget_bars(parts, 2.01, ax)
    assert [bar.get_width() for bar in ax.patches] == [2.0, 0.2, 2.01]
    assert [t.get_text() for t in ax.get_yticklabels()] == ["large", "small", "combined"]


def test_curves_differ_in_dash_and_not_only_in_colour(ax):
    x = np.linspace(0, 1, 5)
    curves = [figures_risk.Curve(f"c{n}", x, x**n) for n in range(1, 5)]
    figures_risk.operating_characteristic(curves, ax, x_label="true bias, tenths", limit=0.5, risk=0.05)
    assert len({str(line._dash_pattern) for line in ax.lines[:4]}) == 4
    risk_ax = house.new_axes()
    figures_risk.risk_against_tolerance(curves[:2], risk_ax, tolerance=0.5, accepted=0.02)
    texts = {t.get_text() for t in risk_ax.texts}
    assert texts == {"± 0.5 µm", "false accept allowed: 2 %"}


def test_judgements_show_shares_curve_and_threshold(chance, ax):
    offsets = np.repeat([-2.0, -1.0, 0.0, 1.0, 2.0], 40)
    said = chance.random(200) < 0.5 * (1 + np.vectorize(math.erf)((offsets - 0.3) / 0.8 / math.sqrt(2)))
    curve = judgement.fit(offsets, said)
    made = figures_judgement.judged(offsets, said, curve)
    assert made.trials.tolist() == [40] * 5
    assert made.share == pytest.approx([said[offsets == x].mean() for x in np.unique(offsets)])
    figures_judgement.psychometric(made, ax)
    dots = next(c for c in ax.collections if len(c.get_offsets()) == 5)
    assert dots.get_offsets()[:, 0].tolist() == np.unique(offsets).tolist()
    verticals = [line.get_xdata()[0] for line in ax.lines if len(set(line.get_xdata())) == 1]
    assert curve.threshold_tenths.value in verticals
    assert (made.low <= made.chance).all()
    assert (made.chance <= made.high).all()


def test_scattered_offsets_are_gathered_and_few_have_no_curve(chance, ax):
    offsets = chance.normal(0, 1, 90)
    made = figures_judgement.judged(offsets, offsets > 0, judgement.fit(offsets, offsets > 0))
    assert made.trials.tolist() == [10] * 9
    assert made.offset == pytest.approx(np.sort(offsets).reshape(9, 10).mean(axis=1))
    few = figures_judgement.judged(offsets[:5], offsets[:5] > 0, judgement.fit(offsets[:5], offsets[:5] > 0))
    assert few.at.size == 0
    figures_judgement.psychometric(few, ax)
    assert ax.lines[0].get_xdata().size == 0


def test_inks_can_be_told_apart_in_grey():
    def grey(colour):
        r, g, b = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (r, g, b)]
        return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))  # ITU-R BT.709

    inks = [grey(c) for c in (house.INK, house.ACCENT, house.FAINT, house.PAPER)]
    assert inks == sorted(inks)
    contrast = [(b + 0.05) / (a + 0.05) for a, b in pairwise(inks)]
    assert min(contrast) > 1.5


def test_making_figures_leaves_matplotlibs_settings_alone(chance):
    import matplotlib as mpl

    before = dict(mpl.rcParams)
    figure = house.new_axes().figure
    assert isinstance(figure, Figure)
    assert house.figure_to_png(figure) == house.figure_to_png(figure)
    assert house.figure_to_pdf(figure, title="t").startswith(b"%PDF")
    assert dict(mpl.rcParams) == before


def test_reports_do_not_touch_pyplot():
    import subprocess
    import sys

    rooms = "trainer.reports.person_report, trainer.reports.team_report"
    code = f"import sys, {rooms}; print('matplotlib.pyplot' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "False"
