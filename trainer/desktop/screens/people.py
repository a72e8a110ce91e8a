"""People: choose, add, rename, put away, import a list."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from trainer.desktop import work
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Edited, Entered, Message, Opened, Pointed, Pressed
from trainer.desktop.nodes import Button, Column, Dialog, Field, Label, Line, Row, Stack, Table
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution, framed, titled
from trainer.desktop.store import Person
from trainer.desktop.words import counted, say


def name_fault(name: str) -> str:
    """Return what is wrong with a name as typed, "" when nothing is."""
    return "" if name.strip() else say("people.name.empty")


def matching(desk: Desk, typed: str) -> list[Person]:
    """Return the people whose names hold what was typed."""
    wanted = typed.strip().casefold()
    return [p for p in desk.people or () if wanted in p.name.casefold()]


def person_of(desk: Desk, row: str) -> Person | None:
    """Return the person of a table's row."""
    return next((p for p in desk.people or () if str(p.id) == row), None)


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
    lines: tuple[Line, ...] = ()
    shown_of: Any = None  # the people and the text that `lines` were made of

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Ask who is on the list."""
        return (work.LoadPeople(),)

    def first_focus(self, desk: Desk) -> str:
        """Begin with the list, or with adding where it is empty."""
        return "people" if desk.people else "add"

    def _lines(self, desk: Desk) -> tuple[Line, ...]:
        if self.shown_of is not None and self.shown_of[0] is desk.people and self.shown_of[1] == self.typed:
            return self.lines
        return table_lines(matching(desk, self.typed))

    def _settled(self, desk: Desk) -> "People":
        """Keep the rows, so that a list of thousands is made once and not at every key."""
        return replace(self, lines=self._lines(desk), shown_of=(desk.people, self.typed))

    def _person(self, desk: Desk) -> Person | None:
        lines = self._lines(desk)
        return person_of(desk, self.row or (lines[0].key if lines else ""))

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        lines = self._lines(desk)
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
                return Outcome(screen=replace(self, typed=str(value), row="")._settled(desk))
            case Pointed("people", row):
                return Outcome(screen=replace(self, row=row)._settled(desk))
            case Arrived("loadpeople"):
                return Outcome(screen=self._settled(desk))
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


def table_lines(people: list[Person]) -> tuple[Line, ...]:
    """Return the rows of a list of people."""
    rows = []
    for p in people:
        added = str(getattr(p, "added_at", ""))[:10]
        rows.append(Line(str(p.id), (p.name, added), (p.name.casefold(), added)))
    return tuple(rows)


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
        match message:
            case Edited("name", value):
                text = str(value)
                return Outcome(screen=replace(self, name=text, reason=name_fault(text)))
            case Entered("name") | Pressed("ok"):
                fault = name_fault(self.name)
                if fault:
                    return Outcome(screen=replace(self, reason=fault), focus="name")
                name = self.name.strip()
                if self.what == "add":
                    return Outcome(effects=(work.AddPerson(name),))
                return Outcome(effects=(work.RenamePerson(self.person, name),))
            case Arrived("addperson", (person, people)):
                return Outcome(
                    "close", desk={"people": people}, toast=say("people.added", name=person.name[:60])
                )
            case Arrived("renameperson", (person, people)):
                changed = {"people": people}
                if desk.person is not None and desk.person.id == person.id:
                    changed["person"] = person
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
            case Arrived("archiveperson", (person, people)):
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
                    Field("path", say("people.import.path"), self.path, reason=self.reason, longest=1000),
                    buttons(
                        Button("ok", say("people.add"), "main"), Button("cancel", say("cancel"), "quiet")
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
            case Entered("path") | Pressed("ok"):
                return Outcome(effects=(work.ImportPeople(Path(self.path.strip().strip('"'))),))
            case Arrived("importpeople", (int(added), tuple(refused), people)):
                text = say("people.imported", n=added)
                if refused:
                    text = say("people.imported.some", n=added, m=len(refused), first=str(refused[0]))
                return Outcome("close", desk={"people": people}, toast=text)
            case Refused("importpeople", reason):
                return Outcome(screen=replace(self, reason=reason), focus="path")
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()
