"""Accounts: the list, making the first one, and having further ones countersigned."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Done, Edited, Entered, Message, Pointed, Pressed
from trainer.desktop.nodes import Button, Column, Dialog, Field, Label, Line, Stack, Table, Toggle
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution, fact, framed, panel, titled
from trainer.desktop.screens.roster import name_fault
from trainer.desktop.screens.signoff_case import done_words
from trainer.desktop.screens.strip import first_upper
from trainer.desktop.screens.unlock import LONGEST, Unlock
from trainer.desktop.signing import Account
from trainer.desktop.signing_work import AddAccount, AskKeyFile, LoadAccounts, SetUp
from trainer.desktop.words import say, spoken
from trainer.instrument.sentence import joined, said
from trainer.signoff.passphrase import WeakPassphrase, check_strength
from trainer.signoff.roles import KEEPER, SUPERVISOR


@dataclass(frozen=True, slots=True)
class Accounts(Plain):
    """The list of accounts."""

    found: tuple[Account, ...] | None = None
    lines: tuple[Line, ...] = ()
    row: str = ""
    trouble: str = ""
    said: str = ""

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Ask for the accounts."""
        return (LoadAccounts(),)

    def first_focus(self, desk: Desk) -> str:
        """Begin with adding one."""
        return "add"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        back = Button("back", say("back"), "plain", "back")
        columns = (
            Column(say("accounts.column.name"), 1.6),
            Column(say("accounts.column.roles"), 1.4),
            Column(say("accounts.column.state"), 1.6),
            Column(say("accounts.column.by"), 1.5),
        )
        empty = say("wait") if self.found is None else say("accounts.none")
        parts: list[Any] = [titled(say("accounts.title"), say("accounts.under"), back)]
        if self.trouble:
            parts.append(caution(self.trouble))
        if self.said:
            parts.append(panel(Label(self.said)))
        parts.append(Table("accounts", columns, self.lines, empty, rows_shown=5))
        one = next((a for a in self.found or () if a.name == self.row), self.found[0] if self.found else None)
        if one is not None:
            parts.append(panel(fact(say("accounts.fingerprint", account=one.name), one.fingerprint, "body")))
        parts.append(buttons(Button("add", say("accounts.add"), "main", "add")))
        return framed("signoff", Stack(tuple(parts), gap=12))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("loadaccounts", tuple(found)):
                return Outcome(
                    screen=replace(self, found=found, lines=account_lines(found, desk), trouble="")
                )
            case Refused("loadaccounts", reason):
                return Outcome(screen=replace(self, trouble=reason))
            case Pointed("accounts", row):
                return Outcome(screen=replace(self, row=row))
            case Pressed("add") if self.found is not None:
                return Outcome("open", AddForm() if self.found else SetUpForm())
            case Done(what, value) if what != "cancelled":
                return Outcome(
                    screen=replace(self, said=done_words(what, value, desk)), effects=self.begin(desk)
                )
            case Pressed("back") | Back():
                return Outcome("close")
        return Outcome()


def account_lines(found: tuple[Account, ...], desk: Desk) -> tuple[Line, ...]:
    """Return the rows of the table of accounts."""
    rows = []
    for one in found:
        by = say("accounts.self") if one.vouched_by == one.name else one.vouched_by
        state = desk.sentence(one.fault) or say("accounts.in-force")
        roles = desk.sentence(joined([say(f"accounts.role.{role}") for role in one.roles]))
        rows.append(Line(one.name, (one.name, roles, state, by)))
    return tuple(rows)


@dataclass(frozen=True, slots=True)
class SetUpForm(Plain):
    """A dialog that makes the first supervisor's account."""

    name: str = ""
    typed: str = ""
    again: str = ""
    reasons: tuple[str, str, str] = ("", "", "")  # under name, passphrase and its repetition
    key_file: str = ""
    example: str = ""
    refused: str = ""
    working: bool = False
    supervisor: bool = True
    keeper: bool = False
    modal = True

    def __repr__(self) -> str:
        """Tell the name alone: what is typed is nobody's business."""
        return f"{type(self).__name__}({self.name!r})"

    @property
    def kind(self) -> str:
        """The name of its texts."""
        return "first"

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Ask where key files are kept, and for an example of a good passphrase."""
        return (AskKeyFile(self.name.strip()),)

    def first_focus(self, desk: Desk) -> str:
        """Begin with the name."""
        return "name"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        name, first, second = self.reasons
        weak = weakness(self.typed, self.name) if self.typed else say("accounts.passphrase.hint")
        parts: list[Any] = [
            Label(say(f"accounts.{self.kind}"), "heading"),
            Label(say(f"accounts.{self.kind}.note"), "small", "soft"),
            Field("name", say("accounts.name"), self.name, reason=name, hint=say("accounts.name.hint")),
            *self._roles(),
            Field(
                "passphrase", say("accounts.passphrase"), self.typed, reason=first,
                hint=weak or say("accounts.passphrase.good"), longest=LONGEST, secret=True,
            ),
            Field("again", say("accounts.again"), self.again, reason=second, longest=LONGEST, secret=True),
        ]  # fmt: skip
        if self.example:
            parts.append(Label(say("accounts.example", example=self.example), "small", "soft"))
        if self.key_file and self.name.strip():
            parts.append(Label(say("accounts.key", path=self.key_file), "small", "soft"))
        if self.refused:
            parts.append(caution(self.refused))
        go = say("accounts.make" if self.kind == "first" else "accounts.countersign")
        parts.append(
            buttons(
                Button("ok", go, "main", enabled=not self.working), Button("cancel", say("cancel"), "quiet")
            )
        )
        return Dialog(Stack(tuple(parts), gap=8), width=600)

    def _roles(self) -> tuple[Any, ...]:
        return ()

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("askkeyfile", (str(path), str(example))):
                return Outcome(screen=replace(self, key_file=path, example=self.example or example))
            case Edited("name", value):
                named = replace(self, name=str(value), reasons=("", *self.reasons[1:]), refused="")
                return Outcome(screen=named, effects=named.begin(desk))
            case Edited("passphrase", value):
                reasons = (self.reasons[0], "", "")
                return Outcome(screen=replace(self, typed=str(value), reasons=reasons, refused=""))
            case Edited("again", value):
                return Outcome(screen=replace(self, again=str(value), reasons=(*self.reasons[:2], "")))
            case Edited("supervisor" | "keeper" as role, value):
                on = bool(value)
                changed = replace(self, supervisor=on) if role == "supervisor" else replace(self, keeper=on)
                return Outcome(screen=replace(changed, refused=""))
            case Entered("name"):
                return Outcome(focus="passphrase")
            case Entered("passphrase"):
                return Outcome(focus="again")
            case Entered("again") | Pressed("ok") if not self.working:
                return self._go()
            case Arrived("setup", fingerprint) if self.working:
                return Outcome("switch", _room(), toast=say("done.setup", value=fingerprint))
            case Refused("setup", reason) if self.working:
                return Outcome(screen=replace(self, working=False, refused=reason), focus="name")
            case Pressed("cancel") | Back() if not self.working:
                return Outcome("close")
        return Outcome()

    def _go(self) -> Outcome:
        name = name_fault(self.name) if self.name.strip() else say("accounts.name.empty")
        weak = weakness(self.typed, self.name)
        differs = say("accounts.again.differs") if self.typed != self.again else ""
        if name or weak or differs:
            focus = "name" if name else "passphrase" if weak else "again"
            return Outcome(screen=replace(self, reasons=(name, weak, differs)), focus=focus)
        return self._made()

    def _made(self) -> Outcome:
        forgotten = replace(self, typed="", again="", working=True)
        return Outcome(screen=forgotten, effects=(SetUp(" ".join(self.name.split()), self.typed),))


@dataclass(frozen=True, slots=True)
class AddForm(SetUpForm):
    """A dialog for a further account; a supervisor countersigns it next."""

    def __repr__(self) -> str:
        """Tell the name alone."""
        return f"AddForm({self.name!r})"

    @property
    def kind(self) -> str:
        """The name of its texts."""
        return "add"

    def _roles(self) -> tuple[Any, ...]:
        return (
            Toggle("supervisor", say("accounts.supervisor"), self.supervisor),
            Toggle("keeper", say("accounts.keeper"), self.keeper),
        )

    def _made(self) -> Outcome:
        held = ((SUPERVISOR, self.supervisor), (KEEPER, self.keeper))
        roles = tuple(role for role, on in held if on)
        if not roles:
            return Outcome(screen=replace(self, refused=say("accounts.roles.none")), focus="supervisor")
        return Outcome("replace", Unlock(AddAccount(" ".join(self.name.split()), roles, self.typed)))


def weakness(passphrase: str, account: str) -> str:
    """Return why a passphrase is too easy to guess and how to better it, "" where it is good enough."""
    try:
        check_strength(passphrase, account)
    except WeakPassphrase as fault:
        return first_upper(spoken(said(fault)))
    return ""


def _room() -> Any:
    from trainer.desktop.screens.signoff import Signoff

    return Signoff()
