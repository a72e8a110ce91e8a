"""Help: keys, words, method, one page each."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.messages import Back, Edited, Message
from trainer.desktop.nodes import Choice, Label, Row, Stack
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.parts import caution, framed, panel, titled
from trainer.desktop.words import say

KEYS = (
    "tab",
    "enter",
    "esc",
    "arrows",
    "sort",
    "skip",
    "pause",
    "pad",
    "undo",
    "scale",
    "full",
    "rooms",
    "help",
    "quit",
)
WORDS = ("division", "tenth", "truth", "error", "bias", "spread", "misread", "drill", "check", "interval")
PAGES = ("keys", "words", "method")


def _pairs(kind: str, names: tuple[str, ...], end: str, share: float, desk: Desk) -> Stack:
    """Return names and what they mean, wrapped and never cut off: this page is read at every size."""
    rows: list[Any] = []
    for name in names:
        told = Label(say(f"{kind}.{name}"), "strong"), Label(desk.sentence(say(f"{kind}.{name}.{end}")))
        rows.append(Row(told, (1, share), gap=20))
    return panel(*rows, gap=10)


@dataclass(frozen=True, slots=True)
class Help(Plain):
    """The help screen at one of its pages."""

    page: str = "keys"

    def first_focus(self, desk: Desk) -> str:
        """Begin with the choice of the page."""
        return "page"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        pages = Choice("page", "", tuple((p, say(f"help.tab.{p}")) for p in PAGES), self.page)
        if self.page == "method":
            texts = [Label(desk.sentence(say(f"method.{n}"))) for n in range(1, 6)]
            matter: tuple[Any, ...] = (
                panel(Label(say("method.title"), "heading"), *texts, gap=10),
                caution(say("caution.screen")),
            )
        elif self.page == "words":
            matter = (_pairs("word", WORDS, "means", 4.2, desk),)
        else:
            matter = (_pairs("key", KEYS, "does", 2.6, desk),)
        return framed("help", Stack((titled(say("help.title")), pages, *matter), gap=14))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("page", value):
                return Outcome(screen=replace(self, page=str(value)))
            case Back():
                return Outcome("close")
        return Outcome()
