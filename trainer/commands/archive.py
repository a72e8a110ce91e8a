"""`tenthwise archive`: is it whole, how large is it, back it up, restore, rescue, move."""

import json as json_text
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.commands.output import counted, print_json, progress, told_counts
from trainer.commands.passphrases import KeyFileOption, PassphraseFile
from trainer.commands.permits import ActingOption, permitted
from trainer.instrument.given_file import some_bytes
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.records.check import Report

archive = typer.Typer(no_args_is_help=True, help="Look after the archive: check, back up, restore, move.")

To = Annotated[Path, typer.Argument(help="A new file; one that exists is never overwritten.")]


@archive.command()
def info(json: JsonOption = False, archive: ArchiveOption = None) -> None:
    """Say where the archive is, its version, and how much is in it.

    Example: tenthwise archive info --json
    """
    from trainer.records.archive import Archive
    from trainer.records.info import info as look

    with Archive.open(archive, create=False, upgrade=False) as opened:
        found = look(opened.store)
    if json:
        print_json(found)
        return
    for name, value in found.items():
        told = {True: "yes", False: "no"}.get(value, value) if isinstance(value, bool) else value
        print(f"{name.replace('_', ' ')}: {'none yet' if told is None else told}")


@archive.command()
def check(
    since: Annotated[
        Path | None,
        typer.Option("--since", metavar="FILE", help="What an earlier check printed with --json."),
    ] = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Find every record that was changed, taken away, put in or moved past the program.

    Example: tenthwise archive check --json > check-2026-03.json

    Exit code 0: the archive is whole; 1: it is not, and each finding names the record. Keep what --json
    prints somewhere else: with --since a later check finds an archive that was set back as a whole.
    """
    from trainer.records import check as checking
    from trainer.records.archive import Archive

    heads = _heads(since) if since else None
    with Archive.open(archive, create=False, upgrade=False) as opened, progress() as tell:
        report = checking.check(opened.store, since=heads, told=lambda acts: tell(_checked(acts)))
    if json:
        print_json(report.to_dict())
    else:
        _print_report(report)
    if not report.whole:
        raise typer.Exit(1)


@archive.command()
def upgrade(json: JsonOption = False, archive: ArchiveOption = None) -> None:
    """Bring the archive to this program's version; a file is backed up beside itself first.

    Example: tenthwise archive upgrade
    """
    from trainer.records.info import upgrade_with_backup

    before, after, kept = upgrade_with_backup(archive)
    if json:
        print_json({"from": before, "to": after, "backup": None if kept is None else str(kept)})
    elif before == after:
        print(f"the archive has version {after} already")
    else:
        print(
            f"upgraded from version {before} to {after}"
            + (f"; the old one is kept as {kept}" if kept else "")
        )


@archive.command()
def backup(
    to: To,
    by: ActingOption = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Copy the archive, from a file or a server, to a new file, while it is in use.

    Example: tenthwise archive backup backups/2026-03-02.tenthwise
    """
    from trainer.records import copying
    from trainer.records.archive import Archive
    from trainer.records.place import find

    target = find(to).path
    assert target is not None
    with Archive.open(archive, create=False) as opened:
        who = permitted(opened, "archive backup", by, key_file, passphrase_file)
        with progress() as tell:
            counts = copying.backup(
                opened.store, target, told=lambda table, rows: tell(_copied(table, rows)), who=who
            )
    _tell_counts(counts, str(to), json)


@archive.command()
def deliver(json: JsonOption = False, archive: ArchiveOption = None) -> None:
    """Deliver the answers that wait at this station for a server that was away.

    Example: tenthwise archive deliver --archive postgresql+psycopg://bench_3@server/tenthwise

    A drill does so by itself at its start and while it goes on. Exit code 1: something still waits, and why.
    """
    from trainer.commands import waiting

    done = waiting.deliver(archive)
    if json:
        print_json(done)
    else:
        waits = "waits" if done["waiting"] == 1 else "wait"
        print(f"{counted(done['delivered'], 'answer')} delivered, {done['waiting']} {waits}")
        if done["waiting"]:
            print(done["trouble"])
    if done["waiting"]:
        raise typer.Exit(1)


@archive.command()
def restore(
    backup: Annotated[Path, typer.Argument(help="A file that `tenthwise archive backup` made.")],
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Make an archive from a backup, where there is none yet.

    Example: tenthwise archive restore backups/2026-03-02.tenthwise --archive new.tenthwise
    """
    _copy(str(backup), archive, json=json, asked=lambda _: "")


@archive.command()
def move(
    source: Annotated[str, typer.Argument(metavar="FROM", help="A file or URL.")],
    to: Annotated[
        str | None,
        typer.Argument(
            metavar="TO", help="A new file, or the URL of an empty database; without it the default archive."
        ),
    ] = None,
    by: ActingOption = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
) -> None:
    """Copy an archive to another place or engine with every hash as it was, and check the copy.

    Example: tenthwise archive move archive.tenthwise postgresql+psycopg://keeper@server/tenthwise

    The old archive is left as it is; put it away when the new one is in use.
    """
    _copy(
        source, to, json=json,
        asked=lambda opened: permitted(opened, "archive move", by, key_file, passphrase_file),
    )  # fmt: skip


def _copy(source: str, to: str | None, *, json: bool, asked: "Callable[[Archive], str]") -> None:
    """Copy an archive and check the copy; `asked` returns who does it, or refuses."""
    from trainer.records import check as checking
    from trainer.records import copying
    from trainer.records.archive import Archive
    from trainer.records.place import find

    target = find(to)
    with Archive.open(source, create=False) as opened:
        who = asked(opened)
        with progress() as tell:
            counts = copying.copy(
                opened.store, target, told=lambda table, rows: tell(_copied(table, rows)), who=who
            )
    with Archive.open(to, create=False) as copied, progress() as tell:
        report = checking.check(copied.store, told=lambda acts: tell(_checked(acts)))
    if not report.whole:
        raise Refusal(f"{target}: the copy is not whole ({report.findings[0]}); `archive check` the old one")
    _tell_counts(counts, str(target), json)


@archive.command()
def rescue(
    damaged: Annotated[Path, typer.Argument(help="The damaged file; it is only read.")],
    to: To,
    json: JsonOption = False,
) -> None:
    """Save what can be read of a damaged archive into a new file, and say what is missing.

    Example: tenthwise archive rescue archive.tenthwise rescued.tenthwise
    """
    from trainer.records import check as checking
    from trainer.records import rescue as rescuing
    from trainer.records.archive import Archive
    from trainer.records.place import find

    target = find(to).path
    assert target is not None
    saved = rescuing.rescue(damaged, target)
    with Archive.open(target, create=False) as opened:
        report = checking.check(opened.store)
    if json:
        print_json({"saved": saved.rows, "damaged_tables": saved.damaged, "check": report.to_dict()})
        return
    _tell_counts(saved.rows, str(to), False)
    _print_report(report)


LARGEST_HEADS = 64 << 20  # bytes


def _heads(path: Path) -> dict[str, Any]:
    try:
        heads = json_text.loads(some_bytes(path, LARGEST_HEADS)[:LARGEST_HEADS])["heads"]
        return {str(name): {"seq": int(h["seq"]), "hash": str(h["hash"])} for name, h in heads.items()}
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError) as fault:
        raise Refusal(f"{path}: it is not what `tenthwise archive check --json` prints") from fault


def _print_report(report: "Report") -> None:
    for finding in report.findings:
        print(finding)
    if report.more:
        print(f"and {report.more} more")
    held = [
        counted(report.people, "person", "people"),
        *(counted(getattr(report, f"{one}s"), one) for one in ("session", "answer", "act")),
    ]
    print(f"the archive is {'whole' if report.whole else 'NOT whole'}: {', '.join(held)}")
    for name, head in report.heads.items():
        print(f"chain {name} ends with act {head['seq']}, fingerprint {head['hash'][:16]}")


def _tell_counts(counts: dict[str, int], where: str, as_json: bool) -> None:
    if as_json:
        print_json({"to": where, "rows": counts})
    else:
        print(f"{where}: {told_counts({name: count for name, count in counts.items() if count})}")


def _checked(acts: int) -> str:
    return f"{acts} acts checked"


def _copied(table: str, rows: int) -> str:
    return f"{table}: {counted(rows, 'row')} copied"
