"""Settings that belong to the archive, such as what a laboratory has decided for all its stations."""

import json
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from trainer.records import chain
from trainer.records.canonical import canonical_text, digest
from trainer.records.engine import Store
from trainer.records.tables import settings


def setting_digest(value: str) -> bytes:
    """Return the digest of a setting's value, given as canonical JSON text."""
    return digest({"value": value})


def put(store: Store, name: str, value: Any, who: str) -> None:
    """Keep a setting, with an act that vouches for it."""
    text = canonical_text(value)
    with store.write() as connection:
        seq = chain.append(
            connection, store, "setting", who=who, detail={"name": name}, digest=setting_digest(text)
        )
        connection.execute(delete(settings).where(settings.c.name == name))
        connection.execute(insert(settings).values(name=name, value=text, chain=store.chain, seq=seq))


def get(connection: Connection, name: str, default: Any) -> Any:
    """Return a setting's value, or `default`."""
    text = connection.execute(select(settings.c.value).where(settings.c.name == name)).scalar()
    return default if text is None else json.loads(text)
