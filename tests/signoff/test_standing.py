"""Where a statement stands: the order of its monitoring checks, whatever time zone they were written in."""

from datetime import UTC, datetime

from trainer.signoff.criteria import find
from trainer.signoff.evidence import CheckSession
from trainer.signoff.standing import SUSPENDED, standing

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
