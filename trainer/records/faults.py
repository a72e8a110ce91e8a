"""What the engines say when something goes wrong, turned into one sentence with a remedy."""

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from trainer.records.refusals import (
    ArchiveAway,
    BusyArchive,
    DamagedArchive,
    FullDisk,
    NotAnArchive,
    ReadOnlyArchive,
    UnusableArchive,
)

# What SQLite says (its result codes, https://www.sqlite.org/rescode.html), and what it means here.
SQLITE_WORDS: tuple[tuple[str, type[UnusableArchive], str], ...] = (
    ("database is locked", BusyArchive, "another program is writing to it; close that program or try again"),
    ("database table is locked", BusyArchive, "another program is writing to it; try again"),
    ("readonly database", ReadOnlyArchive, "it can be read but not written to; check the file's permissions"),
    ("database or disk is full", FullDisk, "there is no room left; free some space and try again"),
    ("file is not a database", NotAnArchive, "it is not a Tenthwise archive; name another file"),
    (
        "malformed",
        DamagedArchive,
        "the file is damaged; save what can be saved with `tenthwise archive rescue`",
    ),
    ("disk I/O error", ArchiveAway, "the drive failed while it was used; check the drive and the connection"),
    ("unable to open", UnusableArchive, "the file cannot be opened; check its permissions and its folder"),
)

# SQLSTATE beginnings (PostgreSQL manual, appendix A), the longest first.
POSTGRES_STATES: tuple[tuple[str, type[UnusableArchive], str], ...] = (
    ("28", UnusableArchive, "the server refuses the user name or password; check both"),
    ("3D000", UnusableArchive, "the server has no database of that name; ask its keeper to make it"),
    ("42501", ReadOnlyArchive, "this user may not do that; ask the keeper of the archive for the role"),
    ("25006", ReadOnlyArchive, "the server takes no writing at present; try again later"),
    ("53100", FullDisk, "the server's disk is full; ask its keeper to free some space"),
    ("53300", BusyArchive, "the server has too many connections; try again"),
    ("55P03", BusyArchive, "another program holds what is needed; try again"),
    ("57014", BusyArchive, "the server took too long; try again"),
    ("XX001", DamagedArchive, "the server reports damaged data; ask its keeper to restore a backup"),
    ("XX002", DamagedArchive, "the server reports a damaged index; ask its keeper to repair it"),
)

AWAY = "the server does not answer; check the network, and try again when it is back"


def refusal_for(fault: BaseException, place: str) -> UnusableArchive:
    """Return the refusal that says what an engine's or the system's exception means."""
    cause = fault.orig if isinstance(fault, DBAPIError) and fault.orig is not None else fault
    state = getattr(cause, "sqlstate", None)
    words = str(cause).strip().splitlines()[0] if str(cause).strip() else type(cause).__name__
    if state:
        for beginning, kind, sentence in POSTGRES_STATES:
            if state.startswith(beginning):
                return kind(f"{place}: {sentence}")
        if state.startswith(("08", "57P")):
            return ArchiveAway(f"{place}: {AWAY}")
    if type(cause).__module__.startswith("psycopg"):
        for sign, index in (("authentication", 0), ('role "', 0), ("does not exist", 1)):
            if not state and sign in str(cause):
                return UnusableArchive(f"{place}: {POSTGRES_STATES[index][2]}")
        if not state:  # libpq could not connect, or the connection broke
            return ArchiveAway(f"{place}: {AWAY}")
    for sign, kind, sentence in SQLITE_WORDS:
        if sign in words:
            return kind(f"{place}: {sentence}")
    if isinstance(cause, OSError):
        if cause.errno in (errno.ENOSPC, errno.EDQUOT):
            return FullDisk(f"{place}: there is no room left; free some space and try again")
        return UnusableArchive(f"{place}: {cause.strerror or cause}; check the drive and the permissions")
    return UnusableArchive(f"{place}: {words}")


@contextmanager
def told_plainly(place: object) -> Iterator[None]:
    """Turn what the engine or the system raises inside into a refusal that names the archive."""
    try:
        yield
    except BrokenPipeError:  # whoever read the output went away: no fault of the archive
        raise
    except (SQLAlchemyError, sqlite3.Error, OSError) as fault:
        raise refusal_for(fault, str(place)) from fault
    except UnusableArchive as refused:
        if refused.args and str(refused.args[0]).startswith("it "):
            raise type(refused)(f"{place}: {refused.args[0]}") from refused
        raise
    except Exception as fault:
        if type(fault).__module__.startswith("psycopg"):
            raise refusal_for(fault, str(place)) from fault
        raise
