"""`tenthwise report`: the report of one person, or of a team, as PDF or as PNG pages."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import ArchiveOption, OutOption
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.commands.evidence import Evidence, Wanted
    from trainer.records.archive import Archive
    from trainer.reports.heading import ReportHeader

ENDINGS = (".pdf", ".png")
FEWEST_IN_TEAM = 2


def report(
    people: Annotated[
        list[str] | None, typer.Argument(metavar="[PERSON]...", help="Whose report; several: a team's.")
    ] = None,
    team: Annotated[bool, typer.Option("--team", help="Everybody in the archive with readings.")] = False,
    instrument: Annotated[str | None, typer.Option("--instrument", help="The instrument's name.")] = None,
    since: Annotated[
        str | None, typer.Option("--since", metavar="DATE", help="Sessions begun on this date or later.")
    ] = None,
    until: Annotated[
        str | None, typer.Option("--until", metavar="DATE", help="Sessions begun before this date.")
    ] = None,
    setting: Annotated[
        str | None, typer.Option("--from", help="bench, sheet or screen; the strongest unless named.")
    ] = None,
    practice: Annotated[bool, typer.Option("--practice", help="Count practice as well as checks.")] = False,
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    out: OutOption = None,
    archive: ArchiveOption = None,
) -> None:
    """Write a report with numbers, intervals, figures and method notes.

    Example: tenthwise report Kim --instrument metric --out kim.pdf

    One name gives a person's report; several, or --team, the report of a team. A file ending in .png gives
    one picture a page.
    """
    from trainer.commands.evidence import Wanted, typed_date
    from trainer.records.archive import Archive

    if bool(people) == team:
        raise typer.BadParameter("name one or more people, or give --team (not both)")
    names = list(dict.fromkeys(people or []))
    path = _path(out, names)
    begun = typed_date(since, "--since"), typed_date(until, "--until")
    wanted = Wanted(instrument, begun[0], setting, practice, begun[1])
    with Archive.open(archive, create=False) as opened:
        found, left_out = _everybody(opened, wanted) if team else ([], [])
        found = found or _named(opened, names, wanted)
        made = _write(path, found, paper, team=team or len(found) > 1)
    typer.echo("written: " + ", ".join(str(name) for name in made))
    for sentence in left_out:
        typer.echo(f"note: not in the report: {sentence}", err=True)


def _path(out: Path | None, names: list[str]) -> Path:
    if out is None:
        word = (
            "".join(c if c.isalnum() or c in "-_" else "-" for c in names[0]) if len(names) == 1 else "team"
        )
        return Path(f"report-{word}.pdf")
    if out.suffix.lower() not in ENDINGS:
        raise Refusal(f"{out}: the name must end in {' or '.join(ENDINGS)}, so that the form is clear")
    return out


def _named(archive: "Archive", names: list[str], wanted: "Wanted") -> "list[Evidence]":
    from trainer.commands.evidence import gather

    return [gather(archive, name, wanted) for name in names]


def _everybody(archive: "Archive", wanted: "Wanted") -> "tuple[list[Evidence], list[str]]":
    """Return what is known of everybody, and why some are left out."""
    from trainer.commands.evidence import NoEvidence, gather

    found, left_out = [], []
    for person in archive.people():
        try:
            found.append(gather(archive, person.id, wanted))
        except NoEvidence as nothing:
            left_out.append(str(nothing))
    if len(found) < FEWEST_IN_TEAM:
        raise Refusal(
            f"{len(found)} people in the archive have readings for a report; a team needs {FEWEST_IN_TEAM}"
        )
    return found, left_out


def _write(path: Path, found: "Sequence[Evidence]", paper: str, *, team: bool) -> tuple[Path, ...]:
    import pandas as pd

    from trainer.reports import person_report, team_report

    header = _header(found, paper)
    as_png = path.suffix.lower() == ".png"
    if not team:
        one = found[0]
        if as_png:
            return person_report.write_png(path, one.score, one.answers, header)
        return (person_report.write(path, one.score, one.answers, header),)
    scores, answers = [one.score for one in found], pd.concat([one.answers for one in found])
    if as_png:
        return team_report.write_png(path, scores, answers, header)
    return (team_report.write(path, scores, answers, header),)


def _header(found: "Sequence[Evidence]", paper: str) -> "ReportHeader":
    """Return the head of the report; refuse people who read different instruments or in different ways."""
    from trainer import __version__
    from trainer.commands.sitting import utc_now
    from trainer.reports.heading import ReportHeader

    for what, option in (("instrument", "--instrument"), ("setting", "--from")):
        kinds = sorted({str(getattr(one, what)) for one in found})
        if len(kinds) > 1:
            raise Refusal(f"the readings differ in {what} ({', '.join(kinds)}); choose one with {option}")
    conditions = list(dict.fromkeys(one.conditions for one in found))
    return ReportHeader(
        conditions=conditions[0] if len(conditions) == 1 else "not the same for everybody",
        setting=found[0].setting,
        prepared_at=utc_now()[:10],
        program_version=__version__,
        paper=paper.lower(),
    )
