"""Plans: what each asks; run one; copy one and change it; change or delete an own one."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import results
from trainer.desktop.desk import Desk
from trainer.desktop.messages import Back, Message, Opened, Pointed, Pressed
from trainer.desktop.nodes import Button, Column, Gap, Label, Line, Picture, Row, Stack, Table
from trainer.desktop.pictures import Shot
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.begin import Begin
from trainer.desktop.screens.parts import buttons, caution, fact, framed, panel, titled
from trainer.desktop.screens.strip import asks
from trainer.desktop.screens.who import Who
from trainer.desktop.words import say
from trainer.practice.plan import Plan


@dataclass(frozen=True, slots=True)
class Plans(Plain):
    """The list of plans with the chosen one beside it."""

    row: str = ""

    def first_focus(self, desk: Desk) -> str:
        """Begin with the list."""
        return "plans"

    def _plan(self, desk: Desk) -> Plan | None:
        return next((p for p in desk.plans if p.name == self.row), desk.plans[0] if desk.plans else None)

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        plan = self._plan(desk)
        table = Table(
            "plans",
            (
                Column(say("plans.column.title"), 4.4),
                Column(say("plans.column.kind"), 1),
                Column(say("plans.column.items"), 0.8, "right"),
            ),
            plan_lines(desk),
            say("plans.empty"),
            rows_shown=10,
        )
        parts: list[Any] = [titled(say("plans.title"), say("plans.under"))]
        parts += [caution(say("plans.trouble", reason=reason)) for reason in desk.plan_troubles[:3]]
        beside = _about(plan, desk) if plan is not None else Gap(1)
        parts.append(Row((table, beside), (1.25, 1), gap=20, fold=760))
        return framed("plans", Stack(tuple(parts), gap=12))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Pointed("plans", row):
                return Outcome(screen=replace(self, row=row))
            case Opened("plans", row):
                return run(replace(self, row=row)._plan(desk), desk)
            case Pressed("run"):
                return run(self._plan(desk), desk)
            case Pressed("copy"):
                from trainer.desktop.screens.plan_form import PlanForm

                plan = self._plan(desk)
                return Outcome("open", PlanForm.of(plan)) if plan is not None else Outcome()
            case Pressed("edit" | "delete" as key):
                from trainer.desktop.screens.plan_form import DeletePlanDialog, PlanForm

                plan = self._plan(desk)
                if plan is None or plan.name not in desk.own_plans:
                    return Outcome()
                edit = key == "edit"
                return Outcome("open", PlanForm.of(plan, True) if edit else DeletePlanDialog(plan))
            case Pressed("bench"):
                from trainer.desktop.screens.bench import BenchSetup

                plan = self._plan(desk)
                if plan is None or desk.person is None:
                    return Outcome("open", Who())
                return Outcome("open", BenchSetup(plan.instrument))
            case Back():
                from trainer.desktop.screens.home import Home

                return Outcome("switch", Home())
        return Outcome()


def run(plan: Plan | None, desk: Desk) -> Outcome:
    """Return the outcome of starting a plan: the person is asked for first where nobody is chosen."""
    if plan is None:
        return Outcome()
    return Outcome("open", Begin(plan) if desk.person is not None else Who())


_lines: dict[str, tuple[tuple[Plan, ...], tuple[Line, ...]]] = {}


def plan_lines(desk: Desk) -> tuple[Line, ...]:
    """Return the rows of the list of plans; the same rows for the same plans and decimal mark."""
    plans, mark = desk.plans, desk.settings.decimal
    kept = _lines.get(mark)
    if kept is None or kept[0] is not plans:
        rows = []
        for p in plans:
            title, kind = (
                desk.sentence(p.title),
                say("plans.kind.check" if p.for_record else "plans.kind.drill"),
            )
            rows.append(Line(p.name, (title, kind, str(p.items)), (title.casefold(), kind, p.items)))
        kept = _lines[mark] = (plans, tuple(rows))
    return kept[1]


def _about(plan: Plan, desk: Desk) -> Stack:
    own = plan.name in desk.own_plans
    limit = plan.seconds_each
    time = say("plans.time.none") if limit is None else say("plans.time.each", s=desk.number(f"{limit:g}"))
    feedback = say("plans.feedback.yes" if plan.feedback else "plans.feedback.no")
    return panel(
        Label(desk.sentence(plan.title), "heading"),
        Label(desk.sentence(plan.note), tone="soft") if plan.note else None,
        Label(say("plans.own"), "small", "soft") if own else None,
        Picture("", Shot(plan.instrument, 7386.0), height=170),
        Gap(2),
        fact(say("plans.asks"), asks(plan), "body"),
        fact(say("plans.instrument"), desk.sentence(results.instrument_title(plan.instrument)), "body"),
        Row(
            (fact(say("plans.feedback"), feedback, "body"), fact(say("plans.time"), time, "body")),
            (1, 1),
            gap=16,
        ),
        Gap(4),
        *(buttons(*pair) for pair in _deeds(own)),
        buttons(Button("bench", say("bench.open"), "quiet")),
    )


def _deeds(own: bool) -> list[tuple[Button, ...]]:
    """Return the buttons of a plan, two in a row; only an own one can be changed and deleted."""
    run, copy = (
        Button("run", say("plans.run"), "main", "run"),
        Button("copy", say("plans.copy"), "plain", "copy"),
    )
    if not own:
        return [(run, copy)]
    edit = Button("edit", say("plans.edit"), "plain", "pencil")
    return [(run, edit), (copy, Button("delete", say("plan.delete"), "quiet"))]
