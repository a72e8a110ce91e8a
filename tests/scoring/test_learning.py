"""Learning forecasts: right when given, withheld while nobody could know, never sure of the impossible."""

import numpy as np
import pandas as pd
import pytest

from trainer.scoring.detail import person_detail
from trainer.scoring.learning import FEWEST_SESSIONS, MAY_NEVER, learning_forecast

SESSION = np.arange(1, 31)
EXPONENTIAL = 0.6 + 1.6 * np.exp(-(SESSION - 1) / 3.2)  # reaches 1.0 at session 5.4
NEVER = 1.1 + 1.4 * np.exp(-(SESSION - 1) / 3.0)


def seen(curve, sessions, chance, readings=50):
    df = np.full(sessions, readings - 1.0)
    return curve[:sessions] * np.exp(chance.standard_normal(sessions) / np.sqrt(2 * df)), df


def test_the_curve_of_this_test_reaches_the_limit_where_it_says():
    assert 1 + 3.2 * np.log(1.6 / 0.4) == pytest.approx(5.44, abs=0.01)


def test_fewer_than_four_sessions_have_no_forecast():
    forecast = learning_forecast(EXPONENTIAL[:3], np.full(3, 49.0))
    assert forecast.sessions_to_limit.value is None
    assert str(FEWEST_SESSIONS) in forecast.reason


def test_early_sessions_mostly_withhold_it(chance):
    """Design study: useful for 1 % of readers after 4 sessions of 50; here at most 15 %."""
    given = [learning_forecast(*seen(EXPONENTIAL, 4, chance)).reason is None for _ in range(40)]
    assert np.mean(given) <= 0.15


def test_late_sessions_mostly_give_it_and_it_holds_the_truth(chance):
    """After 10 sessions of 50 nearly all have one; an 80 % interval held 82 % of 400; here 150, 4 SE."""
    forecasts = [learning_forecast(*seen(EXPONENTIAL, 10, chance)) for _ in range(150)]
    given = [f.sessions_to_limit for f in forecasts if f.reason is None]
    assert len(given) >= 140
    held = np.mean([when.low <= 5.44 <= when.high for when in given])
    assert held == pytest.approx(0.82, abs=4 * (0.82 * 0.18 / 150) ** 0.5)


@pytest.mark.parametrize(
    ("df", "told"),
    [
        (15.0, "the sessions so far leave open whether the limit is reached at all"),
        (30.0, "the sessions so far allow anything from session 5 to session 11"),
        (49.0, None),
    ],
)
def test_it_is_withheld_until_the_ends_of_the_interval_are_within_a_factor_of_two(df, told):
    """Six sessions on the curve itself, known ever better."""
    found = learning_forecast(EXPONENTIAL[:6], np.full(6, df))
    assert found.reason == told
    when = found.sessions_to_limit
    assert (when.value is None) == (told is not None)
    assert told or when.high / when.low <= 2


def test_a_reader_who_will_never_reach_it_is_not_promised(chance):
    forecasts = [learning_forecast(*seen(NEVER, 12, chance)) for _ in range(30)]
    assert np.mean([f.reason is None for f in forecasts]) <= 0.1
    assert np.median([f.may_never for f in forecasts]) > MAY_NEVER
    withheld = next(f for f in forecasts if f.reason)
    assert withheld.sessions_to_limit.value is None


def test_a_reader_already_below_the_limit_is_at_it_from_the_first_session():
    forecast = learning_forecast(np.full(8, 0.55), np.full(8, 49.0))
    assert forecast.sessions_to_limit.value == pytest.approx(1.0)
    assert forecast.may_never < 0.05


def test_sessions_without_a_spread_are_left_out_but_keep_their_number(chance):
    spread, df = seen(EXPONENTIAL, 12, chance)
    spread[3] = np.nan
    found = learning_forecast(spread, df)
    assert found.sessions == 11
    closed_up = learning_forecast(np.delete(spread, 3), np.delete(df, 3))
    assert (
        found.sessions_to_limit.value > closed_up.sessions_to_limit.value + 0.3
    )  # the same fall took longer


def test_sessions_count_in_the_order_of_their_times_whatever_the_order_of_rows(chance):
    truth = chance.uniform(0, 1000, 60)
    frame = pd.DataFrame({"person": "A", "truth_tenths": truth, "item": [*range(30), *range(30)]})
    frame["session"] = ["first"] * 30 + ["second"] * 30
    frame["at"] = ["2026-01-01T08:00:00Z"] * 30 + [
        "2026-01-01T08:30:00+01:00"
    ] * 30  # earlier, told elsewhere
    frame["answer_tenths"] = truth + np.where(frame["session"] == "first", 0.3, -0.3)
    for rows in (frame, frame[::-1], frame.sample(frac=1, random_state=1)):
        sessions = person_detail(rows).sessions
        assert [round(row["bias_tenths"], 6) for row in sessions] == [-0.3, 0.3]


def test_to_dict_is_plain():
    written = learning_forecast(EXPONENTIAL[:3], np.full(3, 49.0)).to_dict()
    assert written["sessions_to_limit"] == {"value": None, "low": None, "high": None}
