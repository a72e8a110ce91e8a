"""Plans and whole sittings for the tests; a reader is a function of the session that gives its text."""

from collections.abc import Callable

import numpy as np
import pytest

from trainer.practice import placement
from trainer.practice.deal import deal
from trainer.practice.plan import Plan
from trainer.practice.session import Advanced, Begun, Dealt, Edited, Entered, Session, start, step

Reader = Callable[[Session], str]
AT = "2026-01-05T08:00:00Z"
FIELDS = {
    "feedback",
    "for_record",
    "halves",
    "seconds_each",
    "exposure_seconds",
    "placement",
    "viewing",
    "true_size",
}


def make_plan(drill: str, instrument: str = "metric", items: int = 20, **more) -> Plan:
    settings = {name: more.pop(name) for name in list(more) if name not in FIELDS}
    return Plan("test", "A test", drill, instrument, items, settings=settings, **more)


def take_sitting(wanted: Plan, reader: Reader, chance: np.random.Generator, past=(), told=None) -> Session:
    session = start(wanted, deal(wanted, start(wanted, ()).micrometer, chance))
    now_s = 0.0
    session = step(session, Begun(now_s))
    while not session.over:
        if session.wants_item:
            session = step(session, Dealt(placement.next_item(session, chance, past), now_s))
        if session.phase == "feedback":
            if told is not None:
                told(session)
            session = step(session, Advanced(now_s))
            continue
        if session.over:
            break
        now_s += 2.0
        session = step(session, Edited(reader(session)))
        session = step(session, Entered(now_s, AT))
        assert session.complaint is None, session.complaint
    return session


@pytest.fixture
def plan():
    """Return a function that makes a plan; settings of the drill are given like its fields."""
    return make_plan


@pytest.fixture
def take():
    """Return a function that plays a sitting to its end, two seconds an item."""
    return take_sitting
