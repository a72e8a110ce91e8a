"""Pictures of instruments for the window, painted by the calibrated painter at the window's own pixels.

Building a painter for a new size takes longer than a frame may, so it happens in a thread of its own;
once built, a new position is painted at once.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import pygame

from trainer.drawing.viewing import SMALLEST_SIDE_PX, Viewing
from trainer.instrument import catalogue
from trainer.instrument.micrometer import Faults, Micrometer, State

AT_ONCE = 2  # painters built at a time; a window dragged to another size asks for a new one at every step
KEPT_PX = 12_000_000  # of all painters kept: one at 4K and some small ones; each pixel costs about 20 bytes
if TYPE_CHECKING:
    from trainer.drawing.closeup import Closeup
    from trainer.drawing.painter import Painter

STRIP, STRIP_WITH_KEYS = 86, 130  # units: the answer strip below a drill's picture
LEFT_MM = 8.0  # of the sleeve, at least: the nearest numeral must be in sight
RIGHT_MM = 7.0  # of the thimble: bevel and numerals


@dataclass(frozen=True, slots=True)
class Shot:
    """What is to be pictured. `px_per_mm` 0 fits the instrument to the height of the picture."""

    instrument: str
    position_tenths: float
    px_per_mm: float = 0.0
    viewing: tuple[tuple[str, Any], ...] = ()
    hidden: bool = False
    faults: Faults = field(default_factory=Faults)
    without_vernier: bool = False
    notes: tuple[str, ...] = ()  # sentences laid over the picture
    feedback: bool = False  # the interval magnified beside it, with truth and answer
    answer_tenths: float | None = None
    decimal: str = "."  # the mark in the numbers written on the picture


def strip_units(keypad: bool) -> float:
    """Return the height of the answer strip, in units."""
    return STRIP_WITH_KEYS if keypad else STRIP


def drill_size(window: tuple[int, int], scale: float, keypad: bool = False) -> tuple[int, int]:
    """Return the size, in pixels, of a drill's picture in a window."""
    return window[0], max(SMALLEST_SIDE_PX, window[1] - round(strip_units(keypad) * scale))


def fitting_px_per_mm(micrometer: Micrometer, size: tuple[int, int]) -> float:
    """Return the scale at which the whole thimble is as high as the picture and enough sleeve is in sight."""
    high = size[1] / (micrometer.sizes.body_diameter_mm * 1.16)
    wide = min(size[0] * 0.6 / LEFT_MM, size[0] * 0.4 / RIGHT_MM)
    return round(max(1.0, min(high, wide)), 3)


def viewing_of(shot: Shot, size: tuple[int, int]) -> Viewing:
    """Return how a shot is looked at in a picture of a size."""
    micrometer = catalogue.load(shot.instrument)
    values: dict[str, Any] = dict(shot.viewing)
    fits = fitting_px_per_mm(micrometer, size)
    values["px_per_mm"] = min(shot.px_per_mm, fits) if shot.px_per_mm else fits
    return Viewing.from_dict(values)


def instrument_of(shot: Shot) -> Micrometer:
    """Return the instrument of a shot, its vernier turned out of sight where the drill wants that."""
    micrometer = catalogue.load(shot.instrument)
    return replace(micrometer, vernier=None) if shot.without_vernier else micrometer


def frozen(viewing: Mapping[str, Any]) -> tuple[tuple[str, Any], ...]:
    """Return viewing conditions as a value that can be a key, the scale left out."""
    return tuple(sorted((k, v) for k, v in viewing.items() if k != "px_per_mm" and v is not None))


@dataclass(slots=True)
class Gallery:
    """Paints shots. `in_thread` False builds at once, for tests; `wake` is called when a picture is ready."""

    in_thread: bool = True
    wake: Callable[[], None] = lambda: None
    fault: Exception | None = None
    _closeups: "OrderedDict[Any, Closeup]" = field(default_factory=OrderedDict)
    _painters: "OrderedDict[Any, Painter]" = field(default_factory=OrderedDict)
    _painted: "Painter | None" = None  # the last that painted, and how often any has
    _paints: int = 0
    _laid: tuple[Any, ...] | None = None  # what the frame holds: surface, painter, place; of the last frame
    _before: tuple[Any, ...] | None = None
    _building: set[Any] = field(default_factory=set)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def surface(self, spec: Any, size: tuple[int, int]) -> pygame.Surface | None:
        """Return the picture of a shot, or None while its painter is being built."""
        if self.fault is not None:
            fault, self.fault = self.fault, None
            self._building.clear()
            raise fault
        if min(size) < SMALLEST_SIDE_PX or spec.hidden:
            return None
        key = (spec.instrument, spec.px_per_mm, spec.viewing, spec.faults, spec.without_vernier, size)
        with self._lock:
            painter = self._painters.get(key)
            if painter is not None:
                self._painters.move_to_end(key)
        if painter is None:
            painter = self._build(key, spec, size)
            if painter is None:
                return None
        pixels = painter.paint(spec.position_tenths)
        self._paints += 1
        self._painted = painter
        # frombuffer shares the painter's memory: no copy but the blit that follows
        return pygame.image.frombuffer(pixels.data, size, "RGB")

    def begin(self, keep: bool) -> None:
        """A new frame is drawn; without `keep` nothing of the last one stands any more."""
        self._before, self._laid = (self._laid if keep else None), None

    def forget(self) -> None:
        """Something was drawn over the picture that was laid: the next frame lays all of it."""
        self._laid = None

    def lay(self, surface: pygame.Surface, image: pygame.Surface, rect: pygame.Rect, rim: int) -> None:
        """Lay the picture just painted: of one that stands there already, only what has changed.

        `rim` is the width in pixels of the focus that will be drawn over its rim, 0 without focus.
        """
        painter = self._painted
        assert painter is not None  # an image comes from a painter
        mine = (surface, painter, tuple(rect), tuple(surface.get_clip()), rim)
        if self._before is not None and self._before == (*mine, self._paints - 1):
            wide, high = rect.size
            rims = [
                (0, 0, wide, rim),
                (0, high - rim, wide, rim),
                (0, 0, rim, high),
                (wide - rim, 0, rim, high),
            ]
            for part in (*joined(painter.changed), *(rims if rim else ())):
                surface.blit(image, (rect.x + part[0], rect.y + part[1]), part)
        else:
            surface.blit(image, rect.topleft)
        self._laid = (*mine, self._paints)

    def _build(self, key: Any, spec: Shot, size: tuple[int, int]) -> "Painter | None":
        if not self.in_thread:
            return self._built(key, spec, size)
        with self._lock:
            if key in self._building or len(self._building) >= AT_ONCE:
                return None  # asked for again by the picture that follows the wake
            self._building.add(key)
        self._start(lambda: self._built(key, spec, size).prepare(lambda: key in self._painters))
        return None

    def _start(self, job: Callable[[], object]) -> None:
        """Do a job in a thread of its own; what goes wrong there is raised at the next picture."""

        def guarded() -> None:
            try:
                job()
            except Exception as fault:  # noqa: BLE001 - handed to the main thread, which shows the crash screen
                self.fault = fault
                self.wake()

        threading.Thread(target=guarded, name="painter", daemon=True).start()

    def _built(self, key: Any, spec: Shot, size: tuple[int, int]) -> "Painter":
        from trainer.drawing.painter import Painter

        painter = Painter(instrument_of(spec), spec.faults, viewing_of(spec, size), size)
        painter.paint(spec.position_tenths)
        with self._lock:
            self._painters[key] = painter
            self._building.discard(key)
            while len(self._painters) > 1 and sum(k[-1][0] * k[-1][1] for k in self._painters) > KEPT_PX:
                self._painters.popitem(last=False)
        self.wake()
        return painter

    def closeup(self, spec: Any, size: tuple[int, int], label_px: float) -> "Closeup | None":
        """Return the magnified interval of a shot, or None while it is being made."""
        key = (instrument_of(spec), spec.faults, spec.position_tenths, spec.answer_tenths, size, label_px)
        with self._lock:
            if key in self._closeups:
                return self._closeups[key]
            if key in self._building:
                return None
            self._building.add(key)
        if not self.in_thread:
            return self._magnified(key, spec, size, label_px)
        self._start(lambda: self._magnified(key, spec, size, label_px))
        return None

    def _magnified(self, key: Any, spec: Shot, size: tuple[int, int], label_px: float) -> "Closeup":
        from trainer.drawing.closeup import closeup

        state = State(instrument_of(spec), spec.position_tenths, spec.faults)
        made = closeup(state, spec.answer_tenths, size, label_px)
        with self._lock:
            self._closeups[key] = made
            self._building.discard(key)
            while len(self._closeups) > 2:
                self._closeups.popitem(last=False)
        self.wake()
        return made


def joined(parts: Iterable[tuple[int, int, int, int]]) -> list[pygame.Rect]:
    """Return parts of a picture with those put together that are no larger so: where a line was, and is now.

    >>> joined([(0, 0, 10, 10), (1, 0, 10, 10), (50, 50, 5, 5)])
    [Rect(0, 0, 11, 10), Rect(50, 50, 5, 5)]
    """
    found: list[pygame.Rect] = []
    for part in parts:
        rect = pygame.Rect(part)
        for place, other in enumerate(found):
            both = rect.union(other)
            if both.w * both.h <= rect.w * rect.h + other.w * other.h:
                found[place] = both
                break
        else:
            found.append(rect)
    return found
