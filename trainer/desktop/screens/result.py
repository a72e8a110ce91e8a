"""The result of a sitting: bias, spread, misreads; error against position; digits; what to work on."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import results, work
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Edited, Message, Pressed
from trainer.desktop.nodes import Button, Choice, Column, Gap, Label, Line, Row, Stack, Table
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.begin import Begin
from trainer.desktop.screens.feedback import reading_text, said_text
from trainer.desktop.screens.figures import bands, digits_line, digits_plot, error_plot
from trainer.desktop.screens.parts import buttons, caution, framed, panel, titled
from trainer.desktop.screens.seen import seen
from trainer.desktop.words import counted, say
from trainer.instrument import catalogue
from trainer.practice.plan import Plan


@dataclass(frozen=True, slots=True)
class Result(Plain):
    """One session, scored."""

    session_id: Any
    again: Plan | None = None
    result: results.SittingResult | None = None
    lines: tuple[Line, ...] = ()
    trouble: str = ""
    as_table: bool = False

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Have the session read and scored."""
        return (work.LoadSitting(self.session_id),)

    def first_focus(self, desk: Desk) -> str:
        """Begin with what is wanted most often."""
        return "again" if self.again is not None else "home"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        result = self.result
        if self.trouble:
            body = (caution(self.trouble), buttons(Button("reload", say("retry"), "main")))
            return framed("progress", Stack((titled(say("result.title")), *body), gap=14))
        if result is None:
            head = titled(say("result.title"), say("wait"), *self._actions())
            return framed("progress", Stack((head,), gap=14))
        kind = say("plans.kind.check" if result.for_record else "plans.kind.drill")
        under = " \N{MIDDLE DOT} ".join(
            (
                result.person,
                results.day(result.started_at),
                desk.sentence(results.instrument_title(result.instrument)),
                kind,
            )
        )
        parts: list[Any] = [
            titled(desk.sentence(result.title) or say("result.title"), under, *self._actions())
        ]
        parts += self._matter(result, desk)
        parts.append(Label(seen(result, desk), "small", "soft"))
        parts.append(caution(say("caution.screen")))
        return framed("progress", Stack(tuple(parts), gap=14))

    def _matter(self, result: results.SittingResult, desk: Desk) -> list[Any]:
        score = result.score
        well, of = result.judged
        judged = panel(
            Label(say("result.judged"), "small", "soft"),
            Label(say("result.judged.of", n=well, of=of), "large", wrap=False),
        )
        work_on = self._next(result, desk)
        if score is None:
            none = panel(Label(say("result.none"), tone="soft"))
            return [judged, *work_on, self._table()] if of else [none]
        notes = []
        if score.misreads.total:
            notes.append(Label(say("result.apart", n=counted("count.readings", score.used)), "small", "soft"))
        if score.provisional:
            notes.append(Label(say("result.provisional"), "small", "soft"))
        top = panel(bands(score, desk), Gap(2), *notes)
        if of:
            work_on = [judged, *work_on]
        show = Choice(
            "show",
            "",
            (("figures", say("result.figures")), ("table", say("result.table"))),
            "table" if self.as_table else "figures",
        )
        if self.as_table:
            return [top, *work_on, show, self._table()]
        left = panel(Label(say("result.plot"), "heading"), error_plot(result.readings, desk))
        right = panel(
            Label(say("result.digits"), "heading"),
            digits_plot(score, desk),
            Label(digits_line(score, desk), "small", "soft"),
        )
        return [top, *work_on, show, Row((left, right), (1.4, 1), gap=14, fold=760, align="fill")]

    def _next(self, result: results.SittingResult, desk: Desk) -> list[Any]:
        """Return what to change, and the drill to take next where it is not the one just taken."""
        told, onward = result.coaching, self._onward(desk)
        lines: list[Any] = [Label(desk.sentence(line)) for line in told.sentences] if told is not None else []
        if onward is not None:
            button = Button("onward", say("result.onward", plan=desk.sentence(onward.title)), "plain", "run")
            lines += [Gap(2), buttons(button)]
        return [panel(Label(say("result.next"), "heading"), *lines)] if lines else []

    def _onward(self, desk: Desk) -> Plan | None:
        """Return the plan to take next; only for the person who is reading now."""
        result = self.result
        if result is None or result.coaching is None or desk.person is None:
            return None
        if desk.person.name != result.person or (self.again and self.again.name == result.coaching.next_plan):
            return None
        return next((plan for plan in desk.plans if plan.name == result.coaching.next_plan), None)

    def _table(self) -> Table:
        columns = (
            Column(say("result.column.item"), 0.6, "right"),
            Column(say("result.column.truth"), 1.2, "right"),
            Column(say("result.column.answer"), 1.2, "right"),
            Column(say("result.column.error"), 1, "right"),
            Column(say("result.column.seconds"), 0.8, "right"),
            Column(say("result.column.note"), 1.8),
        )
        return Table("items", columns, self.lines, rows_shown=8)

    def _actions(self) -> tuple[Button, ...]:
        home = Button("home", say("result.home"), "plain", "home")
        if self.again is None:
            return (home,)
        return home, Button("again", say("result.again"), "main", "run")

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("loadsitting", results.SittingResult() as result) if (
                result.session_id == self.session_id
            ):
                return Outcome(
                    screen=replace(self, result=result, lines=item_lines(result, desk), trouble="")
                )
            case Refused("loadsitting", reason) if self.result is None:
                return Outcome(screen=replace(self, trouble=reason), focus="reload")
            case Refused("endsession", reason):
                return Outcome(toast=reason)
            case Edited("show", value):
                return Outcome(screen=replace(self, as_table=value == "table"))
            case Pressed("reload"):
                return Outcome(screen=replace(self, trouble=""), effects=self.begin(desk))
            case Pressed("again") if self.again is not None:
                return Outcome("open", Begin(self.again))
            case Pressed("onward") if (onward := self._onward(desk)) is not None:
                return Outcome("open", Begin(onward))
            case Pressed("home"):
                from trainer.desktop.screens.home import Home

                return Outcome("switch", Home())
            case Pressed("progress"):
                from trainer.desktop.screens.progress import Progress

                return Outcome("switch", Progress())
            case Back():
                return Outcome("close")
        return Outcome()


def item_lines(result: results.SittingResult, desk: Desk) -> tuple[Line, ...]:
    """Return the rows of the table of items."""
    if result.instrument not in catalogue.names():
        return ()
    micrometer = catalogue.load(result.instrument)
    rows = []
    for r in result.readings:
        extra = {"line_tenths": r.truth_tenths // 10 * 10}
        truth = reading_text(micrometer, r.truth_tenths, result.drill, extra, desk, 1)
        given, note = "\N{EN DASH}", ""
        if r.answer_tenths is not None:
            given = reading_text(micrometer, r.answer_tenths, result.drill, extra, desk, 0)
            note = say(f"misread.{r.misread}") if r.misread else ""
        else:
            note = say(f"result.outcome.{r.outcome}") if r.outcome != "answered" else ""
        if r.truth:
            truth, given = said_text(r.truth, desk), said_text(r.typed, desk) or "\N{EN DASH}"
            note = "" if r.right is None else say("drill.right" if r.right else "drill.wrong")
        cells = (
            str(r.item), truth, given, desk.tenths(r.error_tenths), desk.number(f"{r.seconds:.1f}"), note,
        )  # fmt: skip
        rows.append(
            Line(
                str(r.item), cells, (r.item, r.truth_tenths, r.answer_tenths, r.error_tenths, r.seconds, note)
            )
        )
    return tuple(rows)
