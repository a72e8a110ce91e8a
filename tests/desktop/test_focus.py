"""The focus manager, through screens made for it: Tab walks everything, keys act, repeats do not."""

from dataclasses import dataclass, field, replace
from typing import Any

import pytest

from player import Player
from trainer.desktop import nodes as n
from trainer.desktop.app import opened
from trainer.desktop.messages import Edited, Message, Opened, Pressed
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.parts import ROOMS, framed

LINES = tuple(n.Line(f"r{i}", (f"row {i}", str(i)), (f"row {i:05}", i)) for i in range(5000))


@dataclass(frozen=True)
class Sampler(Plain):
    """One of each widget, and a list of what they told."""

    text: str = "12,5"
    choice: str = "b"
    on: bool = False
    number: float = 5.0
    told: tuple[Message, ...] = ()
    disabled: bool = field(default=False)

    def view(self, desk: Any) -> Any:
        body = n.Stack(
            (
                n.Field("field", "Length", self.text, "mm", reason="too long" if len(self.text) > 6 else ""),
                n.Choice("choice", "Which", (("a", "A"), ("b", "B"), ("c", "C")), self.choice),
                n.Toggle("toggle", "On", self.on),
                n.Stepper("stepper", "Number", self.number, 0.5, 0.0, 8.0, 1),
                n.Button("off", "Not now", enabled=False),
                n.Button("go", "Go", "main"),
                n.Table("table", (n.Column("Name"), n.Column("Number", 1, "right")), LINES),
            )
        )
        return framed("home", body)

    def react(self, message: Message, desk: Any) -> Outcome:
        changed = replace(self, told=(*self.told, message))
        if isinstance(message, Edited):
            name = {"field": "text", "choice": "choice", "toggle": "on", "stepper": "number"}[message.key]
            changed = replace(changed, **{name: message.value})
        return Outcome(screen=changed)


@pytest.fixture
def player():
    found = Player()
    page = opened(Sampler(), found.app.desk, found.fitter)
    found.app = replace(found.app, pages=(page,))
    return found


def told(player, kind):
    return [m for m in player.screen.told if isinstance(m, kind)]


def test_tab_walks_everything_that_can_be_worked_and_nothing_else(player):
    start, seen = player.focus, []
    for _ in range(40):
        seen.append(player.focus)
        player.press("tab")
        if player.focus == start:
            break
    rail = [f"rail:{room}" for room in ROOMS]
    assert seen == ["field", "choice", "toggle", "stepper", "go", "table", *rail]


def test_shift_tab_walks_back(player):
    player.press("tab", "tab")
    player.press("tab", shift=True)
    assert player.focus == "choice"


def test_typing_in_a_field_that_tab_reached_replaces_its_text(player):
    player.type("7.4")
    assert player.screen.text == "7.4"


def test_the_reason_shows_while_typing(player):
    player.type("1234567")
    assert player.placed("field").node.reason == "too long"


def test_cut_copy_and_paste_go_through_the_clipboard_handed_in(player):
    player.press("a", ctrl=True)
    player.press("x", ctrl=True)
    assert (player.clip.text, player.screen.text) == ("12,5", "")
    player.press("v", ctrl=True)
    player.press("v", ctrl=True)
    assert player.screen.text == "12,512,5"
    player.press("z", ctrl=True)
    assert player.screen.text == "12,5"


def test_a_click_puts_the_caret_between_the_nearest_characters(player):
    placed = player.placed("field")
    player.click_at(placed.rect.x + 12, placed.rect.centery)
    player.type("3")
    assert player.screen.text == "312,5"


def test_a_drag_selects(player):
    from trainer.desktop import events

    placed = player.placed("field")
    y = placed.rect.centery
    player.send(events.PointerDown(placed.rect.x + 11, y, 1001.0))
    player.send(events.PointerMoved(placed.rect.x + 300, y, 1001.1, held=True))
    player.send(events.PointerUp(placed.rect.x + 300, y, 1001.2))
    player.type("9")
    assert player.screen.text == "9"


def test_arrows_choose_and_step_and_space_switches(player):
    player.tab_to("choice")
    player.press("right", "right")
    assert player.screen.choice == "c"
    player.tab_to("toggle")
    player.press("space")
    assert player.screen.on is True
    player.tab_to("stepper")
    player.press("up")
    assert player.screen.number == 5.5
    player.press("pageup")
    assert player.screen.number == 8.0


def test_enter_and_space_press_a_button_but_a_held_key_presses_once(player):
    player.tab_to("go")
    player.press("enter")
    player.press("space")
    for _ in range(1800):  # a minute at thirty repeats a second
        player.press("enter", repeat=True)
    assert [m.key for m in told(player, Pressed)] == ["go", "go"]


def test_a_button_is_pressed_only_where_the_mouse_went_down_and_up(player):
    from trainer.desktop import events

    go, off = player.placed("go").rect.center, player.placed("off").rect.center
    player.send(events.PointerDown(*go, 1001.0))
    player.send(events.PointerUp(*off, 1001.1))
    assert told(player, Pressed) == []
    player.click("off")
    assert told(player, Pressed) == []
    player.click("go")
    assert [m.key for m in told(player, Pressed)] == ["go"]


def test_a_table_of_thousands_is_walked_sorted_and_opened_by_keys(player):
    player.tab_to("table")
    player.press("end")
    player.press("enter")
    assert told(player, Opened)[-1].row == "r4999"
    player.press("right")  # sort by the first column, then by the second
    player.press("right")
    player.press("home", "enter")
    assert told(player, Opened)[-1].row == "r0"
    player.press("pagedown", "enter")
    rows = (player.placed("table").rect.h - 30) // 30
    assert told(player, Opened)[-1].row == f"r{rows}"


def test_a_table_is_sorted_by_a_click_on_its_heading_and_turned_round_by_the_next(player):
    box = player.placed("table").rect
    player.click_at(box.right - 40, box.y + 10)
    player.click_at(box.right - 40, box.y + 10)
    player.click_at(box.x + 40, box.y + 45, clicks=2)
    assert told(player, Opened)[-1].row == "r4999"


def test_the_wheel_scrolls_a_table_without_moving_its_cursor(player):
    from trainer.desktop import events

    x, y = player.placed("table").rect.center
    player.send(events.Wheel(x, y, -3.0))
    assert player.app.top.ui.memory["table"].top == 9
    assert player.app.top.ui.memory["table"].cursor == 0


def test_what_has_the_focus_is_scrolled_into_sight():
    player = Player(size=(640, 480))
    player.app = replace(player.app, pages=(opened(Sampler(), player.app.desk, player.fitter),))
    for key in ("table", "field", "stepper", "go"):
        player.tab_to(key)
        placed = player.placed(key)
        assert placed.clip.contains(placed.rect) or placed.rect.top <= placed.clip.centery, key
        assert placed.rect.bottom > placed.clip.top, key
