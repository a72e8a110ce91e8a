"""Which displays there are, and what tells one from another: name, size, density, place.

pygame says how large the displays are and nothing else, so the library below it is asked. Where that fails,
size and order are all that is known.
"""

import ctypes
from collections.abc import Sequence
from dataclasses import dataclass

import pygame
from pygame import Rect

from trainer.desktop import below, x11

BAR_PX = 40  # of a window, by which it is moved: enough of it for a hand, and room for it above the window


@dataclass(frozen=True, slots=True)
class Monitor:
    """A display: what it calls itself, where it stands among the others and how dense it says it is.

    Place and size are in window points; `dpi` is dots an inch as reported, 0 where nothing is. Reported
    densities are often those that texts are scaled by, so that they tell displays apart and measure nothing.
    """

    name: str
    left: int
    top: int
    width: int
    height: int
    dpi: float = 0.0

    @property
    def rect(self) -> Rect:
        """The rectangle of the display among the others."""
        return Rect(self.left, self.top, self.width, self.height)

    @property
    def title(self) -> str:
        """Name, size and density."""
        dense = f" {self.dpi:.0f} dpi" if self.dpi else ""
        return f"{self.name} {self.width}x{self.height}{dense}"


def key(monitors: Sequence[Monitor], chosen: Monitor) -> str:
    """Return what a display is known by; two that are alike in everything else are told apart by place.

    >>> left = Monitor("bench", 0, 0, 1920, 1080, 96.0)
    >>> right = Monitor("bench", 1920, 0, 1920, 1080, 96.0)
    >>> key([left], left), key([left, right], right)
    ('bench 1920x1080 96 dpi', 'bench 1920x1080 96 dpi at 1920,0')
    """
    alike = [m for m in monitors if m.title == chosen.title]
    return chosen.title if len(alike) < 2 else f"{chosen.title} at {chosen.left},{chosen.top}"


def under(monitors: Sequence[Monitor], window: Rect) -> Monitor:
    """Return the display that most of a window stands on, the first where it stands on none."""

    def shared(monitor: Monitor) -> int:
        part = monitor.rect.clip(window)
        return part.w * part.h

    return max(monitors, key=shared)


def in_reach(monitors: Sequence[Monitor], window: Rect) -> bool:
    """Return whether the bar of a window, by which it is moved, is on a display that is there."""
    bar = Rect(window.x, window.y, min(window.w, 200), BAR_PX)
    return any(monitor.rect.contains(bar) for monitor in monitors)


def fitted(monitors: Sequence[Monitor], window: Rect) -> Rect:
    """Return where a window is to stand: as it does if it is in reach and there is room, or else moved.

    A window that has to be moved comes to the middle of a display, and is no larger than it.
    """
    whole = monitors[0].rect.unionall([monitor.rect for monitor in monitors])
    if not whole.w or (in_reach(monitors, window) and window.w <= whole.w and window.h <= whole.h):
        return window
    home = under(monitors, window).rect
    moved = Rect(0, 0, min(window.w, home.w), min(window.h, home.h - BAR_PX))
    moved.center = home.centerx, home.centery + BAR_PX // 2
    return moved


def connected() -> list[Monitor]:
    """Return the displays there are; one of no size if the system does not tell."""
    try:
        sizes = pygame.display.get_desktop_sizes()
    except pygame.error:
        sizes = []
    found = _told(len(sizes))
    if not found:
        left = 0
        for number, (width, height) in enumerate(sizes, 1):
            found.append(Monitor(f"display {number}", left, 0, width, height))
            left += width
    found = corrected(found, x11.switched_on())
    return found or [Monitor("display", 0, 0, 0, 0)]


def corrected(told: Sequence[Monitor], on: Sequence[tuple[str, Rect]]) -> list[Monitor]:
    """Return the displays that are on, with what was told of each where it is sure which of them it is.

    `on` are connector and place of those that are on; none, where that is not known, corrects nothing. A
    display of a new size goes by its connector until the next start, so that no set-up is taken for it.
    """
    left = [m for m in told if m.rect not in [rect for _, rect in on]]
    found = []
    for name, rect in on:
        same = [m for m in told if m.rect == rect] or [m for m in left if m.rect.size == rect.size]
        known = same[0] if len(same) == 1 else Monitor(name, 0, 0, 0, 0)
        found.append(Monitor(known.name, rect.x, rect.y, rect.w, rect.h, known.dpi))
    return found or list(told)


class _Bounds(ctypes.Structure):
    _fields_ = [(name, ctypes.c_int) for name in ("x", "y", "w", "h")]


def _told(count: int) -> list[Monitor]:
    """Return the displays as the library below pygame tells them; none where it cannot be asked."""
    library = below.ready()
    if library is None or library.SDL_GetNumVideoDisplays() != count:
        return []
    library.SDL_GetDisplayName.restype = ctypes.c_char_p
    found = []
    for number in range(count):
        bounds, density = _Bounds(), ctypes.c_float(0.0)
        if library.SDL_GetDisplayBounds(number, ctypes.byref(bounds)) != 0:
            return []
        if library.SDL_GetDisplayDPI(number, None, ctypes.byref(density), None) != 0:
            density.value = 0.0
        name = (library.SDL_GetDisplayName(number) or b"display").decode("utf-8", "replace")
        found.append(Monitor(name, bounds.x, bounds.y, bounds.w, bounds.h, round(density.value, 1)))
    return found
