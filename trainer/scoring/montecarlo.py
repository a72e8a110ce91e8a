"""Propagation of distributions by chance (JCGM 101:2008), run until its figures stand still.

Chance comes in as a numpy Generator, so a run can be repeated exactly.
"""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from trainer.instrument.refusal import Refusal
from trainer.scoring.budget import Budget
from trainer.scoring.propagation import BudgetResult
from trainer.scoring.uncertainty import coverage_factor

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]
MOST_TRIALS = 5_000_000  # 40 MB of results
BINS = 120
# JCGM 101, 7.9.4, lets two blocks that happen to agree end a run; ten cannot agree by chance so easily.
FEWEST_BLOCKS = 10
CERTAIN = 0.9995  # how sure an unsteady run must be of a disagreement
STABLE_SHARE = 5  # for a comparison the run must stand still to a fifth of the tolerance: JCGM 101, 8.2


class UnusableMonteCarlo(Refusal):
    """The budget cannot be propagated by chance."""


@dataclass(frozen=True, slots=True)
class MonteCarlo:
    """Distribution of the measurand: estimate, standard uncertainty, two coverage intervals.

    `low` and `high` leave equal chances on both sides; `shortest` is the shortest such interval. `settled`
    says whether the run stood still as asked; `stable_to` is twice the standard deviation of the least steady
    figure. `u` is None where an input has no standard deviation. `bins` and `density` draw the histogram.
    """

    trials: int
    blocks: int
    estimate: float
    u: float | None
    low: float
    high: float
    shortest: tuple[float, float]
    probability: float
    digits: int
    stable_to: float | None
    settled: bool
    bins: tuple[float, ...]
    density: tuple[float, ...]
    reasons: dict[str, str]

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row, without the histogram."""
        import pandas as pd

        kept = {k: v for k, v in asdict(self).items() if k not in ("bins", "density")}
        return pd.DataFrame([kept], dtype=object)


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether the GUM interval agrees with the Monte Carlo one to a tolerance (JCGM 101, 8.1)."""

    tolerance: float
    apart_low: float
    apart_high: float
    agrees: bool | None
    sentence: str

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        return pd.DataFrame([asdict(self)], dtype=object)


def numerical_tolerance(u: float, digits: int = 2) -> float:
    """Return half a unit of the last of the significant digits of u (JCGM 101, 7.9.2).

    >>> numerical_tolerance(0.00035, 2)
    5e-06
    """
    if not 0 < u < math.inf:
        raise UnusableMonteCarlo(f"the standard uncertainty is {u}; a tolerance needs one above 0")
    if digits < 1:
        raise UnusableMonteCarlo(f"{digits} significant digits asked for; at least 1 is needed")
    rounded = f"{u:.{digits - 1}e}"
    return float(f"5e{int(rounded.split('e')[1]) - digits}")


def run(
    budget: Budget,
    rng: np.random.Generator,
    *,
    digits: int = 2,
    most_trials: int = MOST_TRIALS,
    share: int = 1,
) -> MonteCarlo:
    """Draw blocks of trials until the figures stand still (JCGM 101, 7.9), or `most_trials` are spent.

    Standing still: twice the standard deviation of the mean over blocks of estimate, u and both ends is
    below the tolerance of `digits` significant digits of u, divided by `share`. Raises UnusableMonteCarlo
    when correlated inputs are not normal or the model has no value somewhere.
    """
    draw = _drawer(budget)
    block = min(max(10_000, math.ceil(100 / (1 - budget.probability))), most_trials // 2)
    if block < 2:
        raise UnusableMonteCarlo(f"{most_trials} trials are too few to show a spread; allow at least 4")
    values: list[Floats] = []
    figures: list[Floats] = []
    stable_to, settled = None, False
    while len(values) < 2 or (not settled and (len(values) + 1) * block <= most_trials):
        drawn = _model(budget, draw(block, rng), block)
        values.append(drawn)
        figures.append(_figures(drawn, budget.probability))
        if len(values) > 1:
            stable_to, settled = _stands_still(figures, values, digits, share)
    return _result(budget, values, digits, stable_to, settled)


def compare(result: BudgetResult, chance: MonteCarlo, *, digits: int | None = None) -> Agreement:
    """Say whether the GUM interval agrees with the Monte Carlo one (JCGM 101, 8.1).

    The answer is None, not a yes or no, when the run has not stood still to a fifth of the tolerance.
    """
    tolerance = numerical_tolerance(chance.u or result.u, digits or chance.digits)
    low, high = abs(result.low - chance.low), abs(result.high - chance.high)
    steady = chance.stable_to if chance.stable_to is not None else math.inf
    agrees: bool | None = max(low, high) <= tolerance
    if not (chance.settled and steady <= tolerance / STABLE_SHARE):
        # an unsteady run still decides when the ends are farther apart than its unsteadiness could explain
        doubt = steady / 2 * coverage_factor(2 * CERTAIN - 1, chance.blocks - 1)
        agrees = False if max(low, high) - doubt > tolerance else None
    how = f"ends differ by {low:.2g} and {high:.2g}, tolerance {tolerance:.2g} {result.unit}".rstrip()
    if agrees is None:
        sentence = f"Not decided: the Monte Carlo run is not steady enough ({how}); allow more trials."
    elif agrees:
        sentence = f"The GUM interval agrees with the Monte Carlo one ({how})."
    else:
        sentence = (
            f"The GUM interval does not agree with the Monte Carlo one ({how}); use the Monte Carlo interval."
        )
    return Agreement(tolerance, low, high, agrees, sentence)


def validate(
    budget: Budget,
    result: BudgetResult,
    rng: np.random.Generator,
    *,
    digits: int = 1,
    most_trials: int = MOST_TRIALS,
) -> tuple[MonteCarlo, Agreement]:
    """Run until steady to a fifth of the tolerance, then compare (JCGM 101, 8.2)."""
    chance = run(budget, rng, digits=digits, most_trials=most_trials, share=STABLE_SHARE)
    return chance, compare(result, chance, digits=digits)


def _drawer(budget: Budget) -> Any:
    """Return a function (count, rng) -> values by name."""
    together = budget.correlated()
    for i in together:
        if budget.inputs[i].distribution not in ("normal", "constant"):
            raise UnusableMonteCarlo(
                f"input {budget.inputs[i].name} is correlated but not normal; JCGM 101 draws correlated "
                "inputs from a normal distribution only, so make it normal or leave the correlation out"
            )
    index = list(together)
    values, vectors = np.linalg.eigh(budget.correlation[np.ix_(index, index)])
    root = vectors * np.sqrt(np.maximum(values, 0.0))

    def draw(count: int, rng: np.random.Generator) -> dict[str, Floats]:
        drawn = {c.name: c.draw(count, rng) for i, c in enumerate(budget.inputs) if i not in together}
        if index:
            normal = root @ rng.standard_normal((len(index), count))
            for row, i in enumerate(index):
                c = budget.inputs[i]
                drawn[c.name] = c.value + c.u * normal[row]
        return drawn

    return draw


def _model(budget: Budget, drawn: Mapping[str, Floats], count: int) -> Floats:
    try:
        with np.errstate(all="ignore"):
            values = np.broadcast_to(np.asarray(budget(drawn), dtype=np.float64), (count,)).copy()
    except (ValueError, ZeroDivisionError, OverflowError) as trouble:
        raise UnusableMonteCarlo(f"the model has no value ({trouble}); change the formula") from None
    bad = int((~np.isfinite(values)).sum())
    if bad:
        raise UnusableMonteCarlo(
            f"the model has no value for {bad} of {count} drawn trials (a root of a negative number or a "
            "division by zero, say); narrow the inputs or change the formula"
        )
    return values


def _figures(drawn: Floats, probability: float) -> Floats:
    """Return what must stand still: mean, standard deviation and both ends of a block."""
    with np.errstate(all="ignore"):
        figures = np.array([drawn.mean(), drawn.std(ddof=1), *_symmetric(np.sort(drawn), probability)])
    # a square that would be over or under the range of doubles gives no standard deviation to trust
    tiny = figures[1] == 0 and drawn.min() < drawn.max()
    if tiny or not np.isfinite(figures).all():
        raise UnusableMonteCarlo("the values are too large or too small to compute with; choose another unit")
    return figures


def _symmetric(ordered: Floats, probability: float) -> tuple[float, float]:
    """Return the ends that leave equal chances on both sides (JCGM 101, 7.7.1)."""
    count = len(ordered)
    inside = min(round(probability * count), count - 1)
    start = (count - inside) // 2
    return float(ordered[start]), float(ordered[min(start + inside, count - 1)])


def _shortest(ordered: Floats, probability: float) -> tuple[float, float]:
    """Return the shortest interval holding the probability (JCGM 101, 7.7.4)."""
    inside = min(round(probability * len(ordered)), len(ordered) - 1)
    start = int(np.argmin(ordered[inside:] - ordered[: len(ordered) - inside]))
    return float(ordered[start]), float(ordered[start + inside])


def _stands_still(
    figures: list[Floats], values: list[Floats], digits: int, share: int
) -> tuple[float | None, bool]:
    blocks = np.array(figures)
    u = float(np.sqrt((blocks[:, 1] ** 2).mean()))
    steady = float(2 * blocks.std(axis=0, ddof=1).max() / math.sqrt(len(values)))
    if u == 0:
        return steady, True
    return steady, len(values) >= FEWEST_BLOCKS and steady <= numerical_tolerance(u, digits) / share


def _result(
    budget: Budget, values: list[Floats], digits: int, stable_to: float | None, settled: bool
) -> MonteCarlo:
    ordered = np.sort(np.concatenate(values))
    reasons = {}
    u: float | None = float(ordered.std(ddof=1))
    wide = [c.name for c in budget.inputs if c.distribution == "t" and (c.df or 1.0) <= 2 and c.u > 0]
    if wide:
        u, reasons["u"] = None, f"{wide[0]} has 2 degrees of freedom or fewer, so no standard deviation"
    if not settled:
        reasons["settled"] = (
            f"{len(ordered)} trials are not enough for {digits} steady significant digits of u"
        )
    low, high = _symmetric(ordered, budget.probability)
    # the drawn range without its rarest thousandth: one wild trial must not flatten the picture
    edge = max(1, len(ordered) // 2000)
    span = (float(ordered[edge]), float(ordered[-edge - 1]))
    if span[0] < span[1]:
        counts, bins = np.histogram(ordered, BINS, range=span)
        density = counts / (len(ordered) * (bins[1] - bins[0]))
    else:
        bins, density = np.array([]), np.array([])
    return MonteCarlo(
        trials=len(ordered),
        blocks=len(values),
        estimate=float(ordered.mean()),
        u=u,
        low=low,
        high=high,
        shortest=_shortest(ordered, budget.probability),
        probability=budget.probability,
        digits=digits,
        stable_to=stable_to,
        settled=settled,
        bins=tuple(bins.tolist()),
        density=tuple(density.tolist()),
        reasons=reasons,
    )
