"""The real window: the only place that opens one, waits for its queue and shows a picture."""

import math
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
if sys.platform == "win32":
    # real pixels: Windows must not stretch the picture (pygame-ce, "high DPI"); before pygame is imported
    os.environ.setdefault("SDL_WINDOWS_DPI_AWARENESS", "permonitorv2")
elif sys.platform.startswith("linux"):
    # without a graphics card the texture path costs tens of milliseconds a frame; the plain one under 1 ms
    os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")
# the close button asks, and only the system's own wish to end ends at once: they must not come together
os.environ.setdefault("SDL_QUIT_ON_LAST_WINDOW_CLOSE", "0")

import numpy as np
import pygame

from trainer.desktop import below, displays, nodes, paint, paint_plots
from trainer.desktop.app import TIP_S, App, Fitter
from trainer.desktop.clock import Clock
from trainer.desktop.displays import Monitor
from trainer.desktop.events import Event, OnDisplay, Resized
from trainer.desktop.inputs import Translator
from trainer.desktop.layout import Layout
from trainer.desktop.look import GROUNDS
from trainer.desktop.screen import Effect
from trainer.desktop.work import FullScreen, Sound
from trainer.instrument.refusal import Refusal

WAKE = pygame.event.custom_type()
MOVES = {  # what comes when a window is dragged, a display unplugged, its resolution or scale changed
    pygame.WINDOWMOVED, pygame.WINDOWDISPLAYCHANGED, pygame.WINDOWSIZECHANGED, pygame.WINDOWRESTORED,
    pygame.WINDOWEXPOSED, pygame.WINDOWFOCUSGAINED,
}  # fmt: skip
LOOKED_EVERY_S = 1.0  # a display may be given another mode without a word: then the next key tells
SETTLING_S = 2.0  # how long after a change of displays the system may still move the window about
ICON = Path(__file__).with_name("icon.png")  # made by packaging/make_icons.py
USUAL_SIZE = (1280, 720)
SMALLEST_SIZE = (480, 320)


class NoScreen(Refusal):
    """There is no screen to open a window on."""


def draw(app: App, surface: pygame.Surface, fitter: Fitter, gallery: paint.Gallery) -> None:
    """Draw the whole window: the top screen, and below a dialog what waits for it."""
    ground = GROUNDS[app.desk.settings.ground]
    measure = fitter.measure(app.desk)
    first = len(app.pages) - 1
    while first > 0 and app.pages[first].screen.modal:
        first -= 1
    gallery.begin(keep=not _lay_ground(surface, fitter.layout(app.pages[first], app.desk), ground.paper))
    for index in range(first, len(app.pages)):
        page = app.pages[index]
        if index > first:
            veil = pygame.Surface(surface.get_size(), pygame.SRCALPHA)
            veil.fill(ground.veil)
            surface.blit(veil, (0, 0))
        layout = fitter.layout(page, app.desk)
        paint.page(surface, layout, page.ui, ground, measure, gallery)
    brush = paint.Brush(surface, ground, measure, app.top.ui, gallery)
    covered = _tip(app, brush, fitter) or first < len(app.pages) - 1 or bool(app.toast)
    if app.toast:
        body = fitter.layout(app.top, app.desk).scroll_rect
        strip_below = body.x == 0 and body.bottom < surface.get_height()
        paint_plots.toast(brush, app.toast, surface.get_rect(), at_head=strip_below)
    if covered:
        gallery.forget()


def _lay_ground(surface: pygame.Surface, layout: Layout, paper: tuple[int, int, int]) -> bool:
    """Fill the window with paper, but not below a picture that covers most of it: at 4K that shows.

    Return whether everything was filled.
    """
    whole = surface.get_rect()
    pictures = [p.rect.clip(p.clip) for p in layout.placed if isinstance(p.node, nodes.Picture)]
    cover = max(pictures, key=lambda rect: rect.w * rect.h, default=pygame.Rect(0, 0, 0, 0))
    if cover.w < whole.w or 2 * cover.h < whole.h:
        surface.fill(paper)
        return True
    surface.fill(paper, (0, 0, whole.w, cover.top))
    surface.fill(paper, (0, cover.bottom, whole.w, whole.h - cover.bottom))
    return False


def _tip(app: App, brush: paint.Brush, fitter: Fitter) -> bool:
    """Draw the tip of what the pointer or the focus rests on; return whether there is one."""
    ui = app.top.ui
    layout = fitter.layout(app.top, app.desk)
    rested = ui.hover and app.desk.now_s - ui.hover_since_s >= TIP_S
    key = ui.hover if rested else (ui.focus if ui.by_keyboard else "")
    placed = layout.find(key)
    tip = getattr(placed.node, "tip", "") if placed is not None else ""
    if placed is None or not tip:
        return False
    shown = placed.rect.w >= brush.px(80) and getattr(placed.node, "text", "") == tip
    if not shown:
        paint_plots.slip(brush, tip, placed.rect.midtop, brush.surface.get_rect())
    return not shown


class Window:
    """A window with its queue. `ratio` is drawing pixels to window points: above 1 on fine macOS displays."""

    def __init__(
        self,
        title: str,
        place: tuple[int, int, int, int] | None,
        full_screen: bool,
        clock: Clock,
        connected: Callable[[], list[Monitor]] = displays.connected,
        maximised: bool = False,
    ) -> None:
        try:
            pygame.display.init()
            self._monitors = tuple(connected())
            stands = displays.fitted(self._monitors, pygame.Rect(place)) if place else None
            self.window = pygame.Window(
                title, stands.size if stands else USUAL_SIZE, resizable=True, allow_high_dpi=True
            )
        except pygame.error as fault:
            raise NoScreen(
                f"no window can be opened: {fault}; on a machine without a screen use the commands"
            ) from None
        pygame.font.init()
        self.window.set_icon(pygame.image.load(ICON))
        self._connected = connected
        self.window.minimum_size = SMALLEST_SIZE
        if stands is not None:
            self.window.position = stands.topleft
        self.maximised = maximised
        if maximised:
            self.window.maximize()
        self._full = full_screen
        if full_screen:
            self.window.set_fullscreen(desktop=True)
        self.clock = clock
        self.surface = self.window.get_surface()
        self._size = self.surface.get_size()
        self._translator = Translator(self.ratio)
        self.on = self._on_display()
        self.place: tuple[int, int, int, int] | None = place
        self._sound: pygame.mixer.Sound | None = None
        self._looked_s = self._settles_s = -math.inf
        self._stale = False  # the system may have taken away what was drawn
        pygame.key.set_repeat(400, 33)
        pygame.key.start_text_input()

    def _on_display(self) -> OnDisplay:
        """Return the display the window stands on now."""
        monitors = self._monitors
        here = displays.under(monitors, self._stands)
        resolution = (round(here.width * self.ratio), round(here.height * self.ratio))
        scale = max(automatic_scale(resolution), self.ratio)
        return OnDisplay(displays.key(monitors, here), resolution, scale)

    @property
    def _stands(self) -> pygame.Rect:
        return pygame.Rect(self.window.position, self.window.size)

    @property
    def ratio(self) -> float:
        """Drawing pixels to window points."""
        return self.surface.get_width() / max(1, self.window.size[0])

    @property
    def size(self) -> tuple[int, int]:
        """The size of what is drawn, in pixels."""
        return self.surface.get_size()

    def wake(self) -> None:
        """End a wait; may be called from any thread."""
        if pygame.display.get_init():
            pygame.event.post(pygame.event.Event(WAKE))

    def poll(self, wait_s: float | None) -> Sequence[Event]:
        """Wait for something to happen, `wait_s` seconds at most, and return our events for it."""
        if (soon_s := self._translator.wait_s) is not None:
            wait_s = soon_s if wait_s is None else min(wait_s, soon_s)
        wait_ms = -1 if wait_s is None else max(1, round(wait_s * 1000))
        given = [] if below.wait(wait_ms) else [pygame.event.wait(max(0, wait_ms))]  # there 0 is for ever
        given += pygame.event.get()
        now_s = self.clock()
        self._translator.ratio = self.ratio
        found = self._translator.translate(given, now_s)
        size = self.surface.get_size()
        if size != self._size:
            self._size = size
            found.insert(0, Resized(*size, now_s))
        kinds = {event.type for event in given}
        self._stale = self._stale or bool(kinds & MOVES)
        if kinds & MOVES or (given and now_s - self._looked_s >= LOOKED_EVERY_S):
            found = self._moved(now_s) + found
        self.maximised = (self.maximised or pygame.WINDOWMAXIMIZED in kinds) and (
            pygame.WINDOWRESTORED not in kinds or pygame.WINDOWMAXIMIZED in kinds
        )
        if not self._full and not self.maximised:
            self.place = (*self.window.position, *self.window.size)
        return found

    def _moved(self, now_s: float) -> list[Event]:
        """Return that the window stands on another display, if it does: moved, or its display unplugged.

        Not every system brings a window back whose display has gone.
        """
        self._looked_s = now_s
        monitors = tuple(self._connected())
        if monitors != self._monitors:
            self._monitors, self._settles_s = monitors, now_s + SETTLING_S
        stands = displays.fitted(monitors, self._stands)
        if now_s < self._settles_s and not self._full and stands != self._stands:
            self.window.size, self.window.position = stands.size, stands.topleft
        on = self._on_display()
        if on == self.on:
            return []
        self.on = on
        return [replace(on, at_s=now_s)]

    def own(self, effect: Effect) -> bool:
        """Carry out what only the window can."""
        if isinstance(effect, Sound):
            self._tick()
            return True
        if not isinstance(effect, FullScreen):
            return False
        self._full = effect.on
        if effect.on:
            self.window.set_fullscreen(desktop=True)
        else:
            self.window.set_windowed()
            self._settles_s = self.clock() + SETTLING_S  # its place may be on a display that has gone
        return True

    def _tick(self) -> None:
        """Play a short tick; a machine without sound stays silent."""
        if self._sound is None:
            try:
                pygame.mixer.init(22050, -16, 1)
                beats = np.arange(900)
                wave = 5000 * np.sin(beats * 0.35) * np.exp(-beats / 130)
                self._sound = pygame.mixer.Sound(buffer=wave.astype(np.int16).tobytes())
            except (pygame.error, NotImplementedError):
                return
        self._sound.play()

    def show(self, app: App, fitter: Fitter, gallery: paint.Gallery) -> None:
        """Draw the window and show it."""
        if self._stale:
            gallery.forget()
            self._stale = False
        draw(app, self.surface, fitter, gallery)
        self.window.flip()

    def close(self) -> None:
        """Close the window."""
        self.window.destroy()
        pygame.display.quit()


class SystemClipboard:
    """The system's clipboard; a faulty one reads as empty."""

    def read(self) -> str:
        """Return the text on the clipboard."""
        try:
            return pygame.scrap.get_text() or ""
        except pygame.error:
            return ""

    def write(self, text: str) -> None:
        """Put text on the clipboard."""
        try:
            pygame.scrap.put_text(text)
        except pygame.error:
            return


def automatic_scale(size: tuple[int, int]) -> float:
    """Return the scale that a display's height suggests: 1 up to 1200 lines, 2 at 2160.

    >>> automatic_scale((1920, 1080)), automatic_scale((3840, 2160))
    (1.0, 2.0)
    """
    return min(3.0, max(1.0, round(size[1] / 1080 * 4) / 4)) if size[1] > 1200 else 1.0
