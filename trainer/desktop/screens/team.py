"""Team: everybody's bias and spread with intervals, as one figure or as a table."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from trainer.desktop import results, work
from trainer.desktop.desk import Desk
from trainer.desktop.due import day_of
from trainer.desktop.events import Arrived, Refused
from trainer.desktop.messages import Back, Edited, Message, Opened
from trainer.desktop.nodes import Choice, Column, Gap, Label, Line, Row, Stack, Table
from trainer.desktop.results import Team, TeamLine
from trainer.desktop.screen import Effect, Outcome, Plain
from trainer.desktop.screens.instruments import fold_of, instrument_choice, instrument_meant
from trainer.desktop.screens.parts import caution, chief, framed, narrow, panel, titled
from trainer.desktop.screens.team_plot import team_plot
from trainer.desktop.screens.team_signed import signed_words, unsigned_panel
from trainer.desktop.signing import MaySign
from trainer.desktop.signing_work import LoadMaySign
from trainer.desktop.words import counted, say

FIRM_FROM = 50  # readings from which figures are firm (trainer.scoring.intervals, same rule)
CHIEF = (0, 2, 3, 7)  # the columns of a narrow window: name, bias, spread, may sign


@dataclass(frozen=True, slots=True)
class TeamView(Plain):
    """The view for supervisors."""

    team: Team | None = None
    instrument: str = ""
    view_as: str = "plot"
    lines: tuple[Line, ...] = ()
    few: tuple[Line, ...] = ()  # the same rows for a narrow window
    trouble: str = ""
    signed: Mapping[str, MaySign] | None = None  # by person's name; empty in a window without a sign-off

    def begin(self, desk: Desk) -> tuple[Effect, ...]:
        """Have everybody scored, and ask who may sign for what."""
        return work.LoadTeam(), LoadMaySign()

    def first_focus(self, desk: Desk) -> str:
        """Begin with the figure."""
        return "team"

    def shown(self) -> tuple[TeamLine, ...]:
        """Return the people who have read the chosen instrument."""
        return tuple(x for x in self.team.lines if x.instrument == self.instrument) if self.team else ()

    def view(self, desk: Desk) -> Any:
        """Return the screen."""
        head = titled(say("team.title"), say("team.under"))
        if self.trouble:
            return framed("team", Stack((head, caution(self.trouble)), gap=14))
        if self.team is None:
            return framed("team", Stack((head, panel(Label(say("wait"), tone="soft"))), gap=14))
        if not self.team.lines:
            return framed("team", Stack((head, panel(Label(say("team.none"), tone="soft"))), gap=14))
        show = (("plot", say("team.view.plot")), ("table", say("team.view.table")))
        choices = Row(
            (
                instrument_choice(say("team.instrument"), self.team.instruments, self.instrument, desk),
                Gap(1),
                Choice("view", say("team.view"), show, self.view_as),
            ),
            (0, 1, 0),
            gap=14,
            fold=fold_of(self.team.instruments),
        )
        if self.view_as == "table":
            matter: Any = _table(self.few if narrow(desk) else self.lines, narrow(desk))
        else:
            matter = panel(team_plot(self.shown(), desk))
        unsigned = unsigned_panel(self.shown(), self.instrument, self.signed, desk)
        parts = (head, choices, matter, *unsigned, caution(say("caution.screen")))
        return framed("team", Stack(parts, gap=14))

    def react(self, message: Message, desk: Desk) -> Outcome:
        """Return what comes of a message."""
        match message:
            case Arrived("loadteam", Team() as team):
                first = team.instruments[0] if team.instruments else ""
                changed = replace(self, team=team, instrument=self.instrument or first, trouble="")
                return Outcome(screen=changed._lined(desk))
            case Refused("loadteam", reason):
                return Outcome(screen=replace(self, trouble=reason))
            case Arrived("loadmaysign", dict(signed)):
                return Outcome(screen=replace(self, signed=signed)._lined(desk))
            case Refused("loadmaysign", reason):
                return Outcome(toast=reason)
            case Edited("instrument", value) if self.team is not None:
                meant = instrument_meant(self.team.instruments, self.instrument, str(value))
                return Outcome(screen=replace(self, instrument=meant)._lined(desk))
            case Edited("view", value):
                return Outcome(screen=replace(self, view_as=str(value)))
            case Opened("team", row):
                return self._person(row, desk)
            case Back():
                return Outcome("switch")
        return Outcome()

    def _lined(self, desk: Desk) -> "TeamView":
        """Return the view with its table's rows made anew."""
        lines = team_lines(self.shown(), desk, self.signed)
        return replace(self, lines=lines, few=chief(lines, CHIEF))

    def _person(self, row: str, desk: Desk) -> Outcome:
        """Open the progress of a person of the figure or table."""
        from trainer.desktop.screens.progress import Progress

        person = next((p for p in desk.people or () if p.name == row), None)
        return (
            Outcome("open", Progress(instrument=self.instrument), desk={"person": person})
            if person
            else Outcome()
        )


def state(line: TeamLine, desk: Desk) -> str:
    """Return where a person stands: too few readings, a refresher due, or enough."""
    if line.score.used < FIRM_FROM:
        return say("team.state.few", n=counted("count.readings", FIRM_FROM - line.score.used))
    today = day_of(desk.utc(desk.now_s))
    if line.due is None or line.due.due_day > today:
        return say("team.state.ok")
    days = int(today - line.due.due_day)
    return say("team.state.due", days=counted("signoff.days", days)) if days else say("team.state.due.today")


def team_lines(
    lines: tuple[TeamLine, ...], desk: Desk, signed: Mapping[str, MaySign] | None = None
) -> tuple[Line, ...]:
    """Return the rows of the table."""
    rows = []
    for x in lines:
        s = x.score
        low, high = desk.tenths(s.bias_tenths.low), desk.tenths(s.bias_tenths.high)
        bias = desk.tenths(s.bias_tenths.value)
        bias += f" ({low} … {high})" if s.bias_tenths.low is not None else ""
        cells = (
            x.person,
            str(s.readings),
            bias,
            desk.tenths(s.spread_tenths.value, sign=False),
            str(s.misreads.total),
            results.day(x.last_at)[:10],
            state(x, desk),
            signed_words(x, signed),
        )
        sort = (
            x.person.casefold(), s.readings, s.bias_tenths.value, s.spread_tenths.value,
            s.misreads.total, x.last_at, *cells[6:],
        )  # fmt: skip
        rows.append(Line(x.person, cells, sort))
    return tuple(rows)


def _table(lines: tuple[Line, ...], few: bool) -> Table:
    columns: tuple[Column, ...] = (
        Column(say("team.column.name"), 1.4),
        Column(say("team.column.readings"), 0.95, "right"),
        Column(say("team.column.bias.interval"), 2.2, "right"),
        Column(say("team.column.spread"), 0.85, "right"),
        Column(say("team.column.misreads"), 0.95, "right"),
        Column(say("team.column.last"), 1.25),
        Column(say("team.column.state"), 1.75),
        Column(say("team.column.signed"), 1.65),
    )
    if few:
        columns = tuple(columns[c] for c in CHIEF)
    return Table("team", columns, lines, rows_shown=10, sort=0)
