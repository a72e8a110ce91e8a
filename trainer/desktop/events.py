"""What can happen to the window, in our own words; every event carries its time, in seconds."""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Key:
    """A key went down: its name ("enter", "tab", "left", "a", "f2" ...) and what was held with it."""

    name: str
    at_s: float = 0.0
    shift: bool = False
    ctrl: bool = False
    alt: bool = False
    repeat: bool = False


@dataclass(frozen=True)
class Typed:
    """Text was typed."""

    text: str
    at_s: float = 0.0


@dataclass(frozen=True)
class PointerDown:
    """A mouse button went down at a pixel."""

    x: int
    y: int
    at_s: float = 0.0
    button: int = 1
    clicks: int = 1
    shift: bool = False


@dataclass(frozen=True)
class PointerMoved:
    """The mouse moved to a pixel, with the first button held or not."""

    x: int
    y: int
    at_s: float = 0.0
    held: bool = False


@dataclass(frozen=True)
class PointerUp:
    """A mouse button went up at a pixel."""

    x: int
    y: int
    at_s: float = 0.0
    button: int = 1


@dataclass(frozen=True)
class Wheel:
    """The wheel turned over a pixel; positive `steps` is away from the hand."""

    x: int
    y: int
    steps: float
    at_s: float = 0.0


@dataclass(frozen=True)
class Resized:
    """The window has a new size, in pixels."""

    width: int
    height: int
    at_s: float = 0.0


@dataclass(frozen=True)
class OnDisplay:
    """The window stands on another display now, or the display has changed; `auto_scale` suits it."""

    name: str
    resolution: tuple[int, int]
    auto_scale: float = 1.0
    at_s: float = 0.0


@dataclass(frozen=True)
class FocusLost:
    """Another window has the keyboard now."""

    at_s: float = 0.0


@dataclass(frozen=True)
class FocusGained:
    """The keyboard is ours again."""

    at_s: float = 0.0


@dataclass(frozen=True)
class Tick:
    """Nothing but time has passed."""

    at_s: float = 0.0


@dataclass(frozen=True)
class CloseAsked:
    """The window's close button was pressed, or the system wants the program to end: then `at_once`."""

    at_s: float = 0.0
    at_once: bool = False


@dataclass(frozen=True)
class Minimised:
    """The window was put out of sight."""

    at_s: float = 0.0


@dataclass(frozen=True)
class Arrived:
    """Work that was asked for is done."""

    what: str
    value: Any
    at_s: float = 0.0


@dataclass(frozen=True)
class Refused:
    """Work that was asked for could not be done; `reason` is a sentence for the person."""

    what: str
    reason: str
    at_s: float = 0.0


Event = (
    Key
    | Typed
    | PointerDown
    | PointerMoved
    | PointerUp
    | Wheel
    | Resized
    | OnDisplay
    | FocusLost
    | FocusGained
    | Minimised
    | Tick
    | CloseAsked
    | Arrived
    | Refused
)
