"""The forms before a signature: a reason, the conditions of a statement, the folder of its files."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Done, Edited, Entered, Message, Pressed
from trainer.desktop.nodes import Button, Dialog, Field, Label, Stack
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.parts import buttons, typed_path
from trainer.desktop.screens.unlock import Unlock
from trainer.desktop.signing import Standing
from trainer.desktop.signing_work import Act, ChangeStanding, OpenAttempt, SignStatement, WriteStatement
from trainer.desktop.words import say

LONGEST = 500  # characters of a reason


@dataclass(frozen=True, slots=True)
class ReasonForm(Plain):
    """Asks for the reason of a new attempt or of a change of standing; the key comes next."""

    kind: str  # openattempt, suspend, withdraw, reinstate, condition
    of: Standing
    statement: str = ""
    typed: str = ""
    reason: str = ""
    modal = True

    def first_focus(self, desk: Desk) -> str:
        """Begin with the reason."""
        return "reason"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        label = say("form.condition.label" if self.kind == "condition" else "form.reason")
        hint = say("form.reason.hint")
        body = (
            Label(say(f"form.{self.kind}.title", person=self.of.person), "heading"),
            Label(say(f"form.{self.kind}"), tone="soft"),
            Field("reason", label, self.typed, reason=self.reason, hint=hint, longest=LONGEST),
            buttons(Button("ok", say("form.onward"), "main"), Button("cancel", say("cancel"), "quiet")),
        )
        return Dialog(Stack(body, gap=10), width=560)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("reason", value):
                return Outcome(screen=replace(self, typed=str(value), reason=""))
            case Entered("reason") | Pressed("ok"):
                if not self.typed.strip():
                    return Outcome(screen=replace(self, reason=say("form.reason.empty")), focus="reason")
                return Outcome("replace", Unlock(self._act()))
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()

    def _act(self) -> Act:
        one, why = self.of, self.typed.strip()
        if self.kind == "openattempt":
            return OpenAttempt(one.person_id, one.person, one.criterion, one.title, why)
        return ChangeStanding(self.statement, one.person, self.kind, why)


@dataclass(frozen=True, slots=True)
class SignForm(Plain):
    """Asks for conditions and for the folder; the key comes next."""

    of: Standing
    folder: str = ""
    conditions: str = ""
    modal = True

    def first_focus(self, desk: Desk) -> str:
        """Begin with the conditions."""
        return "conditions"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        body = (
            Label(say("sign.title", person=self.of.person), "heading"),
            Label(desk.sentence(self.of.title), tone="soft"),
            Label(desk.sentence(self.of.sentence), tone="soft"),
            Field(
                "conditions", say("sign.conditions"), self.conditions,
                hint=say("sign.conditions.hint"), longest=LONGEST,
            ),
            Field("folder", say("sign.folder"), self.folder, hint=say("sign.folder.hint"), longest=1000),
            buttons(Button("ok", say("form.onward"), "main"), Button("cancel", say("cancel"), "quiet")),
        )  # fmt: skip
        return Dialog(Stack(body, gap=10), width=600)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("conditions", value):
                return Outcome(screen=replace(self, conditions=str(value)))
            case Edited("folder", value):
                return Outcome(screen=replace(self, folder=str(value)))
            case Entered("conditions"):
                return Outcome(focus="folder")
            case Entered("folder") | Pressed("ok"):
                given = (part.strip() for part in self.conditions.split(";"))
                one, kept = self.of, tuple(part for part in given if part)
                act = SignStatement(
                    one.person_id, one.person, one.criterion, one.title, kept, typed_path(self.folder)
                )
                return Outcome("replace", Unlock(act))
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()


@dataclass(frozen=True, slots=True)
class FilesForm(Plain):
    """Asks for the folder of a kept statement's files, and has them written."""

    statement: str
    folder: str = ""
    reason: str = ""
    modal = True

    def first_focus(self, desk: Desk) -> str:
        """Begin with the folder."""
        return "folder"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        folder = Field("folder", say("sign.folder"), self.folder, reason=self.reason, longest=1000)
        body = (
            Label(say("files.title"), "heading"),
            folder,
            buttons(Button("ok", say("files.go"), "main"), Button("cancel", say("cancel"), "quiet")),
        )
        return Dialog(Stack(body, gap=10), width=600)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("folder", value):
                return Outcome(screen=replace(self, folder=str(value), reason=""))
            case Entered("folder") | Pressed("ok"):
                return Outcome(effects=(WriteStatement(self.statement, typed_path(self.folder)),))
            case Arrived("writestatement", paths):
                return Outcome("close", onward=Done("writestatement", paths))
            case Refused("writestatement", reason):
                return Outcome(screen=replace(self, reason=reason), focus="folder")
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()
