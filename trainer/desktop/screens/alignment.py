"""The alignment test of a display: are two lines told apart that stand a pixel from each other?

It tells whether the screen, the scaling and the distance let the finest step through that a picture can
make; a failed test says that results would be about the screen.
"""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import work
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Key
from trainer.desktop.messages import Back, Message, Pressed
from trainer.desktop.nodes import Button, Dialog, Gap, Label, Offset, Stack
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.parts import buttons
from trainer.desktop.words import say

ITEMS = 9
ENOUGH = 8  # of 9: by guessing alone (one in three) that many come in 1 of about 1 000 tries, binomial


@dataclass(frozen=True, slots=True)
class Alignment(Plain):
    """The test under way: offsets in pixels, and what was said of them (-1 left, 0 aligned, 1 right)."""

    offsets: tuple[int, ...] = ()
    said: tuple[int, ...] = ()
    modal = True

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Have the offsets dealt."""
        return (work.DealOffsets(ITEMS),) if not self.offsets else ()

    @property
    def right(self) -> int:
        """How many were told rightly."""
        return sum(a == b for a, b in zip(self.offsets, self.said, strict=False))

    def first_focus(self, desk: Desk) -> str:
        """Begin with the middle answer."""
        return "done" if len(self.said) == ITEMS else "say:0"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        if not self.offsets:
            matter: tuple[Any, ...] = (Label(say("wait"), tone="soft"),)
        elif len(self.said) < ITEMS:
            matter = (
                Label(say("align.ask", n=len(self.said) + 1, of=ITEMS)),
                Offset(self.offsets[len(self.said)]),
                buttons(
                    Button("say:-1", say("align.left"), "plain"),
                    Button("say:0", say("align.none"), "plain"),
                    Button("say:1", say("align.right"), "plain"),
                    Button("cancel", say("cancel"), "quiet"),
                ),
                Label(say("align.keys"), "small", "soft"),
            )
        else:
            verdict = say("align.good" if self.right >= ENOUGH else "align.poor")
            matter = (
                Label(say("align.result", n=self.right, of=ITEMS), "heading"),
                Label(verdict),
                Gap(4),
                buttons(
                    Button("done", say("align.keep"), "main", "check"),
                    Button("cancel", say("cancel"), "quiet"),
                ),
            )
        return Dialog(Stack((Label(say("align.title"), "heading"), *matter), gap=10), width=520)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("dealoffsets", offsets):
                return Outcome(screen=replace(self, offsets=offsets), focus="say:0")
            case Pressed(key) if key.startswith("say:"):
                return self._said(int(key[4:]))
            case Key("1" | "2" | "3" as digit) if not message.repeat:
                return self._said(int(digit) - 2)
            case Pressed("done"):
                return Outcome("close", desk=kept(desk, self.right, ITEMS), toast=say("align.kept"))
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()

    def _said(self, what: int) -> Outcome:
        if not self.offsets or len(self.said) >= ITEMS:
            return Outcome()
        changed = replace(self, said=(*self.said, what))
        return Outcome(screen=changed, focus="done" if len(changed.said) == ITEMS else "say:0")


def kept(desk: Desk, right: int, of: int) -> dict[str, Any]:
    """Return the change of the desk that keeps the outcome with the display's set-up."""
    display = desk.settings.displays.get(desk.display_name)
    if display is None:
        return {}
    displays = {**desk.settings.displays, desk.display_name: replace(display, alignment=(right, of))}
    return {"settings": replace(desk.settings, displays=displays)}
