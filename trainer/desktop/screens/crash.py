"""The crash screen: what happened, where the details are, and that answers are safe."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.messages import Back, Message, Pressed
from trainer.desktop.nodes import Button, Gap, Label, Row, Stack
from trainer.desktop.performer import Broken
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution
from trainer.desktop.words import say


@dataclass(frozen=True, slots=True)
class Crash(Plain):
    """A fault of the program, told."""

    what: str
    path: str
    last_resort = True

    @classmethod
    def of(cls, fault: BaseException, path: Path | None) -> "Crash":
        """Return the screen of a fault whose details are in a file."""
        cause = fault.cause if isinstance(fault, Broken) else fault
        return cls(f"{type(cause).__name__}: {cause}"[:300], str(path) if path is not None else "")

    def first_focus(self, desk: Desk) -> str:
        """Begin with going on."""
        return "home"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        details = say("crash.details", path=self.path) if self.path else say("crash.no_details")
        sheet = Stack(
            (
                Label(say("crash.title"), "title"),
                Label(say("crash.line")),
                Label(say("crash.safe"), "strong"),
                caution(say("crash.what", what=self.what)),
                Label(details, "small", "soft"),
                Gap(6),
                buttons(Button("home", say("crash.home"), "main", "home"), Button("quit", say("crash.quit"))),
            ),
            gap=12,
            pad=(28, 22),
            ground="sheet",
        )
        middle = Row((Gap(16), sheet, Gap(16)), (0.4, 2, 0.4))
        return Stack((Gap(24, grow=True), middle, Gap(24, grow=True)), grow=True)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Pressed("home") | Back():
                return Outcome("switch")
            case Pressed("quit"):
                return Outcome("quit")
        return Outcome()
