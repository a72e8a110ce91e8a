"""The loop: a whole drill as one script, the crash screen, the real queue, the thread that keeps answers."""

import threading
import time
from dataclasses import replace

import pygame
import pytest

from player import GALLERY, Player, typed_answer
from tour import Stubborn
from trainer.desktop import events, window, work
from trainer.desktop.app import Fitter, begin, wake_s
from trainer.desktop.clock import HandClock
from trainer.desktop.desk import Desk
from trainer.desktop.inputs import Translator
from trainer.desktop.loop import run
from trainer.desktop.performer import AtOnce, Broken, InThread, answer
from trainer.desktop.program import details
from trainer.desktop.screens.crash import Crash
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.result import Result
from trainer.desktop.screens.rooms import ROOMS
from trainer.desktop.store import KeptPerson, MemoryStore, NotKept
from trainer.practice import plans


def keys(text, at_s=10.0):
    """Return the events of typing a text; "\\r" is Enter."""
    return [events.Key("enter", at_s) if c == "\r" else events.Typed(c, at_s) for c in text]


def played(
    feed, store, clock=None, rooms=ROOMS, crashed=lambda fault: Crash.of(fault, None), drawn=None, save=None
):
    """Run the loop on a feed of event lists until it closes the window; return the pages shown."""
    clock = clock or HandClock(10.0)
    fitter, shown = Fitter(), [] if drawn is None else drawn
    services = work.Services(lambda: store, lambda: 5)
    app, effects = begin(
        Desk(plans=tuple(plans.shipped()), now_s=10.0, began_s=10.0), rooms["home"](), fitter
    )
    waits = []

    def poll(wait_s):
        waits.append(wait_s)
        found = next(feed, None)
        return (
            [events.CloseAsked(clock())] if found is None else found(shown[-1]) if callable(found) else found
        )

    run(
        app,
        effects,
        poll=poll,
        show=shown.append,
        save=save or AtOnce(services),
        clock=clock,
        fitter=fitter,
        rooms=rooms,
        crashed=crashed,
    )
    return shown, waits


def test_a_whole_drill_is_one_script():
    clock, store = HandClock(10.0), MemoryStore()

    def answered(app):
        clock.now_s += 2.5
        session = app.top.screen.session
        return [*keys(typed_answer(session, session.item, 0.0), clock()), *keys("\r", clock())]

    def onward(app):
        clock.now_s += 1.0
        return keys("\r", clock())

    feed = iter([keys("Ada Example\r"), keys("\r"), keys("\r"), *[answered, onward] * 20, []])
    shown, _ = played(feed, store, clock)
    assert isinstance(shown[-1].top.screen, Result)
    taken = [a.seconds for a in store.kept_sessions[0].answers]
    assert taken == pytest.approx([2.5] * 20)


def test_idle_waits_for_ever_and_draws_nothing():
    counted = []

    def nothing(app):
        counted.append(len(drawn))
        return []

    drawn, waits = [], []
    feed = iter([nothing, nothing, nothing])
    shown, waits = played(feed, MemoryStore(["Ada Example"]), drawn=drawn)
    assert waits == [None] * 4
    assert counted[0] == counted[1] == counted[2] == len(shown)


def test_a_fault_opens_the_crash_screen_and_home_is_one_key_away(tmp_path):
    def broken():
        raise ZeroDivisionError("division by zero")

    told = []

    def crashed(fault):
        told.append(details(fault, tmp_path / "faults"))
        return Crash.of(fault, told[-1])

    feed = iter([[events.Key("2", 11.0, ctrl=True)], [events.Tick(11.1)], keys("\r", 12.0), []])
    shown, _ = played(feed, MemoryStore(["Ada Example"]), rooms={**ROOMS, "people": broken}, crashed=crashed)
    assert any(isinstance(app.top.screen, Crash) for app in shown)
    assert type(shown[-1].top.screen).__name__ == "Home"
    assert "division by zero" in told[0].read_text(encoding="utf-8")


def test_an_answer_given_just_before_a_fault_of_the_drawing_is_kept():
    store = MemoryStore()

    class Shown(list):
        """Falls over when the first answer is to be drawn, once."""

        fallen = False

        def append(self, app):
            session = getattr(app.top.screen, "session", None)
            if session is not None and session.answers and not self.fallen:
                self.fallen = True
                raise ZeroDivisionError("division by zero")
            super().append(app)

    def answered(app):
        session = app.top.screen.session
        return [*keys(typed_answer(session, session.item, 0.0), 12.5), *keys("\r", 12.5)]

    shown = Shown()
    played(iter([keys("Ada Example\r"), keys("\r"), keys("\r"), answered, []]), store, drawn=shown)
    assert any(isinstance(app.top.screen, Crash) for app in shown)
    assert len(store.kept_sessions[0].answers) == 1


def test_a_fault_on_the_crash_screen_is_raised_instead_of_looping():
    def broken():
        raise ZeroDivisionError("division by zero")

    feed = iter([[events.Key("2", 11.0, ctrl=True)], keys("\r", 12.0), []])
    with pytest.raises(ZeroDivisionError):
        played(feed, MemoryStore(["Ada Example"]), rooms={**ROOMS, "people": broken, "home": Once()})


def test_work_that_falls_over_behind_the_crash_screen_does_not_take_the_screen_away():
    class BothBroken(AtOnce):
        """Two pieces of work begun together fall over for the same reason, one after the other."""

        left = 2

        def arrived(self):
            if self.left:
                self.left -= 1
                raise Broken(ZeroDivisionError("division by zero"))
            return []

    store = MemoryStore(["Ada Example"])
    save = BothBroken(work.Services(lambda: store, lambda: 5))
    feed = iter([[events.Tick(11.0)], [events.Tick(12.0)], keys("\r", 13.0), []])
    shown, _ = played(feed, store, save=save)
    assert save.left == 0
    assert any(isinstance(app.top.screen, Crash) for app in shown)
    assert type(shown[-1].top.screen).__name__ == "Home"


class Once:
    """Makes Home the first time, and falls over after that."""

    def __init__(self):
        self.made = False

    def __call__(self):
        if self.made:
            raise ZeroDivisionError("division by zero")
        self.made = True
        return ROOMS["home"]()


def test_the_thread_keeps_answers_in_order_and_wakes_the_window():
    woken = threading.Event()
    store = MemoryStore(["Ada Example"])
    performer = InThread(work.Services(lambda: store, lambda: 5), woken.set)
    performer.start([work.LoadPeople(), work.AddPerson("Bea Sample"), work.AddPerson("Bea Sample")])
    found = []
    until = time.monotonic() + 10
    while len(found) < 3 and time.monotonic() < until:
        woken.wait(0.05)
        found += performer.arrived()
    performer.close()
    assert [type(f).__name__ for f in found] == ["Arrived", "Arrived", "Refused"]
    assert "already on the list" in found[2].reason


def test_a_slow_store_does_not_hold_the_window_and_says_that_it_waits():
    released = threading.Event()

    class Slow(Stubborn):
        def save_answer(self, session_id, answer):
            released.wait(10)
            super().save_answer(session_id, answer)

    store = Slow(["Ada Example"])
    player = Player(store)
    player.press("3", ctrl=True)
    for _ in range([p.name for p in player.app.desk.plans].index("check-metric")):
        player.press("down")
    player.press("enter", "enter")
    player.performer = InThread(player.services, lambda: None)
    began = time.monotonic()
    player.type("7.384")
    player.press("enter")
    assert time.monotonic() - began < 5.0  # it would be 10 if the window waited for the store
    assert "Keeping the answer …" in player.texts
    player.type("1")
    assert player.screen.session.typed == ""
    released.set()
    player.performer.close()
    for arrived in player.performer.arrived():
        player.send(arrived)
    assert "Keeping the answer …" not in player.texts
    assert len(store.kept_sessions[0].answers) == 1


def test_what_nobody_foresaw_in_the_thread_reaches_the_crash_screen(tmp_path):
    class Odd(MemoryStore):
        def people(self, include_archived=False):
            raise ZeroDivisionError("division by zero")

    performer = InThread(work.Services(Odd, lambda: 5), lambda: None)
    performer.start([work.LoadPeople()])
    performer.close()
    with pytest.raises(Exception, match="division by zero") as raised:
        performer.arrived()
    told = details(raised.value, tmp_path).read_text(encoding="utf-8")
    assert 'raise ZeroDivisionError("division by zero")' in told  # where it happened, not where it was told


@pytest.mark.parametrize(
    ("fault", "sentence"),
    [
        (NotKept("the archive is read-only"), "the archive is read-only"),
        (OSError(28, "No space left on device", "a.sqlite"), "No space left on device (a.sqlite)"),
        (ConnectionError("the network drive has gone"), "the network drive has gone"),
    ],
)
def test_refusals_and_faults_of_the_system_become_sentences(fault, sentence):
    class Shut(MemoryStore):
        def people(self, include_archived=False):
            raise fault

    got = answer(work.LoadPeople(), work.Services(Shut, lambda: 5))
    assert got == events.Refused("loadpeople", sentence)


def test_an_archive_that_does_not_open_is_told_on_home_and_tried_again():
    class Gone:
        tries = 0

        def __call__(self):
            self.tries += 1
            if self.tries == 1:
                raise OSError(5, "Input/output error", "/net/archive.sqlite")
            return MemoryStore(["Ada Example"])

    player = Player(services=work.Services(Gone(), lambda: 5))
    assert any("Input/output error" in text for text in player.texts)
    player.click("again")
    assert player.app.desk.person.name == "Ada Example"


def test_five_thousand_people_are_listed_found_and_walked_without_delay():
    player = Player(MemoryStore())
    player.store.kept = [KeptPerson(i, f"Person {i:04}") for i in range(5000)]
    began = time.perf_counter()
    player.press("2", ctrl=True)
    player.press("end")
    player.picture()
    player.press("tab", shift=True)
    player.tab_to("find")
    player.type("4999")
    assert [line.cells[0] for line in player.placed("people").node.lines] == ["Person 4999"]
    player.press("enter")
    assert player.app.desk.person.name == "Person 4999"
    assert time.perf_counter() - began < 10.0  # some 40 events; the figures are in bench_window.py


@pytest.mark.parametrize(
    "name", ["N" * 200, "שלום עולם", "عالم الاختبار", "Ada\nExample", "Ada\u202e\x07Example", "👩🏽‍🔧"]
)
def test_names_of_every_kind_are_kept_and_drawn(name):
    player = Player(MemoryStore())
    player.clip.text = name
    player.press("v", ctrl=True)
    player.press("enter")
    assert len(player.store.people()) == 1
    assert "\n" not in player.store.people()[0].name
    for room in ("1", "2", "4"):
        player.press(room, ctrl=True)
        player.picture()


def test_a_key_held_for_a_minute_types_no_more_than_the_field_takes():
    player = Player(MemoryStore())
    for _ in range(1800):
        player.send(events.Typed("x", 1001.0))
    assert len(player.screen.name) == 200
    for _ in range(1800):
        player.press("enter", repeat=True)
    assert player.store.people() == []


def test_the_smallest_window_still_works():
    player = Player(MemoryStore(["Ada Example"]), size=(200, 150))
    for room in "12345678":
        player.press(room, ctrl=True)
        player.picture()
    player.resize(640, 480)
    player.press("1", ctrl=True)
    player.press("enter", "enter")
    assert isinstance(player.screen, Drill)
    player.answer_all([0.0])
    player.picture()
    assert isinstance(player.screen, Result)


def test_unplugging_a_display_is_just_another_size():
    player = Player(MemoryStore(["Ada Example"]), size=(3840, 2160), scale=2.0)
    player.resize(1024, 640)
    assert player.picture().get_size() == (1024, 640)


def test_a_changed_display_asks_to_be_set_up_again():
    player = Player(MemoryStore(["Ada Example"]))
    player.press("7", ctrl=True)
    player.tab_to("save")
    player.press("enter")
    assert player.app.desk.display is not None
    player.app = replace(player.app, desk=replace(player.app.desk, resolution=(2560, 1440)))
    kept = player.app.desk.settings.displays["display"]
    shown = {**player.app.desk.settings.displays, "display": replace(kept, resolution=(1920, 1080))}
    player.set(displays=shown)
    assert player.app.desk.display is None
    assert "The display's resolution has changed. Please set it up again." in player.texts


def test_a_toast_goes_by_itself():
    player = Player(MemoryStore())
    player.click("rail:people")
    player.click("add")
    player.type("Ada Example")
    player.press("enter")
    assert player.app.toast == "Ada Example is on the list."
    assert 0 < wake_s(player.app) <= 5.0
    player.wait(5.1)
    assert player.app.toast == ""
    assert wake_s(player.app) is None or player.app.top.ui.hover


def test_a_tip_comes_after_the_pointer_has_rested():
    player = Player(MemoryStore(["Ada Example"]), size=(800, 600))
    placed = player.placed("rail:team")
    player.send(events.PointerMoved(*placed.rect.center, player.clock()))
    before = player.picture()
    player.wait(0.7)
    after = player.picture()
    assert pygame.image.tobytes(before, "RGB") != pygame.image.tobytes(after, "RGB")


def test_a_click_with_shift_held_is_told_as_such():
    shift = pygame.event.Event(pygame.KEYDOWN, key=pygame.K_LSHIFT, mod=pygame.KMOD_LSHIFT, unicode="")
    up = pygame.event.Event(pygame.KEYUP, key=pygame.K_LSHIFT, mod=0, unicode="")
    click = pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=(5, 6))
    found = Translator().translate([click, shift, click, up, click], 3.0)
    assert [e.shift for e in found if isinstance(e, events.PointerDown)] == [False, True, False]


def test_the_door_translates_what_the_real_queue_gives():
    """One smoke test alone uses the real queue: events posted come back through it as ours."""
    pygame.event.clear()
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_RETURN, mod=0, unicode="\r"))
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_RETURN, mod=0, unicode="\r"))
    pygame.event.post(pygame.event.Event(pygame.TEXTINPUT, text="7"))
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_KP4, mod=0, unicode=""))
    pygame.event.post(pygame.event.Event(pygame.MOUSEBUTTONDOWN, pos=(10, 20), button=1))
    pygame.event.post(pygame.event.Event(pygame.MOUSEMOTION, pos=(11, 21), rel=(1, 1), buttons=(1, 0, 0)))
    pygame.event.post(pygame.event.Event(pygame.MOUSEMOTION, pos=(12, 22), rel=(1, 1), buttons=(1, 0, 0)))
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    got = Translator(2.0).translate(pygame.event.get(), 3.0)
    assert got == [
        events.Key("enter", 3.0),
        events.Key("enter", 3.0, repeat=True),
        events.Typed("7", 3.0),
        events.Typed("4", 3.0),
        events.PointerDown(20, 40, 3.0),
        events.PointerMoved(24, 44, 3.0, held=True),
        events.CloseAsked(3.0, at_once=True),
    ]


@pytest.mark.parametrize("held", ["KMOD_LCTRL KMOD_RALT", "KMOD_MODE KMOD_LCTRL", "KMOD_LCTRL KMOD_LALT"])
def test_a_sign_typed_with_altgr_is_no_shortcut(held):
    mod = 0
    for name in held.split():
        mod |= getattr(pygame, name)
    press = pygame.event.Event(pygame.KEYDOWN, key=pygame.K_q, mod=mod, unicode="@", scancode=0)
    typed = pygame.event.Event(pygame.TEXTINPUT, text="@")
    player = Player()
    for event in Translator().translate([press, typed], 2.0):
        player.send(event)
    assert player.screen.name == "@"
    plain = pygame.event.Event(pygame.KEYDOWN, key=pygame.K_q, mod=pygame.KMOD_LCTRL, unicode="", scancode=0)
    for event in Translator().translate([plain], 3.0):
        player.send(event)
    assert player.app.pages == ()


def test_a_focus_that_comes_back_for_a_moment_is_one_loss():
    lost, gained = pygame.event.Event(pygame.WINDOWFOCUSLOST), pygame.event.Event(pygame.WINDOWFOCUSGAINED)
    translator = Translator()
    assert translator.translate([gained], 1.0) == [events.FocusGained(1.0)]
    assert translator.translate([lost], 2.0) == [events.FocusLost(2.0)]
    assert translator.translate([gained], 2.005) == []
    assert translator.wait_s == pytest.approx(0.2)  # it has to be asked again
    assert translator.translate([lost], 2.05) == []
    assert translator.wait_s is None
    assert translator.translate([gained], 9.0) == [events.FocusGained(9.0)]
    assert translator.translate([lost, gained], 10.0) == [events.FocusLost(10.0)]
    assert translator.translate([], 10.1) == []
    assert translator.translate([], 10.21) == [events.FocusGained(10.0)]
    assert translator.wait_s is None


def test_what_is_told_in_a_drill_does_not_cover_what_is_typed():
    player = Player(MemoryStore(["Ada Example"]), size=(640, 480))
    player.press("enter", "enter")
    before = player.picture()
    player.app = replace(player.app, toast="The picture is smaller now than when the sitting began.")
    after = player.picture()
    strip = player.placed("answer").rect
    foot = pygame.Rect(0, strip.top, 640, 480 - strip.top)
    assert pygame.image.tobytes(before.subsurface(foot), "RGB") == pygame.image.tobytes(
        after.subsurface(foot), "RGB"
    )
    assert pygame.image.tobytes(before, "RGB") != pygame.image.tobytes(after, "RGB")


def test_the_window_itself_opens_draws_and_closes():
    clock = HandClock(1.0)
    shell = window.Window("Tenthwise", (0, 0, 800, 600), False, clock)
    try:
        player = Player(MemoryStore(["Ada Example"]), size=shell.size)
        shell.show(player.app, player.fitter, GALLERY)
        assert shell.size == (800, 600)
        pygame.event.clear()
        pygame.event.post(pygame.event.Event(pygame.TEXTINPUT, text="x"))
        got = list(shell.poll(0.01))
        assert events.Typed("x", 1.0) in got
        shell.wake()
        shell.poll(None)  # returns at once, because it was woken
        place = shell.place
        assert shell.own(work.FullScreen(True))
        list(shell.poll(0.01))
        assert shell.own(work.FullScreen(False))
        list(shell.poll(0.01))
        assert place is not None
        assert shell.place is not None
        assert shell.place[2:] == place[2:] == (800, 600)  # what is remembered is the window, not the screen
        assert not shell.own(work.LoadPeople())
    finally:
        shell.close()
        pygame.display.init()
