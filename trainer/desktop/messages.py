"""What widgets tell their screen."""

from dataclasses import dataclass
from typing import Any

from trainer.desktop import events
from trainer.desktop.events import Arrived, FocusGained, FocusLost, Key, OnDisplay, Refused, Tick


@dataclass(frozen=True)
class Pressed:
    """A button was pressed."""

    key: str
    at_s: float = 0.0


@dataclass(frozen=True)
class Edited:
    """A field, choice, toggle or stepper has a new value."""

    key: str
    value: Any
    at_s: float = 0.0


@dataclass(frozen=True)
class Entered:
    """Enter was pressed in a field."""

    key: str
    at_s: float = 0.0


@dataclass(frozen=True)
class Pointed:
    """The cursor of a table or plot stands on the row or point of this key."""

    key: str
    row: str


@dataclass(frozen=True)
class Opened:
    """A row of a table or a point of a plot was asked to open."""

    key: str
    row: str
    at_s: float = 0.0


@dataclass(frozen=True)
class Back:
    """Esc: back, or away."""

    at_s: float = 0.0


@dataclass(frozen=True)
class Done:
    """A dialog above has had something done: the name of the work and its answer; or "cancelled"."""

    what: str
    value: Any = None


@dataclass(frozen=True)
class Pasted:
    """A paste put less into a field than was on the clipboard: its first `kept` characters, or nothing."""

    key: str
    kept: int


Message = (
    Pressed
    | Done
    | Edited
    | Entered
    | Pointed
    | Opened
    | Pasted
    | Back
    | Key
    | Tick
    | FocusLost
    | FocusGained
    | events.Minimised
    | OnDisplay
    | events.Resized
    | Arrived
    | Refused
)
