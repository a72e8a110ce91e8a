"""The kinds of drill: what each asks, how its items lie, and how typed text becomes an answer."""

from collections.abc import Callable
from dataclasses import dataclass

from trainer.instrument import typed
from trainer.instrument.micrometer import Micrometer
from trainer.practice.items import Item


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of drill.

    `read` turns typed text into the answered position in tenths, or raises `UnreadableAnswer`.
    `clipped` says that answers cannot leave the interval shown, so that the kind gives no record.
    """

    name: str
    summary: str
    question: str
    read: Callable[[str, Item, Micrometer, bool], float]
    clipped: bool = False


def _read_tenths(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    return float(item.extra["line_tenths"]) + typed.tenths(text, halves=halves)


def _read_full(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    return typed.reading(text, micrometer)


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind(
            "tenths",
            "the pair of lines is given; estimate how many tenths the index line stands beyond the lower one",
            "How many tenths beyond the lower line?",
            _read_tenths,
            clipped=True,
        ),
        Kind(
            "full-reading",
            "read the whole scale, to a tenth of a division",
            "What does the micrometer read?",
            _read_full,
        ),
    )
}
