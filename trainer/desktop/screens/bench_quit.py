"""The question before the window closes on a bench check."""

from dataclasses import dataclass
from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.messages import Back, Message, Pressed
from trainer.desktop.nodes import Button, Dialog, Gap, Label, Stack
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution
from trainer.desktop.words import say


@dataclass(frozen=True, slots=True)
class BenchQuit(Plain):
    """A dialog over the check. `locked`: an estimate waits for its reference and would be given up."""

    locked: bool
    modal = True

    def first_focus(self, desk: Desk) -> str:
        """Begin with what changes nothing."""
        return "stay"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        children: list[Any] = [Label(say("drill.quit.title"), "heading"), Label(say("bench.quit.line"))]
        if self.locked:
            children.append(caution(say("bench.quit.locked")))
        actions = buttons(Button("close", say("drill.quit")), Button("stay", say("drill.leave.stay"), "main"))
        return Dialog(Stack((*children, Gap(4), actions), gap=10))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Pressed("close"):
                return Outcome("quit")
            case Pressed("stay") | Back():
                return Outcome("close")
        return Outcome()
