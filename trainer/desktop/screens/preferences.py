"""Settings of the station: everything takes effect at once and is remembered."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import settings
from trainer.desktop.desk import Desk
from trainer.desktop.messages import Back, Edited, Message
from trainer.desktop.nodes import Choice, Label, Stack, Toggle
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.parts import framed, panel, titled
from trainer.desktop.words import say
from trainer.desktop.work import FullScreen

SCALES = ("0", "1", "1.25", "1.5", "2", "2.5", "3")


@dataclass(frozen=True, slots=True)
class Preferences(Plain):
    """The settings screen; it has no state of its own."""

    def first_focus(self, desk: Desk) -> str:
        """Begin at the top."""
        return "ground"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        s = desk.settings
        grounds = tuple((g, say(f"settings.ground.{g}")) for g in ("light", "dark", "contrast"))
        scales = tuple(
            (v, say("settings.scale.auto") if v == "0" else f"{float(v) * 100:.0f}\N{NO-BREAK SPACE}%")
            for v in SCALES
        )
        marks = ((".", say("settings.decimal.point")), (",", say("settings.decimal.comma")))
        tongues = (("", say("settings.language.english")), *desk.languages)
        language = (
            (Choice("language", say("settings.language"), tongues, s.language),) if desk.languages else ()
        )
        look = panel(
            Label(say("settings.look"), "heading"),
            Choice("ground", say("settings.ground"), grounds, s.ground),
            Choice("scale", say("settings.scale"), scales, f"{s.scale:g}"),
            Toggle("full_screen", say("settings.full"), s.full_screen),
            *language,
            gap=12,
        )
        numbers = panel(
            Label(say("settings.numbers"), "heading"),
            Choice("decimal", say("settings.decimal"), marks, s.decimal),
            Label(say("settings.decimal.note"), "small", "soft"),
            gap=10,
        )
        hands = panel(
            Label(say("settings.hands"), "heading"),
            Toggle("keypad", say("settings.keypad"), s.keypad),
            Toggle("sounds", say("settings.sounds"), s.sounds),
            gap=6,
        )
        head = titled(say("settings.title"), say("settings.under"))
        return framed("settings", Stack((head, look, numbers, hands), gap=14))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("scale", value):
                changed: Any = replace(desk.settings, scale=float(str(value)))
            case Edited("full_screen", value):
                changed = replace(desk.settings, full_screen=bool(value))
                return Outcome(screen=self, desk={"settings": changed}, effects=(FullScreen(bool(value)),))
            case Edited("ground" | "decimal" | "language" | "keypad" | "sounds" as name, value):
                changed = settings.changed(desk.settings, name, value)
            case Back():
                return Outcome("switch")
            case _:
                return Outcome()
        return Outcome(screen=self, desk={"settings": changed})
