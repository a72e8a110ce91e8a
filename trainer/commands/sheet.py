"""`tenthwise sheet`: readings on paper, many different sheets at once; their keys are kept elsewhere."""

import secrets
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.options import ArchiveOption, JsonOption, SheetKeysOption
from trainer.commands.output import counted, print_json, typed_number
from trainer.commands.passphrases import PassphraseFile, passphrase
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.practice.sheets import Sheet
    from trainer.reports.sheets import Layout

MOST_SHEETS = 500


def sheet(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the PDF files.")],
    instrument: Annotated[str, typer.Option(metavar="NAME", help="A name from the catalogue.")] = "metric",
    readings: Annotated[int, typer.Option("--readings", help="Readings a sheet, 12 to 40.")] = 20,
    sheets: Annotated[int, typer.Option("--sheets", help="How many different sheets.")] = 1,
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    magnification: Annotated[
        str, typer.Option(metavar="NUMBER", help="1 is true scale; 1.5 is half as large again.")
    ] = "1",
    booklet: Annotated[
        bool, typer.Option("--booklet", help="One file with a page of instructions first.")
    ] = False,
    key_file: SheetKeysOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Print sheets of readings at true scale, each different, to be marked with `tenthwise mark`.

    Example: tenthwise sheet --instrument metric --readings 20 --sheets 30 --out class

    The key is never on the sheet: it is kept in the archive, or sealed in a file of its own. Whoever can
    measure the file can measure the readings, so give out paper for a check, not files.
    """
    from trainer.commands import sheet_keys
    from trainer.instrument import catalogue
    from trainer.reports import sheets as printed

    if not 1 <= sheets <= MOST_SHEETS:
        raise Refusal(f"--sheets is {sheets}; make 1 to {MOST_SHEETS} at once")
    chosen = printed.layout(
        catalogue.load(instrument), readings, paper, typed_number(magnification, "--magnification")
    )
    if key_file is not None:
        sheet_keys.refuse_existing(key_file)
    made = deal(instrument, readings, sheets)
    about = {"paper": chosen.paper, "magnification": chosen.magnification}
    _folder(out)
    _keep([{**one.to_dict(), **about} for one in made], key_file, passphrase_file, archive)
    files = write(made, chosen, out, as_booklet=booklet)
    if json:
        dot = printed.dot_tenths(catalogue.load(instrument), chosen.magnification)
        print_json(
            {"sheets": [s.number for s in made], "files": [str(f) for f in files], "printer_dot_tenths": dot}
        )
        return
    for path in files:
        typer.echo(str(path))
    where = f"sealed in {key_file}" if key_file else "in the archive"
    keys = "its key is" if len(made) == 1 else "their keys are"
    print(
        f"{counted(len(made), 'sheet')} of {readings} readings; {keys} {where}. Print at 100 %.",
        file=sys.stderr,
    )


def deal(instrument: str, readings: int, count: int) -> "list[Sheet]":
    """Return so many different sheets, each from fresh randomness, no two of one number."""
    import numpy as np

    from trainer.practice.sheets import make

    made: dict[str, Sheet] = {}
    while len(made) < count:
        one = make(instrument, readings, np.random.default_rng(secrets.randbits(128)))
        made.setdefault(one.number, one)
    return list(made.values())


def write(made: "Sequence[Sheet]", chosen: "Layout", folder: Path, *, as_booklet: bool) -> list[Path]:
    """Write one file a sheet, or one booklet; return the files."""
    from trainer.reports import sheets as printed
    from trainer.reports.files import write_whole
    from trainer.reports.sheets_booklet import booklet

    if as_booklet:
        return [write_whole(folder / f"booklet-{made[0].number}.pdf", booklet(made, chosen))]
    return [write_whole(folder / f"sheet-{one.number}.pdf", printed.file_of([one], chosen)) for one in made]


def _keep(
    keys: Sequence[Mapping[str, Any]], key_file: Path | None, phrase_file: Path | None, archive: str | None
) -> None:
    """Keep the keys before a sheet exists, so that no sheet is ever without one."""
    from trainer.commands import sheet_keys

    if key_file is not None:
        phrase = passphrase(phrase_file, new=True, whose=key_file.name, sealing=True)
        sheet_keys.write(key_file, keys, phrase)
        return
    from trainer.records import sheets as kept
    from trainer.records.archive import Archive

    with Archive.open(archive) as opened:
        for key in keys:
            kept.keep(opened, key)


def _folder(out: Path) -> None:
    if out.exists() and not out.is_dir():
        raise Refusal(f"--out {out} is a file; name a folder for the sheets")
    out.mkdir(parents=True, exist_ok=True)
