"""Signed documents in the archive: kept once, never changed, each vouched for by an act of the log."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import BigInteger, Column, Connection, MetaData, Table, Text, insert, select

from trainer.records.canonical import as_bytes, canonical_text, digest
from trainer.records.tables import acts

if TYPE_CHECKING:
    from trainer.records.archive import Archive

ACT = "document"
documents = Table(
    "documents",
    MetaData(),
    Column("id", Text, primary_key=True),
    Column("kind", Text),
    Column("about", Text),
    Column("body", Text),
    Column("chain", Text),
    Column("seq", BigInteger),
)


@dataclass(frozen=True, slots=True)
class Kept:
    """A document as kept: `id` is its act's place, `at` when that act was written (ISO 8601, UTC)."""

    id: str
    kind: str
    about: str
    document: Mapping[str, Any]
    at: str


def document_digest(kind: str, about: str, body: str) -> bytes:
    """Return the digest of a document's row."""
    return digest({"about": about, "body": body, "kind": kind})


def keep(archive: "Archive", kind: str, about: str, document: Mapping[str, Any], *, who: str = "") -> str:
    """Keep a document; return its id. `about` is what it is looked up by: account, person, statement."""
    body = canonical_text(dict(document))
    detail = {"about": about, "kind": kind}
    with archive.acting(ACT, who=who, detail=detail, digest=document_digest(kind, about, body)) as (
        connection,
        place,
    ):
        chain, _, seq = place.rpartition("-")
        connection.execute(
            insert(documents).values(id=place, kind=kind, about=about, body=body, chain=chain, seq=int(seq))
        )
    return place


def listed(archive: "Archive", kind: str, about: str | None = None) -> list[Kept]:
    """Return the documents of a kind in the order in which they were kept."""
    with archive.store.read() as connection:
        own = documents.c
        query = (
            select(own.id, own.kind, own.about, own.body, acts.c.at)
            .join(acts, (acts.c.chain == own.chain) & (acts.c.seq == own.seq))
            .where(own.kind == kind)
            .order_by(acts.c.at, own.chain, own.seq)
        )
        if about is not None:
            query = query.where(own.about == about)
        return [Kept(r.id, r.kind, r.about, json.loads(r.body), r.at) for r in connection.execute(query)]


def check(connection: Connection) -> Iterator[str]:
    """Yield a sentence for each document that is changed, missing, or was put in beside the log."""
    told: dict[tuple[str, int], Any] = {
        (row.chain, row.seq): row for row in connection.execute(select(acts).where(acts.c.kind == ACT))
    }
    for row in connection.execute(select(documents).order_by(documents.c.chain, documents.c.seq)):
        act = told.pop((row.chain, row.seq), None)
        name = f"document {row.id} ({row.kind})"
        if act is None or row.id != f"{row.chain}-{row.seq}":
            yield f"{name} has no act that tells of it"
            if act is not None:
                told[row.chain, row.seq] = act
        elif as_bytes(act.digest or b"") != document_digest(row.kind, row.about, row.body):
            yield f"{name} has been changed since it was kept"
    for chain, seq in sorted(told):
        yield f"document {chain}-{seq} is missing"
