"""Who is due for a refresher: by practice.refreshers, from readings without misreads; the locale's mark."""

import locale
from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest

from trainer.desktop import settings
from trainer.desktop.desk import Desk
from trainer.desktop.due import day_of, refreshers
from trainer.desktop.results import TeamLine
from trainer.desktop.screens.team import state
from trainer.practice.refreshers import PLAIN_INTERVAL_DAYS, SOONEST_DAYS

COLUMNS = ["person", "instrument", "session", "truth_tenths", "answer_tenths", "at", "outcome"]


def table(*errors, person="Ada Example", at="2026-03-02T08:00:00Z"):
    rows = [
        (person, "metric", 1, 1003.2 + 10 * i, 1003.2 + 10 * i + e, at, "answered")
        for i, e in enumerate(errors)
    ]
    return pd.DataFrame([*rows, (person, "metric", 1, 1005.0, None, at, "skipped")], columns=COLUMNS)


def test_a_good_sitting_is_due_again_after_the_plain_interval_and_a_poor_one_soon():
    last = day_of("2026-03-02T08:00:00Z")
    good = refreshers(table(0.3, -0.3, 0.2, -0.2))
    poor = refreshers(table(1.5, -1.5, 1.4, -1.6))
    assert good["Ada Example", "metric"].due_day == pytest.approx(last + PLAIN_INTERVAL_DAYS)
    assert poor["Ada Example", "metric"].due_day == pytest.approx(last + SOONEST_DAYS)


def test_a_misread_of_a_turn_does_not_make_somebody_due():
    found = refreshers(table(0.3, -0.3, 500.0, -0.2))["Ada Example", "metric"]
    assert found.due_day == pytest.approx(day_of("2026-03-02T08:00:00Z") + PLAIN_INTERVAL_DAYS)


@pytest.mark.parametrize("mark", [".", ","])
def test_the_decimal_mark_is_the_locales_until_one_is_chosen(monkeypatch, tmp_path, mark):
    monkeypatch.setattr(locale, "localeconv", lambda: {"decimal_point": mark})
    before = locale.setlocale(locale.LC_NUMERIC)
    assert settings.local_decimal() == mark
    assert locale.setlocale(locale.LC_NUMERIC) == before
    path = tmp_path / "window.json"
    assert settings.load(path, mark).decimal == mark
    settings.save(settings.Settings(decimal="."), path)
    assert settings.load(path, mark).decimal == "."


@pytest.mark.parametrize(
    ("days", "says"),
    [(0.5, "refresher due today"), (1.2, "refresher due for 1 day"), (9.7, "refresher due for 9 days")],
)
def test_the_team_tells_for_how_many_days_a_refresher_is_due(days, says):
    desk = Desk()
    due = SimpleNamespace(due_day=day_of(desk.utc(desk.now_s)) - days)
    line = TeamLine("Ada Example", "metric", "", SimpleNamespace(used=100), due)
    assert state(line, desk) == says
    assert state(replace(line, score=SimpleNamespace(used=49)), desk) == "wants 1 reading"


@pytest.mark.parametrize(
    ("value", "says"), [(-0.004, "+0.00"), (-0.005001, "−0.01"), (None, "–"), (0.125, "+0.12")]
)
def test_a_value_in_tenths_has_a_true_minus_and_none_before_nought(value, says):
    assert Desk().tenths(value) == says
