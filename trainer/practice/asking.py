"""What is to be seen and asked now: the instrument as it stands, and the question with its particulars."""

from dataclasses import dataclass, field, replace
from typing import Any

from trainer.drawing.viewing import Viewing, vernier_roll_deg
from trainer.instrument.micrometer import Faults, Micrometer
from trainer.practice.items import Item
from trainer.practice.kind import length_words
from trainer.practice.session import Session
from trainer.practice.words import tell


@dataclass(frozen=True, slots=True)
class Sight:
    """The instrument to be drawn: its scale stands at `position_tenths`, with its faults.

    `position_tenths` is what the scale shows, not always the truth asked for: a set-to drill starts
    elsewhere, and an instrument off its zero shows more or less than it should. `turned_to_vernier` asks
    for the view rolled to the vernier.
    """

    micrometer: Micrometer
    position_tenths: float
    faults: Faults = field(default_factory=Faults)
    turned_to_vernier: bool = False

    def viewing(self, usual: Viewing) -> Viewing:
        """Return the usual viewing, rolled to the vernier where that is to be seen."""
        if not self.turned_to_vernier:
            return usual
        return replace(usual, roll_deg=vernier_roll_deg(self.micrometer))


def sight(session: Session) -> Sight | None:
    """Return the instrument as it is to be seen now, or None where no item is in view."""
    item = session.item
    if item is None:
        return None
    if session.turning is not None:
        return Sight(session.micrometer, session.turning.position_tenths)
    if session.phase == "feedback" and session.kind.turned:
        set_to = session.answers[-1].answer_tenths
        return Sight(session.micrometer, item.position_tenths if set_to is None else set_to)
    return sight_of(item, session.micrometer)


def sight_of(item: Item, micrometer: Micrometer) -> Sight:
    """Return the instrument as an item first shows it."""
    view = item.extra.get("view")
    seen = replace(micrometer, vernier=None) if view == "vernier-hidden" else micrometer
    edge = Faults(edge_offset_mm=float(item.extra.get("edge_offset_mm", 0.0)))
    scale_tenths = float(item.extra.get("scale_tenths", item.position_tenths))
    return Sight(seen, scale_tenths, edge, view == "vernier")


@dataclass(frozen=True, slots=True)
class Asked:
    """One question as a prompt says it.

    `of` is how many items there will be, None where that hangs on the answers. `particulars` are what this
    item names beside the question, as plain values.
    """

    item: int
    of: int | None
    asks: str
    unit: str
    question: str
    particulars: dict[str, Any]

    def to_dict(self) -> dict[str, Any]:
        """Return the question as plain values, the particulars beside the rest."""
        fixed = {"item": self.item, "of": self.of, "asks": self.asks, "unit": self.unit}
        return {**fixed, "question": self.question, **self.particulars}


def asked(session: Session) -> Asked | None:
    """Return what is asked now, or None where nothing is."""
    item = session.item
    if item is None:
        return None
    kind, micrometer = session.kind, session.micrometer
    words, particulars = _particulars(item, micrometer)
    question = kind.question if words is None else words
    unit = kind.unit_of(micrometer)
    return Asked(item.number, session.total, item.asks, unit, question, particulars)


def thimble_line(position_tenths: float, micrometer: Micrometer) -> int:
    """Return the number on the thimble of the graduation at or below a position.

    >>> from trainer.instrument import catalogue
    >>> thimble_line(7384.0, catalogue.load("metric"))
    38
    """
    return int(position_tenths // 10) % micrometer.divisions


def _particulars(item: Item, micrometer: Micrometer) -> tuple[str | None, dict[str, Any]]:
    """Return the question in an item's own words, where it has any, and what it names as plain values."""
    extra = item.extra
    match item.asks:
        case "tenths" | "estimate":
            line = thimble_line(extra["line_tenths"], micrometer)
            return None, {"lower_line": line, "upper_line": (line + 1) % micrometer.divisions}
        case "self-check" | "vernier":
            return None, {"lines": [0, micrometer.vernier.lines if micrometer.vernier else 0]}
        case "set-to":
            target = micrometer.format_reading(item.position_tenths, micrometer.decimals)
            return tell("ask.set-to", target=target, unit=micrometer.unit), {"target": target}
        case "set-line":
            line = thimble_line(item.position_tenths, micrometer)
            reading = micrometer.format_reading(item.position_tenths, micrometer.decimals - 1)
            words = tell("ask.set-line", line=line, reading=reading, unit=micrometer.unit)
            return words, {"target": reading, "line": line}
        case "judge":
            limit = length_words(extra["tolerance_tenths"], micrometer, signed=False)
            line = thimble_line(extra["line_tenths"], micrometer)
            words = tell("ask.judge", line=line, limit=limit)
            return words, {"tolerance_tenths": extra["tolerance_tenths"], "tolerance": limit, "line": line}
        case "size-it":
            line = thimble_line(extra["line_tenths"], micrometer)
            return tell("ask.size-it", line=line), {"line": line}
        case "block-reading" | "block-error":
            block = micrometer.format_reading(extra["block_tenths"], micrometer.decimals)
            entry = f"ask.{item.asks}.again" if extra["reading"] > 1 else f"ask.{item.asks}"
            named = {"block": block, "reading": extra["reading"], "run": extra["run"]}
            return tell(entry, block=block, unit=micrometer.unit, n=extra["reading"]), named
        case "verdict":
            limit = length_words(extra["mpe_tenths"], micrometer, signed=False)
            named = {"mpe_tenths": extra["mpe_tenths"], "run": extra["run"]}
            return tell("ask.verdict", limit=limit), named
    return None, {}
