"""The dialogs of the list of people: add, rename, put away, import."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from trainer.desktop import work
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Done, Edited, Entered, Message, Pressed
from trainer.desktop.nodes import Button, Dialog, Field, Label, Stack
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution, typed_path
from trainer.desktop.screens.roster import name_fault
from trainer.desktop.words import say


def asked(change: work.ListChange) -> Outcome:
    """Return the outcome of a change that an account has to make: it is asked for, and does it."""
    from trainer.desktop.screens.unlock import Unlock
    from trainer.desktop.signing_work import AsAccount

    return Outcome("open", Unlock(AsAccount(change)))


@dataclass(frozen=True, slots=True)
class NameDialog(Plain):
    """Add or rename a person."""

    what: Literal["add", "rename"]
    person: Any = None
    name: str = ""
    reason: str = ""
    modal = True

    def first_focus(self, desk: Desk) -> str:
        """Begin with the name."""
        return "name"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        title = (
            say("people.add.title")
            if self.what == "add"
            else say("people.rename.title", name=self.person.name[:40])
        )
        note = Label(say("people.rename.note"), "small", "soft") if self.what == "rename" else None
        ok = say("people.add") if self.what == "add" else say("people.rename")
        children = (
            Label(title, "heading"),
            Field("name", say("people.name"), self.name, reason=self.reason, hint=say("people.name.hint")),
            note,
            buttons(Button("ok", ok, "main"), Button("cancel", say("cancel"), "quiet")),
        )
        return Dialog(Stack(tuple(c for c in children if c is not None), gap=10))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        adding = self.what == "add"
        match message:
            case Edited("name", value):
                text = str(value)
                return Outcome(screen=replace(self, name=text, reason=name_fault(text)))
            case Entered("name") | Pressed("ok"):
                fault = name_fault(self.name)
                if fault:
                    return Outcome(screen=replace(self, reason=fault), focus="name")
                name = self.name.strip()
                if adding:
                    return Outcome(effects=(work.AddPerson(name),))
                return Outcome(effects=(work.RenamePerson(self.person, name),))
            case Arrived(_, work.AccountAsked(change)):
                return asked(change)
            case Arrived("addperson", (person, people)) | Done("asaccount", (person, people)) if adding:
                return Outcome(
                    "close", desk={"people": people}, toast=say("people.added", name=person.name[:60])
                )
            case Arrived("renameperson", (person, people)) | Done("asaccount", (person, people)):
                changed: dict[str, Any] = {"people": people}
                if desk.person is not None and desk.person.id == person.id:
                    changed["person"] = person
                    if desk.settings.last_person == desk.person.name:
                        changed["settings"] = replace(desk.settings, last_person=person.name)
                return Outcome("close", desk=changed, toast=say("people.renamed", name=person.name[:60]))
            case Refused("addperson" | "renameperson", reason):
                return Outcome(screen=replace(self, reason=reason), focus="name")
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()


@dataclass(frozen=True, slots=True)
class ArchiveDialog(Plain):
    """Ask before a person is put away."""

    person: Any
    reason: str = ""
    modal = True

    def first_focus(self, desk: Desk) -> str:
        """Begin with what changes nothing."""
        return "cancel"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        children: list[Any] = [
            Label(say("people.archive.title", name=self.person.name[:60]), "heading"),
            Label(say("people.archive.note")),
        ]
        if self.reason:
            children.append(caution(self.reason))
        children.append(
            buttons(Button("ok", say("people.archive"), "plain", "archive"), Button("cancel", say("cancel")))
        )
        return Dialog(Stack(tuple(children), gap=10))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Pressed("ok"):
                return Outcome(effects=(work.ArchivePerson(self.person),))
            case Arrived(_, work.AccountAsked(change)):
                return asked(change)
            case Arrived("archiveperson", (person, people)) | Done("asaccount", (person, people)):
                changed: dict[str, Any] = {"people": people}
                if desk.person is not None and desk.person.id == person.id:
                    changed["person"] = None
                return Outcome("close", desk=changed, toast=say("people.archived", name=person.name[:60]))
            case Refused("archiveperson", reason):
                return Outcome(screen=replace(self, reason=reason))
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()


@dataclass(frozen=True, slots=True)
class ImportDialog(Plain):
    """Add people from a file of names."""

    path: str = ""
    reason: str = ""
    waiting: bool = False
    modal = True

    def first_focus(self, desk: Desk) -> str:
        """Begin with the path."""
        return "path"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        return Dialog(
            Stack(
                (
                    Label(say("people.import.title"), "heading"),
                    Label(say("people.import.note"), tone="soft"),
                    Field(
                        "path",
                        say("people.import.path"),
                        self.path,
                        reason=self.reason,
                        hint=say("wait") if self.waiting else "",
                        longest=1000,
                    ),
                    buttons(
                        Button("ok", say("people.add"), "main", enabled=not self.waiting),
                        Button("cancel", say("cancel"), "quiet"),
                    ),
                ),
                gap=10,
            ),
            width=560,
        )

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("path", value):
                return Outcome(screen=replace(self, path=str(value), reason=""))
            case Entered("path") | Pressed("ok") if not self.waiting:
                typed = typed_path(self.path)
                if not typed:
                    return Outcome(screen=replace(self, reason=say("people.import.empty")), focus="path")
                wanted = work.ImportPeople(Path(typed))
                return Outcome(screen=replace(self, waiting=True, reason=""), effects=(wanted,))
            case Arrived(_, work.AccountAsked(change)):
                return asked(change)
            case Arrived("importpeople", (int(added), tuple(refused), people)) | Done(
                "asaccount", (int(added), tuple(refused), people)
            ):
                text = say("people.imported", n=added)
                if refused:
                    text = say("people.imported.some", n=added, m=len(refused), first=str(refused[0]))
                return Outcome("close", desk={"people": people}, toast=text)
            case Done("cancelled"):
                return Outcome(screen=replace(self, waiting=False), focus="path")
            case Refused("importpeople", reason):
                return Outcome(screen=replace(self, reason=reason, waiting=False), focus="path")
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()
