"""The numbered steps that bring an archive from any older version to today's.

A step is written out in full and never edited after a release; a change of the tables is a new step at the
end. Every step runs on both engines: `{bytes}` and `{id}` stand for what they call a byte string and text
that is compared byte by byte. All steps that are missing run in one transaction, which one program at a
time can hold; a second program that wanted to upgrade finds the work done.

To add tables (accounts, keys, statements): append a step here, describe the tables in `tables.py` (or in a
module of its own beside the code that uses them), and let every change of them append an act to the log
(`chain.append`, or `Archive.act` from outside the room) whose digest covers the row written.
"""

import secrets
from collections.abc import Callable

from sqlalchemy import Connection, inspect, text

from trainer.records.refusals import NewerArchive, NotAnArchive, OlderArchive

MARK = "tenthwise_archive"  # the table that makes a database an archive
CODE_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # no I, L, O, U: they are misread and misheard
UPGRADE_LOCK = 7_384_011_000  # any number that no other program takes for its advisory lock

Step = Callable[[Connection], None]
STEPS: list[Step] = []


def new_code() -> str:
    """Return a random code of 40 bits in eight letters and digits, the name of a chain."""
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(8))


def _run(connection: Connection, statements: str) -> None:
    sqlite = connection.dialect.name == "sqlite"
    filled = statements.replace("{bytes}", "BLOB" if sqlite else "BYTEA")
    filled = filled.replace("{id}", "TEXT" if sqlite else 'TEXT COLLATE "C"')
    filled = filled.replace("{by key}", " WITHOUT ROWID" if sqlite else "")
    for statement in filled.split(";"):
        if statement.strip():
            connection.execute(text(statement))


@STEPS.append
def s001_people_sessions_answers(connection: Connection) -> None:
    """Lay out people, sessions, items and answers, and the log of acts that vouches for them."""
    _run(
        connection,
        """
        CREATE TABLE tenthwise_archive (
            version INTEGER NOT NULL, archive_id {id} NOT NULL, home_chain {id} NOT NULL,
            made_at TEXT NOT NULL
        );
        CREATE TABLE chains (
            chain {id} PRIMARY KEY, seq BIGINT NOT NULL, hash {bytes} NOT NULL, last_at TEXT NOT NULL
        ){by key};
        CREATE TABLE acts (
            chain {id} NOT NULL, seq BIGINT NOT NULL, at TEXT NOT NULL, kind TEXT NOT NULL, who TEXT NOT NULL,
            session {id}, number INTEGER, detail TEXT NOT NULL, digest {bytes}, hash {bytes} NOT NULL,
            PRIMARY KEY (chain, seq)
        ){by key};
        CREATE INDEX acts_notes ON acts (session) WHERE kind = 'note';
        CREATE TABLE people (
            id {id} PRIMARY KEY, name TEXT NOT NULL, name_key {id} NOT NULL UNIQUE, added_at TEXT NOT NULL,
            archived_at TEXT, salt {id} NOT NULL, revision INTEGER NOT NULL,
            chain {id} NOT NULL, seq BIGINT NOT NULL
        ){by key};
        CREATE TABLE sessions (
            id {id} PRIMARY KEY, person_id {id} NOT NULL REFERENCES people (id), instrument {id} NOT NULL,
            drill {id} NOT NULL, for_record INTEGER NOT NULL, seed TEXT NOT NULL,
            program_version TEXT NOT NULL, drawing_version TEXT NOT NULL, viewing TEXT NOT NULL,
            px_per_mm DOUBLE PRECISION, station TEXT NOT NULL, started_at {id} NOT NULL, plan TEXT NOT NULL,
            ended_at TEXT, ended_how TEXT, end_chain {id}, end_seq BIGINT
        ){by key};
        CREATE INDEX sessions_by_person ON sessions (person_id, started_at);
        CREATE INDEX sessions_by_time ON sessions (started_at, id);
        CREATE TABLE items (
            session {id} NOT NULL REFERENCES sessions (id), number INTEGER NOT NULL,
            position_tenths DOUBLE PRECISION NOT NULL, asks TEXT NOT NULL, extra TEXT NOT NULL,
            PRIMARY KEY (session, number)
        ){by key};
        CREATE TABLE answers (
            session {id} NOT NULL, number INTEGER NOT NULL, typed TEXT NOT NULL,
            answer_tenths DOUBLE PRECISION, outcome TEXT NOT NULL, seconds DOUBLE PRECISION, at TEXT NOT NULL,
            chain {id} NOT NULL, seq BIGINT NOT NULL,
            PRIMARY KEY (session, number),
            FOREIGN KEY (session, number) REFERENCES items (session, number)
        ){by key};
        CREATE TABLE settings (
            name {id} PRIMARY KEY, value TEXT NOT NULL, chain {id} NOT NULL, seq BIGINT NOT NULL
        ){by key}
        """,
    )


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
    return int(version)


def upgrade(connection: Connection, now: str) -> tuple[int, int]:
    """Run the steps not yet applied, oldest first; return the versions before and after.

    The caller holds the write transaction; a database without tables is laid out from the start.
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
            {"version": len(STEPS), "archive_id": secrets.token_hex(16), "home": new_code(), "now": now},
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
