"""A bench check that was left: gone on with from Home; one that was: its readings beside their reference."""

import pytest
from test_bench_screen import burst, typed, zeroed

from player import Player
from trainer.desktop import events
from trainer.desktop.screens.bench import BenchScreen
from trainer.desktop.screens.bench_past import BenchPast
from trainer.desktop.screens.home import Home
from trainer.records.archive import Archive


def pair(player, place, error):
    typed(player, f"{0.1234 + place * 0.05 + error * 0.0001:.4f}")
    burst(player, f"{0.1234 + place * 0.05:.5f}")


def left_in_the_middle():
    """Two settings compared, a third estimate locked, and the window closes."""
    player = zeroed()
    pair(player, 0, 1)
    pair(player, 1, -1)
    typed(player, "0.2234")
    assert player.screen.check.phase == "reference"
    player.send(events.CloseAsked(player.clock(), at_once=True))
    again = Player(player.store)
    assert isinstance(again.screen, Home)
    return again


def test_closing_the_window_in_a_check_asks_and_tells_of_the_locked_estimate():
    player = zeroed()
    player.send(events.CloseAsked(player.clock()))
    assert not any("given up" in text for text in player.texts)
    player.press("enter")
    typed(player, "0.1234")
    player.send(events.CloseAsked(player.clock()))
    assert any("would be given up" in text for text in player.texts)
    assert player.focus == "stay"
    player.press("enter")
    assert player.screen.check.phase == "reference"
    player.send(events.CloseAsked(player.clock()))
    player.send(events.CloseAsked(player.clock()))
    assert player.app.pages == ()
    assert player.store.kept_sessions[-1].notes[-1][0] == "window-closed"


def test_it_is_offered_on_home_and_goes_on_where_it_was_the_lost_estimate_given_up():
    player = left_in_the_middle()
    assert any(text.startswith("Bench check: 2 of 5 done") for text in player.texts)
    assert player.focus == "resume"
    player.press("enter")
    assert isinstance(player.screen, BenchScreen)
    check = player.screen.check
    assert (check.phase, len(check.pairs), len(check.zeros_tenths), check.withdrawn) == ("estimate", 2, 5, 1)
    kept = player.store.kept_sessions[-1]
    assert [note[0] for note in kept.notes].count("estimate-withdrawn") == 1
    for place, error in ((2, 0), (3, 1), (4, 0)):
        pair(player, place, error)
    assert kept.ended_how == "finished"
    assert (
        abs(player.screen.result.bias_tenths.value - 0.3) < 1e-9
    )  # as without the pause: mean 0.2 + zero 0.1


def test_going_on_twice_gives_the_same_estimate_up_once_only():
    player = left_in_the_middle()
    player.press("enter")
    player.send(events.CloseAsked(player.clock(), at_once=True))
    again = Player(player.store)
    again.press("enter")
    assert again.screen.check.withdrawn == 1


def test_it_can_be_closed_as_it_is_and_its_readings_opened_from_progress():
    player = left_in_the_middle()
    player.tab_to("end")
    player.press("enter")
    assert player.store.kept_sessions[-1].ended_how == "closed"
    player.press("4", ctrl=True)
    player.tab_to("sittings")
    player.press("enter")
    assert isinstance(player.screen, BenchPast)
    past = player.screen.past
    assert [(p.typed, p.reference_typed) for p in past.check.pairs] == [
        ("0.1235", "0.12340"), ("0.1733", "0.17340"),
    ]  # fmt: skip
    cells = player.placed("pairs").node.lines[0].cells
    assert cells[3] == "0.12339"  # the zero's mean, a tenth of a tenth, taken off
    assert cells[4] == "+1.10"
    assert any("own procedures" in text for text in player.texts)
    player.picture()
    player.press("escape")
    assert player.app.top.ui.focus == "sittings"


@pytest.mark.parametrize("pairs", [0, 3])
def test_a_real_archive_gives_back_what_the_check_needs(tmp_path, pairs):
    with Archive.open(tmp_path / "archive.sqlite") as archive:
        archive.add_person("Ada Example")
        player = Player(archive)
        player.press("3", ctrl=True)
        player.tab_to("bench")
        player.press("enter")
        player.type("0.0005")
        player.press("enter")
        for value in ("0.0000", "0.0005", "0.0000", "-0.0005", "0.0005"):
            burst(player, value)
        if pairs:
            player.press("enter")
        for place in range(pairs):
            typed(player, f"{1.234 + place:.3f}")
            burst(player, f"{1.234 + place:.4f}")
        before = player.screen.check
        player.send(events.CloseAsked(player.clock(), at_once=True))
        again = Player(archive)
        assert again.focus == "resume"
        again.press("enter")
        check = again.screen.check
        assert check.pairs == before.pairs
        assert check.zeros_tenths == before.zeros_tenths
        assert (check.phase, check.reference) == (before.phase, before.reference)
