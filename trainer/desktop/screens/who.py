"""Choosing who is reading: type a few letters, Enter."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import work
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Key, Refused
from trainer.desktop.messages import Back, Done, Edited, Entered, Message, Opened, Pointed, Pressed
from trainer.desktop.nodes import Button, Column, Dialog, Field, Label, Stack, Table
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.parts import buttons
from trainer.desktop.screens.people import chosen
from trainer.desktop.screens.people_dialogs import asked
from trainer.desktop.screens.roster import lines_for, matching, name_fault, person_of
from trainer.desktop.words import say


@dataclass(frozen=True, slots=True)
class Who(Plain):
    """A dialog to choose or add a person."""

    typed: str = ""
    row: str = ""
    reason: str = ""
    modal = True

    def first_focus(self, desk: Desk) -> str:
        """Begin with the name."""
        return "filter"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        lines = lines_for(desk, self.typed)
        table = Table(
            "people", (Column(say("people.column.name")),), lines, say("who.empty"), rows_shown=6, grow=False
        )
        new = self.typed.strip()
        add = Button("add", say("who.new", name=new[:24]), "plain", "add") if new else None
        return Dialog(
            Stack(
                (
                    Label(say("who.title"), "heading"),
                    Field("filter", say("who.filter"), self.typed, reason=self.reason),
                    table,
                    buttons(
                        Button("take", say("who.take"), "main", enabled=bool(lines)),
                        add,
                        Button("cancel", say("cancel"), "quiet"),
                    ),
                ),
                gap=10,
            ),
            width=520,
        )

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        found = matching(desk, self.typed)
        match message:
            case Edited("filter", value):
                return Outcome(screen=replace(self, typed=str(value), row="", reason=""))
            case Pointed("people", row):
                return Outcome(screen=replace(self, row=row))
            case Opened("people", row):
                person = person_of(desk, row)
                return chosen(person, desk) if person is not None else Outcome()
            case Key("down") if found:
                return Outcome(focus="people")
            case Entered("filter") | Pressed("take"):
                if found:
                    return chosen(person_of(desk, self.row) or found[0], desk)
                return self._add(desk)
            case Pressed("add"):
                return self._add(desk)
            case Arrived(_, work.AccountAsked(change)):
                return asked(change)
            case Arrived("addperson", (person, people)) | Done("asaccount", (person, people)):
                return chosen(person, replace(desk, people=people), people)
            case Refused("addperson", reason):
                return Outcome(screen=replace(self, reason=reason), focus="filter")
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()

    def _add(self, desk: Desk) -> Outcome:
        fault = name_fault(self.typed)
        if fault:
            return Outcome(screen=replace(self, reason=fault), focus="filter")
        return Outcome(effects=(work.AddPerson(self.typed.strip()),))
