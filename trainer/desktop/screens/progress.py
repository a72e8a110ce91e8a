"""Progress of one person: bias and spread by sitting, bias by tenth, digits, and every sitting to open."""

from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import results, work
from trainer.desktop.benches import DRILL as BENCH
from trainer.desktop.desk import Desk
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.limits import Limits
from trainer.desktop.messages import Back, Edited, Message, Opened, Pressed
from trainer.desktop.nodes import Button, Choice, Column, Gap, Label, Line, Plot, Row, Series, Stack, Table
from trainer.desktop.plots import nice_ticks
from trainer.desktop.results import History, SittingLine
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.figures import bands, digits_line, digits_plot, signed_ticks
from trainer.desktop.screens.instruments import fold_of, instrument_choice, instrument_meant
from trainer.desktop.screens.parts import caution, framed, no_person, panel, titled
from trainer.desktop.screens.progress_tables import figure_tables
from trainer.desktop.screens.result import Result
from trainer.desktop.screens.who import Who
from trainer.desktop.words import counted, say
from trainer.practice.kinds import DRILLS

ROUNDING_SPREAD_TENTHS = 12**-0.5  # of rounding to a whole tenth: uniform, JCGM 100:2008, 4.3.7


@dataclass(frozen=True, slots=True)
class Progress(Plain):
    """A person's earlier results, on one instrument at a time."""

    history: History | None = None
    instrument: str = ""
    lines: tuple[Line, ...] = ()
    trouble: str = ""
    as_table: bool = False

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Have everything of the person scored."""
        return (work.LoadHistory(desk.person),) if desk.person is not None else ()

    def first_focus(self, desk: Desk) -> str:
        """Begin with the choice of the instrument, at the top."""
        return "instrument"

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        if desk.person is None:
            return framed("progress", Stack((titled(say("rail.progress")), no_person(desk)), gap=14))
        other = Button("other", say("home.other"), "quiet", "people")
        head = titled(say("progress.title", name=desk.person.name), say("progress.under"), other)
        history = self.history
        if self.trouble:
            return framed("progress", Stack((head, caution(self.trouble)), gap=14))
        if history is None:
            return framed("progress", Stack((head, panel(Label(say("wait"), tone="soft"))), gap=14))
        if not history.sittings:
            none = Label(say("progress.none", name=desk.person.name), tone="soft")
            return framed("progress", Stack((head, panel(none)), gap=14))
        parts = [head, self._choices(history, desk), *self._matter(history, desk)]
        parts.append(Stack((Label(say("progress.sessions"), "heading"), _table(self.lines)), gap=6))
        return framed("progress", Stack(tuple(parts), gap=14))

    def _choices(self, history: History, desk: Desk) -> Row:
        show = (("figures", say("result.figures")), ("table", say("result.table")))
        return Row(
            (
                instrument_choice(say("progress.instrument"), history.instruments, self.instrument, desk),
                Gap(1),
                Choice("show", say("team.view"), show, "table" if self.as_table else "figures"),
            ),
            (0, 1, 0),
            gap=14,
            fold=fold_of(history.instruments),
        )

    def _matter(self, history: History, desk: Desk) -> list[Any]:
        score = history.score(self.instrument)
        if score is None:
            return []
        mine = tuple(s for s in history.sittings if s.instrument == self.instrument and s.score is not None)
        if self.as_table:
            return figure_tables(score, mine, desk)
        limits = history.limits.get(self.instrument)
        told = []
        if limits is not None:
            used = "progress.limits.used" if limits.used else "progress.limits"
            told.append(Label(say(used, title=desk.sentence(limits.title)), "small", "soft"))
        whole = panel(Label(say("progress.all"), "small", "soft"), bands(score, desk))
        curves = Row(
            (panel(spread_curve(mine, desk, limits)), panel(bias_curve(mine, desk, limits))),
            (1, 1),
            gap=14,
            fold=760,
        )
        habits = Row(
            (
                panel(profile_plot(score, desk)),
                panel(
                    digits_plot(score, desk, title=say("result.digits")),
                    Label(digits_line(score, desk), "small", "soft"),
                ),
            ),
            (1, 1),
            gap=14,
            fold=760,
            align="fill",
        )
        return [whole, Stack((curves, *told), gap=6), habits]

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("loadhistory", History() as history) if history.person is desk.person:
                instrument = self.instrument if self.instrument in history.instruments else ""
                instrument = instrument or (history.instruments[0] if history.instruments else "")
                lines = sitting_lines(history, desk)
                changed = replace(self, history=history, instrument=instrument, lines=lines, trouble="")
                return Outcome(screen=changed, focus="instrument" if self.history is None else "")
            case Refused("loadhistory", reason):
                return Outcome(screen=replace(self, trouble=reason))
            case Edited("instrument", value) if self.history is not None:
                meant = instrument_meant(self.history.instruments, self.instrument, str(value))
                return Outcome(screen=replace(self, instrument=meant))
            case Edited("show", value):
                return Outcome(screen=replace(self, as_table=value == "table"))
            case Opened("sittings" | "spread" | "bias" | "bias-table" | "spread-table", row) if (
                self.history is not None
            ):
                return self._opened(row)
            case Pressed("choose" | "other"):
                return Outcome("open", Who())
            case Back():
                from trainer.desktop.screens.home import Home

                return Outcome("switch", Home())
        return Outcome()

    def _opened(self, row: str) -> Outcome:
        """Open a sitting; a bench check shows its readings beside their reference."""
        assert self.history is not None
        found = next((s for s in self.history.sittings if str(s.session_id) == row), None)
        if found is None:
            return Outcome()
        if found.drill == BENCH:
            from trainer.desktop.screens.bench_past import BenchPast

            return Outcome("open", BenchPast(found.session_id))
        return Outcome("open", Result(found.session_id))


def _told(s: SittingLine, desk: Desk) -> str:
    assert s.score is not None  # only scored sittings are drawn
    return say(
        "progress.point",
        date=results.day(s.started_at),
        plan=asked(s.drill),
        bias=desk.tenths(s.score.bias_tenths.value),
        spread=desk.tenths(s.score.spread_tenths.value, sign=False),
        n=counted("count.readings", s.score.used),
    )


def _curve(
    key: str,
    title: str,
    sittings: tuple[SittingLine, ...],
    pick: str,
    desk: Desk,
    limit: float | None,
) -> Plot:
    around_zero = pick == "bias_tenths"
    points, bars = [], []
    for number, s in enumerate(sittings, 1):
        value = getattr(s.score, pick)
        if value.value is not None:
            points.append((float(number), float(value.value), _told(s, desk), str(s.session_id)))
            low = value.value if value.low is None else value.low
            high = value.value if value.high is None else value.high
            bars.append((low, high))
    highest = max((abs(v) for bar in bars for v in bar), default=1.0)
    highest = max(highest, limit or 0.0)
    top = float(max(1.0, min(5.0, highest * 1.1)))
    y_range = (-top, top) if around_zero else (0.0, top)
    last = float(max(2, len(sittings)))
    lines: list[tuple[float, str]] = (
        [] if around_zero else [(ROUNDING_SPREAD_TENTHS, say("progress.rounding"))]
    )
    if limit is not None:
        ends = (limit, -limit) if around_zero else (limit,)
        lines += [(end, say("progress.limit", limit=desk.number(f"{end:g}"))) for end in ends]
    ticks = tuple((v, t) for v, t in nice_ticks(1.0, last, 6) if v == int(v) and v >= 1)
    return Plot(
        key,
        (Series(tuple(points), joined=len(points) > 1, bars=tuple(bars)),),
        say("progress.curve.x"),
        title,
        (0.5, last + 0.5),
        y_range,
        ticks,
        signed_ticks(*y_range, desk),
        height=210,
        empty=say("result.why.few"),
        bands=() if limit is None else ((-limit if around_zero else 0.0, limit),),
        lines=tuple(lines),
    )


def spread_curve(sittings: tuple[SittingLine, ...], desk: Desk, limits: Limits | None = None) -> Plot:
    """Return the spread of each sitting, in their order, and the band that the limits allow."""
    title = f"{say('progress.curve')}, {say('result.unit')}"
    limit = None if limits is None else limits.spread_tenths
    return _curve("spread", title, sittings, "spread_tenths", desk, limit)


def bias_curve(sittings: tuple[SittingLine, ...], desk: Desk, limits: Limits | None = None) -> Plot:
    """Return the bias of each sitting, in their order, and the band that the limits allow."""
    title = f"{say('progress.curve.bias')}, {say('result.unit')}"
    limit = None if limits is None else limits.bias_tenths
    return _curve("bias", title, sittings, "bias_tenths", desk, limit)


def profile_plot(score: Any, desk: Desk) -> Plot:
    """Return the bias where the truth lies in each tenth of the division."""
    rows = [row for row in score.profile if row.bias_tenths is not None]
    points, bars = [], []
    for row in rows:
        text = say(
            "progress.profile.point",
            tenth=row.tenth,
            bias=desk.tenths(row.bias_tenths),
            n=counted("count.readings", row.n),
        )
        points.append((row.tenth + 0.5, row.bias_tenths, text, ""))
        bars.append(
            (
                row.bias_tenths if row.low is None else row.low,
                row.bias_tenths if row.high is None else row.high,
            )
        )
    top = float(max(1.0, min(4.0, max((abs(v) for bar in bars for v in bar), default=1.0) * 1.1)))
    return Plot(
        "profile",
        (Series(tuple(points), bars=tuple(bars)),),
        say("progress.profile.x"),
        f"{say('progress.profile')}, {say('result.unit')}",
        (0.0, 10.0),
        (-top, top),
        tuple((float(i), str(i)) for i in range(11)),
        signed_ticks(-top, top, desk),
        height=190,
        empty=say("result.why.few"),
    )


def asked(drill: str) -> str:
    """Return what a drill asks for in a few words, or its name."""
    if drill == BENCH:
        return say("bench.title").lower()
    return say(f"plans.asks.{drill}") if drill in DRILLS else drill


def sitting_lines(history: History, desk: Desk) -> tuple[Line, ...]:
    """Return the rows of the list of sittings, newest first."""
    rows = []
    titles = dict(results.short_titles(history.instruments, desk))
    for s in reversed(history.sittings):
        score = s.score
        bias = score.bias_tenths.value if score else None
        spread = score.spread_tenths.value if score else None
        slips = score.misreads.total if score else None
        asks = asked(s.drill)
        done = f"{s.given}/{s.items}" + ("" if s.ended else f" {say('progress.open')}")
        cells = (
            results.day(s.started_at),
            f"{titles[s.instrument]}: {asks}",
            done,
            desk.tenths(bias),
            desk.tenths(spread, sign=False),
            "\N{EN DASH}" if slips is None else str(slips),
        )
        rows.append(Line(str(s.session_id), cells, (s.started_at, cells[1], s.given, bias, spread, slips)))
    return tuple(rows)


def _table(lines: tuple[Line, ...]) -> Table:
    columns = (
        Column(say("progress.column.date"), 1.2),
        Column(say("progress.column.plan"), 3.2),
        Column(say("progress.column.done"), 1.13),
        Column(say("progress.column.bias"), 0.7, "right"),
        Column(say("progress.column.spread"), 0.7, "right"),
        Column(say("progress.column.misreads"), 0.77, "right"),
    )
    return Table("sittings", columns, lines, rows_shown=6)
