"""What counts of a check, which checks make a sitting, when the decision looks: worked by hand.

The rules are the program's own (docs/methods/signoff.md): blocks of 20, sittings 16 hours apart, a session
with less than half a block of clean readings belongs to the sitting before.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from trainer.signoff.criteria import find
from trainer.signoff.evidence import (
    CheckSession,
    UnusableMoment,
    check_session,
    moment,
    not_evidence,
    sittings_of,
    totals,
    without_replays,
)

FIRST = find("first-level-metric")
START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def check(hour, clean=20, *, bad=0, seed="", error=0.0):
    at = (START + timedelta(hours=hour)).isoformat()
    return CheckSession(f"s{hour:g}", at, (error,) * clean, bad, seed=seed)


@pytest.mark.parametrize(
    ("checks", "sittings"),
    [
        ([check(0), check(24), check(48)], [0, 1, 2]),
        (
            [check(0), check(15.9), check(16), check(31.9), check(32)],
            [0, 0, 1, 1, 2],
        ),  # from the first's start
        ([check(0), check(24, 9), check(48)], [0, 0, 1]),  # nine clean readings stand for no day
        ([check(0), check(24, 10), check(48)], [0, 1, 2]),  # half a block does
        ([check(0), check(24, 9, bad=11), check(48)], [0, 0, 1]),  # misreads make no sitting
        ([check(0, 9), check(24), check(48)], [0, 0, 1]),  # a small beginning is filled up first
        ([check(0, 4), check(24, 6), check(48)], [0, 0, 1]),  # four and six are half a block together
        ([check(0), check(24, 10), check(30, 9), check(39), check(40)], [0, 1, 1, 1, 2]),
        ([], []),
    ],
)
def test_which_checks_make_a_sitting(checks, sittings):
    assert sittings_of(checks, FIRST) == sittings


def test_a_look_comes_when_a_whole_block_has_come_since_the_last():
    running, ends = totals([check(24 * day, 12) for day in range(5)], FIRST)
    assert ends == [2, 4]  # 24 and 48 readings
    assert running.readings.tolist() == [24, 48]
    assert totals([check(0, 19), check(1, 0, bad=1)], FIRST)[1] == [2]  # twenty asked for, whatever came
    assert totals([check(0, 19)], FIRST)[1] == []


def test_totals_are_sums_over_sittings_and_not_over_checks():
    parts = [check(0, 10, error=1.0), check(1, 30, error=2.0), check(24, 20, bad=2, error=-1.0)]
    running, ends = totals(parts, FIRST)
    assert ends == [2, 3]
    assert running.clean.tolist() == [40, 60]
    assert [power[-1] for power in running.powers] == [50, 150, 230, 510]  # 10 of 1, 30 of 2, 20 of -1
    assert (running.misreads[-1], running.sittings[-1]) == (2, 2)
    assert (running.means[-1], running.means_squared[-1]) == (1.75 - 1, 1.75**2 + 1)  # 70/40 and -1


def test_a_check_is_counted_reading_by_reading():
    timed = replace(FIRST, seconds=10.0, slow_rate=0.1)
    truth = [7383.6, 7001.2, 12_345.6, 100.0, 200.4]
    found = check_session(
        timed, id="s", started_at=START.isoformat(), instrument="metric", truth_tenths=truth,
        answer_tenths=[7384.0, 7011.0, 12_346.0, None, None],
        outcomes=["answered", "answered", "answered", "skipped", "timed-out"],
        seconds=[10.0, 10.1, 3.0, None, 30.0], seed="7",
    )  # fmt: skip
    assert found.errors_tenths == pytest.approx((0.4, 0.4))
    assert (found.misreads, found.not_given, found.slow) == (1, 2, 2)  # slow: 10.1 and 30 s
    assert (found.readings, found.counted) == (5, 2)
    untimed = check_session(
        FIRST, id="s", started_at=START.isoformat(), instrument="metric", truth_tenths=[1.0],
        answer_tenths=[1.0], outcomes=["answered"], seconds=[99.0],
    )  # fmt: skip
    assert untimed.slow == 0


def test_replays_are_refused_by_their_seed_and_checks_without_a_seed_are_none():
    checks = [check(48, seed="a"), check(0, seed="a"), check(24, seed="b"), check(30), check(31)]
    kept, refused = without_replays(checks)
    assert [one.id for one in kept] == ["s0", "s24", "s30", "s31"]
    assert [(one.id, one.reason) for one in refused] == [("s48", "it was dealt from the same seed as s0")]


def why_not(**changed):
    given = {"instrument": "metric", "drill": "full-reading", "for_record": True, "plan": {}, "viewing": {}}
    return not_evidence(FIRST, **(given | changed))


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"for_record": False}, "it was practice"),
        ({"plan": {"feedback": True}}, "it gave feedback"),
        ({"drill": "tenths"}, "its drill is tenths, and the criterion is for full-reading"),
        ({"plan": {"halves": True}}, "it asked for half tenths"),
        ({"instrument": "of another age"}, "not in the catalogue"),
        ({"instrument": "inch"}, "it reads in inches, and the criterion is for millimetres"),
        ({"instrument": "depth-metric"}, "it is a depth micrometer, and the criterion is for outside"),
        ({"instrument": "metric-vernier"}, "it has a vernier, and the criterion is for scales without"),
        ({"viewing": {"roll_deg": 15.1}}, "turned by 15.1 degrees, and the criterion is for −15 to 15"),
        ({"viewing": {"roll_deg": -15.1}}, "turned by −15.1 degrees"),
        ({"viewing": {"blur_mm": 0.1}}, "it was read with blur"),
    ],
)
def test_what_is_no_evidence_is_told_why(changed, words):
    assert words in why_not(**changed)


def test_what_is_evidence_is_told_nothing():
    assert why_not() == ""
    assert why_not(plan={"feedback": False, "halves": False}, viewing={"roll_deg": -15.0}) == ""
    assert why_not(viewing={"roll_deg": None}) == ""
    inch = find("first-level-inch")
    given = {"instrument": "inch", "drill": "full-reading", "for_record": True, "plan": {}, "viewing": {}}
    assert not_evidence(inch, **given) == ""


def test_a_moment_needs_its_zone_and_is_told_in_utc():
    assert moment("2026-03-29T02:30:00+01:00") == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    with pytest.raises(UnusableMoment, match="'noon' is not a time"):
        moment("noon")
    with pytest.raises(UnusableMoment, match="says no time zone"):
        moment("2026-03-29T02:30:00")
    with pytest.raises(UnusableMoment, match="outside the calendar"):
        moment("0001-01-01T00:00:00+05:00")


def test_a_check_of_judging_makes_a_sitting_by_its_judgements():
    judging = find("judging-metric")  # a hundred a session
    checks = [replace(check(24 * day, 0), judgements=count) for day, count in enumerate((100, 49, 50, 100))]
    assert sittings_of(checks, judging) == [0, 0, 1, 2]
    running, ends = totals(checks, judging)
    assert ends == [1, 4]  # 49 and 50 are no block yet
    assert np.all(running.sittings == [1, 3])
