"""About how many more readings: worked by hand from the points and bounds of docs/methods/signoff.md."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from trainer.signoff.criteria import find
from trainer.signoff.decision import decide
from trainer.signoff.evidence import CheckSession
from trainer.signoff.forecast import Forecast

FIRST = find("first-level-metric")


def checks(*misreads, spread=0.3, hours=24):
    """Return one check of twenty a day with so many misreads, its errors even about nought."""
    start = np.datetime64("2026-03-02T08:00:00")
    return [
        CheckSession(f"s{n}", f"{start + np.timedelta64(n * hours, 'h')}Z",
                     tuple(spread * (-1) ** k for k in range(20 - bad)), bad, seed=str(n))
        for n, bad in enumerate(misreads)
    ]  # fmt: skip


def ahead(found, name):
    return next(one.forecast.least for one in found.limits if one.name == name)


@pytest.mark.parametrize(
    ("misreads", "least"),
    [
        ((0,), 60),  # 45 points are missing, one a reading: three blocks
        ((0, 0, 0), 20),  # 5 are missing
        ((0, 0, 0, 0), 0),
        ((1, 0, 0, 0, 0), 40),  # 65 - 49 = 16 are missing at (100 - 51)/100 a reading: 32.7, so two blocks
    ],
)
def test_points_that_are_missing_come_at_the_present_rate(misreads, least):
    assert ahead(decide(FIRST, checks(*misreads)), "misreads") == least


def test_at_a_rate_that_gains_no_points_nothing_is_forecast():
    # a misread takes 50 off and gives no 1: at one in 51 the points stand still
    standing_still = [replace(checks(1)[0], errors_tenths=tuple(0.3 * (-1) ** k for k in range(50)))]
    assert ahead(decide(FIRST, standing_still), "misreads") is None
    assert ahead(decide(FIRST, checks(2, 0)), "misreads") is None
    assert decide(FIRST, checks(2, 0)).forecast.words == "not at the present rate"


def test_the_whole_waits_for_sittings_and_first_look_and_for_its_slowest_limit():
    assert decide(FIRST, checks(0)).forecast.least == 60  # 80 is the first look
    one_day = decide(FIRST, checks(0, 0, 0, 0, 0, hours=1))
    assert one_day.forecast.least == 60  # three sittings more, of a block each
    assert ahead(one_day, "misreads") == 0
    wide = np.random.default_rng(3).normal(0, 0.9, (4, 20))
    slow = decide(
        FIRST, [replace(one, errors_tenths=tuple(e)) for one, e in zip(checks(0, 0, 0, 0), wide, strict=True)]
    )
    assert slow.forecast.least == ahead(slow, "spread")
    assert slow.forecast.least > ahead(slow, "misreads")


def test_a_spread_is_forecast_to_the_block_where_its_bound_would_be_inside(chance):
    """Bonett's 99.5 % bound with the present kurtosis and sum of squares a reading, at n = 80 and on."""
    errors = chance.normal(0, 0.6, 80)
    made = [
        CheckSession(f"s{n}", f"2026-03-{n + 2:02d}T08:00:00Z", tuple(part), seed=str(n))
        for n, part in enumerate(errors.reshape(4, 20))
    ]
    tight = replace(FIRST, spread_tenths=0.66, readings_at_most=2000)
    kurtosis, square, z = stats.kurtosis(errors, fisher=False), errors.var(), stats.norm.ppf(0.995)

    def upper(n):
        c = n / (n - z)
        se = c * np.sqrt((kurtosis - (n - 3) / n) / (n - 1))
        return np.sqrt(np.exp(np.log(c * square * n / (n - 1)) + z * se))

    more = next((m for m in range(0, 501, 20) if upper(80 + m) < 0.66), 501)
    assert ahead(decide(tight, made), "spread") == more


def test_a_forecast_is_told_as_a_range_and_not_beyond_five_hundred():
    assert Forecast(40).words == "about 40 to 80 more readings at the present rate"
    assert Forecast(500).words == "about 500 to 1000 more readings at the present rate"
    assert Forecast(501).words == "more than 500 more readings at the present rate"
    assert Forecast(0).words == "no more readings needed"
    assert (Forecast(40).to_list(), Forecast(None).to_list()) == ([40, 80], None)
    never = decide(FIRST, checks(0, 0, 0, 0, spread=1.2))
    assert next(one for one in never.limits if one.name == "spread").forecast.words.startswith(
        "more than 500"
    )
