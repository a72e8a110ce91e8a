"""Where a statement stands: the order of its monitoring checks, whatever time zone they were written in."""

from datetime import UTC, datetime, timedelta

import pytest

from tests.signoff.test_statement import NOW, lab, signed  # noqa: F401 - a fixture
from trainer.signoff.criteria import find
from trainer.signoff.evidence import CheckSession
from trainer.signoff.standing import (
    CONDITION,
    REINSTATE,
    SUSPEND,
    SUSPENDED,
    VALID,
    WITHDRAW,
    StandingRefused,
    changed,
    standing,
)

FIRST = find("first-level-metric")
BODY = {
    "id": "s", "conditions": [], "person": {"id": "p1", "name": "Kim Vale"},
    "valid_from": "2026-03-20T08:00:00Z", "valid_until": "2027-03-20T08:00:00Z",
}  # fmt: skip


def check(name, at, error):
    return CheckSession(name, at, tuple(error + (0.4 if n % 2 else -0.4) for n in range(20)), seed=name)


def test_checks_are_charted_in_order_of_time_across_time_zones():
    good = check("good", "2026-03-31T23:00:00+00:00", 0.0)
    bad = check("bad", "2026-04-01T00:30:00+02:00", 3.0)  # half an hour earlier, and later as a text
    found = standing(FIRST, {"body": BODY}, [], [good, bad], now=datetime(2026, 4, 2, tzinfo=UTC))
    assert found.state == SUSPENDED
    assert found.since == datetime(2026, 3, 31, 22, 30, tzinfo=UTC)
    assert found.chart.alarms[0][0] == 1


def test_a_statement_is_suspended_and_reinstated_in_turn_with_a_reason_until_it_is_withdrawn(lab):  # noqa: F811
    ring, ruth, *_ = lab
    made = signed(lab)
    acts = []

    def act(kind, hours, reason="a reason", by=ruth):
        """Make a change at so many hours after signing."""
        now = NOW + timedelta(hours=hours)
        acts.append(changed(ring, by, made, standing(FIRST, made, acts, [], now=now), kind, reason, now=now))
        return standing(FIRST, made, acts, [], now=now).state

    def refused(kind, hours, **more):
        with pytest.raises(StandingRefused) as told:
            act(kind, hours, **more)
        return str(told.value)

    for kind in (SUSPEND, WITHDRAW, CONDITION):
        assert "takes a reason; write it down" in refused(kind, 1, reason=" ")
    assert "only a suspended one is reinstated" in refused(REINSTATE, 1)
    assert act(CONDITION, 1) == VALID
    assert act(SUSPEND, 2) == SUSPENDED
    assert "suspended" in refused(SUSPEND, 3)
    assert act(REINSTATE, 4) == VALID
    assert "only a suspended one is reinstated" in refused(REINSTATE, 5)
    assert act(SUSPEND, 6) == SUSPENDED
    act(WITHDRAW, 7)
    assert "withdrawn" in refused(REINSTATE, 8)
    assert [one.kind for one in acts] == [CONDITION, SUSPEND, REINSTATE, SUSPEND, WITHDRAW]


def test_nobody_changes_the_standing_of_their_own_statement(lab):  # noqa: F811
    ring, ruth, _, _ = lab
    made = signed(lab)
    own = {**made, "body": {**made["body"], "person": {"id": "p9", "name": "RUTH"}}}
    with pytest.raises(StandingRefused, match="Ruth cannot suspend for themself"):
        changed(ring, ruth, own, standing(FIRST, made, [], [], now=NOW), SUSPEND, "why", now=NOW)
