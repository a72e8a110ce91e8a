"""The set-to drills: turning the thimble to a named reading, or a named line onto the index line."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.instrument import typed
from trainer.instrument.micrometer import Micrometer
from trainer.practice.items import Item
from trainer.practice.kind import Kind, Setting
from trainer.practice.strata import balanced_signs, graduations, stratified_shares, stratified_tenths

if TYPE_CHECKING:
    from trainer.practice.plan import Plan

START = Setting("start_divisions", "how far away the thimble stands at first (divisions)", 8.0, 1.0, 200.0)
WAYS = {1: "rising", -1: "falling", 0: "none"}
STILL_TENTHS = 1e-9  # a turn smaller than this is none


@dataclass(frozen=True, slots=True)
class Turning:
    """How the thimble was turned so far.

    `way` is +1 where the last turn raised the reading, -1 where it lowered it, 0 before any. A reversal is
    a change of way; `run_tenths` is the way gone since the last one.
    """

    position_tenths: float
    way: int = 0
    reversals: int = 0
    turns: int = 0
    run_tenths: float = 0.0

    def to(self, position_tenths: float, travel_tenths: float) -> "Turning":
        """Return the turning after the thimble went to a position; it stops at the ends of the travel."""
        if not math.isfinite(position_tenths):
            return self
        stop = min(max(position_tenths, 0.0), travel_tenths)
        moved = stop - self.position_tenths
        if abs(moved) < STILL_TENTHS:
            return self
        way = 1 if moved > 0 else -1
        turned_back = self.way not in (0, way)
        return replace(
            self,
            position_tenths=stop,
            way=way,
            reversals=self.reversals + turned_back,
            turns=self.turns + 1,
            run_tenths=abs(moved) + (0.0 if turned_back else self.run_tenths),
        )

    def account(self) -> dict[str, Any]:
        """Return the way of approach as plain values: what is kept beside the answer."""
        return {
            "approach": WAYS[self.way],
            "reversals": self.reversals,
            "turns": self.turns,
            "run_tenths": self.run_tenths,
        }


def approach_of(typed_text: str, extra: Mapping[str, Any]) -> tuple[str, int] | None:
    """Return the way of approach and the reversals of a setting, or None if its turns were typed.

    They are kept beside the answer; before that was so they stood at the end of its text.

    >>> approach_of("7.38437", {"by": "turning", "approach": "falling", "reversals": 1})
    ('falling', 1)
    >>> approach_of("7.38437 (falling, 1 reversals)", {})
    ('falling', 1)
    """
    if extra.get("by") == "turning":
        return str(extra["approach"]), int(extra["reversals"])
    found = re.search(r"\((rising|falling), (\d+) reversals\)$", typed_text)
    return (found[1], int(found[2])) if found else None


def read_turns(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    """Return the position that typed turns lead to: signed divisions, one after the other.

    This is the way without a window: only the starting position is seen, so it measures reading and
    arithmetic rather than the hand; the answer says so (`"by": "typed"`).
    """
    return turned_by(text, item, micrometer).position_tenths


def turned_by(text: str, item: Item, micrometer: Micrometer) -> Turning:
    """Return the turning that typed turns describe, such as "+3.5 -0.2" (in divisions)."""
    parts = re.split(r"[\s;]+", text.strip())
    turning = Turning(float(item.extra["scale_tenths"]))
    for part in parts:
        turning = turning.to(
            turning.position_tenths + 10 * float(typed.number(part)), micrometer.travel_tenths
        )
    return turning


def deal_settings(plan: "Plan", micrometer: Micrometer, chance: np.random.Generator) -> tuple[Item, ...]:
    """Return positions to set, each with a start on either side in turn by chance.

    Targets of `set-to` are whole tenths, every tenth equally often; those of `set-line` are whole
    graduations, the zero line among them one time in four.
    """
    largest = plan.setting("start_divisions")
    starts = (1 + (largest - 1) * stratified_shares(plan.items, chance)) * balanced_signs(plan.items, chance)
    margin = math.ceil(largest) + 1
    lines = graduations(plan.items, micrometer, chance, margin=min(margin, micrometer.divisions))
    if plan.drill == "set-line":
        zero = chance.random(plan.items) < 0.25
        lines = np.where(zero, np.round(lines / micrometer.divisions) * micrometer.divisions, lines)
        lines = np.clip(lines, micrometer.divisions, (micrometer.turns - 1) * micrometer.divisions)
        targets = 10.0 * lines
    else:
        targets = 10.0 * lines + stratified_tenths(plan.items, chance)
    return tuple(
        Item(
            i + 1, float(targets[i]), plan.drill, {"scale_tenths": _start(targets[i], starts[i], micrometer)}
        )
        for i in range(plan.items)
    )


def _start(target_tenths: float, away_divisions: float, micrometer: Micrometer) -> float:
    """Return where the thimble stands at first; on the other side where the travel would end."""
    start = target_tenths + 10 * away_divisions
    return float(start if micrometer.holds(start) else target_tenths - 10 * away_divisions)


SET_TO = Kind(
    "set-to",
    "turn the thimble to a named reading",
    "Set the thimble to the reading named.",
    read_turns,
    deal=deal_settings,
    settings=(START,),
    turned=True,
)
SET_LINE = Kind(
    "set-line",
    "turn the thimble until a named line lies exactly on the index line",
    "Set the line named exactly on the index line.",
    read_turns,
    deal=deal_settings,
    settings=(START,),
    turned=True,
)
