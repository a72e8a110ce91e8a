"""`tenthwise import`: answers from a CSV file into the archive."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.commands.output import print_json, progress_wanted


def import_(
    file: Annotated[Path, typer.Argument(help="A CSV file of answers, as `tenthwise export` writes it.")],
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Take answers from a CSV file into the archive: all of them, or none when the file has a fault.

    Example: tenthwise import answers.csv

    The file needs the columns person, truth_tenths and answer_tenths; session, item, at, seconds,
    instrument, drill, outcome and typed are kept where they are there. People who are not in the archive
    are added. What comes from a file counts as practice, never as evidence for a sign-off.
    """
    from trainer.records import take_in
    from trainer.records.archive import Archive

    def told(rows: int) -> None:
        if progress_wanted():
            print(f"\r{rows} answers", end="", file=sys.stderr)

    with Archive.open(archive) as opened:
        taken = take_in.take_in(opened.store, file, told=told)
    if json:
        print_json(taken.to_dict())
        return
    print(f"{taken.answers} answers in {taken.sessions} sessions taken in from {file.name}")
    if taken.people_added:
        print("people added: " + ", ".join(taken.people_added))
    if taken.sessions_there_already:
        print(f"{taken.sessions_there_already} sessions were in the archive already and were passed over")
