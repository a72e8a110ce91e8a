"""The numbered steps that bring an archive from any older version to today's.

A step is written out in full and never edited after a release; a change of the tables is a new step at the
end. Every step runs on both engines: `{bytes}` and `{id}` stand for what they call a byte string and text
that is compared byte by byte, `{by key}` for a table stored in the order of its key.

To add tables (accounts, keys, statements): append a step here, describe the tables in a module beside the
code that uses them (as `tables.py` does), write to them inside `Archive.acting`, which appends an act to the
log in the same transaction, with the digest of the row written, and add a function to
`check_records.FURTHER` that compares the rows with their acts. Copying, backup and moving need nothing more.
"""

from collections.abc import Callable

from sqlalchemy import Connection, text

Step = Callable[[Connection], None]
STEPS: list[Step] = []


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


@STEPS.append
def s002_tallies(connection: Connection) -> None:
    """Keep the sums of each ended session, and find the sessions that have not ended at once."""
    _run(
        connection,
        """
        CREATE TABLE tallies (
            session {id} PRIMARY KEY, person_id {id} NOT NULL, answers INTEGER NOT NULL,
            skipped INTEGER NOT NULL, timed_out INTEGER NOT NULL, answered INTEGER NOT NULL,
            near INTEGER NOT NULL, sum_error DOUBLE PRECISION NOT NULL, sum_square DOUBLE PRECISION NOT NULL,
            digit_0 INTEGER NOT NULL, digit_1 INTEGER NOT NULL,
            digit_2 INTEGER NOT NULL, digit_3 INTEGER NOT NULL,
            digit_4 INTEGER NOT NULL, digit_5 INTEGER NOT NULL,
            digit_6 INTEGER NOT NULL, digit_7 INTEGER NOT NULL,
            digit_8 INTEGER NOT NULL, digit_9 INTEGER NOT NULL,
            tenth_0 INTEGER NOT NULL, tenth_1 INTEGER NOT NULL,
            tenth_2 INTEGER NOT NULL, tenth_3 INTEGER NOT NULL,
            tenth_4 INTEGER NOT NULL, tenth_5 INTEGER NOT NULL,
            tenth_6 INTEGER NOT NULL, tenth_7 INTEGER NOT NULL,
            tenth_8 INTEGER NOT NULL, tenth_9 INTEGER NOT NULL,
            error_0 DOUBLE PRECISION NOT NULL, error_1 DOUBLE PRECISION NOT NULL,
            error_2 DOUBLE PRECISION NOT NULL, error_3 DOUBLE PRECISION NOT NULL,
            error_4 DOUBLE PRECISION NOT NULL, error_5 DOUBLE PRECISION NOT NULL,
            error_6 DOUBLE PRECISION NOT NULL, error_7 DOUBLE PRECISION NOT NULL,
            error_8 DOUBLE PRECISION NOT NULL, error_9 DOUBLE PRECISION NOT NULL
        ){by key};
        CREATE INDEX tallies_by_person ON tallies (person_id);
        CREATE INDEX sessions_open ON sessions (person_id) WHERE ended_how IS NULL
        """,
    )


@STEPS.append
def s003_documents(connection: Connection) -> None:
    """Keep signed documents: keys, revocations, tickets of checks, attempts, statements, standing."""
    _run(
        connection,
        """
        CREATE TABLE documents (
            id {id} PRIMARY KEY, kind {id} NOT NULL, about {id} NOT NULL, body TEXT NOT NULL,
            chain {id} NOT NULL, seq BIGINT NOT NULL
        ){by key};
        CREATE INDEX documents_by_kind ON documents (kind, about)
        """,
    )


@STEPS.append
def s004_more_of_an_answer(connection: Connection) -> None:
    """Keep what only one kind of drill knows of an answer, such as the way of approach, as JSON."""
    _run(connection, "ALTER TABLE answers ADD COLUMN extra TEXT NOT NULL DEFAULT '{}'")
