"""A plan of one's own: another one copied and changed, or an own one changed in place, or deleted."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import work
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Edited, Entered, Message, Pressed
from trainer.desktop.nodes import Button, Dialog, Field, Label, Row, Stack, Stepper, Toggle
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution
from trainer.desktop.words import say
from trainer.instrument.sentence import said
from trainer.practice.plan import MOST_ITEMS, Plan, UnusablePlan


@dataclass(frozen=True, slots=True)
class PlanForm(Plain):
    """The form."""

    plan: Plan
    title: str
    items: int
    feedback: bool
    halves: bool
    limited: bool
    seconds: float
    reason: str = ""
    in_place: bool = False  # the plan itself is changed, not a copy
    modal = True

    @classmethod
    def of(cls, plan: Plan, in_place: bool = False) -> "PlanForm":
        """Return the form filled from a plan."""
        limit = plan.seconds_each
        values = (plan.title, plan.items, plan.feedback, plan.halves, limit is not None, limit or 15.0)
        return cls(plan, *values, in_place=in_place)

    def first_focus(self, desk: Desk) -> str:
        """Begin with the title."""
        return "title"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        children: list[Any] = [
            Label(say("plan.change" if self.in_place else "plan.title"), "heading"),
            Field("title", say("plan.name"), self.title, reason=self.reason, longest=80),
            Stepper("items", say("plan.items"), self.items, 5, 1, min(200, MOST_ITEMS)),
        ]
        if not self.plan.for_record:
            children.append(Toggle("feedback", say("plan.feedback"), self.feedback))
        if self.plan.drill == "tenths":
            children.append(Toggle("halves", say("plan.halves"), self.halves))
        limit = Toggle("limited", say("plan.limit"), self.limited)
        seconds = Stepper("seconds", "", self.seconds, 1, 1, 120, unit="s", enabled=self.limited)
        children.append(Row((limit, seconds), (1, 0), gap=10, align="middle") if self.limited else limit)
        children.append(
            buttons(Button("ok", say("plan.save"), "main", "check"), Button("cancel", say("cancel"), "quiet"))
        )
        return Dialog(Stack(tuple(children), gap=12), width=520)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("title", value):
                text = str(value)
                return Outcome(
                    screen=replace(self, title=text, reason="" if text.strip() else say("plan.name.empty"))
                )
            case Edited("items", value):
                return Outcome(screen=replace(self, items=int(float(str(value)))))
            case Edited("seconds", value):
                return Outcome(screen=replace(self, seconds=float(str(value))))
            case Edited("feedback" | "halves" | "limited" as name, value):
                changed: dict[str, Any] = {name: bool(value)}
                return Outcome(screen=replace(self, **changed))
            case Entered("title") | Pressed("ok"):
                return self._kept(desk)
            case Arrived("saveplan", Plan() as plan):
                gone = {plan.name, self.plan.name} if self.in_place else {plan.name}
                place = next((i for i, p in enumerate(desk.plans) if p.name in gone), len(desk.plans))
                plans = [p for p in desk.plans if p.name not in gone]
                plans.insert(place, plan)
                changed = {"plans": tuple(plans), "own_plans": (desk.own_plans - gone) | {plan.name}}
                return Outcome("close", desk=changed, toast=say("plan.saved", title=plan.title))
            case Refused("saveplan", reason):
                return Outcome(screen=replace(self, reason=reason), focus="title")
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()

    def _kept(self, desk: Desk) -> Outcome:
        if not self.title.strip():
            return Outcome(screen=replace(self, reason=say("plan.name.empty")), focus="title")
        name = "-".join("".join(c if c.isalnum() else " " for c in self.title.casefold()).split()) or "own"
        taken = {p.name for p in desk.plans}
        number, unique = 2, self.plan.name if self.in_place else f"own-{name}"
        if self.in_place:
            taken.clear()
        while unique in taken:
            unique, number = f"own-{name}-{number}", number + 1
        try:
            plan = replace(
                self.plan,
                name=unique,
                title=self.title.strip(),
                items=self.items,
                feedback=self.feedback and not self.plan.for_record,
                halves=self.halves,
                seconds_each=self.seconds if self.limited else None,
            )
        except UnusablePlan as fault:
            return Outcome(screen=replace(self, reason=desk.sentence(said(fault))), focus="title")
        return Outcome(effects=(work.SavePlan(plan, self.plan if self.in_place else None),))


@dataclass(frozen=True, slots=True)
class DeletePlanDialog(Plain):
    """Ask before a plan of one's own is deleted."""

    plan: Plan
    reason: str = ""
    modal = True

    def first_focus(self, desk: Desk) -> str:
        """Begin with what changes nothing."""
        return "cancel"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        children: list[Any] = [
            Label(say("plan.delete.title", title=self.plan.title[:60]), "heading"),
            Label(say("plan.delete.note")),
        ]
        if self.reason:
            children.append(caution(self.reason))
        ok = Button("ok", say("plan.delete"), "plain")
        children.append(buttons(ok, Button("cancel", say("cancel"))))
        return Dialog(Stack(tuple(children), gap=10))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Pressed("ok"):
                return Outcome(effects=(work.DeletePlan(self.plan),))
            case Arrived("deleteplan", Plan() as plan):
                left = tuple(p for p in desk.plans if p.name != plan.name)
                changed = {"plans": left, "own_plans": desk.own_plans - {plan.name}}
                return Outcome("close", desk=changed, toast=say("plan.deleted", title=plan.title[:60]))
            case Refused("deleteplan", reason):
                return Outcome(screen=replace(self, reason=reason), focus="cancel")
            case Pressed("cancel") | Back():
                return Outcome("close")
        return Outcome()
