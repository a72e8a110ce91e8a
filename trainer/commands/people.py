"""`tenthwise people`: who is in the archive."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.commands.output import counted, print_json, told_counts
from trainer.commands.passphrases import KeyFileOption, PassphraseFile
from trainer.commands.permits import ActingOption, permitted
from trainer.instrument.given_file import some_bytes
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    from trainer.records.values import Person

people = typer.Typer(no_args_is_help=True, help="List, add, rename and put away people.")

Name = Annotated[str, typer.Argument(help="The person's name.")]
LARGEST = 4 << 20  # bytes
MOST_NAMES = 10_000  # lines of a list that is taken in at once


@people.command("list")
def list_(
    everyone: Annotated[bool, typer.Option("--all", help="Those put away as well.")] = False,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """List the people in the archive.

    Example: tenthwise people list --all
    """
    from trainer.records.archive import Archive

    with Archive.open(archive, create=False) as opened:
        found = opened.people(include_archived=everyone)
    if json:
        print_json({"people": [_as_json(person) for person in found]})
        return
    for person in found:
        print(person.name + ("" if person.archived_at is None else f"  (put away {person.archived_at[:10]})"))
    if not found:
        print("nobody yet; `tenthwise people add NAME` adds a person")


@people.command()
def add(
    name: Name,
    by: ActingOption = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Add a person.

    Example: tenthwise people add "Kim Vale"
    """
    from trainer.records.archive import Archive

    with Archive.open(archive) as opened:
        who = permitted(opened, "people add", by, key_file, passphrase_file)
        _tell(opened.add_person(name, who=who), "added", json)


@people.command()
def rename(
    name: Name,
    new: Annotated[str, typer.Argument(help="The name from now on.")],
    by: ActingOption = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Give a person another name.

    Example: tenthwise people rename "Kim Vale" "Kim Vale-Ito"
    """
    from trainer.records.archive import Archive

    with Archive.open(archive, create=False) as opened:
        who = permitted(opened, "people rename", by, key_file, passphrase_file)
        _tell(opened.rename_person(name, new, who=who), "renamed", json)


@people.command("archive-person")
def archive_person(
    name: Name,
    back: Annotated[bool, typer.Option("--back", help="Bring the person back.")] = False,
    by: ActingOption = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Put a person away: not listed, no new sessions; what they did stays.

    Example: tenthwise people archive-person "Kim Vale"
    """
    from trainer.records.archive import Archive

    with Archive.open(archive, create=False) as opened:
        who = permitted(opened, "people archive-person", by, key_file, passphrase_file)
        done = opened.archive_person(name, back=back, who=who)
        _tell(done, "brought back" if back else "put away", json)


@people.command()
def pseudonymise(
    name: Name,
    yes: Annotated[bool, typer.Option("--yes", help="Do it: the name cannot be brought back.")] = False,
    by: ActingOption = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Replace a person's name by a code, for good; readings and the log of acts stay whole.

    Example: tenthwise people pseudonymise "Kim Vale" --yes
    """
    from trainer.records.archive import Archive
    from trainer.records.dossier import signed_documents

    if not yes:
        raise Refusal("the name cannot be brought back afterwards; add --yes to do it")
    with Archive.open(archive, create=False) as opened:
        who = permitted(opened, "people pseudonymise", by, key_file, passphrase_file)
        signed = signed_documents(opened, opened.person(name))
        _tell(opened.pseudonymise_person(name, who=who), "the name from now on", json)
    if signed:
        print(
            f"{counted(signed, 'signed document')} (tickets, statements) still "
            f"{'holds' if signed == 1 else 'hold'} the name: taking it out would break the signature. "
            "What is exported of answers and people has the new name only",
            file=sys.stderr,
        )


@people.command()
def dossier(
    name: Name,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="A new file ending in .zip.")],
    by: ActingOption = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Write everything about one person to a zip file: readings, statements, and what the log tells.

    Example: tenthwise people dossier "Kim Vale" --out kim-vale.zip
    """
    from trainer.records import dossier as writing
    from trainer.records.archive import Archive

    if out.suffix.lower() != ".zip":
        raise Refusal(f"{out}: the name must end in .zip")
    if out.exists():
        raise Refusal(f"{out}: it exists already; name a new file")
    with Archive.open(archive, create=False) as opened:
        who = permitted(opened, "people dossier", by, key_file, passphrase_file)
        counts = writing.write(opened, name, out, who=who)
    if json:
        print_json({"to": str(out), **counts})
    else:
        print(f"{out}: " + told_counts(counts))


@people.command("import-list")
def import_list(
    file: Annotated[Path, typer.Argument(help="A text file, one name a line, UTF-8.")],
    by: ActingOption = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Add everybody on a list; names that are in the archive already are passed over.

    Example: tenthwise people import-list class.txt
    """
    from trainer.records.archive import Archive

    with Archive.open(archive) as opened:
        who = permitted(opened, "people import-list", by, key_file, passphrase_file)
        added, there = opened.add_people(_names(file), who=who)
    if json:
        print_json({"added": [_as_json(person) for person in added], "there_already": there})
        return
    passed = f", {len(there)} {'was' if len(there) == 1 else 'were'} there already" if there else ""
    print(f"{len(added)} added{passed}")


def _names(file: Path) -> list[str]:
    from trainer.records.names import clean_name
    from trainer.records.refusals import UnusableName

    try:
        raw = some_bytes(file, LARGEST)
        if len(raw) > LARGEST:
            raise Refusal(f"{file.name}: it is larger than {LARGEST >> 20} MiB; no list of people is")
        lines = raw.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as fault:
        raise Refusal(f"{file.name}: it is not UTF-8 text; save it as UTF-8") from fault
    if len(lines) > MOST_NAMES:
        raise Refusal(f"{file.name}: {len(lines)} lines; a list has at most {MOST_NAMES}")
    names = []
    for number, line in enumerate(lines, start=1):
        if line.strip() and not line.startswith("#"):
            try:
                names.append(clean_name(line))
            except UnusableName as fault:
                raise Refusal(f"{file.name}, line {number}: {fault}") from fault
    if not names:
        raise Refusal(f"{file.name}: there are no names in it; write one a line")
    return names


def _as_json(person: "Person") -> dict[str, str | None]:
    return {
        "person": person.name,
        "id": person.id,
        "added_at": person.added_at,
        "archived_at": person.archived_at,
    }


def _tell(person: "Person", done: str, as_json: bool) -> None:
    if as_json:
        print_json(_as_json(person))
    else:
        print(f"{person.name}: {done}")
