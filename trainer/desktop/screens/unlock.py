"""Unlocking one's account for one act: the passphrase is never shown, and forgotten once handed over."""

from dataclasses import dataclass, replace
from math import ceil
from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused, Tick
from trainer.desktop.messages import Back, Done, Edited, Entered, Message, Opened, Pointed, Pressed
from trainer.desktop.nodes import Button, Column, Dialog, Field, Label, Line, Stack, Table
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution, fact, typed_path
from trainer.desktop.signing import Account, Who
from trainer.desktop.signing_work import Act, AskWait, LoadAccounts
from trainer.desktop.words import say

LONGEST = 200  # characters of a passphrase


@dataclass(frozen=True, slots=True)
class Unlock(Plain):
    """A dialog that has `act` done by an account; the screen below is told by `Done`."""

    act: Act
    accounts: tuple[Account, ...] | None = None
    account: str = ""
    typed: str = ""
    key_file: str = ""
    other_key: bool = False
    reason: str = ""
    waiting_until_s: float = 0.0
    working: bool = False
    modal = True

    def __repr__(self) -> str:
        """Tell the act alone: what is typed is nobody's business."""
        return f"Unlock({self.act.what})"

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Ask for the accounts."""
        return (LoadAccounts(),)

    def first_focus(self, desk: Desk) -> str:
        """Begin with the account where there are several, else with the passphrase."""
        if self.accounts is None:
            return "cancel"
        return "account" if len(self.accounts) > 1 and not self.typed else "passphrase"

    def wait_s(self, desk: Desk) -> int:
        """Return how many whole seconds the account still has to wait."""
        return max(0, ceil(self.waiting_until_s - desk.now_s))

    def tick_s(self, desk: Desk) -> float | None:
        """Count the wait down."""
        return min(1.0, max(0.01, self.waiting_until_s - desk.now_s)) if self.wait_s(desk) else None

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        about, what = self.act.about, self.act.what
        head = (
            Label(say(f"unlock.{what}.title", **about), "heading"),
            Label(say(f"unlock.{what}", **about), tone="soft"),
        )
        cancel = Button("cancel", say("cancel"), "quiet", enabled=not self.working)
        if self.accounts is None:
            trouble = caution(self.reason) if self.reason else Label(say("wait"), tone="soft")
            return Dialog(Stack((*head, trouble, buttons(cancel)), gap=10), width=520)
        if not self.accounts:
            return Dialog(Stack((*head, caution(say("unlock.none")), buttons(cancel)), gap=10), width=520)
        wait = self.wait_s(desk)
        go = say("unlock.working") if self.working else say("unlock.wait", s=wait) if wait else ""
        parts: list[Any] = [*head, *self._whose()]
        parts.append(
            Field(
                "passphrase", say("unlock.passphrase"), self.typed, longest=LONGEST,
                reason=say("unlock.waiting", s=wait) if wait else self.reason,
                hint=say("unlock.forgotten"), secret=True, enabled=not self.working,
            )
        )  # fmt: skip
        if self.other_key:
            parts.append(Field("key", say("unlock.key"), self.key_file, longest=1000))
        parts.append(
            buttons(
                Button("ok", go or say("unlock.go"), "main", enabled=not (self.working or wait)),
                cancel,
                None if self.other_key else Button("other", say("unlock.other"), "quiet"),
            )
        )
        return Dialog(Stack(tuple(parts), gap=10), width=520)

    def _whose(self) -> tuple[Any, ...]:
        assert self.accounts is not None  # asked for only then
        if len(self.accounts) == 1:
            return (fact(say("unlock.account"), self.accounts[0].name, "body"),)
        lines = tuple(Line(one.name, (one.name,)) for one in self.accounts)
        shown = min(4, len(lines))
        return (Table("account", (Column(say("unlock.account")),), lines, rows_shown=shown, grow=False),)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("loadaccounts", tuple(found)):
                usable = tuple(one for one in found if not one.fault)
                first = usable[0].name if usable else ""
                changed = replace(self, accounts=usable, account=first)
                return Outcome(screen=changed, focus=changed.first_focus(desk))
            case Refused("loadaccounts", reason):
                return Outcome(screen=replace(self, reason=reason))
            case Pointed("account", row):
                return Outcome(screen=replace(self, account=row, reason="", waiting_until_s=0.0))
            case Opened("account", row):
                chosen = replace(self, account=row, reason="", waiting_until_s=0.0)
                return Outcome(screen=chosen, focus="passphrase")
            case Edited("passphrase", value) if not self.working:
                return Outcome(screen=replace(self, typed=str(value), reason=""))
            case Edited("key", value):
                return Outcome(screen=replace(self, key_file=str(value)))
            case Pressed("other"):
                return Outcome(screen=replace(self, other_key=True), focus="key")
            case Entered("passphrase" | "key") | Pressed("ok"):
                return self._go(desk)
            case Arrived(what, value) if self.working and what == self.act.what:
                return Outcome("close", onward=Done(what, value))
            case Refused(what, reason) if self.working and what == self.act.what:
                refused = replace(self, working=False, reason=reason)
                return Outcome(screen=refused, effects=(AskWait(self.account),), focus="passphrase")
            case Arrived("askwait", (account, float(seconds))) if account == self.account and seconds > 0:
                return Outcome(screen=replace(self, waiting_until_s=desk.now_s + seconds))
            case Tick() if self.waiting_until_s and not self.wait_s(desk):
                return Outcome(screen=replace(self, waiting_until_s=0.0))
            case Pressed("cancel") | Back() if not self.working:
                return Outcome("close", onward=Done("cancelled", self.act.what))
        return Outcome()

    def _go(self, desk: Desk) -> Outcome:
        if self.working or not self.account or self.wait_s(desk):
            return Outcome()
        who = Who(self.account, self.typed, typed_path(self.key_file))
        return Outcome(
            screen=replace(self, typed="", reason="", working=True), effects=(replace(self.act, who=who),)
        )
