"""What a screen is, and what may come of its reaction: the stack of screens is a value."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, Protocol

from trainer.desktop.desk import Desk
from trainer.desktop.messages import Message

Go = Literal["stay", "open", "close", "switch", "replace", "quit"]


class Effect(Protocol):
    """Work outside the values: run by the performer, answered by Arrived or Refused with this `what`."""

    @property
    def what(self) -> str:
        """The name under which the answer arrives."""

    @property
    def brief(self) -> bool:
        """Whether it is worth a moment's wait before the next picture is shown."""

    def run(self, services: Any) -> object:
        """Do the work; raise a Refusal or OSError whose text is fit to be shown."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a screen answers a message with.

    stay: `screen` takes its own place. open: `screen` comes on top. close: it goes. replace: `screen`
    instead of it. switch: `screen` instead of the whole stack. `onward` (with close) is told to the screen
    below. `desk` holds changes of the desk.
    """

    go: Go = "stay"
    screen: Any = None
    effects: tuple[Effect, ...] = ()
    desk: Mapping[str, Any] = field(default_factory=dict)
    toast: str = ""
    focus: str = ""
    onward: Message | None = None


class Screen(Protocol):
    """A screen: a frozen value."""

    modal: bool  # drawn over the screen below
    guarded: bool  # left only by its own ways: no key leads to another room

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Return the work to start when the screen comes to the top."""

    def view(self, desk: Desk) -> Any:
        """Return what is to be seen: one of nodes.Frame, nodes.Bare, nodes.Dialog."""

    def first_focus(self, desk: Desk) -> str:
        """Return the key of the widget that has the focus first."""

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""

    def tick_s(self, desk: Desk) -> float | None:
        """Return after how many seconds the screen wants to be told the time, None for never."""

    def ask_first(self, at_s: float, desk: Desk) -> Outcome | None:
        """Return what to ask before the window may close; None where nothing is to be asked."""

    def closing(self, desk: Desk) -> tuple[Effect, ...]:
        """Return the work to do before the window closes."""


@dataclass(frozen=True, slots=True)
class Plain:
    """The quiet parts of a screen; screens derive from it."""

    modal = False
    guarded = False

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Start nothing."""
        return ()

    def first_focus(self, desk: Desk) -> str:
        """Leave the focus to the first widget."""
        return ""

    def tick_s(self, desk: Desk) -> float | None:
        """Never ask for the time."""
        return None

    def ask_first(self, at_s: float, desk: Desk) -> Outcome | None:
        """Let the window close."""
        return None

    def closing(self, desk: Desk) -> tuple[Effect, ...]:
        """Leave nothing to do."""
        return ()
