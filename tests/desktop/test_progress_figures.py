"""Progress: the band of the criterion that applies, and every figure as a table, by keyboard alone."""

from dataclasses import replace

import pytest

from player import Player
from tour import seen_at, tour
from trainer.commands.limits import limits_of
from trainer.desktop.app import Fitter
from trainer.desktop.hands import column_widths
from trainer.desktop.limits import Limits
from trainer.desktop.nodes import Table
from trainer.desktop.results import short_titles
from trainer.desktop.screens.instruments import MORE, instrument_choice, instrument_meant
from trainer.desktop.screens.progress import Progress, bias_curve, spread_curve
from trainer.desktop.screens.result import Result
from trainer.instrument import catalogue
from trainer.records.archive import Archive
from trainer.signoff import criteria


def at_progress():
    player = Player()
    player.app = tour()["progress"]
    return player


def shown_sittings(screen):
    return [s for s in screen.history.sittings if s.instrument == screen.instrument and s.score is not None]


def test_the_band_is_where_the_limits_are_and_lies_in_the_picture():
    player = at_progress()
    mine, desk = shown_sittings(player.screen), player.app.desk
    limits = Limits("An invented criterion", 0.4, 0.9)
    spread, bias = spread_curve(mine, desk, limits), bias_curve(mine, desk, limits)
    assert spread.bands == ((0.0, 0.9),)
    assert bias.bands == ((-0.4, 0.4),)
    assert {0.9} <= {value for value, _ in spread.lines}
    assert [value for value, _ in bias.lines] == [0.4, -0.4]
    wide = replace(limits, bias_tenths=3.0, spread_tenths=4.0)
    assert spread_curve(mine, desk, wide).y_range[1] > 4.0
    assert bias_curve(mine, desk, wide).y_range[1] > 3.0
    assert spread_curve(mine, desk).bands == ()


@pytest.mark.parametrize("decimal", [".", ","])
def test_the_limit_is_written_with_the_chosen_mark(decimal):
    player = at_progress()
    player.set(decimal=decimal)
    curve = spread_curve(shown_sittings(player.screen), player.app.desk, Limits("x", 0.5, 1.5))
    assert any(name == f"limit 1{decimal}5" for _, name in curve.lines)


def test_limits_come_from_the_shipped_criterion_until_another_one_was_used(tmp_path):
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        person = archive.add_person("Ada Example")
        found = limits_of(archive, person, ["metric", "inch", "no such instrument"])
        first = {c.scope.unit: c for c in reversed(criteria.shipped())}
        assert set(found) == {"metric", "inch"}
        assert found["metric"].spread_tenths == first["mm"].spread_tenths
        assert found["metric"].bias_tenths == first["mm"].bias_tenths
        assert not found["metric"].used
        from trainer.records import documents, statements

        second = criteria.find("second-level-metric")
        body = {"body": {"criterion": {"name": second.name, "text": second.text}}}
        documents.keep(archive, statements.STATEMENT, person.id, body)
        found = limits_of(archive, person, ["metric", "inch"])
        assert (found["metric"].title, found["metric"].used) == (second.title, True)
        assert not found["inch"].used


def test_every_figure_has_its_table_and_tab_reaches_each():
    player = at_progress()
    screen = player.screen
    player.tab_to("show")
    player.press("right")
    for key in ("bias-table", "spread-table", "profile-table", "digits-table", "misreads-table", "sittings"):
        player.tab_to(key)
        assert isinstance(player.placed(key).node, Table)
    score = screen.history.score(screen.instrument)
    learning = player.placed("spread-table").node.lines
    desk = player.app.desk
    curve = spread_curve(shown_sittings(screen), desk).series[0].points
    assert [line.key for line in learning] == [key for _, _, _, key in curve]
    assert [line.cells[2] for line in learning] == [desk.tenths(y, sign=False) for _, y, _, _ in curve]
    digits = player.placed("digits-table").node.lines
    assert [int(line.cells[1]) for line in digits] == list(score.digit_preference.counts)
    profile = player.placed("profile-table").node.lines
    assert [line.cells[1] for line in profile] == [desk.tenths(r.bias_tenths) for r in score.profile]
    misreads = player.placed("misreads-table").node.lines
    assert sum(int(line.cells[1]) for line in misreads) == score.misreads.total


@pytest.mark.parametrize("key", ["bias-table", "spread-table", "sittings"])
def test_a_row_opens_its_sitting(key):
    player = at_progress()
    player.tab_to("show")
    player.press("right")
    player.tab_to(key)
    line = player.placed(key).node.lines[-1]  # the newest row of the list is the tour's bench check
    from trainer.desktop.messages import Opened

    outcome = player.screen.react(Opened(key, line.key), player.app.desk)
    assert isinstance(outcome.screen, Result)
    assert str(outcome.screen.session_id) == line.key


def test_every_point_of_the_learning_curves_opens_its_sitting():
    player = at_progress()
    assert isinstance(player.screen, Progress)
    for plot in ("spread", "bias"):
        points = player.placed(plot).node.series[0].points
        sittings = {str(s.session_id) for s in player.screen.history.sittings}
        assert points
        assert {key for _, _, _, key in points} <= sittings


@pytest.mark.parametrize(("size", "scale"), [((1280, 720), 2.0), ((1024, 640), 1.0), ((640, 480), 1.0)])
def test_no_number_of_the_tables_is_cut_off_where_magnifiers_are_used(size, scale):
    there = seen_at(tour()["progress-table"], size, scale, "light")
    fitter = Fitter()
    measure = fitter.measure(there.desk)
    tables = 0
    for placed in fitter.layout(there.top, there.desk).placed:
        if isinstance(placed.node, Table) and placed.key != "sittings":
            tables += len(placed.node.lines) > 0
            widths = column_widths(placed.node, placed.rect.w)
            for line in placed.node.lines:
                for text, width in zip(line.cells, widths, strict=True):
                    assert measure.type.width(text, "body") <= width - 2 * (measure.px(28) // 2), (
                        placed.key,
                        text,
                    )
    assert tables == 5


def test_every_instrument_that_was_read_can_be_chosen_however_many_there_are():
    names = catalogue.names()
    seen, chosen = [], names[0]
    for _ in range(len(names)):
        choice = instrument_choice("", names, chosen, at_progress().app.desk)
        shown = [value for value, _ in choice.options if value != MORE]
        assert chosen in shown
        assert len(choice.options) <= 4
        seen += [value for value in shown if value not in seen]
        chosen = instrument_meant(names, chosen, MORE)
    assert tuple(seen) == names
    few = instrument_choice("", names[:3], names[0], at_progress().app.desk)
    assert [value for value, _ in few.options] == list(names[:3])
    assert instrument_meant(names, names[0], names[2]) == names[2]


def test_titles_in_a_choice_are_as_short_as_tells_them_apart():
    desk = at_progress().app.desk
    few = dict(short_titles(("metric", "inch"), desk))
    assert few == {"metric": "0–25 mm, 0.01 mm", "inch": "0–1 in, 0.001 in"}
    every = dict(short_titles(catalogue.names(), desk))
    assert len(set(every.values())) == len(every)
    assert every["metric"] == "Outside, 0–25 mm, 0.01 mm"
    assert every["depth-metric"] == "Depth, 0–25 mm, 0.01 mm"
    assert every["metric-25-50"] == "25–50 mm, 0.01 mm"
