"""What a criterion costs before anyone is tested: readings wanted, chance of passing, risk at each limit."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from trainer.scoring.intervals import clopper_pearson
from trainer.signoff.bounds import Totals, first_end, look
from trainer.signoff.criterion import ROUNDING_TENTHS, Criterion
from trainer.signoff.judges import Judge, simulated_judgements, typical_judges, with_rate
from trainer.signoff.readers import Reader, simulated_totals
from trainer.signoff.rules import Rules

SHIFTED = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0, 1.1, 1.2)  # shares of a limit along the curves


@dataclass(frozen=True, slots=True)
class Outcome:
    """How simulated people fared: counts of `people`, and readings until the attempt ended.

    `quartiles` are of the readings; `pass_high` is the upper 95 % bound (one-sided) of the pass rate.
    """

    name: str
    reader: Reader | Judge
    people: int
    passed: int
    failed: int
    mean_readings: float
    quartiles: tuple[float, float, float]
    at_limit: bool = False

    @property
    def pass_rate(self) -> float:
        """Return the share who passed."""
        return self.passed / self.people

    @property
    def pass_high(self) -> float:
        """Return the exact one-sided 95 % upper bound of the pass rate."""
        return float(clopper_pearson(self.passed, self.people, 0.90)[1])

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, fit for JSON."""
        return {
            "reader": self.name,
            **asdict(self.reader),
            "at_limit": self.at_limit,
            "people": self.people,
            "pass_rate": self.pass_rate,
            "pass_rate_upper": self.pass_high,
            "fail_rate": self.failed / self.people,
            "mean_readings": self.mean_readings,
            "readings_quartiles": list(self.quartiles),
        }


def settle(running: Totals, rules: Rules) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return for each person: whether they pass, whether they are shown to fail, after how many readings."""
    looks = look(running, rules)
    index = first_end(looks, running, rules)
    index = np.where(index < 0, running.readings.shape[-1] - 1, index)
    rows = np.arange(index.size)
    return looks.shown[rows, index], looks.failed[rows, index], running.readings[rows, index]


def outcome(
    name: str,
    reader: Reader | Judge,
    rules: Rules,
    *,
    people: int,
    chance: np.random.Generator,
    at_limit: bool = False,
) -> Outcome:
    """Return how `people` simulated readers, or judges, of one kind fare, each sitting one block."""
    sittings = -(-rules.most // rules.block)
    if isinstance(reader, Judge):
        found = simulated_judgements(reader, rules, people, sittings, chance)
    else:
        found = simulated_totals(reader, people, sittings, rules.block, chance)
    passed, failed, readings = settle(found, rules)
    low, middle, high = (float(one) for one in np.quantile(readings, (0.25, 0.5, 0.75)))
    return Outcome(
        name,
        reader,
        people,
        int(passed.sum()),
        int(failed.sum()),
        float(readings.mean()),
        (low, middle, high),
        at_limit,
    )


Typical = list[tuple[str, Reader | Judge, bool]]


def typical_readers(criterion: Criterion, drift_tenths: float = 0.1) -> Typical:
    """Return the readers of a cost table, scaled to the limits: name, reader, whether at a limit.

    For a criterion of judging they are judges, whose threshold does not drift.
    """
    if criterion.judges:
        return list(typical_judges(Rules.of(criterion), _tolerance(criterion)))
    bias, spread, rate = criterion.bias_tenths, criterion.spread_tenths, criterion.misread_rate
    # a good reader's spread lies between what rounding leaves and the limit
    good = ROUNDING_TENTHS + 0.44 * (spread - ROUNDING_TENTHS)
    middling = ROUNDING_TENTHS + 0.72 * (spread - ROUNDING_TENTHS)

    def reader(bias_tenths: float, spread_tenths: float, misread_rate: float) -> Reader:
        return Reader(bias_tenths, spread_tenths, misread_rate, drift_tenths)

    return [
        ("good", reader(0.4 * bias, good, 0.04 * rate), False),
        ("middling", reader(0.7 * bias, middling, 0.1 * rate), False),
        ("poor", reader(1.6 * bias, 1.4 * spread, rate), False),
        ("at the bias limit", reader(bias, good, 0.0), True),
        ("at the spread limit", replace(reader(0.0, spread, 0.0), drift_tenths=0.0), True),
        ("at the misread limit", reader(0.0, good, rate), True),
    ]


@dataclass(frozen=True, slots=True)
class Cost:
    """The cost of a criterion: outcomes of typical readers, and pass rates along each limit.

    `curves` holds, by limit, (share of the limit, pass rate, mean readings) for a reader who is good in
    everything else, or for a judge whose threshold gives that share of the limiting rate.
    """

    criterion: str
    first_possible: int
    at_most: int
    outcomes: tuple[Outcome, ...]
    curves: dict[str, tuple[tuple[float, float, float], ...]]

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, fit for JSON."""
        return {
            "criterion": self.criterion,
            "first_possible_readings": self.first_possible,
            "readings_at_most": self.at_most,
            "readers": [one.to_dict() for one in self.outcomes],
            "curves": {
                name: [
                    {"share_of_limit": share, "pass_rate": rate, "mean_readings": mean}
                    for share, rate, mean in points
                ]
                for name, points in self.curves.items()
            },
        }


def cost(
    criterion: Criterion,
    *,
    people: int = 2000,
    drift_tenths: float = 0.1,
    chance: np.random.Generator,
    progress: Callable[[int, int], None] | None = None,
) -> Cost:
    """Return what a criterion costs, by simulation through the decision itself.

    `progress` is called with (cases done, cases in all).
    """
    rules = Rules.of(criterion)
    typical = typical_readers(criterion, drift_tenths)
    along = _judged_along(criterion, rules) if criterion.judges else _along(criterion, typical)
    cases = len(typical) + sum(len(shifted) for _, shifted in along)
    outcomes = []
    for name, reader, at_limit in typical:
        outcomes.append(outcome(name, reader, rules, people=people, chance=chance, at_limit=at_limit))
        _tell(progress, len(outcomes), cases)
    curves: dict[str, tuple[tuple[float, float, float], ...]] = {}
    done = len(typical)
    for name, shifted in along:
        points = []
        for share, reader in shifted:
            one = outcome(name, reader, rules, people=max(200, people // 4), chance=chance)
            points.append((share, one.pass_rate, one.mean_readings))
            done += 1
            _tell(progress, done, cases)
        curves[name] = tuple(points)
    return Cost(criterion.name, rules.first_look, rules.most, tuple(outcomes), curves)


Along = list[tuple[str, Sequence[tuple[float, Reader | Judge]]]]


def _judged_along(criterion: Criterion, rules: Rules) -> Along:
    rates = {"false accepts": rules.judgement, "false rejects": rules.rejects}
    return [
        (
            name,
            [
                (s, with_rate(rules, _tolerance(criterion), s * rule.rate, accepts=name == "false accepts"))
                for s in SHIFTED
                if s > 0
            ],
        )
        for name, rule in rates.items()
        if rule is not None
    ]


def _tolerance(criterion: Criterion) -> float:
    assert criterion.tolerance_tenths is not None  # a criterion that judges
    return criterion.tolerance_tenths


def _along(criterion: Criterion, typical: Typical) -> Along:
    good = typical[0][1]
    assert isinstance(good, Reader)
    spread = criterion.spread_tenths
    shares = [share for share in SHIFTED if share * spread >= ROUNDING_TENTHS]
    return [
        ("bias", [(s, replace(good, bias_tenths=s * criterion.bias_tenths)) for s in SHIFTED]),
        ("spread", [(s, replace(good, spread_tenths=s * spread)) for s in shares]),
        ("misreads", [(s, replace(good, misread_rate=s * criterion.misread_rate)) for s in SHIFTED]),
    ]


def _tell(progress: Callable[[int, int], None] | None, done: int, of: int) -> None:
    if progress is not None:
        progress(done, of)
