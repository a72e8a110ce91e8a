"""The one door for pygame's events: in come theirs, out come ours, with the time in them."""

import math
from collections.abc import Iterable

import pygame

from trainer.desktop import events
from trainer.desktop.fonts import JOINERS

NAMES = {
    pygame.K_RETURN: "enter",
    pygame.K_KP_ENTER: "enter",
    pygame.K_ESCAPE: "escape",
    pygame.K_AC_BACK: "escape",
    pygame.K_TAB: "tab",
    pygame.K_SPACE: "space",
    pygame.K_BACKSPACE: "backspace",
    pygame.K_DELETE: "delete",
    pygame.K_LEFT: "left",
    pygame.K_RIGHT: "right",
    pygame.K_UP: "up",
    pygame.K_DOWN: "down",
    pygame.K_HOME: "home",
    pygame.K_END: "end",
    pygame.K_PAGEUP: "pageup",
    pygame.K_PAGEDOWN: "pagedown",
    pygame.K_KP_DIVIDE: "pad /",
    pygame.K_KP_MULTIPLY: "pad *",
    pygame.K_KP_PLUS: "pad +",
    pygame.K_KP_MINUS: "pad -",
}
FLICKER_S = 0.2  # when another window opens, some systems give the focus back in between: one loss, not two
WITH_ALT = pygame.KMOD_MODE | pygame.KMOD_ALT
SHIFTS = {pygame.K_LSHIFT, pygame.K_RSHIFT}
PAD = {getattr(pygame, f"K_KP_{digit}"): str(digit) for digit in range(10)} | {pygame.K_KP_PERIOD: "."}


class Translator:
    """Turns pygame's events into ours. `ratio` is window pixels to drawing pixels on a fine display.

    It remembers which keys are down, from the events alone, to tell a repeat from a press.
    """

    def __init__(self, ratio: float = 1.0) -> None:
        self.ratio = ratio
        self._down: set[int] = set()
        self._clicks: tuple[float, int, int, int] = (-10.0, 0, 0, 0)
        self._pointer = (0, 0)
        self._lost_s = -math.inf
        self._gained_s: float | None = None  # a focus that came back at once and may go again

    @property
    def wait_s(self) -> float | None:
        """After how many seconds to ask again though nothing happens; None: no need."""
        return None if self._gained_s is None else FLICKER_S

    def translate(self, given: Iterable[pygame.event.Event], now_s: float) -> list[events.Event]:
        """Return our events for theirs; those that no screen cares about are left out."""
        found: list[events.Event] = []
        if self._gained_s is not None and now_s - self._gained_s >= FLICKER_S:
            found.append(events.FocusGained(self._gained_s))
            self._gained_s = None
        for event in given:
            found += self._one(event, now_s)
        return _last_moves(found)

    def _one(self, event: pygame.event.Event, now_s: float) -> list[events.Event]:
        match event.type:
            case pygame.KEYDOWN:
                return self._key(event, now_s)
            case pygame.KEYUP:
                self._down.discard(event.key)
            case pygame.TEXTINPUT:
                typed = event.text
                printable = all(c.isprintable() or c in JOINERS for c in typed)
                return [events.Typed(typed, now_s)] if printable else []
            case pygame.MOUSEBUTTONDOWN if event.button in (1, 2, 3):
                x, y = self._at(event.pos)
                count = self._count(event.button, x, y, now_s)
                shift = not self._down.isdisjoint(SHIFTS)
                return [events.PointerDown(x, y, now_s, event.button, count, shift)]
            case pygame.MOUSEBUTTONUP if event.button in (1, 2, 3):
                return [events.PointerUp(*self._at(event.pos), now_s, event.button)]
            case pygame.MOUSEMOTION:
                self._pointer = self._at(event.pos)
                return [events.PointerMoved(*self._pointer, now_s, bool(event.buttons[0]))]
            case pygame.MOUSEWHEEL:
                steps = getattr(event, "precise_y", 0.0) or event.y
                return [events.Wheel(*self._pointer, float(steps), now_s)] if steps else []
            case pygame.WINDOWFOCUSLOST:
                self._down.clear()
                came_back, self._gained_s, self._lost_s = self._gained_s is not None, None, now_s
                return [] if came_back else [events.FocusLost(now_s)]
            case pygame.WINDOWFOCUSGAINED:
                if now_s - self._lost_s >= FLICKER_S:
                    return [events.FocusGained(now_s)]
                self._gained_s = now_s
            case pygame.WINDOWMINIMIZED:
                return [events.Minimised(now_s)]
            case pygame.QUIT | pygame.WINDOWCLOSE:
                return [events.CloseAsked(now_s, event.type == pygame.QUIT)]
        return []

    def _key(self, event: pygame.event.Event, now_s: float) -> list[events.Event]:
        repeat = event.key in self._down
        self._down.add(event.key)
        if event.key in PAD and not event.mod & pygame.KMOD_NUM:
            return [events.Typed(PAD[event.key], now_s)]  # with the lock off no text would come of it
        name = NAMES.get(event.key) or pygame.key.name(event.key)
        if not name:
            return []
        mod = event.mod
        # Windows tells AltGr as Ctrl and Alt together: AltGr+Q types a sign and does not end the program
        ctrl = bool(mod & (pygame.KMOD_CTRL | pygame.KMOD_META)) and not mod & WITH_ALT
        return [
            events.Key(
                name.removeprefix("[").removesuffix("]") if len(name) > 2 else name,
                now_s,
                bool(mod & pygame.KMOD_SHIFT),
                ctrl,
                bool(mod & pygame.KMOD_ALT),
                repeat,
            )
        ]

    def _at(self, pos: tuple[int, int]) -> tuple[int, int]:
        self._pointer = (round(pos[0] * self.ratio), round(pos[1] * self.ratio))
        return self._pointer

    def _count(self, button: int, x: int, y: int, now_s: float) -> int:
        """Return whether this is the first or second press in quick succession at one place."""
        then, count, x0, y0 = self._clicks
        again = button == 1 and now_s - then < 0.4 and abs(x - x0) < 6 and abs(y - y0) < 6 and count == 1
        self._clicks = (now_s, 2 if again else 1, x, y)
        return 2 if again else 1


def _last_moves(found: list[events.Event]) -> list[events.Event]:
    """Keep of moves in a row only the last: the pointer's way does not matter, where it is does."""
    kept: list[events.Event] = []
    for event in found:
        if kept and isinstance(event, events.PointerMoved) and isinstance(kept[-1], events.PointerMoved):
            kept[-1] = event
        else:
            kept.append(event)
    return kept
