"""`tenthwise verify`: whether a statement is genuine, in force, and still borne out by the archive."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.commands.output import print_json
from trainer.instrument.given_file import some_bytes
from trainer.instrument.refusal import Refusal

LARGEST_FILE = 4 << 20  # bytes; a statement is some kilobytes


def verify(
    file: Annotated[Path, typer.Argument(help="The statement's JSON file.")],
    key: Annotated[
        Path | None, typer.Option("--key", metavar="FILE", help="A public key (PEM) that you trust.")
    ] = None,
    on: Annotated[
        str | None, typer.Option("--on", metavar="DAY", help="As it stood on a day, such as 2026-06-30.")
    ] = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Verify a statement: signature, keys, validity; with an archive its standing and evidence too.

    Ends with 0 when everything holds, else with 1 and what is wrong. With --on validity and standing are
    those at the end of that day (UTC): whether a reading of last year was covered.
    Example: tenthwise verify kim.json --key ruth.pem
    """
    from trainer.signoff.canonical import parsed
    from trainer.signoff.keys import PublicKey
    from trainer.signoff.verify import verify as verified

    document = parsed(_text(file), str(file))
    trusted = None if key is None else PublicKey.of_pem(_text(key), str(key))
    now = datetime.now(UTC) if on is None else _end_of(on)
    if archive is None:
        report = verified(document, now=now, trusted=trusted)
    else:
        from trainer.records.archive import Archive
        from trainer.records.statements import at_hand

        with Archive.open(archive, create=False) as opened:
            report = verified(document, now=now, trusted=trusted, archive=at_hand(opened, document, now))
    if json:
        print_json({"file": str(file), **report.to_dict()})
    else:
        for one in report.findings:
            print(f"{'holds' if one.holds else 'WRONG':<6} {one.what}: {one.sentence}")
        print("the statement is good" if report.good else "the statement is NOT to be relied on")
    raise typer.Exit(0 if report.good else 1)


def _end_of(day: str) -> datetime:
    """Return the last moment of a day in UTC, or a whole time as it is given."""
    from trainer.signoff.evidence import UnusableMoment, moment

    try:
        return moment(day if "T" in day else f"{day.strip()}T23:59:59Z")
    except (UnusableMoment, OverflowError):
        raise Refusal(f"--on is {day!r}; type a day such as 2026-06-30") from None


def _text(path: Path) -> str:
    try:
        raw = some_bytes(path, LARGEST_FILE)
    except OSError as fault:
        raise Refusal(f"{path}: it cannot be read: {fault.strerror or fault}") from None
    if len(raw) > LARGEST_FILE:
        raise Refusal(f"{path}: it is larger than {LARGEST_FILE >> 20} MiB; no statement or key is")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refusal(f"{path}: it is not UTF-8 text, so it is no statement or key of this program") from None
