"""Sign-off: everybody's standing against the criteria, what is due, and where to open a check."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Message, Opened, Pointed, Pressed
from trainer.desktop.nodes import Button, Column, Gap, Label, Line, Row, Stack, Table
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.begin import Begin
from trainer.desktop.screens.parts import buttons, caution, chief, framed, narrow, panel, titled
from trainer.desktop.screens.signoff_parts import limits, statement_words, verdict_words
from trainer.desktop.signing import Overview, Signed, Standing, Ticketed
from trainer.desktop.signing_work import LoadOverview, TakeUp
from trainer.desktop.words import say

CHIEF = {0: 1.4, 2: 1.6, 3: 2.5}  # columns of a narrow window, with their shares; the rest stands below


@dataclass(frozen=True, slots=True)
class Signoff(Plain):
    """The room: a table of people and criteria with the chosen one beside it."""

    found: Overview | None = None
    row: str = ""
    lines: tuple[Line, ...] = ()
    few: tuple[Line, ...] = ()  # the same rows for a narrow window
    trouble: str = ""

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Ask where everybody stands."""
        return (LoadOverview(),)

    def first_focus(self, desk: Desk) -> str:
        """Begin with the list, or with the first account."""
        if self.trouble:
            return "again"
        if self.found is None:
            return ""
        return "standing" if self.found.accounts and self.found.rows else "first"

    def chosen(self) -> Standing | None:
        """Return the standing that the cursor is on."""
        rows = self.found.rows if self.found is not None else ()
        return next((one for one in rows if one.key == self.row), rows[0] if rows else None)

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        head = titled(say("signoff.title"), say("signoff.under"))
        if self.trouble:
            again = buttons(Button("again", say("retry"), "main"))
            trouble = caution(say("signoff.trouble", reason=self.trouble))
            return framed("signoff", Stack((head, trouble, again), gap=14))
        if self.found is None:
            return framed("signoff", Stack((head, panel(Label(say("wait"), tone="soft"))), gap=14))
        if not self.found.accounts:
            first = buttons(Button("first", say("signoff.first"), "main", "add"))
            none = panel(Label(say("signoff.none")), Gap(4), first)
            return framed("signoff", Stack((head, none, caution(say("caution.screen"))), gap=14))
        columns = (
            Column(say("signoff.column.person"), 1.6),
            Column(say("signoff.column.criterion"), 3.2),
            Column(say("signoff.column.verdict"), 2.65),
            Column(say("signoff.column.statement"), 2.75),
        )
        few = narrow(desk)
        table = Table(
            "standing",
            tuple(replace(columns[c], share=share) for c, share in CHIEF.items()) if few else columns,
            self.few if few else self.lines,
            say("signoff.empty"),
            rows_shown=6,
        )
        bar = buttons(
            Button("check", say("signoff.check"), "main", "run", enabled=bool(self.found.rows)),
            Button("accounts", say("signoff.accounts"), "plain", "people"),
        )
        parts: list[Any] = [head, *(caution(one) for one in self.found.troubles[:2]), bar]
        parts.append(table)
        one = self.chosen()
        if one is not None:
            parts.append(_about(one, desk))
        parts.append(caution(say("caution.screen")))
        return framed("signoff", Stack(tuple(parts), gap=12))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("loadoverview", Overview() as found):
                lines = standing_lines(found, desk)
                fresh = replace(self, found=found, lines=lines, few=chief(lines, tuple(CHIEF)), trouble="")
                return Outcome(screen=fresh, focus="" if self.found else fresh.first_focus(desk))
            case Refused("loadoverview", reason):
                return Outcome(screen=replace(self, trouble=reason), focus="again")
            case Refused("takeup", reason):
                return Outcome(toast=reason)
            case Arrived("takeup", Ticketed() as opened):
                return begun(opened, desk)
            case Pointed("standing", row):
                return Outcome(screen=replace(self, row=row))
            case Opened("standing", row):
                return replace(self, row=row)._open(desk)
            case Pressed(key):
                return self._pressed(key, desk)
            case Back():
                return Outcome("switch")
        return Outcome()

    def _open(self, desk: Desk) -> Outcome:
        """Open the verdict of the chosen row; of a person without any, the opening of a check."""
        from trainer.desktop.screens.signoff_case import CaseView

        one = self.chosen()
        if one is None:
            return Outcome()
        if not one.criterion:
            return self._check(desk)
        return Outcome("open", CaseView(one.person_id, one.criterion))

    def _check(self, desk: Desk) -> Outcome:
        from trainer.desktop.screens.signoff_check import OpenCheck

        one = self.chosen()
        if self.found is None or one is None:
            return Outcome()
        return Outcome("open", OpenCheck.of(self.found.rules, one, desk))

    def _pressed(self, key: str, desk: Desk) -> Outcome:
        from trainer.desktop.screens.signoff_accounts import Accounts, SetUpForm

        one = self.chosen()
        match key:
            case "again":
                return Outcome(screen=replace(self, trouble=""), effects=self.begin(desk))
            case "first":
                return Outcome("open", SetUpForm())
            case "accounts":
                return Outcome("open", Accounts())
            case "check":
                return self._check(desk)
            case "case":
                return self._open(desk)
            case "ticket" if one is not None and one.ticket:
                return Outcome(effects=(TakeUp(one.ticket),))
        return Outcome()


def begun(opened: Ticketed, desk: Desk, go: Any = "open") -> Outcome:
    """Return the outcome of beginning a check that was opened: its person is the one who reads now."""
    return Outcome(go, Begin(opened.plan, ticket=opened.ticket), desk={"person": opened.person})


def standing_lines(found: Overview, desk: Desk) -> tuple[Line, ...]:
    """Return the rows of the table, what presses first at the top."""
    rows = []
    for one in found.rows:
        criterion = short(desk.sentence(one.title)) if one.criterion else "\N{EN DASH}"
        cells = (one.person, criterion, verdict_words(one, desk), statement_words(one.statement))
        due = _pressing(one.statement)
        sort = (one.person.casefold(), criterion, cells[2], due)
        rows.append((due, one.person.casefold(), Line(one.key, cells, sort)))
    return tuple(line for _, _, line in sorted(rows, key=lambda row: row[:2]))


def _pressing(one: Signed | None) -> float:
    """Return how soon a statement wants something, in days; suspended ones first, no statement last."""
    if one is None:
        return 1e6
    if not one.in_force:
        return -1e4 if one.state == "suspended" else 1e5
    return float(min(one.valid_days, one.valid_days if one.due_in_days is None else one.due_in_days))


def short(title: str) -> str:
    """Return a criterion's title without what its limits say anyway."""
    return title.split(":")[0]


def _about(one: Standing, desk: Desk) -> Stack:
    """Return what is known about the chosen row: each limit on its scale, the statement, what to do."""
    case = Button("case", say("signoff.case"), "plain", "table") if one.criterion else Gap(1)
    head = Row((Label(one.person, "heading", wrap=False), case), (1, 0), gap=10, align="middle")
    if not one.criterion:
        return panel(head, Label(say("signoff.no-check"), tone="soft"))
    said = desk.sentence(one.sentence) if one.limits else say("signoff.no-check")
    parts: list[Any] = [
        head,
        Label(
            say("signoff.about", title=desk.sentence(one.title), said=said) if one.limits else said,
            tone="soft",
        ),
    ]
    if one.limits:
        parts.append(limits(one.limits, desk))
    if one.statement is not None:
        parts.append(Label(desk.sentence(one.statement.sentence), "small", "soft"))
    if one.ticket:
        ticket = Button("ticket", say("signoff.ticket.begin"), "plain", "run")
        parts.append(Row((Label(say("signoff.ticket"), "small", "soft"), ticket), (1, 0), fold=560))
    return panel(*parts)
