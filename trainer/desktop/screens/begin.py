"""Between choosing a plan and its first item: the session is dealt and kept before anything is shown."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import sittings
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Message, Pressed
from trainer.desktop.nodes import Button, Dialog, Gap, Label, Stack
from trainer.desktop.pictures import drill_size, fitting_px_per_mm
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.parts import buttons, caution
from trainer.desktop.screens.seen import display_of
from trainer.desktop.words import say
from trainer.instrument import catalogue
from trainer.practice.conditions import SCREEN
from trainer.practice.plan import Plan


@dataclass(frozen=True, slots=True)
class Begin(Plain):
    """A dialog that gives way to the drill as soon as the archive has the session."""

    plan: Plan
    refused: str = ""
    ticket: str = ""  # of a guarded check
    resumes: sittings.Sitting | None = None  # a guarded check to go on with, in the place of a new sitting
    modal = True

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Have the session dealt and kept, or the ticket of one that is gone on with looked at."""
        if self.resumes is not None:
            from trainer.desktop.signing_work import ResumeCheck

            assert desk.person is not None  # whose sitting it is
            return (ResumeCheck(self.resumes, str(desk.person.id)),)
        micrometer = catalogue.load(self.plan.instrument)
        wanted = self.plan.viewing.get("px_per_mm")
        size = drill_size(desk.size, desk.drawn_scale, desk.settings.keypad)
        px = float(wanted) if wanted else fitting_px_per_mm(micrometer, size)
        if self.plan.true_size and desk.display is not None:
            px = min(px, desk.display.px_per_mm)
        screen = None if desk.display is None else desk.display.px_per_mm
        viewing: dict[str, Any] = {**self.plan.viewing, "px_per_mm": px, SCREEN: screen}
        if desk.display is not None:
            viewing.setdefault("distance_mm", desk.display.distance_mm)
        header = {
            "viewing": viewing,
            "px_per_mm": px,
            "station": desk.station,
            "program_version": desk.program_version,
            "drawing_version": desk.drawing_version,
            "started_at": desk.utc(desk.now_s),
        }
        return (sittings.BeginSitting(desk.person, self.plan, header, display_of(desk), self.ticket),)

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        if self.refused:
            what: Any = caution(say("begin.refused", reason=self.refused))
        else:
            what = Label(say("wait"), tone="soft")
        actions = buttons(
            Button("again", say("retry"), "main") if self.refused else None, Button("cancel", say("cancel"))
        )
        return Dialog(Stack((Label(say("begin.title"), "heading"), what, Gap(4), actions), gap=10))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("beginsitting", sittings.Sitting() as sitting) if sitting.plan == self.plan:
                return Outcome("replace", Drill.of(sitting))
            case Arrived("resumecheck", sittings.Sitting() as sitting) if self.resumes is not None:
                return Outcome("replace", Drill.of(sitting))
            case Refused("beginsitting" | "resumecheck", reason):
                return Outcome(screen=replace(self, refused=reason), focus="again")
            case Pressed("again"):
                return Outcome(screen=replace(self, refused=""), effects=self.begin(desk))
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()
