"""`tenthwise export`: answers, sessions or people, as CSV, JSON, XLSX or Parquet."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.options import ArchiveOption, JsonOption, OutOption
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.records.archive import Archive

KINDS = ("answers", "sessions", "people")
ENDINGS = (".csv", ".json", ".xlsx", ".parquet")


def export(
    what: Annotated[str, typer.Argument(help="answers, sessions or people.")] = "answers",
    out: OutOption = None,
    person: Annotated[str | None, typer.Option("--person", "-p", help="Only this person.")] = None,
    session: Annotated[str | None, typer.Option("--session", help="Only this session.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", help="Only this instrument.")] = None,
    drill: Annotated[str | None, typer.Option("--drill", help="Only this kind of drill.")] = None,
    checks: Annotated[
        bool, typer.Option("--checks", help="Only checks for the record, without practice.")
    ] = False,
    since: Annotated[str | None, typer.Option("--since", help="Begun on this date or later (UTC).")] = None,
    until: Annotated[str | None, typer.Option("--until", help="Begun before this date (UTC).")] = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Write answers, sessions or people as CSV, JSON, XLSX or Parquet.

    Example: tenthwise export answers --person Kim --since 2026-01-01 --out kim.csv

    Without --out the rows go to standard output; with it the name's ending chooses the form. Cells that a
    spreadsheet would run as a formula get an apostrophe in front in CSV; `tenthwise import` takes it away.
    """
    from trainer.records import export as writing
    from trainer.records.archive import Archive

    if what not in KINDS:
        raise typer.BadParameter(f"{what!r} cannot be exported; name one of {', '.join(KINDS)}")
    as_json = json or _says_json(out)
    filters = {} if what == "people" else {
        "person": person, "session": session, "instrument": instrument, "drill": drill,
        "for_record": True if checks else None, "since": since, "until": until,
    }  # fmt: skip
    with Archive.open(archive, create=False) as opened:
        if out is None:
            if hasattr(sys.stdout, "reconfigure"):
                sys.stdout.reconfigure(encoding="utf-8", newline="")
            writing.write(opened, what, sys.stdout, as_json=as_json, **filters)
        else:
            rows = _to_file(opened, what, out, as_json=as_json, **filters)
            print(f"{out}: {rows} {what if rows != 1 else 'row'} written", file=sys.stderr)


def _to_file(archive: "Archive", what: str, out: Path, *, as_json: bool, **filters: Any) -> int:
    from trainer.commands.export_forms import FORMS, write_form
    from trainer.records.export import write_file

    if out.suffix.lower() in FORMS:
        return write_form(archive, what, out, **filters)
    return write_file(archive, what, out, as_json=as_json, **filters)


def _says_json(out: Path | None) -> bool:
    if out is None:
        return False
    if out.suffix.lower() not in ENDINGS:
        raise Refusal(f"{out}: the name must end in {' or '.join(ENDINGS)}, so that the form is clear")
    return out.suffix.lower() == ".json"
