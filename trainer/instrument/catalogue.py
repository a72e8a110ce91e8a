"""The catalogue of instruments, read from the TOML file beside this module."""

import tomllib
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from trainer.instrument.micrometer import Micrometer, Sizes, Sleeve, SleeveRule, Vernier
from trainer.instrument.refusal import Refusal

CATALOGUE = Path(__file__).with_name("catalogue.toml")


class UnknownInstrument(Refusal):
    """No instrument of that name is in the catalogue."""


@cache
def _tables() -> dict[str, dict[str, Any]]:
    return tomllib.loads(CATALOGUE.read_text(encoding="utf-8"))


def names() -> tuple[str, ...]:
    """Return the names of all instruments, in the catalogue's order.

    >>> names()[:3]
    ('metric', 'metric-25-50', 'metric-vernier')
    """
    return tuple(name for name in _tables() if name != "sizes")


@cache
def load(name: str) -> Micrometer:
    """Return the instrument of that name; raise `UnknownInstrument` if there is none.

    >>> load("inch").division_um
    25.4
    """
    if name not in names():
        raise UnknownInstrument(f"there is no instrument {name!r}; choose one of {', '.join(names())}")
    table = _merged(name)
    vernier = table.get("vernier")
    return Micrometer(
        name=name,
        title=table["title"],
        unit=table["unit"],
        kind=table["kind"],
        base=Decimal(table["base"]),
        pitch=Decimal(table["pitch"]),
        turns=table["turns"],
        divisions=table["divisions"],
        thimble_numeral_every=table["thimble_numeral_every"],
        sleeve=Sleeve(
            table["sleeve_line_every_divisions"], tuple(SleeveRule(**rule) for rule in table["sleeve"])
        ),
        sizes=Sizes(**table["sizes"]),
        vernier=Vernier(**vernier) if vernier else None,
    )


def _merged(name: str) -> dict[str, Any]:
    """Return a table with what it inherits by `like`, and its sizes over the common ones."""
    table = _tables()[name]
    parent = _merged(table["like"]) if "like" in table else {"sizes": _tables()["sizes"]["common"]}
    return {**parent, **table, "sizes": {**parent["sizes"], **table.get("sizes", {})}}
