"""The bench check in the window: by keyboard, blind and in order, and deaf to a display's own typing."""

from player import Player
from tour import Stubborn
from trainer.desktop import events
from trainer.desktop.screens.bench import BenchScreen, BenchSetup
from trainer.desktop.screens.plans import Plans


def at_bench(readings_down=0):
    """Return a player in front of the first zero observation of an inch instrument with a display."""
    player = Player(Stubborn(["Ada Example"]))
    player.press("3", ctrl=True)
    names = [p.name for p in player.app.desk.plans]
    for _ in range(names.index("full-reading-inch")):
        player.press("down")
    assert isinstance(player.screen, Plans)
    player.tab_to("bench")
    player.press("enter")
    assert isinstance(player.screen, BenchSetup)
    player.type("0,00005")
    player.tab_to("readings")
    player.press(*["down"] * 3)
    player.tab_to("begin")
    player.press("enter")
    assert isinstance(player.screen, BenchScreen)
    assert player.screen.check.wanted == 5
    return player


def typed(player, text):
    """Type as fingers do: a tenth of a second for a key."""
    for character in text:
        player.clock.now_s += 0.1
        player.send(events.Typed(character, player.clock.now_s))
    player.clock.now_s += 0.1
    player.send(events.Key("enter", player.clock.now_s))


def burst(player, text):
    """Type as a display does: a millisecond for a key, Enter at the end."""
    for character in text:
        player.clock.now_s += 0.001
        player.send(events.Typed(character, player.clock.now_s))
    player.clock.now_s += 0.001
    player.send(events.Key("enter", player.clock.now_s))


def zeroed():
    player = at_bench()
    for value in ("0.00000", "0.00005", "0.00000", "-0.00005", "0.00005"):
        burst(player, value)
    player.press("enter")
    assert player.screen.check.phase == "estimate"
    return player


def test_fewer_than_five_observations_of_the_zero_are_refused():
    player = at_bench()
    burst(player, "0.00000")
    player.press("enter")
    assert player.screen.check.phase == "zero"
    assert "1 of at least 5" in player.placed("entry").node.reason


def test_what_a_display_types_never_becomes_an_estimate():
    player = zeroed()
    burst(player, "0.1234")
    assert player.screen.check.phase == "estimate"
    assert player.placed("entry").node.value == ""
    assert "came from the display" in player.placed("entry").node.reason
    for character in "0.":  # begun by hand, then the button is pressed
        player.clock.now_s += 0.5
        player.send(events.Typed(character, player.clock.now_s))
    burst(player, "1234")
    assert player.screen.check.phase == "estimate"
    assert player.screen.check.estimate is None
    typed(player, "0.1234")
    assert player.screen.check.phase == "reference"


def test_a_whole_check_by_keyboard_is_kept_in_order_and_scored_with_its_cautions():
    player = zeroed()
    for place, error in enumerate((1, -1, 0, 1, 0)):
        typed(player, f"{0.1234 + place * 0.0500 + error * 0.0001:.4f}")
        burst(player, f"{0.1234 + place * 0.0500:.5f}")
    assert player.screen.check.phase == "done"
    kept = player.store.kept_sessions[-1]
    assert (kept.ended_how, len(kept.items), len(kept.answers), kept.header.drill) == (
        "finished", 5, 5, "bench-check",
    )  # fmt: skip
    kinds = [kind for kind, _, _ in kept.notes]
    assert kinds == ["zero-observed"] * 5 + ["estimate-locked"] * 5
    result = player.screen.result
    # mean error 0.2 tenths, and the mean of the five zeros, 0.1 tenths, is taken off the reference
    assert abs(result.bias_tenths.value - 0.3) < 1e-9
    assert any("own procedures" in text for text in player.texts)
    assert {f"{text[0].upper()}{text[1:]}." for text in result.cautions} <= set(player.texts)
    player.press("enter")
    assert isinstance(player.screen, Plans)


def test_a_moved_thimble_gives_the_locked_estimate_up_and_that_is_kept():
    player = zeroed()
    typed(player, "0.1234")
    player.tab_to("moved")
    player.press("enter")
    assert player.screen.check.phase == "estimate"
    assert player.store.kept_sessions[-1].notes[-1][0] == "estimate-withdrawn"


def test_an_ended_check_does_not_come_back_as_an_unfinished_sitting_and_a_bad_step_is_told():
    player = zeroed()
    player.tab_to("end")
    player.press("enter")
    assert player.store.kept_sessions[-1].ended_how == "left"
    other = Player(Stubborn(["Ada Example"]))
    other.press("3", ctrl=True)
    other.tab_to("bench")
    other.press("enter")
    other.type("x")
    other.press("enter")
    assert isinstance(other.screen, BenchSetup)
    assert other.placed("step").node.reason


def test_a_check_under_way_is_left_by_its_own_button_only():
    player = zeroed()
    player.press("escape")
    player.click("rail:home")
    player.press("1", ctrl=True)
    assert isinstance(player.screen, BenchScreen)
    assert player.store.kept_sessions[-1].ended_how is None
    assert player.app.toast.startswith("The bench check goes on")
