"""`tenthwise signoff`, statements: signing, writing them again, listing what is due, their standing."""

from pathlib import Path
from typing import Annotated, Any

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.commands.output import print_json, refuse_ending, whole_file
from trainer.commands.passphrases import AccountOption, KeyFileOption, PassphraseFile, unlock
from trainer.commands.signoff_options import FIRST, CriterionOption, Person, Reason, Statement
from trainer.commands.statement_files import text_of
from trainer.instrument.refusal import Refusal


def sign(
    person: Person,
    account: AccountOption,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The statement's JSON file.")],
    criterion: CriterionOption = FIRST,
    condition: Annotated[
        list[str] | None,
        typer.Option(
            "--condition",
            metavar="WORDS",
            help="What it holds for only, such as metric only; again for each.",
        ),
    ] = None,
    pdf: Annotated[Path | None, typer.Option("--pdf", metavar="FILE", help="The certificate as PDF.")] = None,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Sign the statement that everything was shown; keep it in the archive and write it to a file.

    Example: tenthwise signoff sign "Kim Vale" --as "Ruth Amsel" --out kim.json --pdf kim.pdf
    """
    from trainer.records import office
    from trainer.records.archive import Archive
    from trainer.signoff.criteria import find
    from trainer.signoff.statement import guard_sentences

    refuse_ending(pdf, (".pdf",))
    if pdf is not None and not pdf.absolute().parent.is_dir():  # found out before anything is signed
        raise Refusal(f"{pdf}: its folder does not exist; make it, or name another file")
    with Archive.open(archive, create=False) as opened:
        known, asked = opened.person(person), find(criterion)
        key = unlock(opened, account, key_file, passphrase_file)
        with whole_file(out) as temporary:
            made = office.sign(opened, key, account, asked, known.id, conditions=condition or [])
            temporary.write_text(text_of(made), encoding="utf-8")
    if pdf is not None:
        from trainer.reports.certificate import write

        write(pdf, made)
    notes = guard_sentences(made["body"]["evidence"]) if asked.attended else []
    files = [str(one) for one in (out, pdf) if one]
    if json:
        told = {name: made["body"][name] for name in ("signed_at", "valid_until")}
        said = {"statement": made["body"]["id"], "person": known.name, "criterion": asked.name}
        print_json({**said, **told, "files": files, "notes": notes})
        return
    for sentence in notes:
        print(f"note: {sentence}")
    until = made["body"]["valid_until"][:10]
    print(f"statement {made['body']['id']} is signed, valid until {until}: {' and '.join(files)}")


def write(
    number: Statement,
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="The JSON file.")] = None,
    pdf: Annotated[Path | None, typer.Option("--pdf", metavar="FILE", help="The certificate as PDF.")] = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Write a statement that was signed to files again: as JSON, as a certificate, or both.

    Example: tenthwise signoff write 90ab12cd34ef5678 --out kim.json --pdf kim.pdf
    """
    from trainer.records import statements
    from trainer.records.archive import Archive

    if out is None and pdf is None:
        raise Refusal("nothing to write; name a file with --out, --pdf or both")
    refuse_ending(pdf, (".pdf",))
    with Archive.open(archive, create=False) as opened:
        kept = dict(statements.find_statement(opened, number).document)
    if out is not None:
        with whole_file(out) as temporary:
            temporary.write_text(text_of(kept), encoding="utf-8")
    if pdf is not None:
        from trainer.reports.certificate import write as write_certificate

        write_certificate(pdf, kept)
    files = [str(one) for one in (out, pdf) if one]
    if json:
        print_json({"statement": number, "files": files})
    else:
        print(f"statement {number} is written: {' and '.join(files)}")


def list_(json: JsonOption = False, archive: ArchiveOption = None) -> None:
    """List all statements with their standing and what is due, the most pressing first.

    Example: tenthwise signoff list
    """
    from trainer.records import office
    from trainer.records.archive import Archive
    from trainer.signoff.waiting import due_in_days, reminder

    with Archive.open(archive, create=False) as opened:
        found, now = office.due(opened), office.now(opened)
        today = {one.id: one.name for one in opened.people(include_archived=True)}
    rows: list[dict[str, Any]] = [
        {
            "statement": kept.document["body"]["id"],
            "person": today.get(*(str(kept.document["body"]["person"][name]) for name in ("id", "name"))),
            "criterion": kept.document["body"]["criterion"]["name"],
            **present.to_dict(),
            "sentence": present.sentence,
            "due_in_days": due_in_days(present, now),
            "reminder": reminder(present, now),
        }
        for kept, present in found
    ]
    if json:
        print_json({"statements": rows})
        return
    for row in rows:
        tail = f" [{row['reminder']}]" if row["reminder"] else ""
        print(f"{row['statement']}  {row['person']}, {row['criterion']}: {row['sentence']}{tail}")
    if not rows:
        print("no statement has been signed yet")


def standing(
    number: Statement,
    change: Annotated[str, typer.Argument(help="suspend, withdraw, reinstate, or condition.")],
    account: AccountOption,
    reason: Reason,
    key_file: KeyFileOption = None,
    passphrase_file: PassphraseFile = None,
    json: JsonOption = False,
    archive: ArchiveOption = None,
) -> None:
    """Suspend, withdraw or reinstate a statement, or set a condition (its text is the reason).

    Example: tenthwise signoff standing 90ab12cd34ef5678 suspend --as "Ruth Amsel" --reason "new glasses"
    """
    from trainer.records import office, statements
    from trainer.records.archive import Archive

    office.known_change(change)  # before a passphrase is asked for
    with Archive.open(archive, create=False) as opened:
        statements.find_statement(opened, number)
        key = unlock(opened, account, key_file, passphrase_file)
        present = office.change_standing(opened, key, account, number, change, reason)
    if json:
        print_json({"statement": number, **present.to_dict(), "sentence": present.sentence})
    else:
        print(f"{number}: {present.sentence}")
