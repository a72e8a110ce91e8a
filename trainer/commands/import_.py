"""`tenthwise import`: answers from a CSV file into the archive."""

import contextlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.commands.output import counted, print_json, progress

if TYPE_CHECKING:
    from trainer.records.engine import Store
    from trainer.records.staging import Session
    from trainer.records.take_in import Taken


def import_(
    file: Annotated[Path, typer.Argument(help="A CSV file of answers, as `tenthwise export` writes it.")],
    mapping: Annotated[
        Path | None,
        typer.Option("--map", metavar="MAP.toml", help="How a CSV of another form is read (docs/files.md)."),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Check everything and tell what would come, keep nothing.")
    ] = False,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Take answers from a CSV file into the archive: all of them, or none when the file has a fault.

    Example: tenthwise import answers.csv

    The file needs the columns person, truth_tenths and answer_tenths; session, item, at, seconds,
    instrument, drill, outcome and typed are kept where they are there. With --map any laboratory's own CSV
    comes in: its columns, unit, decimal sign, times and sessions are named in a TOML file. People who are
    not in the archive are added. What comes from a file counts as practice, never as evidence for a
    sign-off.
    """
    from trainer.records import take_in
    from trainer.records.archive import Archive

    form: dict[str, Any] = {}
    if mapping is not None:
        from trainer.commands import import_map
        from trainer.records import foreign

        form = {"rows": foreign.read(file, import_map.load(mapping)), "of_person": True}
    if dry_run:
        with _if_there(archive) as store:
            _print_look(*take_in.look(store, file, **form), file, as_json=json)
        return

    with Archive.open(archive) as opened, progress() as tell:
        taken = take_in.take_in(opened.store, file, told=lambda rows: tell(f"{rows} answers"), **form)
    if json:
        print_json(taken.to_dict())
        return
    print(f"{_held(taken)} taken in from {file.name}")
    if taken.people_added:
        print("people added: " + "; ".join(taken.people_added))
    if taken.sessions_there_already:
        one = taken.sessions_there_already == 1
        print(
            f"{counted(taken.sessions_there_already, 'session')} {'was' if one else 'were'} in the archive "
            f"already and {'was' if one else 'were'} passed over"
        )
    if taken.sessions_unnamed:
        print(_UNNAMED, file=sys.stderr)


_UNNAMED = "the file names no sessions: taken in once more, its answers would be kept twice"


def _held(taken: "Taken") -> str:
    return f"{counted(taken.answers, 'answer')} in {counted(taken.sessions, 'session')}"


@contextlib.contextmanager
def _if_there(archive: str | None) -> "Iterator[Store | None]":
    """Give the archive's store, or None where there is no archive yet."""
    from trainer.records.archive import Archive
    from trainer.records.refusals import MissingArchive

    try:
        opened = Archive.open(archive, create=False)
    except MissingArchive:
        yield None
        return
    with opened as kept:
        yield kept.store


def _print_look(taken: "Taken", sessions: "list[Session]", file: Path, *, as_json: bool) -> None:
    people: dict[str, list[int]] = {}
    for session in sessions:
        held = people.setdefault(session.person, [0, 0])
        held[0] += 1
        held[1] += session.rows
    days = sorted(day for session in sessions for day in session.days if day)
    instruments = sorted({session.shared[0] for session in sessions if session.shared[0]})
    if as_json:
        listed = [{"person": name, "sessions": s, "answers": a} for name, (s, a) in people.items()]
        found = {"people": listed, "instruments": instruments, "first_day": days[0] if days else None}
        print_json({**taken.to_dict(), **found, "last_day": days[-1] if days else None, "kept": False})
        return
    print(f"{file.name} is sound; {_held(taken)} would come in")
    for name, (count, answers) in people.items():
        new = " (new)" if name in taken.people_added else ""
        print(f"  {name}{new}: {counted(answers, 'answer')} in {counted(count, 'session')}")
    if days:
        print(f"  from {days[0]} to {days[-1]} (UTC)")
    print(f"  instruments: {', '.join(instruments) or 'not named'}")
    if taken.sessions_there_already:
        print(
            f"  {counted(taken.sessions_there_already, 'session')} "
            f"{'is' if taken.sessions_there_already == 1 else 'are'} in the archive already and would be "
            "passed over"
        )
    if taken.sessions_unnamed:
        print(f"  {_UNNAMED}")
    print("nothing was kept")
