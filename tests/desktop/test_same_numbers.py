"""The window's own figures show the numbers of the report's figures, for the same readings.

The report's are read off what matplotlib was given to draw, the window's off the nodes it draws.
"""

import numpy as np
import pytest
from matplotlib.figure import Figure

from player import Player
from tour import tour
from trainer.desktop.limits import Limits
from trainer.desktop.screens.figures import digits_plot
from trainer.desktop.screens.progress import bias_curve, profile_plot, spread_curve
from trainer.reports import figures
from trainer.reports.figures import SessionPoint
from trainer.reports.readings import Readings

LIMITS = Limits("An invented criterion", 0.5, 1.0)


@pytest.fixture(scope="module")
def shown():
    """Return the score, the sittings and the desk of an invented person's progress."""
    player = Player()
    player.app = tour()["progress"]
    screen = player.screen
    score = screen.history.score(screen.instrument)
    sittings = [
        s for s in screen.history.sittings if s.instrument == screen.instrument and s.score is not None
    ]
    assert len(sittings) >= 3
    return score, tuple(sittings), player.app.desk


def axes():
    return Figure().add_subplot()


def points_of(sittings):
    return [
        SessionPoint(str(n), s.score.used, s.score.bias_tenths, s.score.spread_tenths)
        for n, s in enumerate(sittings, 1)
    ]


@pytest.mark.parametrize("which", ["spread", "bias"])
def test_the_learning_curves(shown, which):
    _, sittings, desk = shown
    draw = figures.spread_over_sessions if which == "spread" else figures.bias_over_sessions
    limit = LIMITS.spread_tenths if which == "spread" else LIMITS.bias_tenths
    ax = draw(points_of(sittings), axes(), limit)
    node = (spread_curve if which == "spread" else bias_curve)(sittings, desk, LIMITS)
    joined = next(line for line in ax.lines if len(line.get_xdata()) == len(sittings))
    series = node.series[0]
    assert [x for x, _, _, _ in series.points] == list(joined.get_xdata())
    assert [y for _, y, _, _ in series.points] == pytest.approx(list(joined.get_ydata()))
    drawn = {
        line.get_xdata()[0]: tuple(line.get_ydata())
        for line in ax.lines
        if len(line.get_xdata()) == 2 and line.get_xdata()[0] == line.get_xdata()[1]
    }
    known = {x: bar for (x, _, _, _), bar in zip(series.points, series.bars, strict=True) if bar[0] != bar[1]}
    assert known == {x: pytest.approx(ends) for x, ends in drawn.items()}
    assert known
    low, high = node.bands[0]
    (band,) = ax.patches
    ends = band.get_patch_transform().transform(band.get_path().vertices)[:, 1]
    assert (low, high) == pytest.approx((ends.min(), ends.max()))


def test_the_digits(shown):
    score, _, desk = shown
    ax = figures.digits_used(score.digit_preference, axes())
    node = digits_plot(score, desk)
    heights = [patch.get_height() for patch in ax.patches]
    assert [y for _, y, _, _ in node.series[0].points] == heights
    expected = [segment[0][1] for segment in ax.collections[0].get_segments()]
    assert [y for _, y, _, _ in node.series[1].points] == pytest.approx(expected)
    assert sum(heights) > 0


def test_the_profile_by_tenth(shown):
    score, _, desk = shown
    nothing = np.zeros(0)
    names = Readings.__dataclass_fields__
    empty = {name: () if "sessions" in name else nothing for name in names}
    empty |= {name: nothing.astype(bool) for name in names if name == "misread"}
    ax = figures.error_by_position(Readings(**empty), score.profile, axes())
    marks = [line for line in ax.lines if line.get_linewidth() == figures.BOLD_PT]
    node = profile_plot(score, desk)
    assert [y for _, y, _, _ in node.series[0].points] == [line.get_ydata()[0] for line in marks]
    middles = [float(np.mean(line.get_xdata())) for line in marks]
    assert [x for x, _, _, _ in node.series[0].points] == pytest.approx(middles)
    assert len(marks) == 10
