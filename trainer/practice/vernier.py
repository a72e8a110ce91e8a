"""The vernier drills: which line coincides, and the self-check of an estimate against the vernier."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.instrument import typed
from trainer.instrument.micrometer import Micrometer, State
from trainer.instrument.scale import coincidence_tenths
from trainer.practice.items import Item
from trainer.practice.kind import Kind, Setting
from trainer.practice.readings import read_tenths
from trainer.practice.strata import graduations, stratified_shares, stratified_tenths
from trainer.practice.words import tell

if TYPE_CHECKING:
    from trainer.practice.plan import Plan

TIE_TENTHS = 0.3  # two lines whose offsets differ in size by less than this are a near-tie

NEAR_TIES = Setting("near_ties", "the share of items between two vernier lines", 0.3, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Coincidence:
    """How the vernier stands at one position.

    `offsets_tenths` gives, for each vernier line from 0 on, how far the nearest graduation stands from it,
    signed. `best` are the lines that coincide best: two of them in a near-tie, and always the first
    together with the last, which coincide at the same time.
    """

    offsets_tenths: tuple[float, ...]
    best: tuple[int, ...]

    @property
    def tie(self) -> bool:
        """Return whether two neighbouring lines coincide about equally well."""
        return len(set(self.best) - {len(self.offsets_tenths) - 1}) > 1

    def beside(self, line: int) -> dict[int, float]:
        """Return the offsets of a line and its neighbours, by line: what a wrong answer should look at."""
        near = range(max(0, line - 1), min(len(self.offsets_tenths), line + 2))
        return {k: self.offsets_tenths[k] for k in near}


def coincidence(position_tenths: float, micrometer: Micrometer) -> Coincidence:
    """Return how the vernier of an instrument stands at a position.

    >>> from trainer.instrument import catalogue
    >>> coincidence(2862.0, catalogue.load("inch-vernier")).best
    (2,)
    """
    assert micrometer.vernier is not None  # a plan for a vernier drill names an instrument that has one
    state = State(micrometer, position_tenths)
    offsets = [coincidence_tenths(state, line) for line in range(micrometer.vernier.lines + 1)]
    least = min(map(abs, offsets))
    best = tuple(line for line, offset in enumerate(offsets) if abs(offset) < least + TIE_TENTHS)
    return Coincidence(tuple(offsets), best)


def read_line(text: str, item: Item, micrometer: Micrometer, halves: bool) -> float:
    """Return the position for the number of the vernier line that is said to coincide.

    Only the last figure of the reading is asked, so the position is the one nearest to the truth that
    ends in it; the error lies between -5 and 5 tenths.
    """
    assert micrometer.vernier is not None
    lines = micrometer.vernier.lines
    value = typed.number(text)
    if value % 1 or not 0 <= value <= lines:
        raise typed.UnreadableAnswer(tell("not-taken.line", text=text.strip(), lines=lines))
    said_tenths = float(value) * 10 / lines
    return item.position_tenths + (said_tenths - item.position_tenths + 5) % 10 - 5


def deal_lines(plan: "Plan", micrometer: Micrometer, chance: np.random.Generator) -> tuple[Item, ...]:
    """Return positions for the vernier: every line equally often, the plan's share of them near-ties.

    A near-tie lies 0.35 to 0.5 tenth from its line, the others at most 0.2; the side is by chance.
    """
    lines = stratified_tenths(plan.items, chance)
    ties = stratified_shares(plan.items, chance) < plan.setting("near_ties")
    size = np.where(ties, chance.uniform(0.35, 0.5, plan.items), chance.uniform(0.0, 0.2, plan.items))
    sides = np.where(chance.random(plan.items) < 0.5, -1.0, 1.0)
    wholes = graduations(plan.items, micrometer, chance, margin=1)
    positions = 10.0 * wholes + lines + sides * size
    return tuple(
        Item(number, position, plan.drill, {"view": "vernier"})
        for number, position in enumerate(positions.tolist(), 1)
    )


def deal_self_checks(plan: "Plan", micrometer: Micrometer, chance: np.random.Generator) -> tuple[Item, ...]:
    """Return pairs at one position: the estimate, the vernier out of sight, then the line that coincides.

    `items` of the plan counts the pairs. The estimate is an answer of its own: it is kept, and so locked,
    before the vernier comes into view.
    """
    tenths = stratified_tenths(plan.items, chance)
    wholes = graduations(plan.items, micrometer, chance, margin=1)
    positions = 10.0 * wholes + tenths + chance.random(plan.items)
    items: list[Item] = []
    for position in positions.tolist():
        line = {"line_tenths": 10.0 * (position // 10)}
        items.append(Item(len(items) + 1, position, "estimate", {**line, "view": "vernier-hidden"}))
        items.append(Item(len(items) + 1, position, plan.drill, {**line, "view": "vernier"}))
    return tuple(items)


LINE_QUESTION = "Which vernier line coincides with a graduation?"

VERNIER = Kind(
    "vernier",
    "say which vernier line coincides with a graduation, near-ties included",
    LINE_QUESTION,
    read_line,
    deal=deal_lines,
    settings=(NEAR_TIES,),
    unit="line",
    needs_vernier=True,
)
ESTIMATE = Kind(
    "estimate",
    "the estimate of a self-check, the vernier out of sight",
    "Your estimate: how many tenths beyond the lower line?",
    read_tenths,
    clipped=True,
    unit="tenths",
    tells=False,
    needs_vernier=True,
)
SELF_CHECK = Kind(
    "self-check",
    "estimate the tenth first, then turn to the vernier and see what it says",
    LINE_QUESTION,
    read_line,
    clipped=True,
    deal=deal_self_checks,
    unit="line",
    needs_vernier=True,
)
