"""What came of a calibration run: truth, what was recorded, and what reading error did to the verdict."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import fmean

import numpy as np

from trainer.instrument.micrometer import Faults, Micrometer, State
from trainer.practice.calibration import Verdict, draw_faults, verdict
from trainer.practice.items import Answer, Item
from trainer.practice.words import tell

Within = Callable[[float, float, float], float]
"""The chance that a recorded error lies within the limit, of true error, bias and spread, all in tenths."""


@dataclass(frozen=True, slots=True)
class Row:
    """One block: the truth, and the readings taken of it.

    `true_error_tenths` is the instrument's error there, scatter left out; `recorded_error_tenths` the mean
    of the readings less the block, None where none was given; `by_hand_tenths` the last error worked out by
    the person. `reading_errors_tenths` are the readings less what the scale showed.
    """

    block_tenths: float
    true_error_tenths: float
    recorded_error_tenths: float | None
    reading_errors_tenths: tuple[float, ...] = ()
    by_hand_tenths: float | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """One instrument's run. `said` is the person's verdict, None where it was skipped or is still to come."""

    run: int
    mpe_tenths: float
    rows: tuple[Row, ...]
    said: Verdict | None

    @property
    def true_errors_tenths(self) -> tuple[float, ...]:
        """Return the instrument's errors at the blocks."""
        return tuple(row.true_error_tenths for row in self.rows)

    @property
    def truth(self) -> Verdict:
        """Return the verdict that the true errors call for."""
        return _rule(self.true_errors_tenths, self.mpe_tenths)

    @property
    def recorded(self) -> Verdict | None:
        """Return the verdict that the recorded errors call for; None where a block has no reading."""
        errors = [row.recorded_error_tenths for row in self.rows]
        known = [error for error in errors if error is not None]
        return _rule(known, self.mpe_tenths) if len(known) == len(errors) else None

    def effect(self) -> str:
        """Return in one sentence what reading error did to the verdict."""
        if self.said is None:
            return tell("effect.none")
        truly = "conforms" if self.truth == "accept" else "fails"
        if self.said == self.truth:
            lucky = self.recorded is not None and self.recorded != self.said
            return tell(f"effect.{'lucky' if lucky else 'right'}.{truly}")
        if self.recorded is None:
            return tell(f"effect.{self.said}.chance")
        return tell(f"effect.{self.said}.{'moved' if self.recorded == self.said else 'misapplied'}")


def _rule(errors_tenths: Sequence[float], mpe_tenths: float) -> Verdict:
    """Accept where every error lies within the limit, itself included."""
    return "accept" if all(abs(error) <= mpe_tenths + 1e-9 for error in errors_tenths) else "reject"


def runs(items: Sequence[Item], answers: Sequence[Answer], micrometer: Micrometer) -> list[Run]:
    """Return the runs of a sitting, as far as they were dealt."""
    given = {answer.number: answer for answer in answers}
    found: list[Run] = []
    for item in items:
        if not found or found[-1].run != item.extra["run"]:
            found.append(Run(item.extra["run"], item.extra["mpe_tenths"], (), None))
        answer = given.get(item.number)
        run = found[-1]
        if item.asks == "verdict":
            said = verdict(answer.typed) if answer is not None and answer.outcome == "answered" else None
            found[-1] = replace(run, said=said)
        else:
            found[-1] = replace(run, rows=_with(run.rows, item, answer, micrometer))
    return found


def _with(
    rows: tuple[Row, ...], item: Item, answer: Answer | None, micrometer: Micrometer
) -> tuple[Row, ...]:
    """Return the rows with one more reading, or one more error worked out by hand."""
    block = float(item.extra["block_tenths"])
    if not rows or rows[-1].block_tenths != block:
        stands = State(micrometer, block, Faults(**item.extra["faults"])).shown_tenths
        rows = (*rows, Row(block, stands - block, None))
    *before, row = rows
    said = None if answer is None else answer.answer_tenths
    if said is None:
        return rows
    if item.asks == "block-error":
        return (*before, replace(row, by_hand_tenths=said - block))
    errors = (*row.reading_errors_tenths, said - item.position_tenths)
    taken = len(row.reading_errors_tenths)
    mean = said - block if row.recorded_error_tenths is None else (
        (row.recorded_error_tenths * taken + said - block) / (taken + 1)
    )  # fmt: skip
    return (*before, replace(row, recorded_error_tenths=mean, reading_errors_tenths=errors))


def normal_within(mpe_tenths: float) -> Within:
    """Return the chance that a normal recorded error lies within a limit, as a function for `accept_chance`.

    >>> round(normal_within(4.0)(4.0, 0.0, 1.0), 3)
    0.5
    """

    def within(true_error: float, bias: float, spread: float) -> float:
        if spread <= 0:
            return float(abs(true_error + bias) <= mpe_tenths)
        high = (mpe_tenths - true_error - bias) / spread
        low = (-mpe_tenths - true_error - bias) / spread
        return 0.5 * (math.erf(high / math.sqrt(2)) - math.erf(low / math.sqrt(2)))

    return within


def accept_chance(
    true_errors_tenths: Sequence[float], bias_tenths: float, spread_tenths: float, within: Within
) -> float:
    """Return the chance that a person with this bias and spread records every error within the limit."""
    return math.prod(within(error, bias_tenths, spread_tenths) for error in true_errors_tenths)


@dataclass(frozen=True, slots=True)
class VerdictRisk:
    """The risks of a person's verdicts on instruments like those of the drill (JCGM 106:2012, 9.5).

    `false_accept` is the chance that an instrument is accepted and does not conform, `false_reject` that it
    is rejected and conforms; `conforming` is the share that conforms. They hold for this invented
    population and for one reading of each block; a laboratory's own instruments are others.
    """

    false_accept: float
    false_reject: float
    conforming: float
    instruments: int


def population_risk(
    mpe_tenths: float,
    blocks_tenths: Sequence[float],
    micrometer: Micrometer,
    bias_tenths: float,
    spread_tenths: float,
    chance: np.random.Generator,
    instruments: int = 1000,
    within: Within | None = None,
) -> VerdictRisk:
    """Return the risks over `instruments` drawn as the drill draws them."""
    inside = within or normal_within(mpe_tenths)
    accepted, conforms = [], []
    for _ in range(instruments):
        faults = draw_faults(mpe_tenths, blocks_tenths, micrometer, chance)
        errors = [faults.offset_tenths(block, micrometer.turn_tenths) for block in blocks_tenths]
        conforms.append(_rule(errors, mpe_tenths) == "accept")
        accepted.append(accept_chance(errors, bias_tenths, spread_tenths, inside))
    pairs = list(zip(accepted, conforms, strict=True))
    return VerdictRisk(
        fmean(chance_of * (not good) for chance_of, good in pairs),
        fmean((1 - chance_of) * good for chance_of, good in pairs),
        fmean(conforms),
        instruments,
    )
