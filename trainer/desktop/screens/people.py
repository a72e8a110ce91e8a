"""People: choose, add, rename, put away, import a list."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import work
from trainer.desktop.desk import Desk
from trainer.desktop.messages import Back, Edited, Entered, Message, Opened, Pointed, Pressed
from trainer.desktop.nodes import Button, Column, Field, Label, Row, Stack, Table
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution, framed, titled
from trainer.desktop.screens.people_dialogs import ArchiveDialog, ImportDialog, NameDialog
from trainer.desktop.screens.roster import lines_for, person_of
from trainer.desktop.store import Person
from trainer.desktop.words import counted, say


def chosen(person: Person, desk: Desk, people: Any = None) -> Outcome:
    """Return the outcome of choosing a person: on to Home."""
    from trainer.desktop.screens.home import Home

    changed: dict[str, Any] = {"person": person, "settings": replace(desk.settings, last_person=person.name)}
    if people is not None:
        changed["people"] = people
    return Outcome("switch", Home(), desk=changed)


@dataclass(frozen=True, slots=True)
class People(Plain):
    """The list of people."""

    typed: str = ""
    row: str = ""

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Ask who is on the list."""
        return (work.LoadPeople(),)

    def first_focus(self, desk: Desk) -> str:
        """Begin with the list, or with adding where it is empty."""
        return "people" if desk.people else "add"

    def _person(self, desk: Desk) -> Person | None:
        lines = lines_for(desk, self.typed, dated=True)
        return person_of(desk, self.row or (lines[0].key if lines else ""))

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        lines = lines_for(desk, self.typed, dated=True)
        some = bool(lines)
        table = Table(
            "people",
            (Column(say("people.column.name"), 3), Column(say("people.column.added"), 1.4)),
            lines,
            say("people.none")
            if desk.people
            else (say("people.empty") if desk.people is not None else say("wait")),
            rows_shown=6,
        )
        find = Field("find", "", self.typed, compact=True)
        count = counted("count.people", len(lines))
        bar = Row(
            (
                Label(say("people.find"), "small", "soft", wrap=False),
                find,
                Label(count, "small", "soft", wrap=False),
                Button("import", say("people.import"), "quiet"),
                Button("add", say("people.add"), "plain", "add"),
            ),
            (0, 1, 0, 0, 0),
            gap=10,
            align="middle",
        )
        actions = buttons(
            Button("choose", say("people.choose"), "main", "check", enabled=some),
            Button("rename", say("people.rename"), "plain", "pencil", enabled=some),
            Button("archive", say("people.archive"), "plain", "archive", enabled=some),
        )
        trouble = (caution(say("home.trouble", reason=desk.trouble)),) if desk.trouble else ()
        body = Stack(
            (titled(say("people.title"), say("people.under")), *trouble, bar, table, actions), gap=12
        )
        return framed("people", body)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("find", value):
                return Outcome(screen=replace(self, typed=str(value), row=""))
            case Pointed("people", row):
                return Outcome(screen=replace(self, row=row))
            case Opened("people", row):
                person = person_of(desk, row)
                return chosen(person, desk) if person is not None else Outcome()
            case Entered("find") | Pressed("choose"):
                person = self._person(desk)
                return chosen(person, desk) if person is not None else Outcome()
            case Pressed("add"):
                return Outcome("open", NameDialog("add"))
            case Pressed("import"):
                return Outcome("open", ImportDialog())
            case Pressed("rename"):
                person = self._person(desk)
                return Outcome("open", NameDialog("rename", person, person.name)) if person else Outcome()
            case Pressed("archive"):
                person = self._person(desk)
                return Outcome("open", ArchiveDialog(person)) if person else Outcome()
            case Back():
                from trainer.desktop.screens.home import Home

                return Outcome("switch", Home())
        return Outcome()
