"""Bringing an archive from any older version to today's, once, in one transaction.

All steps that are missing (`steps.py`) run in one transaction, which one program at a time can hold; a
second program that wanted to upgrade finds the work done.
"""

import secrets

from sqlalchemy import Connection, inspect, text

from trainer.records import station, steps
from trainer.records.refusals import NewerArchive, NotAnArchive, OlderArchive

STEPS = steps.STEPS
MARK = "tenthwise_archive"  # the table that makes a database an archive
CODE_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # no I, L, O, U: they are misread and misheard
UPGRADE_LOCK = 7_384_011_000  # any number that no other program takes for its advisory lock


def new_code() -> str:
    """Return a random code of 40 bits in eight letters and digits, the name of a chain."""
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(8))


def home_for(sqlite: bool) -> str:
    """Return the chain that a new archive is to be made with: a file's own, or the station's on a server."""
    return new_code() if sqlite else station.code()


def version_of(connection: Connection) -> int | None:
    """Return how many steps the archive has, or None for a database that holds nothing at all.

    Raises `NotAnArchive` when there are tables of something else and none of ours.
    """
    tables = set(inspect(connection).get_table_names())
    if MARK not in tables:
        if tables:
            raise NotAnArchive("it is a database of another program, not a Tenthwise archive")
        return None
    version = connection.execute(text(f"SELECT version FROM {MARK}")).scalar()
    if version is None:
        raise NotAnArchive(f"its table {MARK} is empty, so its version cannot be told")
    try:
        return int(version)
    except (TypeError, ValueError, OverflowError):
        raise NotAnArchive(f"its table {MARK} holds no version, so what it is cannot be told") from None


def upgrade(connection: Connection, now: str, home_chain: str) -> tuple[int, int]:
    """Run the steps not yet applied, oldest first; return the versions before and after.

    The caller holds the write transaction; a database without tables is laid out from the start, with
    `home_chain` as the chain that a file writes to.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text(f"SELECT pg_advisory_xact_lock({UPGRADE_LOCK})"))
    before = version_of(connection) or 0
    check_version(before or len(STEPS), len(STEPS))
    for step in STEPS[before:]:
        step(connection)
    if before == 0:
        connection.execute(
            text(f"INSERT INTO {MARK} VALUES (:version, :archive_id, :home, :now)"),
            {"version": len(STEPS), "archive_id": secrets.token_hex(16), "home": home_chain, "now": now},
        )
    elif before < len(STEPS):
        connection.execute(text(f"UPDATE {MARK} SET version = :version"), {"version": len(STEPS)})
    return before, len(STEPS)


def check_version(found: int, known: int, *, may_upgrade: bool = True) -> None:
    """Raise `NewerArchive` or `OlderArchive` for a version that cannot be worked with."""
    if found > known:
        raise NewerArchive(
            f"it was written by a newer version of the program (archive version {found}, this program knows "
            f"{known}); install the newer program"
        )
    if found < known and not may_upgrade:
        raise OlderArchive(
            f"it has version {found} and this program needs {known}; run `tenthwise archive upgrade` where "
            "it can be written to"
        )
