"""The verdict on one person under one criterion: limits, attempts, checks, statements, what can be done."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Done, Message, Opened, Pressed
from trainer.desktop.nodes import Button, Column, Gap, Label, Line, Row, Stack, Table
from trainer.desktop.results import day
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution, framed, panel, titled
from trainer.desktop.screens.signoff import begun
from trainer.desktop.screens.signoff_parts import limits
from trainer.desktop.signing import Attempt, Case, Check, Signed, Ticketed
from trainer.desktop.signing_work import LoadCase, TakeUp
from trainer.desktop.words import say

CHANGES = ("suspend", "withdraw", "condition")


@dataclass(frozen=True, slots=True)
class CaseView(Plain):
    """The screen; `said` is what was done last, kept in sight until something else is."""

    person_id: str
    criterion: str
    case: Case | None = None
    lines: tuple[Line, ...] = ()
    trouble: str = ""
    said: str = ""

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Ask for everything about it."""
        return (LoadCase(self.person_id, self.criterion),)

    def first_focus(self, desk: Desk) -> str:
        """Begin with what can be done next."""
        if self.trouble:
            return "again"
        if self.case is None:
            return "back"
        return "sign" if self.case.may_sign else "attempt" if self.case.may_open else "check"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        back = Button("back", say("back"), "plain", "back")
        case = self.case
        if case is None:
            what = caution(self.trouble) if self.trouble else panel(Label(say("wait"), tone="soft"))
            again = buttons(Button("again", say("retry"), "main")) if self.trouble else Gap(1)
            return framed("signoff", Stack((titled(say("signoff.case"), "", back), what, again), gap=14))
        one = case.standing
        parts: list[Any] = [titled(one.person, desk.sentence(one.title), back)]
        if self.trouble:
            parts.append(caution(self.trouble))
        if self.said:
            parts.append(panel(Label(self.said)))
        parts.append(self._verdict(case, desk))
        parts += [self._statement(signed, desk) for signed in case.statements[:3]]
        parts.append(self._checks())
        parts.append(panel(Label(desk.sentence(case.protects).replace("\n", " "), "small", "soft")))
        parts.append(caution(say("case.caution")))
        return framed("signoff", Stack(tuple(parts), gap=12))

    def _verdict(self, case: Case, desk: Desk) -> Stack:
        one = case.standing
        found = [limits(one.limits, desk)] if one.limits else [Label(say("case.checks.none"), tone="soft")]
        told = [Label(attempt_words(a, desk), "body") for a in case.attempts if a.sentence]
        actions = [
            Button("sign", say("case.sign"), "main", "signoff") if case.may_sign else None,
            Button("attempt", say("case.attempt.open"), "main", "add") if case.may_open else None,
            Button("ticket", say("signoff.ticket.begin"), "main", "run") if one.ticket else None,
            Button("check", say("signoff.check"), "plain", "run"),
        ]
        return panel(
            Label(say("case.readings"), "heading"),
            *found,
            Gap(2),
            *told,
            Label(say("case.waits", what=desk.sentence(case.waits_for)), tone="soft"),
            Gap(2),
            buttons(*actions),
        )

    def _statement(self, one: Signed, desk: Desk) -> Stack:
        kinds = () if one.state in ("withdrawn", "expired") else CHANGES
        if one.state == "suspended":
            kinds = ("reinstate", "withdraw", "condition")
        deeds = [Button(f"{kind}:{one.id}", say(f"case.{kind}"), "plain") for kind in kinds]
        deeds.append(Button(f"files:{one.id}", say("case.files"), "quiet"))
        said = [Label(desk.sentence(one.reminder), tone="soft")] if one.reminder else []
        if one.conditions:
            said.append(Label(say("case.conditions", conditions="; ".join(one.conditions)), tone="soft"))
        rows = [buttons(*deeds[:2]), buttons(*deeds[2:])] if len(deeds) > 2 else [buttons(*deeds)]
        text = Stack((Label(desk.sentence(one.sentence)), *said), gap=4)
        return panel(
            Label(say("case.statement", id=one.id, supervisor=one.supervisor), "heading"),
            Row((text, Stack(tuple(rows), gap=8)), (1.2, 1), gap=20, fold=760),
        )

    def _checks(self) -> Stack:
        columns = (
            Column(say("case.column.when"), 1.3),
            Column(say("case.column.readings"), 0.8, "right"),
            Column(say("case.column.misreads"), 0.8, "right"),
            Column(say("case.column.counts"), 0.9),
            Column(say("case.column.record"), 4),
        )
        none = say("case.checks.none")
        table = Table("checks", columns, self.lines, none, rows_shown=max(2, min(6, len(self.lines))))
        return Stack((Label(say("case.checks"), "heading"), table), gap=8)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("loadcase", Case() as case) if case.standing.person_id == self.person_id:
                fresh = replace(self, case=case, lines=check_lines(case.checks, desk), trouble="")
                return Outcome(screen=fresh, focus="" if self.case else fresh.first_focus(desk))
            case Refused("loadcase" | "takeup", reason):
                return Outcome(screen=replace(self, trouble=reason), focus="again" if not self.case else "")
            case Done(what, value) if what != "cancelled":
                said = done_words(what, value, desk)
                return Outcome(screen=replace(self, said=said, trouble=""), effects=self.begin(desk))
            case Arrived("takeup", Ticketed() as opened):
                return begun(opened, desk)
            case Opened("checks", session_id):
                from trainer.desktop.screens.result import Result

                return Outcome("open", Result(session_id))
            case Pressed("again"):
                return Outcome(screen=replace(self, trouble=""), effects=self.begin(desk))
            case Pressed("back") | Back():
                return Outcome("close")
            case Pressed(key) if self.case is not None:
                return self._pressed(key, self.case, desk)
        return Outcome()

    def _pressed(self, key: str, case: Case, desk: Desk) -> Outcome:
        from trainer.desktop.screens.signoff_check import OpenCheck
        from trainer.desktop.screens.signoff_forms import FilesForm, ReasonForm, SignForm
        from trainer.desktop.signing import Rule

        one = case.standing
        kind, _, number = key.partition(":")
        match kind:
            case "sign":
                return Outcome("open", SignForm(one, folder=case.folder))
            case "attempt":
                return Outcome("open", ReasonForm("openattempt", one))
            case "ticket":
                return Outcome(effects=(TakeUp(one.ticket),))
            case "check":
                rule = Rule(one.criterion, one.title, case.protects)
                return Outcome("open", OpenCheck.of((rule,), one, desk))
            case "files":
                return Outcome("open", FilesForm(number, folder=case.folder))
            case "suspend" | "withdraw" | "reinstate" | "condition":
                return Outcome("open", ReasonForm(kind, one, number))
        return Outcome()


def attempt_words(one: Attempt, desk: Desk) -> str:
    """Return an attempt's verdict in a sentence."""
    entry = "case.attempt.reason" if one.reason else "case.attempt"
    return say(entry, n=one.number, sentence=desk.sentence(one.sentence), reason=one.reason)


def done_words(what: str, value: Any, desk: Desk) -> str:
    """Return what was done, in a sentence."""
    if what in ("signstatement", "writestatement"):
        return say(f"done.{what}", path=value[0])
    return say(f"done.{what}", value=desk.sentence(value))


def check_lines(checks: tuple[Check, ...], desk: Desk) -> tuple[Line, ...]:
    """Return the rows of the table of checks."""
    rows = []
    for one in checks:
        counts = say("case.counts", n=one.attempt) if one.attempt else say("case.counts.not")
        when = day(one.started_at) or "\N{EN DASH}"
        number = (str(one.readings), "" if one.attempt is None else str(one.misreads))
        attested = say("case.attested") if one.attested else ""
        record = desk.sentence(one.why_not) or "; ".join(filter(None, (one.record, attested)))
        cells = (when, *number, counts, record)
        rows.append(Line(one.session_id, cells, (one.started_at, one.readings, one.misreads, *cells[3:])))
    return tuple(rows)
