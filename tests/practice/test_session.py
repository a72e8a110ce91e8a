"""The rules of a sitting: every transition, and a random walk against a second, plainer account of them."""

from dataclasses import replace

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from trainer.practice.items import Answer, Item
from trainer.practice.plan import Plan
from trainer.practice.session import (
    Advanced,
    Begun,
    Edited,
    Entered,
    Left,
    Paused,
    Resumed,
    Session,
    Skipped,
    Ticked,
    UnusableSession,
    start,
    step,
)

AT = "2026-01-05T08:00:00Z"
PRACTICE = Plan("practice", "Practice", "full-reading", "metric", 3)
CHECK = replace(PRACTICE, name="check", for_record=True, feedback=False)
TIMED = replace(CHECK, name="timed", seconds_each=10.0)
ITEMS = tuple(Item(n, 1000.0 * n + 4.3, "full-reading") for n in (1, 2, 3))
EVENTS = [
    Begun(9.0),
    Edited("7"),
    Entered(9.0, AT),
    Skipped(9.0, AT),
    Ticked(9.0, AT),
    Advanced(9.0),
    Paused(9.0),
    Resumed(9.0),
    Left(9.0),
]


def play(session: Session, *events) -> Session:
    for event in events:
        session = step(session, event)
    return session


def reading(plan=PRACTICE) -> Session:
    return play(start(plan, ITEMS), Begun(5.0))


def answered(text="1.004", at_s=8.0, plan=PRACTICE) -> Session:
    return play(reading(plan), Edited(text), Entered(at_s, AT))


IN_PHASE = {
    "ready": start(PRACTICE, ITEMS),
    "reading": reading(),
    "feedback": answered(),
    "paused": step(reading(), Paused(6.0)),
    "done": start(PRACTICE, ITEMS, [Answer(n, "1", 1.0, "answered", 1.0, AT) for n in (1, 2, 3)]),
    "left": step(reading(), Left(6.0)),
}
HEEDED = {
    "ready": {Begun, Left},
    "reading": {Edited, Entered, Skipped, Paused, Left},  # Ticked only with a limit
    "feedback": {Advanced, Paused, Left},
    "paused": {Resumed, Left},
    "done": set(),
    "left": set(),
}


@pytest.mark.parametrize("phase", IN_PHASE)
def test_what_a_phase_does_not_know_changes_nothing(phase):
    session = IN_PHASE[phase]
    assert session.phase == phase
    for event in EVENTS:
        changed = step(session, event) != session
        assert changed == (type(event) in HEEDED[phase]), event


def test_begin_shows_the_first_item_and_starts_its_clock():
    session = reading()
    assert (session.phase, session.item, session.elapsed_s(7.5)) == ("reading", ITEMS[0], 2.5)


def test_an_answer_is_recorded_with_text_number_time_and_seconds():
    session = answered("1,0043 mm", at_s=8.25)
    assert session.answers == (Answer(1, "1,0043 mm", 1004.3, "answered", 3.25, AT),)
    assert (session.phase, session.item, session.typed) == ("feedback", ITEMS[0], "")


def test_feedback_stays_until_it_is_put_away_and_does_not_count_as_reading_time():
    session = play(answered(), Edited("x"), Entered(30.0, AT), Advanced(60.0))
    assert (session.phase, session.item, len(session.answers)) == ("reading", ITEMS[1], 1)
    session = play(session, Edited("2.004"), Entered(61.5, AT))
    assert session.answers[1].seconds == 1.5


def test_without_feedback_the_next_item_follows_at_once():
    session = answered(plan=CHECK)
    assert (session.phase, session.item) == ("reading", ITEMS[1])
    session = play(session, Edited("2"), Entered(9.0, AT), Edited("3"), Entered(10.0, AT))
    assert (session.phase, session.item, session.over) == ("done", None, True)


def test_unreadable_text_is_complained_of_and_kept():
    session = play(reading(), Edited("1.0.4"), Entered(8.0, AT))
    assert (session.phase, session.typed, session.answers) == ("reading", "1.0.4", ())
    assert session.complaint == "'1.0.4' has more than one decimal sign; type one point or one comma"
    assert step(session, Edited("1.04")).complaint is None


def test_a_reading_outside_the_travel_is_doubted_once_and_then_recorded():
    doubted = play(reading(), Edited("70.384"), Entered(8.0, AT))
    assert doubted.answers == ()
    assert doubted.complaint == (
        "70.384 lies outside 0 to 25.0 mm; correct it, or enter it once more to record it as it is"
    )
    assert step(doubted, Entered(9.0, AT)).answers[0].answer_tenths == 70384.0
    other = play(doubted, Edited("71.384"), Entered(9.0, AT))
    assert other.answers == ()
    assert other.doubted == "71.384"
    corrected = play(doubted, Edited("7.0384"), Entered(9.0, AT))
    assert corrected.answers[0].answer_tenths == pytest.approx(7038.4)
    assert corrected.doubted is None


def test_a_skipped_item_is_recorded_with_what_stood_typed_and_is_not_asked_again():
    session = play(reading(CHECK), Edited("1.0"), Skipped(9.0, AT))
    assert session.answers == (Answer(1, "1.0", None, "skipped", 4.0, AT),)
    assert session.item == ITEMS[1]


def test_a_pause_does_not_count_and_keeps_what_was_typed():
    session = play(reading(), Edited("1.0"), Paused(7.0))
    assert (session.phase, session.item, session.typed) == ("paused", ITEMS[0], "1.0")
    assert session.elapsed_s(1000.0) == 2.0
    session = play(session, Resumed(1000.0), Paused(1001.0), Resumed(5000.0), Entered(5000.5, AT))
    assert session.answers[0].seconds == 3.5


def test_a_pause_in_feedback_returns_to_it():
    session = play(answered(), Paused(9.0))
    assert session.item == ITEMS[0]
    session = play(session, Resumed(99.0))
    assert (session.phase, session.item) == ("feedback", ITEMS[0])


def test_the_time_limit_ends_an_item_but_not_a_pause():
    session = play(reading(TIMED), Edited("1.0"), Ticked(14.9, AT))
    assert session.answers == ()
    assert session.remaining_s(14.0) == 1.0
    paused = play(session, Paused(14.9), Ticked(99.0, AT), Resumed(100.0), Ticked(100.05, AT))
    assert paused.answers == ()
    assert step(paused, Ticked(100.2, AT)).answers == (
        Answer(1, "1.0", None, "timed-out", pytest.approx(10.1), AT),
    )


@pytest.mark.parametrize("event", [Entered(15.0, AT), Skipped(16.0, AT)])
def test_after_the_limit_nothing_can_be_entered_even_between_two_ticks(event):
    session = play(reading(TIMED), Edited("1.004"), event)
    assert [answer.outcome for answer in session.answers] == ["timed-out"]
    assert session.answers[0].typed == "1.004"


def test_no_limit_means_no_remaining_time():
    assert reading().remaining_s(1e9) is None
    assert step(reading(), Ticked(1e9, AT)) == reading()


def test_two_answers_in_one_frame_leave_the_second_unentered():
    session = play(answered(plan=CHECK, at_s=8.0), Edited("2.004"), Entered(8.0, AT))
    assert len(session.answers) == 1
    assert (session.item, session.typed, session.complaint) == (ITEMS[1], "2.004", None)
    assert len(step(session, Skipped(8.0, AT)).answers) == 1
    assert step(session, Entered(8.5, AT)).answers[1].answer_tenths == 2004.0


def test_a_repeated_enter_records_nothing():
    session = play(answered(plan=CHECK, at_s=8.0), Entered(8.03, AT), Entered(8.06, AT))
    assert len(session.answers) == 1
    assert session.complaint == "nothing was typed; type a number such as 7.384"


def test_leaving_keeps_the_answers_and_leaving_after_the_last_is_done():
    left = step(answered(), Left(9.0))
    assert (left.phase, len(left.answers), left.over) == ("left", 1, True)
    last = play(answered(), Advanced(9.0), Skipped(10.0, AT), Advanced(11.0), Skipped(12.0, AT), Left(13.0))
    assert last.phase == "done"


def test_a_session_goes_on_after_the_answers_already_given():
    kept = answered().answers
    session = start(PRACTICE, ITEMS, kept)
    assert (session.phase, session.item) == ("ready", ITEMS[1])
    session = play(session, Begun(100.0), Edited("2.004"), Entered(101.0, AT))
    assert [answer.number for answer in session.answers] == [1, 2]
    assert session.answers[1].seconds == 1.0


def test_answers_of_another_session_are_refused():
    with pytest.raises(UnusableSession, match=r"numbered \[2\], which are not the first of the 3 items"):
        start(PRACTICE, ITEMS, [Answer(2, "1", 1.0, "answered", 1.0, AT)])
    with pytest.raises(UnusableSession):
        start(PRACTICE, ITEMS[:1], [Answer(n, "1", 1.0, "answered", 1.0, AT) for n in (1, 2)])


def test_items_and_answers_go_through_plain_values():
    placed = Item(4, 7.25, "judge", {"offset_tenths": 2.5})
    for item in (*ITEMS, placed):
        assert Item.from_dict(item.to_dict()) == item
    turned = Answer(4, "7.3", 7.3, "answered", 3.25, AT, {"by": "turning"})
    for answer in (*answered().answers, turned):
        assert Answer.from_dict(answer.to_dict()) == answer
    bare = {"number": 1, "position_tenths": 7.25, "asks": "tenths"}
    assert Item.from_dict(bare) == Item.from_dict({**bare, "extra": None}) == Item(1, 7.25, "tenths")


def test_step_is_pure():
    session = reading()
    step(session, Edited("1.0"))
    assert session == reading()


class AnySitting(RuleBasedStateMachine):
    """Any order of events, told twice: by `step` and by the plain bookkeeping below."""

    def __init__(self) -> None:
        super().__init__()
        self.now_s = 0.0
        self.session = start(replace(CHECK, seconds_each=10.0), ITEMS)
        self.phase, self.under, self.text, self.doubt = "ready", "", "", None
        self.spent_s, self.fresh = 0.0, True
        self.outcomes: list[tuple[str, float]] = []

    def tell(self, event) -> None:
        before = self.session
        self.session = step(before, event)
        assert self.session.answers[: len(before.answers)] == before.answers, "an answer is never changed"

    def record(self, outcome: str) -> None:
        self.outcomes.append((outcome, self.spent_s))
        self.text, self.spent_s, self.doubt, self.fresh = "", 0.0, None, False
        self.phase = ("feedback" if self.session.plan.feedback else "reading") if self.due else "done"
        if self.session.plan.feedback:
            self.phase = "feedback"

    @property
    def due(self) -> bool:
        return len(self.outcomes) < len(ITEMS)

    @precondition(lambda self: self.phase == "ready")
    @rule(seconds_each=st.sampled_from([None, 10.0]), feedback=st.booleans())
    def begin(self, seconds_each, feedback):
        plan = replace(self.session.plan, for_record=False, seconds_each=seconds_each, feedback=feedback)
        self.session = start(plan, ITEMS)
        self.tell(Begun(self.now_s))
        self.phase = "reading"

    @rule(seconds=st.sampled_from([0.25, 1.0, 4.0]))
    def time_goes_on(self, seconds):
        self.now_s += seconds
        if self.phase == "reading":
            self.spent_s += seconds
            self.fresh = True
        self.tell(Ticked(self.now_s, AT))
        self.out_of_time()

    def out_of_time(self) -> bool:
        limit = self.session.plan.seconds_each
        if self.phase == "reading" and limit is not None and self.spent_s >= limit:
            self.record("timed-out")
            return True
        return False

    @rule(text=st.sampled_from(["1.004", "", "99", "seven", "0,5 mm"]))
    def edit(self, text):
        self.tell(Edited(text))
        if self.phase == "reading":
            self.text = text

    @rule()
    def enter(self):
        self.tell(Entered(self.now_s, AT))
        if self.phase != "reading" or (self.outcomes and not self.fresh):
            return
        if self.text in ("1.004", "0,5 mm") or (self.text == "99" and self.doubt == "99"):
            self.record("answered")
        elif self.text == "99":
            self.doubt = "99"

    @rule()
    def skip(self):
        self.tell(Skipped(self.now_s, AT))
        if self.phase == "reading" and (self.fresh or not self.outcomes):
            self.record("skipped")

    @rule()
    def advance(self):
        self.tell(Advanced(self.now_s))
        if self.phase == "feedback":
            self.phase = "reading" if self.due else "done"
            self.fresh = False

    @rule()
    def pause(self):
        self.tell(Paused(self.now_s))
        if self.phase in ("reading", "feedback"):
            self.under, self.phase = self.phase, "paused"

    @rule()
    def resume(self):
        self.tell(Resumed(self.now_s))
        if self.phase == "paused":
            self.phase = self.under
            self.fresh = False

    @precondition(lambda self: len(self.outcomes) > 1)
    @rule()
    def leave(self):
        self.tell(Left(self.now_s))
        if self.phase not in ("done", "left"):
            self.phase = "left" if self.due else "done"

    @invariant()
    def both_accounts_agree(self):
        session = self.session
        assert session.phase == self.phase
        assert [(a.outcome, pytest.approx(a.seconds)) for a in session.answers] == self.outcomes
        assert [a.number for a in session.answers] == list(range(1, len(session.answers) + 1))
        assert all((a.answer_tenths is not None) == (a.outcome == "answered") for a in session.answers)
        if session.phase == "reading":
            assert session.typed == self.text
            assert session.elapsed_s(self.now_s) == pytest.approx(self.spent_s)
        assert (session.item is None) == (session.phase == "done" or (session.over and not self.due))


AnySitting.TestCase.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)
TestAnySitting = AnySitting.TestCase
