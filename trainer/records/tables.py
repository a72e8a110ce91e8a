"""Today's tables, for building queries. They are made by the steps in `upgrade.py`, never from here."""

from collections.abc import Callable
from typing import Any

from sqlalchemy import BigInteger, Column, Double, Integer, MetaData, Table, Text
from sqlalchemy.types import UserDefinedType

from trainer.records.canonical import as_bytes

metadata = MetaData()


class Bytes(UserDefinedType[bytes]):
    """A byte string; whatever else stands in its place in a tampered file comes back as bytes of no use."""

    cache_ok = True

    def get_col_spec(self, **_: Any) -> str:
        """Return the type's name; tables are made by steps, never from here."""
        return "BLOB"

    def result_processor(self, *_: Any) -> Callable[[Any], bytes | None]:
        """Return what makes bytes of what the driver gives."""
        return as_bytes


archive = Table(
    "tenthwise_archive",
    metadata,
    Column("version", Integer),
    Column("archive_id", Text),
    Column("home_chain", Text),
    Column("made_at", Text),
)

chains = Table(
    "chains",
    metadata,
    Column("chain", Text, primary_key=True),
    Column("seq", BigInteger),
    Column("hash", Bytes),
    Column("last_at", Text),
)

acts = Table(
    "acts",
    metadata,
    Column("chain", Text, primary_key=True),
    Column("seq", BigInteger, primary_key=True),
    Column("at", Text),
    Column("kind", Text),
    Column("who", Text),
    Column("session", Text),
    Column("number", Integer),
    Column("detail", Text),
    Column("digest", Bytes),
    Column("hash", Bytes),
)

people = Table(
    "people",
    metadata,
    Column("id", Text, primary_key=True),
    Column("name", Text),
    Column("name_key", Text),
    Column("added_at", Text),
    Column("archived_at", Text),
    Column("salt", Text),
    Column("revision", Integer),
    Column("chain", Text),
    Column("seq", BigInteger),
)

sessions = Table(
    "sessions",
    metadata,
    Column("id", Text, primary_key=True),
    Column("person_id", Text),
    Column("instrument", Text),
    Column("drill", Text),
    Column("for_record", Integer),
    Column("seed", Text),
    Column("program_version", Text),
    Column("drawing_version", Text),
    Column("viewing", Text),
    Column("px_per_mm", Double),
    Column("station", Text),
    Column("started_at", Text),
    Column("plan", Text),
    Column("ended_at", Text),
    Column("ended_how", Text),
    Column("end_chain", Text),
    Column("end_seq", BigInteger),
)

items = Table(
    "items",
    metadata,
    Column("session", Text, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("position_tenths", Double),
    Column("asks", Text),
    Column("extra", Text),
)

answers = Table(
    "answers",
    metadata,
    Column("session", Text, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("typed", Text),
    Column("answer_tenths", Double),
    Column("outcome", Text),
    Column("seconds", Double),
    Column("at", Text),
    Column("chain", Text),
    Column("seq", BigInteger),
    Column("extra", Text),
)

settings = Table(
    "settings",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", Text),
    Column("chain", Text),
    Column("seq", BigInteger),
)
