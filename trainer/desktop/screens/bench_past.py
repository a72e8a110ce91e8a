"""A bench check of the past: what it found, and every estimate beside its reference."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import results
from trainer.desktop.benches import LoadBench, PastBench
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Message, Pressed
from trainer.desktop.nodes import Button, Column, Gap, Label, Line, Row, Stack, Table
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.bench import told_of
from trainer.desktop.screens.figures import error_plot
from trainer.desktop.screens.parts import buttons, caution, framed, panel, titled
from trainer.desktop.words import say


@dataclass(frozen=True, slots=True)
class BenchPast(Plain):
    """The readings of a bench check, with reference."""

    session_id: Any
    past: PastBench | None = None
    lines: tuple[Line, ...] = ()
    trouble: str = ""

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Have the session read and scored."""
        return (LoadBench(self.session_id),)

    def first_focus(self, desk: Desk) -> str:
        """Begin with the way back."""
        return "back"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        back = Button("back", say("back"), "plain", "back")
        if self.trouble:
            body = (caution(self.trouble), buttons(Button("reload", say("retry"), "main")))
            return framed("progress", Stack((titled(say("bench.title"), "", back), *body), gap=14))
        past = self.past
        if past is None:
            return framed("progress", Stack((titled(say("bench.title"), say("wait"), back),), gap=14))
        instrument = desk.sentence(results.instrument_title(past.check.instrument))
        date = results.day(past.started_at)
        under = say("bench.past.under", person=past.person, date=date, instrument=instrument)
        if past.ended is None:
            under += f" \N{MIDDLE DOT} {say('bench.past.open')}"
        parts: list[Any] = [titled(say("bench.title"), under, back)]
        if past.result is None:
            parts.append(panel(Label(say("bench.past.none"), tone="soft")))
        else:
            plot = panel(Label(say("bench.past.plot"), "heading"), error_plot(past.readings, desk))
            found = panel(*told_of(past.result, desk))
            parts.append(Row((found, plot), (1, 1.2), gap=14, fold=760, align="fill"))
            parts.append(self._table())
        return framed("progress", Stack((*parts, Gap(2)), gap=14))

    def _table(self) -> Table:
        columns = (
            Column(say("bench.column.n"), 0.8, "right"),
            Column(say("bench.column.estimate"), 1.2, "right"),
            Column(say("bench.column.reference"), 1.4, "right"),
            Column(say("bench.column.corrected"), 1.4, "right"),
            Column(say("bench.column.error"), 1, "right"),
            Column(say("bench.column.seconds"), 0.9, "right"),
        )
        shown = min(10, max(1, len(self.lines)))
        return Table("pairs", columns, self.lines, rows_shown=shown, grow=False)

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("loadbench", PastBench() as past) if past.session_id == self.session_id:
                return Outcome(screen=replace(self, past=past, lines=pair_lines(past, desk), trouble=""))
            case Refused("loadbench", reason):
                return Outcome(screen=replace(self, trouble=reason), focus="reload")
            case Pressed("reload"):
                return Outcome(screen=replace(self, trouble=""), effects=self.begin(desk))
            case Pressed("back") | Back():
                return Outcome("close")
        return Outcome()


def pair_lines(past: PastBench, desk: Desk) -> tuple[Line, ...]:
    """Return a row for each setting: the estimate as typed, the reference as read and with its zero off."""
    micrometer, rows = past.check.micrometer, []
    decimals = max(micrometer.decimals, past.check.reference.decimals)
    for pair in past.check.pairs:
        error = pair.estimate_tenths - pair.reference_tenths
        corrected = micrometer.format_reading(pair.reference_tenths, decimals)
        cells = (
            str(pair.number),
            desk.number(pair.typed),
            desk.number(pair.reference_typed),
            desk.number(corrected),
            desk.tenths(error),
            desk.number(f"{pair.seconds:.1f}"),
        )
        sort = (
            pair.number, pair.estimate_tenths, pair.reference_tenths, pair.reference_tenths, error,
            pair.seconds,
        )  # fmt: skip
        rows.append(Line(str(pair.number), cells, sort))
    return tuple(rows)
