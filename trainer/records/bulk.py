"""Many rows, and many acts of one kind, put into the archive at once."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, bindparam, text

from trainer.records import chain, tally
from trainer.records.canonical import act_hash, canonical_text

if TYPE_CHECKING:
    from trainer.records.engine import Store

SERVER_TYPES = {"TEXT": "text", "INTEGER": "int", "BIGINT": "bigint", "DOUBLE": "float8", "BLOB": "bytea"}


def put_rows(
    connection: Connection, table: Table, names: Sequence[str], rows: Sequence[Sequence[Any]]
) -> None:
    """Insert rows whose values stand in the order of `names`, by the driver's own means.

    To a server they go as one array a column: row rules allow that, and not its bulk copy.
    """
    if not rows:
        return
    cursor = connection.connection.cursor()
    into = f"INSERT INTO {table.name} ({', '.join(names)})"
    if connection.dialect.name == "sqlite":
        cursor.executemany(f"{into} VALUES ({', '.join('?' * len(names))})", rows)
        return
    kinds = (SERVER_TYPES[str(table.c[name].type).split()[0].replace("LARGE", "")] for name in names)
    arrays = ", ".join(f"%s::{kind}[]" for kind in kinds)
    cursor.execute(
        f"{into} SELECT * FROM unnest({arrays})", [list(column) for column in zip(*rows, strict=True)]
    )


def append_acts(
    connection: Connection,
    store: "Store",
    kind: str,
    acts: Sequence[tuple[str, Mapping[str, Any], bytes]],
) -> list[int]:
    """Append acts (who, detail, digest) of one kind to the store's chain; return their numbers.

    The first goes the ordinary way, which also tells of a clock that was set back.
    """
    who, detail, digest = acts[0]
    first = chain.append(connection, store, kind, who=who, detail=detail, digest=digest)
    _, before, at = chain.head(connection, store.chain)
    rows = []
    for seq, (who, detail, digest) in enumerate(acts[1:], start=first + 1):
        written = canonical_text(detail)
        body = chain.act_body(store.chain, seq, at, kind, who, None, None, written, digest)
        before = act_hash(before, body)
        rows.append((store.chain, seq, at, kind, who, None, None, written, digest, before))
    last = first + len(rows)
    if rows:
        from trainer.records.tables import acts as table

        put_rows(connection, table, [column.name for column in table.columns], rows)
        chain.run(connection, chain.MOVE_HEAD, (last, before, at, store.chain))
    return list(range(first, last + 1))


def keep_tallies(connection: Connection, sessions: Sequence[str]) -> None:
    """Keep the tallies of sessions that have just come in, inside the caller's transaction."""
    if sessions:
        statement = f"INSERT INTO tallies {tally.summing_sql(connection, 's.id IN :ids')}"
        connection.execute(
            text(statement).bindparams(bindparam("ids", expanding=True)), {"ids": list(sessions)}
        )
