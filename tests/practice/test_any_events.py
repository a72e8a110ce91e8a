"""Any events in any order, in every kind of drill: no exception, nothing lost, nothing changed afterwards."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.practice.asking import asked, sight
from trainer.practice.deal import deal
from trainer.practice.kinds import DRILLS
from trainer.practice.placement import next_item
from trainer.practice.plan import Plan
from trainer.practice.session import (
    Advanced,
    Begun,
    Dealt,
    Edited,
    Entered,
    Left,
    Paused,
    Resumed,
    Skipped,
    Ticked,
    Turned,
    start,
    step,
)
from trainer.practice.telling import told

AT = "2026-01-05T08:00:00Z"
TEXTS = [
    "",
    "5",
    "7.384",
    "7,384 again",
    "in",
    "out",
    "accept",
    "reject",
    "+1.5 -0.2",
    "99",
    "0.0002",
    "seven",
    "y",
]
ONES = st.one_of(
    st.sampled_from([Begun, Advanced, Paused, Resumed, Left]),
    st.sampled_from([Entered, Entered, Skipped, Ticked]),
    st.sampled_from(TEXTS).map(Edited),
    st.sampled_from([0.0, 7350.0, 7384.25, 1e9, float("nan")]),
    st.just("deal"),
)
PLANS = [
    Plan(
        "any",
        "Any",
        name,
        "metric-vernier" if kind.needs_vernier else "metric",
        2,
        placement=placement,
        seconds_each=9.0 if placement == "adaptive" else None,
    )
    for name, kind in DRILLS.items()
    for placement in (["stratified", "adaptive"] if kind.adaptive else ["stratified"])
]


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(PLANS), st.lists(ONES, min_size=20, max_size=60), st.integers(0, 2**32))
def test_any_events_in_any_order(plan, events, seed):
    chance = np.random.default_rng(seed)
    session = start(plan, ())
    session = start(plan, deal(plan, session.micrometer, chance))
    now_s = 0.0
    for what in [Begun, "deal", *events]:
        now_s += 1.0
        before = session
        if what == "deal":
            if session.wants_item:
                session = step(session, Dealt(next_item(session, chance), now_s))
        elif isinstance(what, Edited):
            session = step(session, what)
        elif isinstance(what, float):
            session = step(session, Turned(what, now_s))
        elif what in (Entered, Skipped, Ticked):
            session = step(session, what(now_s, AT))
        elif what is not Left or len(session.answers) > 1:
            session = step(session, what(now_s))
        holds(before, session, now_s)


def holds(before, session, now_s):
    """Assert what is true of every session after every event."""
    assert session.answers[: len(before.answers)] == before.answers
    assert session.items[: len(before.items)] == before.items
    assert len(session.answers) - len(before.answers) in (0, 1)
    assert [item.number for item in session.items] == list(range(1, len(session.items) + 1))
    assert [answer.number for answer in session.answers] == list(range(1, len(session.answers) + 1))
    assert all((a.answer_tenths is None) == (a.outcome != "answered") for a in session.answers)
    assert all(answer.seconds >= 0 for answer in session.answers)
    assert (session.turning is not None) <= (session.phase in ("reading", "paused"))
    assert not (session.phase == "done" and session.wants_item)
    item = session.item
    assert (sight(session) is None) == (asked(session) is None) == (item is None)
    if session.phase in ("reading", "feedback"):
        assert item is not None
    assert (told(session) is not None) == (session.phase == "feedback")
    assert session.in_view(now_s) <= (session.phase in ("reading", "feedback"))
    again = start(session.plan, session.items, session.answers)
    assert again.phase in ("ready", "done")
