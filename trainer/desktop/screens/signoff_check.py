"""Opening a check: who takes it, by which criterion, what the supervisor attests; then the key."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.messages import Back, Done, Edited, Entered, Message, Opened, Pointed, Pressed
from trainer.desktop.nodes import Button, Column, Field, Gap, Label, Line, Row, Stack, Table, Toggle
from trainer.desktop.screen import Outcome, Plain
from trainer.desktop.screens.parts import buttons, caution, framed, panel, titled
from trainer.desktop.screens.roster import lines_for, matching, person_of
from trainer.desktop.screens.signoff import begun
from trainer.desktop.screens.unlock import Unlock
from trainer.desktop.signing import Rule, Standing, Ticketed
from trainer.desktop.signing_work import StartCheck
from trainer.desktop.words import say
from trainer.signoff.guard import ATTESTS


@dataclass(frozen=True, slots=True)
class OpenCheck(Plain):
    """The screen. Nothing is kept before the key is unlocked."""

    rules: tuple[Rule, ...]
    person: Any = None
    rule: str = ""
    typed: str = ""
    accepted: bool = False
    reason: str = ""

    @classmethod
    def of(cls, rules: tuple[Rule, ...], one: Standing, desk: Desk) -> "OpenCheck":
        """Return the screen with the person and the criterion of a standing chosen."""
        named = one.criterion or (rules[0].name if rules else "")
        ordered = sorted(rules, key=lambda rule: rule.name != named)  # the one chosen is where the cursor is
        person = person_of(desk, one.person_id)
        return cls(tuple(ordered), person, named, person.name if person is not None else "")

    def first_focus(self, desk: Desk) -> str:
        """Begin with what is still to be done: the person, or else reading what is attested."""
        return "accept" if self.person is not None else "find"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        back = Button("back", say("back"), "plain", "back")
        who = "" if self.person is None else self.person.name
        attested = say("check.accept", person=who[:40]) if who else say("check.accept.nobody")
        people = Table(
            "people",
            (Column(say("check.person")),),
            lines_for(desk, self.typed),
            say("check.nobody"),
            rows_shown=4,
            grow=False,
        )
        rules = Table(
            "rules",
            (Column(say("check.rule.column")),),
            tuple(Line(one.name, (desk.sentence(one.title),)) for one in self.rules),
            rows_shown=max(2, min(4, len(self.rules))),
            grow=False,
        )
        chosen = next((one for one in self.rules if one.name == self.rule), None)
        left = panel(
            Label(who or say("who.none"), "heading"), Field("find", say("check.find"), self.typed), people
        )
        right = panel(
            Label(desk.sentence(chosen.title) if chosen else "", "heading"),
            Label(say("check.rule"), "small", "soft"),
            rules,
            Label(desk.sentence(chosen.protects).replace("\n", " "), "small", "soft") if chosen else None,
        )
        parts: list[Any] = [
            titled(say("check.title"), say("check.under"), back),
            Row((left, right), (1, 1.3), gap=14, fold=760),
            panel(
                Label(say("check.attest"), "small", "soft"),
                Label(f"“{ATTESTS}”"),
                Toggle("accept", attested, self.accepted, enabled=bool(who)),
                caution(self.reason) if self.reason else None,
                Gap(2),
                buttons(Button("go", say("check.go"), "main", "run", enabled=bool(who and chosen))),
            ),
        ]
        return framed("signoff", Stack(tuple(parts), gap=12))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Edited("find", value):
                return Outcome(screen=replace(self, typed=str(value)))
            case Entered("find") if found := matching(desk, self.typed):
                return self._for(found[0])
            case Pointed("people", row):
                person = person_of(desk, row)
                return Outcome(screen=replace(self, person=person, accepted=False, reason=""))
            case Opened("people", row):
                return self._for(person_of(desk, row))
            case Pointed("rules", row):
                return Outcome(screen=replace(self, rule=row, accepted=False, reason=""))
            case Opened("rules", row):
                return Outcome(screen=replace(self, rule=row, accepted=False, reason=""), focus="accept")
            case Edited("accept", value):
                return Outcome(screen=replace(self, accepted=bool(value), reason=""))
            case Pressed("go"):
                return self._go()
            case Done("startcheck", Ticketed() as opened):
                return begun(opened, desk, "replace")
            case Pressed("back") | Back():
                return Outcome("close")
        return Outcome()

    def _for(self, person: Any) -> Outcome:
        return Outcome(screen=replace(self, person=person, accepted=False, reason=""), focus="accept")

    def _go(self) -> Outcome:
        if not self.accepted:
            return Outcome(screen=replace(self, reason=say("check.accept.first")), focus="accept")
        chosen = next((one for one in self.rules if one.name == self.rule), None)
        if self.person is None or chosen is None:
            return Outcome()
        person = self.person
        return Outcome("open", Unlock(StartCheck(str(person.id), person.name, chosen.name, chosen.title)))
