"""`tenthwise export`: answers, sessions, people, statistics or sign-offs, as CSV, JSON, XLSX or Parquet."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.export_tables import WORKED_OUT, refuse_filters
from trainer.commands.options import ArchiveOption, JsonOption, OutOption, SinceOption, UntilOption
from trainer.commands.output import counted, refuse_ending, tell_written
from trainer.commands.passphrases import KeyFileOption, PassphraseFile
from trainer.commands.permits import ActingOption, permitted
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.records.archive import Archive

LISTED = ("answers", "sessions", "people")
KINDS = (*LISTED, *WORKED_OUT)
ENDINGS = (".csv", ".json", ".xlsx", ".parquet")


def export(
    what: Annotated[
        str, typer.Argument(help="answers, sessions, people, statistics, signoffs or transfer.")
    ] = "answers",
    out: OutOption = None,
    person: Annotated[
        list[str] | None,
        typer.Option("--person", "-p", help="Only this person; again for each person of a team."),
    ] = None,
    session: Annotated[str | None, typer.Option("--session", help="Only this session.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", help="Only this instrument.")] = None,
    drill: Annotated[str | None, typer.Option("--drill", help="Only this kind of drill.")] = None,
    condition: Annotated[
        str | None,
        typer.Option(
            "--condition",
            metavar="WORDS",
            help="Only under these viewing conditions: clear, unknown, blur, ...",
        ),
    ] = None,
    checks: Annotated[
        bool, typer.Option("--checks", help="Only checks for the record, without practice.")
    ] = False,
    since: SinceOption = None,
    until: UntilOption = None,
    by: ActingOption = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Write answers, sessions, people, statistics or sign-offs as CSV, JSON, XLSX or Parquet.

    Example: tenthwise export answers --person Kim --since 2026-01-01 --out kim.csv

    Statistics are everybody's bias, spread and the rest, one row a person, instrument and setting; sign-offs
    are the signed statements with their standing; transfer holds everybody's bench against their screen.
    Without --out the rows go to standard output; with it the name's ending chooses the form. Cells that a
    spreadsheet would run as a formula get an apostrophe in front in CSV; `tenthwise import` takes it away.
    """
    from trainer.commands.evidence import typed_date
    from trainer.records.archive import Archive

    if what not in KINDS:
        raise typer.BadParameter(f"{what!r} cannot be exported; name one of {', '.join(KINDS)}")
    as_json = _as_json(out, json=json)
    filters: dict[str, Any] = {
        "team": tuple(dict.fromkeys(person)) if person else None, "session": session,
        "instrument": instrument, "drill": drill, "conditions": condition,
        "for_record": True if checks else None, "since": typed_date(since, "--since"),
        "until": typed_date(until, "--until"),
    }  # fmt: skip
    _refuse_empty_span(filters)
    refuse_filters(what, filters)
    with Archive.open(archive, create=False) as opened:
        _refuse_unknown(opened, filters)
        who = permitted(opened, "export", by, key_file, passphrase_file)
        rows = _write(opened, what, out, as_json=as_json, who=who, **filters)
    if out is not None:
        tell_written(f"{out} ({counted(rows, 'row')} of {what})")


def _refuse_empty_span(filters: dict[str, Any]) -> None:
    if filters["since"] and filters["until"] and filters["since"] >= filters["until"]:
        raise Refusal(f"nothing lies from {filters['since']} to before {filters['until']}; swap the dates")


def _refuse_unknown(archive: "Archive", filters: dict[str, Any]) -> None:
    """Refuse names that the archive does not know, which would give an empty file without a word."""
    for name in filters["team"] or ():
        archive.person(name)
    if filters["session"] is not None:
        archive.session(filters["session"])
    for field, option in (
        ("instrument", "--instrument"),
        ("drill", "--drill"),
        ("conditions", "--condition"),
    ):
        wanted = filters[field]
        if wanted is not None and archive.sessions(**{field: wanted}).empty:
            every = archive.sessions()[field].unique()
            known = sorted({one or "unknown" for one in every} if field == "conditions" else set(every))
            told = f"there are {'; '.join(known)}" if known else "there are no sessions yet"
            raise Refusal(f"no session has {option} {wanted!r}; {told}")


def _write(archive: "Archive", what: str, out: Path | None, *, as_json: bool, **filters: Any) -> int:
    from trainer.commands.export_forms import FORMS, write_form, write_text

    if out is not None and out.suffix.lower() in FORMS:
        return write_form(archive, what, out, **filters)
    if out is None and hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(encoding="utf-8", newline="")
    if what in WORKED_OUT:
        return write_text(archive, what, out, as_json=as_json, **filters)
    from trainer.records import export as writing

    if what == "people":
        filters = {"team": filters["team"], "who": filters["who"]}
    if out is None:
        return writing.write(archive, what, sys.stdout, as_json=as_json, **filters)
    return writing.write_file(archive, what, out, as_json=as_json, **filters)


def _as_json(out: Path | None, *, json: bool) -> bool:
    """Return whether JSON is to be written; a file's name says so, and --json does not gainsay it."""
    if out is None:
        return json
    refuse_ending(out, ENDINGS)
    if json and out.suffix.lower() != ".json":
        raise Refusal(f"{out}: with --json the name must end in .json; rename it, or leave --json out")
    return out.suffix.lower() == ".json"
