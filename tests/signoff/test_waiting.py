"""What a person waits for between checks, told in a sentence with the moment from which it is to be had."""

import dataclasses
from datetime import UTC, datetime, timedelta

import pytest

from trainer.signoff.attempts import Opening, history
from trainer.signoff.criteria import find
from trainer.signoff.evidence import CheckSession, moment
from trainer.signoff.monitoring import chart
from trainer.signoff.standing import DUE, SUSPENDED, VALID, Standing
from trainer.signoff.statement import guard_sentences, limitations
from trainer.signoff.waiting import due_in_days, in_words, reminder, waited_for

FIRST = find("first-level-metric")
START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def check(day, *, readings=20, error=0.1, ended="finished"):
    at = START + timedelta(days=day)
    errors = tuple(error + (0.4 if number % 2 else -0.4) for number in range(readings))
    return CheckSession(f"s{day}", at.isoformat(), errors, ended_how=ended, seed=str(day))


def said(checks, hours=1.0, **more):
    now = (moment(checks[-1].started_at) if checks else START) + timedelta(hours=hours)
    return waited_for(FIRST, history(FIRST, checks), now, **more)


def test_before_the_first_check():
    assert said([]) == "a first check, at any time"


def test_another_day_with_the_moment_it_begins():
    assert said([check(0)]) == (
        "another day: a check counts as another sitting from 2026-03-03 00:00 UTC (in 15 hours); "
        "before then it adds to the present one"
    )
    assert said([check(0)], hours=16) == "a check, at any time; it counts as another sitting"


def test_a_small_sitting_is_added_to():
    assert "too few readings to stand alone" in said([check(0, readings=9)])


def test_an_unfinished_check_comes_first():
    assert "session s0 is unfinished" in said([check(0, readings=9, ended="")])


def test_a_signature_then_nothing():
    checks = [check(day) for day in range(4)]
    assert said(checks) == "a signature: attempt 1 shows everything, and a supervisor can sign"
    assert said(checks, signed=[1]).startswith("nothing: attempt 1 is signed")
    assert said([*checks, check(5)]).startswith("a signature")  # one more check does not take it away


def test_a_new_attempt_after_one_without_success_waits_for_its_own_checks():
    checks = [check(day) for day in range(4)] + [check(day, error=2.5) for day in range(5, 9)]
    failed = history(FIRST, checks)
    assert [one.decision.verdict for one in failed.attempts] == ["shown", "shown to fail"]
    again = Opening({}, "kim", FIRST.name, START + timedelta(days=20), "two weeks of drills")
    found = history(FIRST, checks, [again])
    for signed in ([], [1]):  # whether the attempt before it was signed or not
        told = waited_for(FIRST, found, START + timedelta(days=21), signed=signed)
        assert told == "a first check, at any time"


def test_the_waiting_time_after_an_attempt_without_success():
    checks = [check(day, error=2.5) for day in range(4)]
    found = history(FIRST, checks)
    assert found.last.decision.verdict == "shown to fail"
    ended = found.last.ended_at
    told = waited_for(FIRST, found, ended + timedelta(days=1))
    assert told == (
        f"training; a supervisor can open a new attempt from {ended + timedelta(days=7):%Y-%m-%d %H:%M} UTC "
        "(in 6 days), with a reason"
    )
    assert "a new attempt now, with a reason" in waited_for(FIRST, found, ended + timedelta(days=7))


@pytest.mark.parametrize(
    ("hours", "words"),
    [(-1, "now"), (0, "now"), (0.5, "in less than an hour"), (1, "in 1 hour"), (30, "in 30 hours"),
     (60, "in 2 days")],
)  # fmt: skip
def test_how_long_it_is(hours, words):
    assert in_words(START + timedelta(hours=hours), START) == words


def standing(state, due, until=400):
    ahead = START + timedelta(days=due)
    return Standing(state, START, "", ahead, START + timedelta(days=until), (), chart(FIRST, []))


@pytest.mark.parametrize(
    ("present", "days", "words"),
    [
        (standing(VALID, 30), 30, "monitoring check: due in 30 days"),
        (standing(VALID, 1), 1, "monitoring check: due in 1 day"),
        (standing(DUE, 0), 0, "monitoring check: due today"),
        (standing(DUE, -1), -1, "monitoring check: 1 day overdue"),
        (standing(VALID, 5, until=14), 5, "monitoring check: due in 5 days; renewal: 14 days left"),
        (standing(VALID, 5, until=15), 5, "monitoring check: due in 5 days"),
        (standing(SUSPENDED, -20), None, ""),
    ],
)
def test_reminders(present, days, words):
    assert due_in_days(present, START) == days
    assert reminder(present, START) == words


def test_limitations_speak_of_the_scope():
    told = " ".join(limitations(FIRST))
    scope = ["outside micrometers in mm", "without a vernier", "full-reading", "-15 to 15 degrees"]
    assert [one for one in scope if one not in told] == []
    cautions = ["no proof that there are none", "picture on a calibrated screen", "not accredited"]
    assert [one for one in cautions if one not in told] == []
    assert "nothing is said of other days" not in told
    short = dataclasses.replace(FIRST, sittings_at_least=1)
    assert "Shown in this session only; nothing is said of other days." in limitations(short)


def test_what_stands_on_the_records_is_said_once():
    rows = [
        {"attested": True, "flags": []},
        {"attested": True, "flags": ["paused 1 time"]},
        {"attested": False, "flags": ["paused 1 time", "the person did not attest at the end"]},
    ]
    assert guard_sentences(rows[:1]) == []
    assert guard_sentences(rows) == [
        "The person did not attest at the end of 1 of 3 checks.",
        "On the record of 2 of 3 checks: paused 1 time.",
    ]
