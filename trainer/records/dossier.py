"""Everything about one person in one file: what they did, what was signed about them, what the log tells.

A zip archive with answers and sessions as CSV, all of it again as JSON, each signed statement as the file
that `tenthwise verify` takes, and the acts of the log. Names inside the zip are made from ids, never from
what somebody typed.
"""

import csv
import io
import json
import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import or_, select

from trainer.records import accounts, documents, export, statements
from trainer.records.canonical import as_bytes
from trainer.records.tables import acts, sessions
from trainer.records.whole import whole_file

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.records.values import Person

ACT_COLUMNS = ("chain", "seq", "at", "kind", "who", "session", "number", "detail", "digest", "hash")
KINDS = (statements.TICKET, statements.CLOSING, statements.OPENING, statements.STATEMENT)
README = """Everything that the archive holds about {name} (id {id}), taken out on {made}.

person.json      the person, every session with plan, items (truths), answers and notes, and every document
answers.csv      the answers, one row each; positions in tenths of a division, moments in UTC
sessions.csv     the sessions, one row each
statements/      the signed statements, one file each; `tenthwise verify FILE` checks one
log.csv          the acts of the archive's log that are about the person or were done by their account;
                 digest and hash are hexadecimal (docs/files.md says what they cover)

A cell that a spreadsheet would run as a formula has an apostrophe in front in the CSV files, and none in
person.json. The names of others stand here where they signed something about the person.
Rows: {counts}.
"""


def write(archive: "Archive", person: str, path: Path, *, who: str = "") -> dict[str, int]:
    """Write the dossier of a person (name or id) to a zip file; return how many of each thing are in it.

    The file appears whole or not at all. The act itself is logged, with the person's id and without the name.
    """
    known = archive.person(person)
    kept = list(_documents(archive, known))
    log = list(_acts(archive, known, kept))
    stored = [archive.session(one) for one in archive.sessions(known)["session"].tolist()]
    counts = {
        "sessions": len(stored),
        "answers": sum(len(one.answers) for one in stored),
        "documents": len(kept),
        "acts": len(log),
    }
    made = archive.store.now()
    whole = {
        "person": asdict(known),
        "made": made,
        "sessions": [asdict(one) for one in stored],
        "documents": [asdict(one) for one in kept],
    }
    with whole_file(path) as temporary, zipfile.ZipFile(temporary, "w", zipfile.ZIP_DEFLATED) as bundle:
        put = _putter(bundle, made)
        told = ", ".join(f"{count} {name}" for name, count in counts.items())
        put("README.txt", README.format(name=known.name, id=known.id, made=made, counts=told))
        put("person.json", json.dumps(whole, ensure_ascii=False, allow_nan=False, indent=1))
        for what in ("answers", "sessions"):
            put(f"{what}.csv", _table(archive, what, known, made))
        put("log.csv", _log_text(log))
        for one in kept:
            if one.kind == statements.STATEMENT:
                text = json.dumps(one.document, ensure_ascii=False, indent=2) + "\n"
                put(f"statements/{_safe(str(one.document['body']['id']))}.json", text)
    if not archive.read_only:
        archive.act("export", who=who, detail={"what": "dossier", "person": known.id, "rows": counts})
    return counts


def signed_documents(archive: "Archive", person: "Person") -> int:
    """Return how many signed documents name a person; a name in them outlasts its owner's being renamed."""
    return sum(name_in(one.document, person.name) for one in _documents(archive, person))


def name_in(document: Mapping[str, Any], name: str) -> bool:
    """Return whether a document holds a name."""
    return json.dumps(name, ensure_ascii=False)[1:-1] in json.dumps(document, ensure_ascii=False)


def _safe(name: str) -> str:
    """Return a name fit for a file on every system."""
    return re.sub(r"[^A-Za-z0-9-]", "-", name)[:80] or "-"


def _putter(bundle: zipfile.ZipFile, made: str) -> Any:
    day = datetime.fromisoformat(made).timetuple()[:6]

    def put(name: str, text: str) -> None:
        info = zipfile.ZipInfo(name, (max(day[0], 1980), *day[1:]))
        info.compress_type = zipfile.ZIP_DEFLATED
        info.external_attr = 0o600 << 16
        bundle.writestr(info, text.encode("utf-8"))

    return put


def _table(archive: "Archive", what: str, person: "Person", made: str) -> str:
    file = io.StringIO(newline="")
    with archive.store.read() as connection:
        rows = export.listed(connection, what, team=(person.id,))
        export.write_csv(file, what, export.columns(what), rows, made=made)
    return file.getvalue()


def _documents(archive: "Archive", person: "Person") -> Iterator[documents.Kept]:
    """Yield the documents about a person: of their checks and sign-offs, and of an account of their own."""
    for kind in KINDS:
        yield from documents.listed(archive, kind, person.id)
    for one in statements.statements(archive, person.id):
        yield from documents.listed(archive, statements.CHANGE, str(one.document["body"]["id"]))
    for account in _accounts(archive, person):
        for kind in (accounts.KEY, accounts.REVOCATION):
            yield from documents.listed(archive, kind, account)


def _accounts(archive: "Archive", person: "Person") -> list[str]:
    ring = accounts.keyring(archive)
    return list(dict.fromkeys(one.account for one in ring.certificates if one.person == person.id))


def _acts(archive: "Archive", person: "Person", kept: list[documents.Kept]) -> Iterator[tuple[Any, ...]]:
    """Yield the acts about a person or by their account, in the order of the log."""
    held = set(_accounts(archive, person))
    with archive.store.read() as connection:
        own = select(sessions.c.id).where(sessions.c.person_id == person.id)
        about = {person.id, *connection.execute(own).scalars(), *(one.id for one in kept)}
        query = select(*(acts.c[name] for name in ACT_COLUMNS)).order_by(acts.c.chain, acts.c.seq)
        query = query.where(or_(acts.c.session.in_(own), acts.c.session.is_(None)))
        for row in connection.execution_options(yield_per=2000).execute(query):
            place = f"{row.chain}-{row.seq}"
            told = {row.session, place} & about or row.who in held or _named(row.detail) & about
            if told:
                yield (*row[:-2], *((as_bytes(one) or b"").hex() for one in row[-2:]))


def _named(detail: str) -> set[str]:
    """Return the texts that an act's detail holds as values: ids of people, sessions and documents."""
    found = json.loads(detail) if detail else {}
    return {one for one in found.values() if isinstance(one, str)} if isinstance(found, dict) else set()


def _log_text(rows: list[tuple[Any, ...]]) -> str:
    from trainer.records.cells import defused

    file = io.StringIO(newline="")
    writer = csv.writer(file)
    writer.writerow(ACT_COLUMNS)
    for row in rows:
        writer.writerow(["" if one is None else defused(str(one)) for one in row])
    return file.getvalue()
