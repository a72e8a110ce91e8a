"""Every screen walked through twice: with the keyboard alone, then with the mouse alone."""

import json

import pygame
import pytest

from player import Player, typed_answer
from trainer.desktop import settings
from trainer.desktop.look import ROW
from trainer.desktop.screens.display import DisplaySetup
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.help import Help
from trainer.desktop.screens.home import Home
from trainer.desktop.screens.people import People
from trainer.desktop.screens.people_dialogs import NameDialog
from trainer.desktop.screens.plan_form import PlanForm
from trainer.desktop.screens.plans import Plans
from trainer.desktop.screens.preferences import Preferences
from trainer.desktop.screens.progress import Progress
from trainer.desktop.screens.result import Result
from trainer.desktop.screens.rooms import ROOMS
from trainer.desktop.screens.signoff import Signoff
from trainer.desktop.screens.team import TeamView
from trainer.desktop.screens.who import Who
from trainer.desktop.settings import Settings
from trainer.desktop.store import MemoryStore
from trainer.desktop.words import say

KINDS = {
    "home": Home,
    "people": People,
    "plans": Plans,
    "progress": Progress,
    "team": TeamView,
    "signoff": Signoff,
    "display": DisplaySetup,
    "settings": Preferences,
    "help": Help,
}


def test_the_main_job_by_keyboard_alone():
    player = Player()
    player.type("Ada Example")
    player.press("enter")
    assert player.app.desk.person.name == "Ada Example"
    assert player.focus == "start"
    player.press("enter")
    assert isinstance(player.screen, Drill)
    player.answer_all([0.4, -0.6, 0.2])
    assert isinstance(player.screen, Result)
    score = player.screen.result.score
    assert score.readings == 20
    saved = player.store.kept_sessions[0].answers
    assert [a.number for a in saved] == list(range(1, 21))
    assert player.store.kept_sessions[0].ended_how == "finished"
    player.press("escape")
    assert isinstance(player.screen, Home)
    assert "How it stands" in player.texts


def test_the_main_job_by_mouse_alone():
    player = Player(MemoryStore(["Ada Example", "Bea Sample"]))
    player.click("choose")
    assert isinstance(player.screen, Who)
    box = player.placed("people").rect
    player.click_at(box.x + 60, box.y + 75)  # the second row
    player.click("take")
    assert player.app.desk.person.name == "Bea Sample"
    player.click("start")
    player.click("begin")
    player.click("keypad")
    for _ in range(20):
        drill = player.screen
        answer = typed_answer(drill.session, drill.session.item, 0.0)
        player.clock.now_s += 2
        for key in ["10"] if answer == "10" else answer:
            player.click(f"digit:{key}")
        player.click("enter")
        assert player.screen.session.phase == "feedback"
        player.click("next")
    assert isinstance(player.screen, Result)
    # a reader who rounds the truth has the spread of rounding, 0.29 tenth (uniform, JCGM 100:2008, 4.3.7)
    assert player.screen.result.score.spread_tenths.value == pytest.approx(0.29, abs=0.1)
    player.click("home")
    assert isinstance(player.screen, Home)


@pytest.mark.parametrize("name", list(ROOMS))
def test_every_room_is_reached_by_key_and_by_mouse(name):
    player = Player(MemoryStore(["Ada Example"]))
    player.tab_to(f"rail:{name}")
    player.press("enter")
    assert type(player.screen) is KINDS[name]
    player.click("rail:home")
    assert isinstance(player.screen, Home)
    player.click(f"rail:{name}")
    assert type(player.screen) is KINDS[name]
    player.press(str(list(ROOMS).index(name) + 1), ctrl=True)
    assert type(player.screen) is KINDS[name]


def test_the_rail_is_walked_with_the_arrow_keys():
    player = Player(MemoryStore(["Ada Example"]))
    player.tab_to("rail:home")
    player.press("down", "down")
    assert player.focus == "rail:plans"


def test_people_are_added_renamed_and_put_away_by_keyboard():
    player = Player(MemoryStore(["Ada Example"]))
    player.press("2", ctrl=True)
    player.tab_to("add")
    player.press("enter")
    assert isinstance(player.screen, NameDialog)
    player.press("enter")
    assert player.placed("name").node.reason == "Type a name."
    player.type("Ada Example")
    player.press("enter")
    assert "already" in player.placed("name").node.reason
    player.press("a", ctrl=True)
    player.type("Bea Sample")
    player.press("enter")
    assert [p.name for p in player.store.people()] == ["Ada Example", "Bea Sample"]
    player.tab_to("rename")
    player.press("enter")
    player.type("Ada Renamed")
    player.press("enter")
    assert [p.name for p in player.store.people()] == ["Ada Renamed", "Bea Sample"]
    player.tab_to("archive")
    player.press("enter", "tab", "tab")
    assert player.focus == "cancel"
    player.press("tab", "enter")
    assert [p.name for p in player.store.people()] == ["Bea Sample"]


def test_a_list_scrolled_to_its_end_shows_what_is_found_and_the_arrows_move_at_once():
    player = Player(MemoryStore([f"Person {i:04d}" for i in range(300)]))
    player.press("2", ctrl=True)
    player.press("end")
    player.tab_to("find")
    player.type("000")  # ten names
    table = player.placed("people")
    assert len(table.node.lines) == 10
    row_px = player.fitter.measure(player.app.desk).px(ROW)
    first = pygame.Rect(table.rect.x + 20, table.rect.y + row_px + 4, 200, row_px - 8)
    row = player.picture().subsurface(first)
    assert len(set(pygame.image.tobytes(row, "RGB"))) > 10  # a name stands there
    player.tab_to("people")
    player.press("up")
    player.press("enter")
    assert player.app.desk.person.name == "Person 0008"
    player.press("2", ctrl=True)
    player.press("end")
    player.tab_to("find")
    player.type("000")
    x, y = player.placed("people").rect.topleft
    player.click_at(x + 40, y + row_px + row_px // 2, clicks=2)
    assert player.app.desk.person.name == "Person 0000"


def test_who_read_last_is_known_at_the_next_start_by_the_new_name():
    player = Player(MemoryStore(["Ada Example", "Bea Sample"]), settings=Settings(last_person="Ada Example"))
    assert player.app.desk.person.name == "Ada Example"
    player.press("2", ctrl=True)
    player.tab_to("rename")
    player.press("enter")
    player.type("Ada Renamed")
    player.press("enter")
    again = Player(player.store, settings=player.app.desk.settings)
    assert again.app.desk.person.name == "Ada Renamed"


def test_people_are_added_renamed_and_put_away_by_mouse():
    player = Player(MemoryStore(["Ada Example"]))
    player.click("rail:people")
    player.click("rename")
    player.click("cancel")
    player.click("archive")
    player.click("ok")
    assert player.store.people() == []
    assert player.app.toast == "Ada Example has been put away."


def test_a_list_of_names_comes_in_from_a_file(tmp_path):
    path = tmp_path / "names.txt"
    path.write_text("Ada Example\nBea, Sample\n\nאבא דוגמה\n", encoding="utf-8")
    player = Player(MemoryStore(["Ada Example"]))
    player.click("rail:people")
    player.click("import")
    player.type(str(path))
    player.press("enter")
    assert [p.name for p in player.store.people()] == ["Ada Example", "Bea, Sample", "אבא דוגמה"]
    assert player.app.toast.startswith("2 added; 1 not: Ada Example is already on the list")


def test_a_list_that_is_not_there_is_a_sentence_and_nothing_is_lost(tmp_path):
    player = Player(MemoryStore())
    player.click("rail:people")
    player.click("import")
    player.type(str(tmp_path / "none.txt"))
    player.press("enter")
    assert "No such file" in player.placed("path").node.reason


def test_a_csv_with_a_quote_that_never_ends_is_a_sentence(tmp_path):
    path = tmp_path / "names.csv"
    path.write_text('Ada Example\n"' + "a" * 200_000, encoding="utf-8")
    player = Player(MemoryStore())
    player.click("rail:people")
    player.click("import")
    player.type(str(path))
    player.press("enter")
    assert "quotes in pairs" in player.placed("path").node.reason


@pytest.mark.parametrize(("typed", "says"), [("", "Type the path"), (".", "is a folder; type the path")])
def test_a_list_without_a_path_or_a_folder_is_a_sentence(typed, says):
    player = Player(MemoryStore())
    player.click("rail:people")
    player.click("import")
    player.type(typed)
    player.press("enter")
    assert says in player.placed("path").node.reason


@pytest.mark.parametrize(
    "place",
    [[0, 0, 0, 0], [0, 0, -5, 10], [0, 0, 10**12, 5], [10**12, 0, 800, 600], [True, 0, 800, 600], []],
)
def test_a_window_place_that_cannot_be_is_forgotten(tmp_path, place):
    path = tmp_path / "window.json"
    path.write_text(json.dumps({"window": place, "ground": "dark"}), encoding="utf-8")
    kept = settings.load(path)
    assert kept.window is None
    assert kept.ground == "dark"


def test_a_bar_of_the_set_up_stays_on_its_sheet_and_one_longer_than_the_window_is_told():
    player = Player(MemoryStore())
    player.press("7", ctrl=True)
    player.tab_to("by")
    player.press("right")
    for length in ("100", "200", "300"):
        player.tab_to("length")
        player.press("a", ctrl=True)
        player.type(length)
        ruler = player.placed("ruler")
        fits = ruler.rect.x + 12 + ruler.node.width_px <= ruler.rect.right
        assert fits == (length != "300")
        assert player.placed("save").node.enabled == fits
        assert any("longer than this window" in text for text in player.texts) != fits
    before = player.app.desk.settings
    player.press("enter")
    assert player.app.desk.settings is before


def test_a_plan_is_copied_changed_kept_and_run():
    player = Player(MemoryStore(["Ada Example"]))
    player.press("3", ctrl=True)
    player.press("down", "down", "down")
    assert player.placed("plans").node.lines[3].key == player.screen.row
    player.tab_to("copy")
    player.press("enter")
    assert isinstance(player.screen, PlanForm)
    player.type("Five quick ones")
    player.tab_to("items")
    player.press("down", "down", "down")
    player.tab_to("limited")
    player.press("space")
    player.tab_to("ok")
    player.press("enter")
    own = player.app.desk.plans[-1]
    assert (own.title, own.items, own.seconds_each) == ("Five quick ones", 5, 15.0)
    player.tab_to("plans")
    player.press("end", "enter")
    assert isinstance(player.screen, Drill)
    assert len(player.screen.session.items) == 5


def test_settings_take_effect_at_once_and_are_kept(tmp_path):
    from trainer.desktop import settings
    from trainer.desktop.work import Services

    store, path = MemoryStore(["Ada Example"]), tmp_path / "deep" / "window.json"
    player = Player(store, services=Services(lambda: store, lambda: 1, path))
    player.press("8", ctrl=True)
    light = player.picture().get_at((400, 700))
    player.press("right")
    assert player.app.desk.settings.ground == "dark"
    assert player.picture().get_at((400, 700)) != light
    player.tab_to("decimal")
    player.press("right")
    player.tab_to("scale")
    player.press("right", "right")
    kept = settings.load(path)
    assert (kept.ground, kept.decimal, kept.scale) == ("dark", ",", 1.25)
    assert player.app.desk.tenths(-0.5) == "\N{MINUS SIGN}0,50"


@pytest.mark.parametrize(
    "spoilt", ["", "{", "[1]", '{"ground": 3, "scale": "x", "window": [1], "displays": {"a": 1}}']
)
def test_a_spoilt_settings_file_gives_the_defaults(tmp_path, spoilt):
    from trainer.desktop import settings

    path = tmp_path / "window.json"
    path.write_text(spoilt, encoding="utf-8")
    assert settings.load(path) == settings.Settings()


def test_help_has_its_three_pages_by_keys():
    player = Player(MemoryStore(["Ada Example"]))
    player.press("f1")
    assert isinstance(player.screen, Help)
    player.press("right")
    assert say("word.misread.means") in player.texts
    player.press("right")
    assert "Method" in player.texts
    player.press("escape")
    assert isinstance(player.screen, Home)


def test_progress_and_team_open_what_they_show():
    player = Player(MemoryStore(["Ada Example"]))
    player.press("enter")
    player.answer_all([0.3, -0.2])
    player.press("4", ctrl=True)
    player.tab_to("spread")
    player.press("enter")
    assert isinstance(player.screen, Result)
    player.press("escape")
    assert isinstance(player.screen, Progress)
    player.tab_to("sittings")
    player.press("enter")
    assert isinstance(player.screen, Result)
    player.press("5", ctrl=True)
    assert isinstance(player.screen, TeamView)
    player.tab_to("team")
    player.press("enter")
    assert isinstance(player.screen, Progress)


@pytest.mark.parametrize(("by", "share"), [("sight", 9), ("guess", 3)])
def test_the_alignment_test_is_kept_with_the_display(by, share):
    player = Player(MemoryStore(["Ada Example"]))
    player.press("7", ctrl=True)
    assert not player.placed("align").node.enabled
    player.tab_to("save")
    player.press("enter")
    player.tab_to("align")
    player.press("enter")
    for number in range(9):
        offset = player.screen.offsets[number]
        if by == "sight" and number % 2:
            player.press(str(offset + 2))
        else:
            player.click(f"say:{offset if by == 'sight' else 0}")
        player.picture()
    player.press("enter")
    assert isinstance(player.screen, DisplaySetup)
    assert player.app.desk.display.alignment == (share, 9)


def test_the_offsets_of_the_alignment_test_are_drawn_to_the_pixel():
    """The lower line's column less the upper one's, measured in the picture."""
    import pygame

    player = Player(MemoryStore(["Ada Example"]))
    player.press("7", ctrl=True)
    player.tab_to("save")
    player.press("enter")
    player.tab_to("align")
    player.press("enter")
    seen = []
    for _ in range(9):
        box = next(p.rect for p in player.layout.placed if type(p.node).__name__ == "Offset")
        image = pygame.surfarray.array3d(player.picture()).sum(axis=2)
        part = image[box.left : box.right, box.top : box.bottom]
        rows = (part[:, box.h // 4].argmin(), part[:, box.h * 3 // 4].argmin())
        seen.append(int(rows[1] - rows[0]))
        player.press("2")
    assert tuple(seen) == player.screen.offsets


def test_a_display_keeps_its_alignment_through_the_settings_file(tmp_path):
    from trainer.desktop import settings

    kept = settings.Settings(
        displays={"d": settings.Display(3.78, 600.0, "2026-03-02", (1920, 1080), (8, 9))}
    )
    settings.save(kept, tmp_path / "window.json")
    assert settings.load(tmp_path / "window.json") == kept
