"""`tenthwise quote`: what a reading by a person or a team is worth in an uncertainty budget."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import (
    ArchiveOption,
    InstrumentOption,
    JsonOption,
    OutOption,
    PracticeOption,
    ProvisionalOption,
    SettingOption,
    SinceOption,
)
from trainer.commands.output import counted, print_json, tell_written
from trainer.instrument.refusal import Refusal
from trainer.practice.wording import listed

if TYPE_CHECKING:
    from trainer.commands.evidence import Evidence, Wanted
    from trainer.records.archive import Archive
    from trainer.reports.quote import Quote
    from trainer.scoring.transfer import Transfer

FORMATS = ("text", "markdown", "json", "xlsx")
ENDINGS = {".txt": "text", ".md": "markdown", ".json": "json", ".xlsx": "xlsx"}


def quote(
    people: Annotated[
        list[str] | None, typer.Argument(metavar="PERSON", help="Whose readings; several: a team.")
    ] = None,
    team: Annotated[
        bool, typer.Option("--team", help="Everybody in the archive with enough readings, as one team.")
    ] = False,
    signed_off: Annotated[
        bool,
        typer.Option("--signed-off", help="With --team: those whose sign-off on the instrument is in force."),
    ] = False,
    instrument: InstrumentOption = None,
    since: SinceOption = None,
    setting: SettingOption = None,
    practice: PracticeOption = False,
    provisional: ProvisionalOption = False,
    form: Annotated[
        str | None, typer.Option("--format", help="text, markdown, json or xlsx; by default as FILE ends.")
    ] = None,
    out: OutOption = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Print a paragraph and a table that fit into an uncertainty budget.

    Example: tenthwise quote Kim --instrument metric --format markdown

    Bias and spread with intervals, the standard uncertainty of one reading with the bias left in and
    corrected, what was excluded, and whether it was shown on a screen or on a real instrument. Several
    names, or --team, give one figure for a reading by any one of them.
    """
    from trainer.commands.evidence import Wanted, since_date
    from trainer.records.archive import Archive

    chosen = _format(form, out, json=json)
    if bool(people) == team:
        raise typer.BadParameter("name one or more people, or give --team (not both)")
    if signed_off and not team:
        raise typer.BadParameter("--signed-off chooses among everybody; give --team with it")
    with Archive.open(archive, create=False) as opened:
        wanted = Wanted(instrument, since_date(since), setting, practice)
        if signed_off:
            made = _of_everybody(opened, wanted, provisional=provisional, signed_off=True)
        else:
            made = quoted(opened, people or [], wanted, team=team, provisional=provisional)
    _print(made, chosen, out)


def _format(form: str | None, out: Path | None, *, json: bool) -> str:
    chosen = "json" if json else form
    if chosen is None and out is not None:
        if out.suffix.lower() not in ENDINGS:
            raise Refusal(
                f"{out}: the name must end in {listed(list(ENDINGS), 'or')}, or give --format with it"
            )
        chosen = ENDINGS[out.suffix.lower()]
    chosen = chosen or "text"
    if chosen not in FORMATS:
        raise typer.BadParameter(f"--format is {chosen!r}; name one of {', '.join(FORMATS)}")
    if chosen == "xlsx" and out is None:
        raise typer.BadParameter("a spreadsheet needs a file; add --out quote.xlsx")
    return chosen


def quoted(
    archive: "Archive", people: list[str], wanted: "Wanted", *, team: bool = False, provisional: bool = False
) -> "Quote":
    """Return the quote of one person, of those named, or of everybody with enough readings."""
    from trainer.commands.evidence import gather
    from trainer.commands.transfer import found_if_any

    if team:
        return _of_everybody(archive, wanted, provisional=provisional)
    found = [gather(archive, name, wanted) for name in dict.fromkeys(people)]
    if len(found) > 1:
        return _of_team(found, [], provisional=provisional)
    beside = found_if_any(archive, people[0], replace(wanted, instrument=found[0].instrument))
    return of_one(found[0], provisional=provisional, beside=beside)


def of_one(evidence: "Evidence", *, provisional: bool = False, beside: "Transfer | None" = None) -> "Quote":
    """Return the quote of one person from their evidence; `beside` is their screen against their bench."""
    from trainer.reports.quote import of_person

    return of_person(
        evidence.score,
        evidence.readings,
        setting=evidence.setting,
        conditions=evidence.conditions,
        reference=evidence.reference,
        provisional=provisional,
        notes=_elsewhere(evidence),
        beside=beside,
    )


def _elsewhere(evidence: "Evidence") -> list[str]:
    """Return what other evidence there is, which this quote does not use."""
    found = []
    if evidence.elsewhere:
        parts = ", ".join(f"{n} on {where}" for where, n in evidence.elsewhere.items())
        found.append(f"not used here: {parts} (quote them by --from)")
    if evidence.apart:
        parts = ", ".join(f"{n} with {words}" for words, n in evidence.apart.items())
        found.append(f"not used here: readings under viewing conditions ({parts})")
    return found


def _of_everybody(
    archive: "Archive", wanted: "Wanted", *, provisional: bool, signed_off: bool = False
) -> "Quote":
    from trainer.commands.evidence import NoEvidence, gather
    from trainer.reports.quote import TooLittleEvidence, check_enough

    wanted = replace(wanted, instrument=wanted.instrument or _only_instrument(archive, wanted))
    found, left_out, notes = [], [], []
    people = archive.people()
    if signed_off:
        allowed = _signed_off(archive, wanted.instrument or "")
        if without := [person.name for person in people if person.id not in allowed]:
            notes.append(f"without a sign-off in force, so not in this figure: {', '.join(without)}")
        people = [person for person in people if person.id in allowed]
        if not people:
            raise Refusal(
                f"nobody's sign-off on {wanted.instrument} is in force; `tenthwise signoff list` shows all"
            )
    for person in people:
        try:
            one = gather(archive, person.id, wanted)
            check_enough(person.name, one.score.used, one.instrument, provisional=provisional)
        except (NoEvidence, TooLittleEvidence):
            left_out.append(person.name)
        else:
            found.append(one)
    if len(found) < 2:
        raise TooLittleEvidence(
            f"{len(found)} of {counted(len(people), 'person', 'people')} "
            f"{'has' if len(found) == 1 else 'have'} enough readings on "
            f"{wanted.instrument}; a team needs at least 2{_missing(archive, left_out)}"
        )
    return _of_team(found, left_out, provisional=provisional, notes=notes)


def _signed_off(archive: "Archive", instrument: str) -> set[str]:
    """Return the ids of people with a statement in force whose criterion covers readings of an instrument."""
    from trainer.instrument import catalogue
    from trainer.records import office
    from trainer.signoff.criterion import parse

    micrometer, found = catalogue.load(instrument), set()
    for kept, present in office.due(archive):
        body = kept.document["body"]
        criterion = parse(body["criterion"]["text"], body["criterion"]["name"])
        if present.in_force and not criterion.judges and not criterion.scope.refuses(micrometer):
            found.add(str(body["person"]["id"]))
    return found


def _only_instrument(archive: "Archive", wanted: "Wanted") -> str:
    """Return the one instrument that everybody read; raise a Refusal where there are several or none."""
    from trainer.commands.evidence import NoEvidence, settings_of

    sessions = archive.sessions(since=wanted.since, until=wanted.until)
    settings = settings_of(archive, sessions)
    counts = sessions["for_record"].astype(bool) | sessions["session"].map(settings).eq("sheet")
    read = sessions[sessions["session"].isin(settings) & (counts | wanted.practice)]
    found = sorted(read["instrument"].unique())
    if not found:
        raise NoEvidence(
            "nobody in the archive has whole readings for the record; take checks or add --practice"
        )
    if len(found) > 1:
        raise Refusal(f"the people of the archive read {', '.join(found)}; name one by --instrument")
    return str(found[0])


def _missing(archive: "Archive", left_out: list[str]) -> str:
    names = ", ".join(left_out[:5]) + (" and others" if len(left_out) > 5 else "")
    return f"; ask how many more each needs by `tenthwise quote NAME` (too few: {names})" if left_out else ""


def _of_team(
    found: "list[Evidence]", left_out: list[str], *, provisional: bool, notes: Sequence[str] = ()
) -> "Quote":
    from trainer.reports.quote import check_enough
    from trainer.reports.quote_team import of_team
    from trainer.scoring.precision import of_groups

    instruments = sorted({one.instrument for one in found})
    if len(instruments) > 1:
        raise Refusal(
            f"these people read different instruments ({', '.join(instruments)}); name --instrument"
        )
    settings = sorted({one.setting for one in found})
    if len(settings) > 1:
        raise Refusal(
            f"some of these people are known from {' and some from '.join(settings)}; name one by --from"
        )
    for one in found:
        check_enough(one.person, one.score.used, one.instrument, provisional=provisional)
    shared = sorted({one.conditions for one in found})
    return of_team(
        [one.score for one in found],
        [one.readings for one in found],
        of_groups([one.readings.kept_tenths.tolist() for one in found]),
        setting=found[0].setting,
        conditions=shared[0] if len(shared) == 1 else "under differing conditions",
        provisional=provisional,
        left_out=left_out,
        notes=notes,
    )


def _print(made: "Quote", form: str, out: Path | None) -> None:
    import json as text_of
    import sys

    from trainer.reports import quote_text

    if form == "xlsx" and out is not None:
        from trainer.reports import workbook

        workbook.write(out, quote_text.tables(made), title=quote_text.title(made))
        tell_written(out)
        return
    if form == "json" and out is None:
        print_json(made.to_dict())
        return
    content = {
        "text": lambda: quote_text.as_text(made),
        "markdown": lambda: quote_text.as_markdown(made),
        "json": lambda: text_of.dumps(made.to_dict(), ensure_ascii=False, allow_nan=False, indent=2) + "\n",
    }[form]()
    if out is None:
        sys.stdout.write(content)
        return
    from trainer.reports.files import write_whole

    write_whole(out, content.encode())
    tell_written(out)
