"""The drill screen: its clock stands still when it should; answers are kept before the next item shows."""

from dataclasses import replace

import pytest

from player import Player
from tour import Stubborn
from trainer.desktop import events, work
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.home import Home
from trainer.desktop.screens.result import Result
from trainer.practice.coaching import coach
from trainer.practice.refreshers import EYE_REST_AFTER_S


def begun(plan="first-tenths-metric", store=None, **kind):
    """Return a player in front of the first item of a plan."""
    player = Player(store if store is not None else Stubborn(["Ada Example"]), **kind)
    player.press("3", ctrl=True)
    names = [p.name for p in player.app.desk.plans]
    for _ in range(names.index(plan)):
        player.press("down")
    player.press("enter", "enter")
    assert isinstance(player.screen, Drill)
    return player


def shown(player):
    """Return whether the item's picture is in sight."""
    return any(type(p.node).__name__ == "Picture" and not p.node.spec.hidden for p in player.layout.placed)


def test_the_dealt_positions_are_in_the_store_before_the_first_item_is_shown():
    player = Player(Stubborn(["Ada Example"]))
    player.press("enter")
    assert len(player.store.kept_sessions[0].items) == 20
    assert not shown(player)
    header = player.store.kept_sessions[0].header
    assert (header.seed, header.station, header.drawing_version) == (7, "bench 3", "1")
    assert header.px_per_mm == header.viewing["px_per_mm"] > 10


def test_the_time_counts_from_the_picture_to_enter_and_a_pause_is_left_out():
    player = begun()
    player.clock.now_s += 4.0
    player.send(events.Key("f3", player.clock.now_s))
    assert not shown(player)
    player.clock.now_s += 600.0
    player.send(events.Key("f3", player.clock.now_s))
    assert shown(player)
    player.clock.now_s += 2.0
    player.send(events.Typed("5", player.clock.now_s))
    player.send(events.Key("enter", player.clock.now_s))
    answer = player.store.kept_sessions[0].answers[0]
    assert answer.seconds == pytest.approx(6.0)
    assert [kind for kind, _, _ in player.store.kept_sessions[0].notes] == ["pause", "resume"]


def test_answers_carry_utc_times():
    player = begun()
    player.type("5")
    player.press("enter")
    assert player.store.kept_sessions[0].answers[0].at.startswith("2026-03-02T08:00:0")


def test_an_answer_is_shown_with_truth_and_signed_error_in_tenths_and_length():
    player = begun()
    item = player.screen.session.item
    own = round(item.position_tenths - item.extra["line_tenths"])
    player.type(str(own + 2 if own < 5 else own - 2))
    player.press("enter")
    assert player.placed("next")
    spec = next(p.node.spec for p in player.layout.placed if type(p.node).__name__ == "Picture")
    assert spec.feedback
    assert spec.position_tenths == item.position_tenths
    answer = player.store.kept_sessions[0].answers[0].answer_tenths
    assert spec.answer_tenths == answer
    error = answer - item.position_tenths
    assert 1.4 < abs(error) < 2.6
    word = "high" if error > 0 else "low"
    assert f"{abs(error):.1f} tenths ({abs(error):.1f} \N{MICRO SIGN}m) {word}" in player.texts


def test_a_check_gives_no_feedback_and_shows_the_next_item_at_once():
    player = begun("check-metric")
    first = player.screen.session.item
    player.type("7.384")
    player.press("enter")
    assert player.screen.session.phase == "reading"
    assert player.screen.session.item is not first
    assert not any(getattr(p.node, "key", "") == "next" for p in player.layout.placed)


def test_what_cannot_be_read_gets_its_sentence_and_nothing_is_recorded():
    player = begun("check-metric")
    player.type("7..3")
    player.press("enter")
    assert player.screen.session.complaint in player.texts
    assert player.store.kept_sessions[0].answers == []
    player.press("backspace", "backspace", "backspace")
    player.type(",384")
    player.press("enter")
    assert player.store.kept_sessions[0].answers[0].answer_tenths == pytest.approx(7384.0)


def test_typing_is_taken_back_before_it_is_confirmed():
    player = begun("check-metric")
    player.type("7.3")
    player.press("z", ctrl=True)
    assert player.screen.session.typed == "7."
    player.press("y", ctrl=True)
    assert player.screen.session.typed == "7.3"


def test_a_skip_is_recorded_as_skipped():
    player = begun()
    player.press("f2")
    assert player.store.kept_sessions[0].answers[0].outcome == "skipped"


def test_one_hand_on_the_numeric_pad_takes_the_whole_drill():
    player = begun()
    player.type("5")
    player.press("pad +")
    assert player.screen.session.phase == "feedback"
    player.press("pad +")
    assert player.screen.session.phase == "reading"
    player.press("pad /")
    assert player.store.kept_sessions[0].answers[1].outcome == "skipped"
    player.press("pad +", "pad *")
    assert player.screen.session.phase == "paused"


def test_a_time_limit_runs_out_by_itself():
    player = begun("quick-reading-metric")
    assert player.screen.tick_s(player.app.desk) is not None
    player.wait(11.0)
    assert player.store.kept_sessions[0].answers == []
    player.wait(1.1)
    assert player.store.kept_sessions[0].answers[0].outcome == "timed-out"


def test_without_a_time_limit_the_window_never_asks_for_the_time():
    from trainer.desktop.app import wake_s

    assert wake_s(begun().app) is None


def test_two_answers_in_one_frame_are_two_answers():
    player = begun("check-metric")
    for at_s, text in ((1005.0, "7.384"), (1005.01, "1.222")):
        player.send(events.Typed(text, at_s))
        player.send(events.Key("enter", at_s))
        player.send(events.Key("enter", at_s, repeat=True))
    assert [a.typed for a in player.store.kept_sessions[0].answers] == ["7.384", "1.222"]


def test_a_refused_answer_is_held_the_next_item_waits_and_trying_again_keeps_it():
    player = begun("check-metric")
    player.store.refuses = True
    player.type("7.384")
    player.press("enter")
    assert not shown(player)
    assert any("The disk is full" in text for text in player.texts)
    player.press("enter")
    assert any("The disk is full" in text for text in player.texts)
    assert player.store.kept_sessions[0].answers == []
    player.clock.now_s += 120.0
    player.store.refuses = False
    player.press("enter")
    assert [a.typed for a in player.store.kept_sessions[0].answers] == ["7.384"]
    assert shown(player)
    assert player.focus == "answer"
    player.clock.now_s += 3.0
    player.type("1.222")
    player.press("enter")
    assert player.store.kept_sessions[0].answers[1].seconds == pytest.approx(3.06, abs=0.1)


def test_the_last_answer_is_kept_before_the_result_is_shown():
    player = begun("check-metric")
    player.answer_all(until=19)
    player.store.refuses = True
    player.type("7.384")
    player.press("enter")
    assert isinstance(player.screen, Drill)
    player.store.refuses = False
    player.press("enter")
    assert isinstance(player.screen, Result)
    assert len(player.store.kept_sessions[0].answers) == 20


def test_leaving_asks_hides_the_item_and_keeps_what_was_answered():
    player = begun()
    player.answer_all(until=3)
    player.press("escape")
    assert not shown(player)
    player.press("escape")  # stay
    assert player.screen.session.phase == "paused"
    player.press("enter", "escape")
    player.press("enter")  # go on later
    assert not isinstance(player.screen, Drill)
    kept = player.store.kept_sessions[0]
    assert (len(kept.answers), kept.ended_how) == (3, None)
    player.press("1", ctrl=True)
    assert isinstance(player.screen, Home)
    assert player.focus == "resume"
    player.press("enter", "enter")
    assert player.screen.session.item.number == 4
    player.answer_all()
    assert isinstance(player.screen, Result)
    assert [a.number for a in kept.answers] == list(range(1, 21))
    assert kept.ended_how == "finished"


def test_an_unfinished_sitting_can_be_closed_from_home():
    player = begun()
    player.answer_all(until=3)
    player.press("escape", "enter")
    player.press("1", ctrl=True)
    player.tab_to("end")
    player.press("enter")
    assert player.store.kept_sessions[0].ended_how == "closed"
    assert player.layout.find("resume") is None


def test_leaving_for_good_shows_the_result_of_what_there_is():
    player = begun()
    player.answer_all(until=2)
    player.press("escape")
    player.click("close-now")
    assert isinstance(player.screen, Result)
    assert player.store.kept_sessions[0].ended_how == "left"
    spread = player.screen.result.score.spread_tenths
    assert spread.low is None
    assert any("no interval" in text for text in player.texts)


def test_a_sitting_left_before_any_answer_scores_nothing_and_says_so():
    player = begun()
    player.press("escape")
    player.click("close-now")
    assert "Nothing was answered, so there is nothing to score." in player.texts


def test_a_window_closed_in_mid_drill_leaves_the_sitting_to_be_gone_on_with():
    player = begun()
    player.answer_all(until=5)
    player.send(events.CloseAsked(player.clock.now_s, at_once=True))  # the system ends the program
    assert player.app.pages == ()
    kept = player.store.kept_sessions[0]
    assert (len(kept.answers), kept.ended_how) == (5, None)
    assert kept.notes[-1][0] == "window-closed"
    assert player.store.unfinished("Ada Example") == [kept]


@pytest.mark.parametrize("by_key", [False, True])
@pytest.mark.parametrize("insists", [False, True])
def test_closing_the_window_in_mid_drill_asks_hides_the_item_and_keeps(by_key, insists):
    def close():
        if by_key:
            player.press("q", ctrl=True)
        else:
            player.send(events.CloseAsked(player.clock.now_s))

    player = begun()
    player.answer_all(until=5)
    close()
    assert player.screen.session.phase == "paused"
    assert player.placed("later").node.text == "Close the window"
    assert any("Answers kept: 5 of 20" in text for text in player.texts)
    if insists:
        close()
    else:
        assert player.focus == "later"
        player.press("enter")
    assert player.app.pages == ()
    kept = player.store.kept_sessions[0]
    assert (len(kept.answers), kept.ended_how) == (5, None)
    assert [note[0] for note in kept.notes] == ["pause", "window-closed"]


@pytest.mark.parametrize("closes", [False, True])
def test_leaving_with_an_answer_that_is_not_on_disk_says_so_and_counts_what_is(closes):
    player = begun()
    player.answer_all(until=1)
    if player.screen.session.phase == "feedback":
        player.press("enter")
    player.store.refuses = True
    player.type("5")
    player.press("enter")
    if closes:
        player.send(events.CloseAsked(player.clock.now_s))
    else:
        player.press("escape")
    assert any("Answers kept: 1 of 20" in text for text in player.texts)
    assert any(text.startswith("1 answer is not on disk yet.") for text in player.texts)
    player.store.refuses = False
    player.press("enter")
    assert len(player.store.kept_sessions[0].answers) == 2  # tried once more


def test_one_may_stay_after_asking_to_close_and_leaving_is_as_before():
    player = begun()
    player.answer_all(until=2)
    player.send(events.CloseAsked(player.clock.now_s))
    player.press("escape")
    assert player.screen.session.phase == "paused"
    player.press("enter")
    assert player.screen.session.phase == "reading"
    player.press("escape")
    assert player.placed("later").node.text == "Go on later"


def test_a_sitting_not_begun_closes_with_the_window_unasked():
    player = Player(Stubborn(["Ada Example"]))
    player.press("enter")
    assert player.screen.session.phase == "ready"
    player.send(events.CloseAsked(player.clock.now_s))
    assert player.app.pages == ()


def test_a_minimised_window_hides_the_item_and_stops_its_clock():
    player = begun()
    player.wait(2.0)
    player.send(events.Minimised(player.clock.now_s))
    assert player.screen.session.phase == "paused"
    player.wait(600.0)
    player.press("enter")
    player.wait(1.0)
    player.type("5")
    player.press("enter")
    kept = player.store.kept_sessions[0]
    assert kept.answers[0].seconds == pytest.approx(3.0, abs=0.2)
    assert [note[0] for note in kept.notes] == ["pause", "resume"]


def test_a_pause_asked_for_where_nothing_runs_is_not_noted():
    player = begun()
    player.press("f3")
    player.press("f3")
    player.answer_all(until=19)
    before = [note[0] for note in player.store.kept_sessions[0].notes]
    player.answer_all()
    assert before == [note[0] for note in player.store.kept_sessions[0].notes] == ["pause", "resume"]
    player = begun()
    player.send(events.Minimised(player.clock.now_s))
    player.send(events.Minimised(player.clock.now_s))
    assert [note[0] for note in player.store.kept_sessions[0].notes] == ["pause"]


def test_a_lost_focus_is_noted():
    player = begun()
    player.send(events.FocusLost(player.clock.now_s))
    assert player.store.kept_sessions[0].notes[-1][0] == "focus-lost"


def test_resizing_in_mid_item_repaints_the_same_item_at_the_new_size():
    player = begun()
    before = player.screen.session
    player.resize(1024, 640)
    assert player.screen.session is before
    picture = next(p for p in player.layout.placed if type(p.node).__name__ == "Picture")
    assert picture.rect.w == 1024
    assert player.picture().get_size() == (1024, 640)


def test_no_key_leads_out_of_a_drill_but_its_own():
    player = begun()
    player.press("f1")
    player.press("2", ctrl=True)
    assert isinstance(player.screen, Drill)


def test_a_paste_of_a_megabyte_and_stray_letters_do_no_harm():
    player = begun("check-metric")
    player.clip.text = "7.384 §$%&" + "z" * 1_000_000
    player.press("v", ctrl=True)
    assert player.screen.session.typed.strip() == "7.384"
    assert player.app.toast == "Only the first 40 characters of what was pasted went in."


def test_pasting_nothing_says_so_and_a_paste_that_fits_says_nothing():
    player = begun("check-metric")
    player.press("v", ctrl=True)
    assert player.app.toast == "There is no text on the clipboard that can be pasted here."
    player = begun("check-metric")
    player.clip.text = "7.384\n"
    player.press("v", ctrl=True)
    assert player.app.toast == ""


def test_an_archive_that_cannot_begin_a_sitting_says_so_and_lets_one_try_again():
    class Shut(Stubborn):
        shut = True

        def begin_session(self, *given):
            if self.shut:
                raise OSError(30, "Read-only file system", "archive.sqlite")
            return super().begin_session(*given)

    player = Player(Shut(["Ada Example"]))
    player.press("enter")
    assert any("Read-only file system" in text for text in player.texts)
    player.store.shut = False
    player.press("enter")
    assert isinstance(player.screen, Drill)


def test_the_header_carries_the_display_as_it_was_set_up():
    player = Player(Stubborn(["Ada Example"]))
    player.press("7", ctrl=True)
    player.press("right", "right")
    player.tab_to("distance")
    player.type("600")
    player.press("enter")
    kept = player.app.desk.settings.displays["display"]
    assert kept.distance_mm == 600
    assert kept.px_per_mm == pytest.approx(96 / 25.4 + 2 / 85.60, abs=1e-4)
    player.press("1", ctrl=True)
    player.press("enter")
    assert player.store.kept_sessions[0].header.viewing["distance_mm"] == 600


def test_sounds_are_off_unless_asked_for():
    player = begun()
    player.type("5")
    player.press("enter")
    assert not any(isinstance(effect, work.Sound) for effect in player.asked)
    player.press("enter")
    settings = replace(player.app.desk.settings, sounds=True)
    player.app = replace(player.app, desk=replace(player.app.desk, settings=settings))
    player.type("5")
    player.press("enter")
    assert any(isinstance(effect, work.Sound) for effect in player.asked)


def test_long_drills_remind_of_resting_the_eyes_as_often_as_the_refreshers_say():
    player = begun("check-metric")
    said = []
    for _ in range(6):
        player.clock.now_s += EYE_REST_AFTER_S / 3
        player.answer_all(until=len(player.screen.session.answers) + 1)
        said.append(player.app.toast)
        player.wait(6.0)
    assert [bool(text) for text in said] == [False, False, True, False, False, True]
    assert said[2].startswith("You have read scales for 20 minutes: look into the distance")


def test_the_result_coaches_from_the_numbers_and_leads_to_the_drill_that_helps():
    player = begun("full-reading-metric")
    player.answer_all((1.0, 2.0))
    told, score = player.screen.result.coaching, player.screen.result.score
    assert told == coach(score, "full-reading-metric")
    assert told.sentences[0].startswith("You read 1.5 tenths high")
    assert told.next_plan == "weak-tenths-metric"
    assert told.sentences[0] in player.texts
    player.set(decimal=",")
    assert any(text.startswith("You read 1,5 tenths high") for text in player.texts)
    player.click("onward")
    assert player.screen.session.plan.name == "weak-tenths-metric"


def test_the_window_opens_at_the_drill_it_was_asked_for():
    from trainer.desktop.app import begin
    from trainer.practice import plans

    player = Player(Stubborn(["Ada Example", "Bea Sample"]))
    settings = replace(player.app.desk.settings, last_person="Bea Sample")
    desk = replace(player.app.desk, settings=settings, person=None, people=None)
    player.app, effects = begin(desk, Home(start=plans.find("check-inch")), player.fitter)
    player.perform(effects)
    assert isinstance(player.screen, Drill)
    assert player.screen.session.plan.name == "check-inch"
    assert player.app.desk.person.name == "Bea Sample"
