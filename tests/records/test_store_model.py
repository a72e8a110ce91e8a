"""The store against a model of a few dictionaries: any order of doings leaves both with the same records."""

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    consumes,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from tests.records.conftest import HEADER, PLAN, HandClock, answer
from trainer.records import copying
from trainer.records import place as places
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.refusals import UnusableName, UnusableRecord

END = "2026-03-02T10:00:00Z"
ITEMS = 4


class StoreModel(RuleBasedStateMachine):
    """Doings of one station; `self.people` and `self.sessions` are what the archive must hold."""

    names = Bundle("names")
    sessions_begun = Bundle("sessions_begun")

    def __init__(self, new_database: Callable[[], str] | None = None) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.new_database = new_database
        self.copies = 0
        self.place = self.another_place()
        self.clock = HandClock()
        self.archive = Archive.open(self.place, clock=self.clock, chain="TESTSTAT")
        self.people: dict[str, tuple[str, bool]] = {}  # id: name, put away
        self.sessions: dict[str, dict[str, Any]] = {}
        self.settings: dict[str, int] = {}

    def another_place(self) -> str | Path:
        """Return a place without an archive; with a server at hand every other one is a database there."""
        self.copies += 1
        if self.new_database is not None and self.copies % 2:
            return self.new_database()
        return Path(self.folder.name) / f"{self.copies}.tenthwise"

    def teardown(self) -> None:
        report = check(self.archive.store)
        self.archive.close()
        self.folder.cleanup()
        assert report.whole, report.findings

    @initialize(target=names)
    def somebody(self) -> str:
        return self.add("Ana")

    def add(self, name: str) -> str:
        person = self.archive.add_person(name)
        self.people[person.id] = (name, False)
        return person.id

    def taken(self, name: str) -> bool:
        return name in (kept for kept, _ in self.people.values())

    @rule(target=names, number=st.integers(0, 5))
    def add_person(self, number: int) -> Any:
        name = f"Reader {number}"
        if self.taken(name):
            with pytest.raises(UnusableName):
                self.archive.add_person(name)
            return next(one for one, (kept, _) in self.people.items() if kept == name)
        return self.add(name)

    @rule(person=names, number=st.integers(0, 5))
    def rename(self, person: str, number: int) -> None:
        name = f"Reader {number}"
        if self.taken(name) and self.people[person][0] != name:
            with pytest.raises(UnusableName):
                self.archive.rename_person(person, name)
            return
        self.archive.rename_person(person, name)
        self.people[person] = (name, self.people[person][1])

    @rule(person=names, back=st.booleans())
    def put_away(self, person: str, back: bool) -> None:
        self.archive.archive_person(person, back=back)
        self.people[person] = (self.people[person][0], not back)

    @rule(target=sessions_begun, person=names)
    def begin(self, person: str) -> Any:
        items = [{"number": n, "position_tenths": 10.0 * n, "asks": "x"} for n in range(1, ITEMS + 1)]
        if self.people[person][1]:
            with pytest.raises(UnusableRecord, match="put away"):
                self.archive.begin_session(person, PLAN, items, HEADER)
            return None
        session = self.archive.begin_session(person, PLAN, items, HEADER)
        self.sessions[session] = {"person": person, "answers": {}, "how": None, "dealt": ITEMS}
        return session

    @rule(session=sessions_begun, number=st.integers(1, ITEMS + 2), tenths=st.integers(-5, 5))
    def save(self, session: str | None, number: int, tenths: int) -> None:
        if session is None:
            return
        own = self.sessions[session]
        given = answer(number, 10.0 * number + tenths)
        before = own["answers"].get(number)
        same = before == given["answer_tenths"]
        if number > own["dealt"] or (before is not None and not same) or (own["how"] and not same):
            with pytest.raises(UnusableRecord):
                self.archive.save_answer(session, given)
            return
        self.archive.save_answer(session, given)
        own["answers"][number] = given["answer_tenths"]

    @rule(session=sessions_begun)
    def deal_one_more(self, session: str | None) -> None:
        if session is None:
            return
        own = self.sessions[session]
        more = [{"number": own["dealt"] + 1, "position_tenths": 1.0, "asks": "x"}]
        if own["how"]:
            with pytest.raises(UnusableRecord):
                self.archive.deal_more(session, more)
            return
        self.archive.deal_more(session, more)
        own["dealt"] += 1

    @rule(session=sessions_begun, how=st.sampled_from(["finished", "left", "closed"]))
    def end(self, session: str | None, how: str) -> None:
        if session is None:
            return
        own = self.sessions[session]
        if own["how"] not in (None, how):
            with pytest.raises(UnusableRecord, match="ended already"):
                self.archive.end_session(session, how, END)
            return
        self.archive.end_session(session, how, END)
        own["how"] = how

    @rule(person=consumes(names))
    def pseudonymise(self, person: str) -> None:
        name = self.archive.pseudonymise_person(person).name
        self.people[person] = (name, self.people[person][1])

    @rule(name=st.sampled_from("ab"), value=st.integers())
    def put_setting(self, name: str, value: int) -> None:
        self.archive.set_setting(name, value)
        self.settings[name] = value

    @rule(hours=st.integers(-48, 48))
    def set_clock(self, hours: int) -> None:
        from datetime import timedelta

        self.clock.now += timedelta(hours=hours)

    @rule()
    def reopen(self) -> None:
        self.archive.close()
        self.archive = Archive.open(self.place, create=False, clock=self.clock, chain="TESTSTAT")

    @rule()
    def go_on_in_a_copy(self) -> None:
        copied = self.another_place()
        if isinstance(copied, Path):
            copying.backup(self.archive.store, copied)
        else:
            copying.copy(self.archive.store, places.find(copied), clock=self.clock)
        self.archive.close()
        self.place = copied
        self.reopen()

    @invariant()
    def both_hold_the_same(self) -> None:
        kept = {one.id: (one.name, one.archived_at is not None) for one in self.archive.people(True)}
        assert kept == self.people
        frame = self.archive.answers()
        places = zip(frame["session"], frame["item"], strict=True)
        found = dict(zip(places, frame["answer_tenths"], strict=True))
        assert found == {
            (session, number): tenths
            for session, own in self.sessions.items()
            for number, tenths in own["answers"].items()
        }
        listed = self.archive.sessions()
        how = [one if isinstance(one, str) else None for one in listed["ended_how"]]  # pandas may give NaN
        assert dict(zip(listed["session"], how, strict=True)) == {
            session: own["how"] for session, own in self.sessions.items()
        }
        assert list(listed["items"]) == [self.sessions[one]["dealt"] for one in listed["session"]]
        assert all(self.archive.setting(name) == value for name, value in self.settings.items())

    @invariant()
    def the_team_view_counts_what_is_there(self) -> None:
        team = self.archive.team()
        for name, answers in zip(team["person"], team["answers"], strict=True):
            (person,) = (one for one, (kept, _) in self.people.items() if kept == name)
            own = [one for one in self.sessions.values() if one["person"] == person]
            assert answers == sum(len(one["answers"]) for one in own)


def test_the_model_holds_on_a_server_and_from_engine_to_engine(new_database: Callable[[], str]) -> None:
    run_state_machine_as_test(
        lambda: StoreModel(new_database),
        settings=settings(
            max_examples=3, stateful_step_count=15, deadline=None, suppress_health_check=list(HealthCheck)
        ),
    )


TestStoreModel = StoreModel.TestCase
TestStoreModel.settings = settings(max_examples=10, stateful_step_count=15, deadline=None)
