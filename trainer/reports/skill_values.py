"""What a report tells of each skill beside whole readings: values, with intervals."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trainer.practice.worksheet import Run, VerdictRisk
from trainer.scoring.agreement import DecisionRates
from trainer.scoring.errors import Floats
from trainer.scoring.intervals import Interval
from trainer.scoring.judgement import Judgement
from trainer.scoring.person import PersonScore

BETWEEN_LINES = "tenths between two given lines"  # `OtherReading.name` of answers that are clipped


@dataclass(frozen=True, eq=False)
class Judging:
    """In-or-out judgements at one tolerance; `beyond_tenths` and `said_out` are the single trials."""

    instrument: str
    taken: str
    tolerance_tenths: float
    beyond_tenths: Floats
    said_out: npt.NDArray[np.bool_]
    rates: DecisionRates
    curve: Judgement

    def counts(self) -> tuple[int, int, int, int]:
        """Return false accepts, items outside, false rejects, items inside; on the limit is inside."""
        outside = self.beyond_tenths > 0
        return (
            int((~self.said_out & outside).sum()),
            int(outside.sum()),
            int((self.said_out & ~outside).sum()),
            int((~outside).sum()),
        )


@dataclass(frozen=True, eq=False)
class Sizing:
    """Sizes given of small offsets; `wrong_side` counts those of the wrong sign by more than a tenth."""

    instrument: str
    taken: str
    score: PersonScore
    offset_tenths: Floats
    said_tenths: Floats
    wrong_side: int


@dataclass(frozen=True, slots=True)
class SettingScore:
    """Settings of one kind; `rising` and `falling` by the last way of turning, with their difference.

    `typed` settings were worked out without a window: reading and arithmetic, not the hand.
    """

    drill: str
    instrument: str
    taken: str
    typed: bool
    score: PersonScore
    rising: PersonScore | None
    falling: PersonScore | None
    difference: Interval | None
    turned_back: float | None
    single: tuple[tuple[float, str], ...] = ()

    def errors(self) -> tuple[list[float], list[str]]:
        """Return every setting's error in tenths and its way: rising, falling or typed."""
        return [error for error, _ in self.single], [way for _, way in self.single]


@dataclass(frozen=True, slots=True)
class VernierScore:
    """Which line coincides: shares right in all, in near-ties and elsewhere, and how far others missed."""

    instrument: str
    taken: str
    lines: int
    right: Interval
    clear: tuple[int, Interval]
    ties: tuple[int, Interval]
    next_line: int
    further: int


@dataclass(frozen=True, slots=True)
class SelfCheckScore:
    """Estimates against the vernier: `against` scores estimate less vernier, `borne_out` within a tenth."""

    instrument: str
    pairs: int
    against: PersonScore
    against_truth: PersonScore
    borne_out: Interval


@dataclass(frozen=True, slots=True)
class Calibrating:
    """Calibration runs on one instrument at one limit; `risk` needs a spread of the block readings."""

    instrument: str
    mpe_tenths: float
    runs: tuple[Run, ...]
    readings: PersonScore | None
    risk: VerdictRisk | None

    def verdicts(self) -> tuple[int, int, int]:
        """Return how many verdicts were right, false accepts and false rejects."""
        right = sum(run.said == run.truth for run in self.runs)
        accepts = sum(run.said == "accept" and run.truth == "reject" for run in self.runs)
        return right, accepts, len(self.runs) - right - accepts


@dataclass(frozen=True, slots=True)
class HalfLineScore:
    """Readings by a sleeve line: lines counted too early before it, overlooked after it (a turn off)."""

    instrument: str
    score: PersonScore
    before: tuple[int, Interval]
    after: tuple[int, Interval]


@dataclass(frozen=True, slots=True)
class OtherReading:
    """Readings of a drill that gives no whole readings for the record."""

    name: str
    instrument: str
    score: PersonScore


@dataclass(frozen=True, slots=True)
class UnderConditions:
    """Answers of one drill on one instrument under one set of viewing conditions.

    `score` is None for judgements, which are told by `wrong`, the share judged wrongly.
    """

    conditions: str
    drill: str
    instrument: str
    answers: int
    score: PersonScore | None
    wrong: Interval | None = None


@dataclass(frozen=True, slots=True)
class Skills:
    """Everything beside whole readings that one person's sittings show."""

    judging: tuple[Judging, ...] = ()
    sizing: tuple[Sizing, ...] = ()
    setting: tuple[SettingScore, ...] = ()
    vernier: tuple[VernierScore, ...] = ()
    self_check: tuple[SelfCheckScore, ...] = ()
    calibrating: tuple[Calibrating, ...] = ()
    half_line: tuple[HalfLineScore, ...] = ()
    others: tuple[OtherReading, ...] = ()
    conditions: tuple[UnderConditions, ...] = ()
    instruments: tuple[str, ...] = ()  # on which the sittings were taken, in their order
    days: tuple[str, ...] = ()  # on which they were taken, the first and the last

    def __bool__(self) -> bool:
        return any(getattr(self, name) for name in SECTIONS)


SECTIONS = (
    "judging", "sizing", "setting", "vernier", "self_check", "calibrating", "half_line", "others",
    "conditions",
)  # fmt: skip
