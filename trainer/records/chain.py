"""The log of acts: append-only, one chain a station, each act vouching for all before it.

An act's place is its chain and its number in it (`seq`, from 1 without gaps). Its hash covers the hash
before it and the act's canonical bytes; the digest in it covers the record that the act made. One chain a
station means that stations never wait for each other, and that a station which is cut off goes on with its
own chain and delivers it later.
"""

import contextlib
import functools
from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection

from trainer.records.canonical import FIRST, act_hash, as_bytes, canonical_text
from trainer.records.canonical import digest as digest_of

if TYPE_CHECKING:
    from trainer.records.engine import Store

CLOCK_SLACK_S = 5.0  # a clock set back by less is ordinary correction (common practice, no source)

HEAD = "SELECT seq, hash, last_at FROM chains WHERE chain = ?"
HELD_HEAD = HEAD + " FOR UPDATE"  # SQLite holds the whole file already
PUT_HEAD = "INSERT INTO chains (chain, seq, hash, last_at) VALUES (?, 0, ?, '') ON CONFLICT DO NOTHING"
MOVE_HEAD = "UPDATE chains SET seq = ?, hash = ?, last_at = ? WHERE chain = ?"
PUT_ACT = (
    "INSERT INTO acts (chain, seq, at, kind, who, session, number, detail, digest, hash) "
    "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)


@functools.cache
def _for_driver(statement: str, sqlite: bool) -> str:
    return statement if sqlite else statement.replace("?", "%s")


def run(connection: Connection, statement: str, row: tuple[Any, ...]) -> Any:
    """Run a fixed statement by the driver's own cursor, in the connection's transaction; return the cursor.

    The few statements of an answer go this way because the library's own layer would cost them more time
    than the disk does (tests/benchmarks/bench_records.py).
    """
    cursor = connection.connection.cursor()
    cursor.execute(_for_driver(statement, connection.dialect.name == "sqlite"), row)
    return cursor


def act_body(
    chain: str,
    seq: int,
    at: str,
    kind: str,
    who: str,
    session: str | None,
    number: int | None,
    detail: str,
    digest: bytes | None,
) -> dict[str, Any]:
    """Return what an act's hash covers, besides the hash before it."""
    return {
        "at": at,
        "chain": chain,
        "detail": detail,
        "digest": digest.hex() if digest is not None else None,
        "kind": kind,
        "number": number,
        "seq": seq,
        "session": session,
        "who": who,
    }


def archive_digest(row: Mapping[str, Any]) -> bytes:
    """Return the digest of the archive's own description, kept by the first act of its home chain."""
    return digest_of({field: row[field] for field in ("archive_id", "home_chain", "made_at")})


def together(connection: Connection) -> contextlib.AbstractContextManager[Any]:
    """Send the statements run inside in one go to a server, instead of waiting for each in turn."""
    if connection.dialect.name == "sqlite":
        return contextlib.nullcontext()
    driver: Any = connection.connection.driver_connection
    pipeline: contextlib.AbstractContextManager[Any] = driver.pipeline()
    return pipeline


def ask_head(connection: Connection, chain: str) -> Any:
    """Ask for a chain's head and hold it until the transaction ends; `head` reads what comes back."""
    return run(connection, HEAD if connection.dialect.name == "sqlite" else HELD_HEAD, (chain,))


def head(connection: Connection, chain: str, asked: Any = None) -> tuple[int, bytes, str]:
    """Return a chain's last number, its hash and time, and hold the chain until the transaction ends."""
    row = (asked or ask_head(connection, chain)).fetchone()
    if row is None:
        run(connection, PUT_HEAD, (chain, FIRST))
        row = ask_head(connection, chain).fetchone()
    return int(row[0]), as_bytes(row[1]) or b"", str(row[2])


def append(
    connection: Connection,
    store: "Store",
    kind: str,
    *,
    who: str = "",
    session: str | None = None,
    number: int | None = None,
    detail: Mapping[str, Any] | None = None,
    digest: bytes | None = None,
    at_head: tuple[int, bytes, str] | None = None,
) -> int:
    """Append an act to the store's chain, inside the caller's transaction; return its number.

    A clock that was set back since the last act is noted by an act of its own first.
    """
    at = store.now()
    seq, before, last_at = at_head or head(connection, store.chain)
    if at < last_at and _set_back(last_at, at):
        seq, before = _add(
            connection,
            store.chain,
            seq,
            before,
            at,
            "clock-set-back",
            "",
            None,
            None,
            {"from": last_at},
            None,
        )
    seq, before = _add(connection, store.chain, seq, before, at, kind, who, session, number, detail, digest)
    run(connection, MOVE_HEAD, (seq, before, at, store.chain))
    store.head = (seq, before, at)  # what the next answer may begin from, if this transaction lasts
    return seq


def _add(
    connection: Connection,
    chain: str,
    seq: int,
    before: bytes,
    at: str,
    kind: str,
    who: str,
    session: str | None,
    number: int | None,
    detail: Mapping[str, Any] | None,
    digest: bytes | None,
) -> tuple[int, bytes]:
    text = canonical_text(detail) if detail else ""
    body = act_body(chain, seq + 1, at, kind, who, session, number, text, digest)
    made = act_hash(before, body)
    run(connection, PUT_ACT, (chain, seq + 1, at, kind, who, session, number, text, digest, made))
    return seq + 1, made


def next_act(
    chain: str, before: tuple[int, bytes, str], at: str, kind: str, session: str, number: int, digest: bytes
) -> tuple[int, bytes, str]:
    """Return number, hash and time of the act that would follow a chain's head; nothing is written."""
    body = act_body(chain, before[0] + 1, at, kind, "", session, number, "", digest)
    return before[0] + 1, act_hash(before[1], body), at


def _set_back(last_at: str, at: str) -> bool:
    gone = datetime.fromisoformat(last_at) - datetime.fromisoformat(at)
    return gone.total_seconds() > CLOCK_SLACK_S
