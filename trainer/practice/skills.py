"""What kept sittings say of each skill, in plain numbers: the rows from which figures and reports are made.

Only clear sittings of one instrument belong into one call: conditions and instruments are never pooled.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.instrument import catalogue
from trainer.practice.conditions import CLEAR
from trainer.practice.items import Answer, Item
from trainer.practice.results import trials
from trainer.practice.turning import approach_of
from trainer.practice.vernier import coincidence
from trainer.practice.worksheet import Run, runs

HALF_LINE = "half-line"


@dataclass(frozen=True, slots=True)
class KeptSitting:
    """One sitting as it was kept: whose figures may be pooled is told by `instrument` and `conditions`."""

    session: str
    drill: str
    instrument: str
    for_record: bool
    conditions: str
    started_at: str
    items: tuple[Item, ...]
    answers: tuple[Answer, ...]

    @property
    def clear(self) -> bool:
        """Return whether it was taken with clear sight and without a time limit."""
        return self.conditions in ("", CLEAR)

    def answered(self, *asks: str) -> list[tuple[Item, Answer]]:
        """Return the items that ask one of these things, or anything, with their answers given."""
        asked = {item.number: item for item in self.items}
        pairs = [(asked[a.number], a) for a in self.answers if a.answer_tenths is not None]
        return [(item, answer) for item, answer in pairs if not asks or item.asks in asks]


@dataclass(frozen=True, slots=True)
class Placed:
    """One answer that is a position: where the scale stood and what was said, in tenths."""

    truth_tenths: float
    answer_tenths: float

    @property
    def error_tenths(self) -> float:
        """Return answer minus truth."""
        return self.answer_tenths - self.truth_tenths


@dataclass(frozen=True, slots=True)
class Trial:
    """One judgement: how far the offset lies beyond the tolerance, in tenths, and whether "out" was said."""

    offset_tenths: float
    tolerance_tenths: float
    beyond_tenths: float
    said_out: bool


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of the thimble; `way` is "rising" or "falling", None where the turns were typed."""

    placed: Placed
    way: str | None
    reversals: int


@dataclass(frozen=True, slots=True)
class LineSaid:
    """One vernier line said to coincide; `away` is how many lines it lies from the nearest that does."""

    tie: bool
    away: int

    @property
    def right(self) -> bool:
        """Return whether a line that coincides best was named."""
        return self.away == 0


@dataclass(frozen=True, slots=True)
class SelfCheck:
    """An estimate and what the person then read on the vernier, at the same position, in tenths."""

    truth_tenths: float
    estimate_tenths: float
    vernier_tenths: float


@dataclass(frozen=True, slots=True)
class HalfLine:
    """One reading close to a sleeve line; `before` the line, so that the line must not be counted."""

    placed: Placed
    before: bool


def placed(sittings: Sequence[KeptSitting], *asks: str) -> list[Placed]:
    """Return the positions answered where one of these things was asked."""
    return [
        Placed(item.position_tenths, float(answer.answer_tenths or 0.0))
        for sitting in sittings
        for item, answer in sitting.answered(*asks)
    ]


def judgements(sittings: Sequence[KeptSitting]) -> list[Trial]:
    """Return every judgement given."""
    return [
        Trial(
            float(row["offset_tenths"]),
            float(row["tolerance_tenths"]),
            float(row["beyond_tenths"]),
            bool(row["said_out"]),
        )
        for sitting in sittings
        for row in trials(sitting.items, sitting.answers)
    ]


def sizes(sittings: Sequence[KeptSitting]) -> list[tuple[float, float]]:
    """Return offset and offset said of every size given, in tenths from the graduation, signed."""
    return [
        (float(item.extra["offset_tenths"]), float(answer.answer_tenths or 0.0) - item.extra["line_tenths"])
        for sitting in sittings
        for item, answer in sitting.answered("size-it")
    ]


def settings(sittings: Sequence[KeptSitting], drill: str) -> list[Setting]:
    """Return every setting of a drill, "set-to" or "set-line", with its way of approach."""
    found = []
    for sitting in sittings:
        for item, answer in sitting.answered(drill):
            way, back = approach_of(answer.typed, answer.extra) or (None, 0)
            at = Placed(item.position_tenths, float(answer.answer_tenths or 0.0))
            found.append(Setting(at, way, back))
    return found


def lines_said(sittings: Sequence[KeptSitting], *asks: str) -> list[LineSaid]:
    """Return every vernier line named, of the vernier drill and of self-checks unless `asks` says which."""
    found = []
    for sitting in sittings:
        micrometer = catalogue.load(sitting.instrument)
        for item, answer in sitting.answered(*(asks or ("vernier", "self-check"))):
            stands = coincidence(item.position_tenths, micrometer)
            said = round(float(answer.answer_tenths or 0.0)) % 10
            away = min(_round_distance(said, best % 10) for best in stands.best)
            found.append(LineSaid(stands.tie, away))
    return found


def _round_distance(one: int, other: int) -> int:
    apart = abs(one - other) % 10
    return min(apart, 10 - apart)  # the first and the last line coincide together


def self_checks(sittings: Sequence[KeptSitting]) -> list[SelfCheck]:
    """Return every estimate with the vernier line read after it; one without the other is left out."""
    found = []
    for sitting in sittings:
        said = {item.number: answer for item, answer in sitting.answered("estimate", "self-check")}
        for item in sitting.items:
            estimate, vernier = said.get(item.number), said.get(item.number + 1)
            if item.asks == "estimate" and estimate is not None and vernier is not None:
                found.append(
                    SelfCheck(
                        item.position_tenths,
                        float(estimate.answer_tenths or 0.0),
                        float(vernier.answer_tenths or 0.0),
                    )
                )
    return found


def half_lines(sittings: Sequence[KeptSitting]) -> list[HalfLine]:
    """Return every reading of the half-line drill, and on which side of its sleeve line it lies."""
    found = []
    for sitting in sittings:
        micrometer = catalogue.load(sitting.instrument)
        for item, answer in sitting.answered(HALF_LINE):
            beyond = item.position_tenths % micrometer.sleeve_line_tenths
            before = beyond > micrometer.sleeve_line_tenths / 2
            at = Placed(item.position_tenths, float(answer.answer_tenths or 0.0))
            found.append(HalfLine(at, before))
    return found


def calibrations(sittings: Sequence[KeptSitting]) -> list[Run]:
    """Return every calibration run that came to a verdict, oldest sitting first."""
    found: list[Run] = []
    for sitting in sorted(sittings, key=lambda one: one.started_at):
        if sitting.drill == "calibration":
            every = runs(sitting.items, sitting.answers, catalogue.load(sitting.instrument))
            found += [run for run in every if run.said is not None]
    return found
