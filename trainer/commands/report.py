"""`tenthwise report`: the report of one person, or of a team, as PDF or as PNG pages."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import (
    ArchiveOption,
    InstrumentOption,
    OutOption,
    PracticeOption,
    SettingOption,
    SinceOption,
    UntilOption,
)
from trainer.commands.output import counted, refuse_ending, tell_written
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.commands.evidence import Evidence, Wanted
    from trainer.desktop.limits import Limits
    from trainer.records.archive import Archive
    from trainer.reports.heading import ReportHeader

ENDINGS = (".pdf", ".png")
FEWEST_IN_TEAM = 2


def report(
    people: Annotated[
        list[str] | None, typer.Argument(metavar="PERSON", help="Whose report; several: a team's.")
    ] = None,
    team: Annotated[bool, typer.Option("--team", help="Everybody in the archive with readings.")] = False,
    instrument: InstrumentOption = None,
    since: SinceOption = None,
    until: UntilOption = None,
    setting: SettingOption = None,
    practice: PracticeOption = False,
    criterion: Annotated[
        str | None,
        typer.Option("--criterion", help="The criterion whose limits are drawn; else the one that applies."),
    ] = None,
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    out: OutOption = None,
    archive: ArchiveOption = None,
) -> None:
    """Write a report with numbers, intervals, figures and method notes.

    Example: tenthwise report Kim --instrument metric --out kim.pdf

    One name gives a person's report, with a section for every drill taken; several, or --team, the report of
    a team. A file ending in .png gives one picture a page.
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
        if team or len(names) > 1:
            found, left_out = _everybody(opened, wanted) if team else (_named(opened, names, wanted), [])
            made = _write_team(path, opened, found, wanted, _header(opened, found, paper, criterion))
        else:
            made, left_out = _write_person(path, opened, names[0], wanted, paper, criterion), []
    tell_written(*made)
    for sentence in left_out:
        typer.echo(f"note: not in the report: {sentence}", err=True)


def _path(out: Path | None, names: list[str]) -> Path:
    if out is None:
        word = (
            "".join(c if c.isalnum() or c in "-_" else "-" for c in names[0]) if len(names) == 1 else "team"
        )
        return Path(f"report-{word}.pdf")
    refuse_ending(out, ENDINGS)
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
            f"{counted(len(found), 'person', 'people')} in the archive "
            f"{'has' if len(found) == 1 else 'have'} readings for a report; a team needs {FEWEST_IN_TEAM}"
        )
    return found, left_out


def _write_person(
    path: Path, archive: "Archive", name: str, wanted: "Wanted", paper: str, criterion: str | None
) -> tuple[Path, ...]:
    """Write one person's report; of somebody without whole readings that of the other drills alone."""
    from trainer.commands.evidence import NoEvidence, gather
    from trainer.commands.kept import skills_found
    from trainer.commands.transfer import found_if_any
    from trainer.reports import person_report

    try:
        one = gather(archive, name, wanted)
    except NoEvidence:
        skills = skills_found(archive, name, wanted, wanted.instrument)
        if not skills:
            raise
        return person_report.write_skills(path, archive.person(name).name, skills, _plain_header(paper))
    more = {
        "skills": skills_found(archive, name, wanted, one.instrument),
        "transfer": found_if_any(archive, name, replace(wanted, instrument=one.instrument)),
    }
    header = _header(archive, [one], paper, criterion)
    if path.suffix.lower() == ".png":
        return person_report.write_png(path, one.score, one.answers, header, **more)  # type: ignore[arg-type]
    return (person_report.write(path, one.score, one.answers, header, **more),)  # type: ignore[arg-type]


def _write_team(
    path: Path, archive: "Archive", found: "Sequence[Evidence]", wanted: "Wanted", header: "ReportHeader"
) -> tuple[Path, ...]:
    import pandas as pd

    from trainer.commands.kept import skills_found
    from trainer.reports import team_report

    scores, answers = [one.score for one in found], pd.concat([one.answers for one in found])
    of_everybody = {one.person: skills_found(archive, one.person, wanted, one.instrument) for one in found}
    more = {"skills": of_everybody, "due": _due(archive, found)}
    if path.suffix.lower() == ".png":
        return team_report.write_png(path, scores, answers, header, **more)  # type: ignore[arg-type]
    return (team_report.write(path, scores, answers, header, **more),)  # type: ignore[arg-type]


def _due(archive: "Archive", found: "Sequence[Evidence]") -> dict[str, tuple[float, str]]:
    """Return in how many days each person is due on their instrument, practice counted as in the window."""
    from trainer.commands.sitting import utc_now
    from trainer.desktop.due import day_of, refreshers
    from trainer.desktop.pools import clear_of, of_readings

    today, due = day_of(utc_now()), {}
    for one in found:
        every = archive.answers(archive.person(one.person), instrument=one.instrument)
        for when in refreshers(clear_of(of_readings(every))).values():
            due[one.person] = (when.due_day - today, when.reason)
    return due


def _limits(archive: "Archive", found: "Sequence[Evidence]", criterion: str | None) -> "Limits | None":
    """Return the limits to draw: of the criterion named, else of the one that applies to all these people."""
    from trainer.commands.limits import limits_of
    from trainer.desktop.limits import Limits
    from trainer.instrument import catalogue
    from trainer.signoff import criteria

    instrument = found[0].instrument
    if criterion is None:
        every = [
            limits_of(archive, archive.person(one.person), [instrument]).get(instrument) for one in found
        ]
        return every[0] if all(one == every[0] for one in every) else None
    named = criteria.find(criterion)
    if why := named.scope.refuses(catalogue.load(instrument)):
        raise Refusal(f"criterion {named.name} does not fit {instrument}: {why}")
    return Limits(named.title, named.bias_tenths, named.spread_tenths)


def _plain_header(paper: str) -> "ReportHeader":
    from trainer import __version__
    from trainer.commands.sitting import utc_now
    from trainer.reports.heading import ReportHeader

    return ReportHeader(prepared_at=utc_now()[:10], program_version=__version__, paper=paper.lower())


def _header(
    archive: "Archive", found: "Sequence[Evidence]", paper: str, criterion: str | None
) -> "ReportHeader":
    """Return the head of the report; refuse people who read different instruments or in different ways."""
    for what, option in (("instrument", "--instrument"), ("setting", "--from")):
        kinds = sorted({str(getattr(one, what)) for one in found})
        if len(kinds) > 1:
            raise Refusal(f"the readings differ in {what} ({', '.join(kinds)}); choose one with {option}")
    limits = _limits(archive, found, criterion)
    conditions = list(dict.fromkeys(one.conditions for one in found))
    return replace(
        _plain_header(paper),
        conditions=conditions[0] if len(conditions) == 1 else "not the same for everybody",
        setting=found[0].setting,
        bias_limit_tenths=None if limits is None else limits.bias_tenths,
        spread_limit_tenths=None if limits is None else limits.spread_tenths,
        criterion="" if limits is None else limits.title,
    )
