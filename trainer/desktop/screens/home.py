"""Home: who is reading, what is unfinished, what to do next, how it stands."""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from trainer.desktop import results, work
from trainer.desktop.desk import Desk
from trainer.desktop.due import day_of
from trainer.desktop.events import Arrived, Refused, Tick
from trainer.desktop.messages import Done, Edited, Entered, Message, Pressed
from trainer.desktop.nodes import Button, Field, Gap, Label, Picture, Row, Stack
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens import guarded
from trainer.desktop.screens.next_plan import next_plan
from trainer.desktop.screens.parts import buttons, caution, framed, panel, titled
from trainer.desktop.screens.roster import name_fault
from trainer.desktop.sittings import LoadUnfinished, Sitting
from trainer.desktop.words import counted, say
from trainer.desktop.work import LoadHistory
from trainer.practice.plan import Plan

if TYPE_CHECKING:
    from trainer.desktop.benches import OpenBench
    from trainer.desktop.signing import Reminders

WAITING_S = 5.0  # how often waiting answers are counted anew


@dataclass(frozen=True, slots=True)
class Home(Plain):
    """The first screen."""

    name: str = ""
    reason: str = ""
    unfinished: "tuple[Sitting | OpenBench, ...]" = ()
    history: results.History | None = None
    waiting: int = 0  # answers that wait for an archive that is away
    start: Plan | None = None  # to begin with as soon as the person is known
    ticket: str = ""  # of the check to begin with
    reminded: "Reminders | None" = None  # of the sign-off

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Ask for what the person left open, how they stand, and what is due in the sign-off."""
        if desk.person is None and (desk.trouble or not desk.people):
            return (work.LoadPeople(),) if desk.trouble else ()
        from trainer.desktop.signing_work import LoadReminders  # after the first picture

        if desk.person is None:
            return (LoadReminders(),)
        return LoadUnfinished(desk.person), LoadHistory(desk.person), work.CountWaiting(), LoadReminders()

    def first_focus(self, desk: Desk) -> str:
        """Begin where Enter does the next thing."""
        if desk.person is None:
            return "name" if not desk.people else "choose"
        return "resume" if self.unfinished else "start"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        if desk.trouble:
            body: Any = _trouble(desk)
        elif desk.people is None:
            body = Stack((titled(say("window.title"), say("wait")), Gap(1)), gap=12)
        elif desk.person is None:
            body = self._nobody(desk)
        else:
            body = self._somebody(desk)
        return framed("home", body)

    def _nobody(self, desk: Desk) -> Stack:
        if desk.people:
            ask: Any = panel(
                *self._due(desk),
                Label(say("who.none")),
                Gap(4),
                buttons(Button("choose", say("who.choose"), "main", "people")),
            )
        else:
            field = Field(
                "name", say("home.first.name"), self.name, reason=self.reason, hint=say("home.first.hint"),
                longest=200, width=420,
            )  # fmt: skip
            ask = panel(field, buttons(Button("add", say("home.first.add"), "main", "add")))
        head = titled(say("home.first.title"), say("home.first.under"))
        return Stack((head, ask, Gap(8), caution(say("caution.screen"))), gap=14)

    def _somebody(self, desk: Desk) -> Stack:
        assert desk.person is not None
        other = Button("other", say("home.other"), "quiet", "people")
        head = titled(desk.person.name, say("home.under"), other)
        parts: list[Any] = [head, *self._due(desk)]
        if self.unfinished:
            parts.append(self._open(desk, self.unfinished[0]))
        parts.append(self._next(desk))
        parts.append(self._last(desk))
        if desk.display is None and desk.settings.displays:
            parts.append(caution(say("home.display")))
        parts.append(caution(say("caution.screen")))
        return Stack(tuple(parts), gap=14)

    def _due(self, desk: Desk) -> list[Label]:
        """Return quiet lines: a refresher that is due, answers that wait for the archive."""
        lines = []
        today = day_of(desk.utc(desk.now_s))
        for instrument, when in (self.history.due if self.history is not None else {}).items():
            if when.due_day <= today:
                since = str(date(1970, 1, 1) + timedelta(days=int(when.due_day)))
                title = desk.sentence(results.instrument_title(instrument))
                lines.append(say("home.due", instrument=title, day=since))
        if self.waiting:
            lines.append(counted("home.waiting", self.waiting))
        if self.reminded is not None and (told := guarded.reminder(self.reminded)):
            lines.append(told)
        return [Label(line, tone="soft") for line in lines]

    def tick_s(self, desk: Desk) -> float | None:
        """Look again while answers wait for the archive."""
        return WAITING_S if self.waiting else None

    def _open(self, desk: Desk, found: "Sitting | OpenBench") -> Stack:
        if isinstance(found, Sitting):
            title, done, of = desk.sentence(found.plan.title), len(found.answers), found.total
            begun = found.answers[0].at if found.answers else ""
        else:
            title, done, of = say("bench.title"), len(found.check.pairs), found.check.wanted
            begun = found.begun
        when = results.day(begun) if begun else "\N{EN DASH}"
        far = say("drill.of", n=done, of=of) if of is not None else str(done)
        line = say("home.open.line", plan=title, done=far, begun=when)
        return panel(
            Label(say("home.open.title"), "heading"),
            Label(line, tone="soft"),
            Gap(2),
            buttons(
                Button("resume", say("home.open.go"), "main", "run"),
                Button("end", say("home.open.close"), "plain"),
            ),
        )

    def _next(self, desk: Desk) -> Stack:
        plan, why = next_plan(desk, self.history)
        if plan is None:
            return panel(Label(say("plans.empty"), tone="soft"))
        kind = "main" if not self.unfinished else "plain"
        text = Stack(
            (
                Label(say("home.next"), "small", "soft"),
                Label(desk.sentence(plan.title), "heading"),
                Label(desk.sentence(plan.note), tone="soft") if plan.note else Gap(0),
                Label(why, "small", "soft"),
                Gap(4),
                buttons(
                    Button("start", say("home.start"), kind, "run"),
                    Button("plans", say("home.plans"), "quiet", "plans"),
                ),
            ),
            gap=4,
        )
        from trainer.desktop.pictures import Shot

        picture = Picture("", Shot(plan.instrument, 7386.0), height=150)
        return panel(Row((text, picture), (1.3, 1), gap=24, fold=620))

    def _last(self, desk: Desk) -> Stack:
        from trainer.desktop.screens import figures

        history = self.history
        if history is None:
            return panel(Label(say("home.last"), "heading"), Label(say("wait"), tone="soft"))
        if not history.scores:
            return panel(Label(say("home.last"), "heading"), Label(say("home.last.none"), tone="soft"))
        score = history.score(history.instruments[0]) or history.scores[0]
        line = say(
            "home.last.line", instrument=desk.sentence(results.instrument_title(score.instrument or ""))
        )
        return panel(
            Label(say("home.last"), "heading"),
            Label(line, "small", "soft"),
            Gap(2),
            figures.bands(score, desk),
            buttons(Button("progress", say("home.progress"), "plain", "progress")),
        )

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("loadunfinished", (person, found)) if person is desk.person:
                return Outcome(screen=replace(self, unfinished=found), focus="resume" if found else "")
            case Arrived("loadhistory", results.History() as history) if history.person is desk.person:
                return Outcome(screen=replace(self, history=history))
            case Arrived("loadreminders", told):
                return Outcome(screen=replace(self, reminded=told)) if told != self.reminded else Outcome()
            case Arrived("countwaiting", int(waiting)):
                return (
                    Outcome(screen=replace(self, waiting=waiting)) if waiting != self.waiting else Outcome()
                )
            case Tick():
                return Outcome(effects=(work.CountWaiting(),)) if self.waiting else Outcome()
            case Arrived("loadpeople") if self.start is not None and desk.person is not None:
                return _begin(self.start, self.ticket)
            case Arrived("loadpeople"):
                return Outcome(screen=Home(), effects=self.begin(desk), focus=Home().first_focus(desk))
            case Arrived("endsession", (_, "closed")):
                rest = replace(self, unfinished=())
                return Outcome(screen=rest, effects=self.begin(desk), toast=say("home.closed"))
            case Arrived("addperson", work.AccountAsked(change)):
                from trainer.desktop.screens.people_dialogs import asked

                return asked(change)
            case Arrived("addperson", (person, people)) | Done("asaccount", (person, people)):
                changed = {"person": person, "people": people}
                changed["settings"] = replace(desk.settings, last_person=person.name)
                fresh = Home()
                return Outcome(
                    screen=fresh,
                    desk=changed,
                    effects=(LoadUnfinished(person), LoadHistory(person)),
                    focus="start",
                )
            case Refused("addperson", reason):
                return Outcome(screen=replace(self, reason=reason))
            case Refused("loadhistory" | "loadunfinished" | "endsession", reason):
                return Outcome(toast=reason)
            case Edited("name", value):
                return Outcome(screen=replace(self, name=str(value), reason=""))
            case Entered("name") | Pressed("add"):
                fault = name_fault(self.name)
                if fault:
                    return Outcome(screen=replace(self, reason=fault))
                return Outcome(effects=(work.AddPerson(self.name.strip()),))
            case Pressed(key):
                return self._pressed(key, message.at_s, desk)
        return Outcome()

    def _pressed(self, key: str, at_s: float, desk: Desk) -> Outcome:
        match key:
            case "other" | "choose":
                from trainer.desktop.screens.who import Who

                return Outcome("open", Who())
            case "start":
                plan, _ = next_plan(desk, self.history)
                return _begin(plan) if plan else Outcome()
            case "plans":
                from trainer.desktop.screens.plans import Plans

                return Outcome("switch", Plans())
            case "progress":
                from trainer.desktop.screens.progress import Progress

                return Outcome("switch", Progress())
            case "resume" if self.unfinished:
                return self._resumed(self.unfinished[0], desk)
            case "end" if self.unfinished:
                sitting = self.unfinished[0]
                return Outcome(effects=guarded.ended(sitting, desk.utc(at_s)))
            case "again":
                return Outcome(effects=(work.LoadPeople(),))
        return Outcome()

    def _resumed(self, found: "Sitting | OpenBench", desk: Desk) -> Outcome:
        if not isinstance(found, Sitting):
            from trainer.desktop.screens.bench import BenchScreen

            return Outcome("open", BenchScreen.of(found, desk))
        if found.ticket:
            from trainer.desktop.screens.begin import Begin

            return Outcome("open", Begin(found.plan, resumes=found))
        from trainer.desktop.screens.drill import Drill

        return Outcome("open", Drill.of(found))


def _begin(plan: Plan, ticket: str = "") -> Outcome:
    from trainer.desktop.screens.begin import Begin

    return Outcome("open", Begin(plan, ticket=ticket))


def _trouble(desk: Desk) -> Stack:
    return Stack(
        (
            titled(say("window.title")),
            caution(say("home.trouble", reason=desk.trouble)),
            buttons(Button("again", say("retry"), "main")),
        ),
        gap=14,
    )
