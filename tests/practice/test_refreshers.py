"""Refreshers: a simulated forgetter's rate is found again, and the plain interval holds until it is."""

import numpy as np
import pytest

from trainer.practice.refreshers import (
    LATEST_DAYS,
    PLAIN_INTERVAL_DAYS,
    SOONEST_DAYS,
    Sat,
    due,
    eye_rest,
    forgetting,
    refresher,
)


def history(power, gaps, readings=60, chance=None):
    """Pairs of sittings: fresh at 0.6 tenths, then grown by each gap, then practised again."""
    day, found = 0.0, []
    for gap in gaps:
        for away, rms in ((0.0, 0.6), (gap, 0.6 * (1 + gap) ** power)):
            noise = 1.0 if chance is None else np.exp(chance.normal() / (2 * readings) ** 0.5)
            found.append(Sat(day + away, rms * noise, readings))
        day += gap + 1.0  # a day later fresh again: too short a gap to count
    return found


def test_forgetting_is_found_again_exactly_without_noise():
    own = forgetting(history(0.12, [10, 30, 60, 90, 120]))
    assert own.gaps == 5
    assert own.power == pytest.approx(0.12)
    assert own.shown


def test_a_gap_weighs_by_the_readings_before_and_after_it():
    """By hand: ln growth has variance 1/(2 n) + 1/(2 m); the line through the origin is weighted by that."""
    sittings = [
        Sat(0.0, 0.6, 20),
        Sat(10.0, 0.6 * 11**0.1, 60),
        Sat(11.0, 0.6, 80),
        Sat(41.0, 0.6 * 31**0.3, 240),
    ]
    own = forgetting(sittings)
    first, second = 30 * np.log(11) ** 2, 120 * np.log(31) ** 2  # weights 1/(1/40 + 1/120), 1/(1/160 + 1/480)
    assert own.gaps == 2
    assert own.power == pytest.approx((0.1 * first + 0.3 * second) / (first + second))
    assert own.standard_error == pytest.approx((first + second) ** -0.5)


def test_forgetting_is_found_again_within_its_standard_error(chance):
    missed = []
    for _ in range(100):
        own = forgetting(history(0.12, [10, 30, 60, 90, 120], chance=chance))
        missed.append((own.power - 0.12) / own.standard_error)
    assert abs(np.mean(missed)) < 4 / 100**0.5
    assert np.std(missed) == pytest.approx(1.0, abs=0.3)


def test_a_refresher_falls_before_the_error_reaches_the_limit():
    sittings = history(0.12, [10, 30, 60, 90, 120])
    fresh = Sat(sittings[-1].day + 1, 0.6, 60)
    when = refresher([*sittings, fresh])
    assert when.own_forgetting
    away = when.due_day - fresh.day
    assert 0.6 * (1 + away) ** 0.12 == pytest.approx(1.0)
    assert when.reason.startswith("their error grows to 1 tenths about 70 days")


def test_without_shown_forgetting_the_interval_is_plain():
    for sittings in ([Sat(5.0, 0.6, 40)], history(0.0, [10, 30, 60, 90]), history(0.3, [30, 60])):
        when = refresher([*sittings, Sat(400.0, 0.6, 40)])
        assert (when.due_day, when.own_forgetting) == (400.0 + PLAIN_INTERVAL_DAYS, False)


def test_an_error_above_the_limit_is_due_within_a_week():
    when = refresher([Sat(10.0, 1.4, 40)])
    assert when.due_day == 10.0 + SOONEST_DAYS
    assert when.reason == "the last sitting's error, 1.4 tenths, has reached the limit of 1"


def test_a_faultless_last_sitting_is_due_in_a_year_at_the_latest():
    known = [*history(1.0, [10, 30, 60, 90, 120]), Sat(400.0, 0.0, 60)]
    when = refresher(known)
    assert (when.due_day, when.own_forgetting) == (400.0 + LATEST_DAYS, True)


def test_due_dates_stay_between_a_week_and_a_year():
    slow = [*history(0.03, [10, 30, 60, 90, 120], readings=5000), Sat(400.0, 0.6, 5000)]
    assert refresher(slow).due_day == 400.0 + LATEST_DAYS
    fast = [*history(1.0, [10, 30, 60, 90, 120]), Sat(400.0, 0.9, 60)]
    assert refresher(fast).due_day == 400.0 + SOONEST_DAYS


def test_who_is_due_is_listed_longest_overdue_first():
    people = {"Bo": [Sat(0.0, 0.5, 40)], "Ada": [Sat(-30.0, 0.5, 40)], "Cy": [Sat(80.0, 0.5, 40)], "Dee": []}
    assert [person for person, _ in due(people, 100.0)] == ["Ada", "Bo"]


def test_eyes_are_due_for_a_rest_after_twenty_minutes_of_reading():
    assert eye_rest(19 * 60) is None
    assert eye_rest(21 * 60).startswith("You have read scales for 21 minutes: look into the distance")
    assert eye_rest(25 * 60, rested_at_s=21 * 60) is None
