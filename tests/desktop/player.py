"""A player of the window: scripts press keys and mouse through the real loop's `advance`, nothing sleeps."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pygame

from trainer.desktop import events, window
from trainer.desktop.app import App, Fitter, advance, begin
from trainer.desktop.clock import HandClock
from trainer.desktop.desk import Desk
from trainer.desktop.hands import Clipboard
from trainer.desktop.layout import Layout, Placed
from trainer.desktop.performer import AtOnce
from trainer.desktop.pictures import Gallery
from trainer.desktop.screens.rooms import ROOMS
from trainer.desktop.settings import Settings
from trainer.desktop.store import MemoryStore
from trainer.desktop.work import Services
from trainer.practice import plans

GALLERY = Gallery(in_thread=False)


class PaperClipboard:
    """A clipboard that belongs to the test."""

    def __init__(self) -> None:
        self.text = ""

    def read(self) -> str:
        return self.text

    def write(self, text: str) -> None:
        self.text = text


class Player:
    """A window without a window: the loop's parts joined by hand, work done at once."""

    def __init__(
        self,
        store: Any = None,
        size: tuple[int, int] = (1280, 720),
        settings: Settings | None = None,
        scale: float = 1.0,
        seed: int = 7,
        services: Services | None = None,
    ) -> None:
        self.clock = HandClock(1000.0)
        self.store = MemoryStore() if store is None else store
        self.clip = PaperClipboard()
        self.fitter = Fitter(Clipboard(self.clip.read, self.clip.write))
        self.services = services or Services(lambda: self.store, lambda: seed)
        self.performer = AtOnce(self.services)
        self.asked: list[Any] = []
        desk = Desk(
            settings=settings or Settings(),
            size=size,
            auto_scale=scale,
            plans=tuple(plans.shipped()),
            station="bench 3",
            program_version="0.1.0",
            drawing_version="1",
            began_utc=datetime(2026, 3, 2, 8, 0, tzinfo=UTC),
            began_s=1000.0,
            now_s=1000.0,
        )
        app, effects = begin(desk, ROOMS["home"](), self.fitter)
        self.app: App = app
        self.perform(effects)

    def perform(self, effects: Sequence[Any]) -> None:
        work = list(effects)
        while work:
            effect = work.pop(0)
            self.asked.append(effect)
            for answer in self.performer.start([effect]):
                if self.app.pages:
                    self.app, more = advance(self.app, answer, self.fitter, ROOMS)
                    work += more

    def send(self, event: Any) -> None:
        if self.app.pages:
            self.app, effects = advance(self.app, event, self.fitter, ROOMS)
            self.perform(effects)

    def wait(self, seconds: float) -> None:
        self.clock.now_s += seconds
        self.send(events.Tick(self.clock.now_s))

    def press(self, *names: str, **held: bool) -> None:
        for name in names:
            self.clock.now_s += 0.01
            self.send(events.Key(name, self.clock.now_s, **held))

    def type(self, text: str) -> None:
        for character in text:
            self.clock.now_s += 0.01
            self.send(events.Typed(character, self.clock.now_s))

    def click_at(self, x: int, y: int, clicks: int = 1) -> None:
        self.clock.now_s += 0.05
        self.send(events.PointerMoved(x, y, self.clock.now_s))
        for count in range(1, clicks + 1):
            self.send(events.PointerDown(x, y, self.clock.now_s, clicks=count))
            self.send(events.PointerUp(x, y, self.clock.now_s))

    def click(self, key: str, clicks: int = 1) -> None:
        """Click the middle of a widget; scroll to it with the wheel where it is out of sight."""
        for _ in range(60):
            placed = self.placed(key)
            if placed.clip.contains(placed.rect.clip(placed.clip)) and placed.clip.collidepoint(
                placed.rect.center
            ):
                break
            below = placed.rect.centery > placed.clip.centery
            before = self.app.top.ui.scroll
            self.send(events.Wheel(self.app.desk.size[0] - 30, 40, -1.0 if below else 1.0, self.clock.now_s))
            if self.app.top.ui.scroll == before:
                break
        self.click_at(*self.placed(key).rect.center, clicks=clicks)

    def tab_to(self, key: str) -> None:
        """Press Tab until a widget has the focus."""
        for _ in range(len(self.layout.focusable) + 1):
            if self.focus == key:
                return
            self.press("tab")
        raise AssertionError(f"Tab never reached {key!r}; it walks {[p.key for p in self.layout.focusable]}")

    @property
    def screen(self) -> Any:
        return self.app.top.screen

    @property
    def focus(self) -> str:
        return self.app.top.ui.focus

    @property
    def layout(self) -> Layout:
        return self.fitter.layout(self.app.top, self.app.desk)

    def placed(self, key: str) -> Placed:
        found = self.layout.find(key)
        assert found is not None, f"no widget {key!r} on {type(self.screen).__name__}"
        return found

    @property
    def texts(self) -> list[str]:
        """Every text in sight."""
        return [getattr(p.node, "text", "") for p in self.layout.placed if getattr(p.node, "text", "")]

    def picture(self) -> pygame.Surface:
        surface = pygame.Surface(self.app.desk.size)
        window.draw(self.app, surface, self.fitter, GALLERY)
        return surface

    def resize(self, width: int, height: int) -> None:
        self.send(events.Resized(width, height, self.clock.now_s))

    def set(self, **changes: Any) -> None:
        """Change the settings as the settings screen would."""
        desk = self.app.desk
        self.app = replace(self.app, desk=replace(desk, settings=replace(desk.settings, **changes)))

    def answer_all(self, wrong_tenths: Sequence[float] = (0.0,), until: int | None = None) -> None:
        """Take the drill that is open, each answer the truth rounded, plus an error from the list in turn."""
        while hasattr(self.screen, "session") and not self.screen.session.over:
            drill = self.screen
            if drill.session.phase == "ready":
                self.press("enter")
                continue
            if drill.session.phase == "feedback":
                self.press("enter")
                continue
            done = len(drill.session.answers)
            if until is not None and done >= until:
                return
            if drill.session.complaint:  # out of the travel: the same text once more records it
                assert drill.session.doubted == drill.session.typed, drill.session.complaint
                self.press("enter")
                continue
            item = drill.session.item
            error = wrong_tenths[done % len(wrong_tenths)]
            self.clock.now_s += 3.0 + (done * 7 % 5) / 4
            self.type(typed_answer(drill.session, item, error))
            self.press("enter")


def typed_answer(session: Any, item: Any, error_tenths: float) -> str:
    """Return what a person types who reads an item with an error, to a whole tenth."""
    from trainer.instrument import catalogue

    position = round(item.position_tenths + error_tenths)
    if session.plan.drill == "tenths":
        return str(min(10, max(0, position - round(item.extra["line_tenths"]))))
    return catalogue.load(session.plan.instrument).format_reading(position)
