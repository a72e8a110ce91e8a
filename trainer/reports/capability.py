"""May a reader verify a tolerance with an instrument? Ratios, risks, guard bands, averaging (JCGM 106).

Lengths are micrometres; a tolerance is the half-width of limits on both sides of zero.
"""

import math
from dataclasses import asdict, dataclass
from typing import Any, Literal

import numpy as np

from trainer.reports.quote import Quote
from trainer.scoring.conformity import (
    Risks,
    Tolerance,
    UnusableTolerance,
    averaged,
    capability_index,
    global_risks,
    guard_band,
    guard_band_for,
    test_uncertainty_ratio,
)
from trainer.scoring.errors import Floats
from trainer.scoring.uncertainty import coverage_factor

Answer = Literal["yes", "with a guard band", "with averaging", "no"]
MOST_AVERAGED = 100  # nobody averages more readings of one position
CURVE_POINTS = 49
LEAST_RATIO = 1.0  # tolerance over expanded uncertainty


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading's error as parts, in micrometres.

    `chance` falls when readings of one position are averaged; `remaining` (place in the division, rounding,
    differences between people) and `other` (gauge blocks, temperature ...) do not; `bias` is a constant left
    in. `high_factor` is the upper end of the spread's interval over the spread, or None.
    """

    bias: float
    chance: float
    remaining: float
    other: float = 0.0
    df: float | None = None
    high_factor: float | None = None

    def u(self, readings: int = 1) -> float:
        """Return the standard uncertainty about the bias of a mean of readings."""
        return math.hypot(averaged(self.chance, self.remaining, readings), self.other)

    def at_high_end(self) -> "Reading | None":
        """Return the reading with its spread at the upper end of its interval, or None."""
        if self.high_factor is None:
            return None
        factor = self.high_factor
        return Reading(self.bias, self.chance * factor, self.remaining * factor, self.other, self.df)


@dataclass(frozen=True, slots=True)
class Averaging:
    """Ratio and risks with the mean of so many readings of one position."""

    readings: int
    u_um: float
    ratio: float
    false_accept: float
    false_reject: float


@dataclass(frozen=True, slots=True)
class Demand:
    """What is asked of a verification.

    `items_mean_um` and `items_sd_um` tell how the errors of the items spread; `false_accept` and
    `false_reject` are the largest chances allowed, among all items. An expanded uncertainty above the
    tolerance is never good enough, whatever the risks: they rest on what is presumed of the items, and then
    the presumption decides and not the measurement.
    """

    tolerance_um: float
    items_sd_um: float
    items_mean_um: float = 0.0
    false_accept: float = 0.02
    false_reject: float = 0.10

    def __post_init__(self) -> None:
        for name in ("false_accept", "false_reject"):
            if not 0 < getattr(self, name) < 1:
                raise UnusableTolerance(
                    f"the {name.replace('_', ' ')} risk is {getattr(self, name)}; give 0 to 1"
                )
        if not 0 < self.tolerance_um < math.inf:
            raise UnusableTolerance(f"the tolerance is {self.tolerance_um}; it must be above 0")

    @property
    def limits(self) -> Tolerance:
        """The limits on both sides of zero."""
        return Tolerance(-self.tolerance_um, self.tolerance_um)

    def risks(self, u: float, bias: float, guard: float = 0.0) -> Risks:
        """Return the risks of verifying with that uncertainty, bias and guard band."""
        return global_risks(self.items_mean_um, self.items_sd_um, u, self.limits, guard, bias)

    def met(self, ratio: float, risks: Risks) -> bool:
        """Return whether ratio and risks are good enough."""
        few = risks.false_accept <= self.false_accept and risks.false_reject <= self.false_reject
        return few and ratio >= LEAST_RATIO


@dataclass(frozen=True, slots=True)
class Capability:
    """The answer, with everything it rests on; lengths in micrometres, risks as shares of all items.

    `missed` is the share of the items out of tolerance that are accepted. `guard_needed_um` keeps the false
    accept risk over all items; `guard_specific_um` keeps the chance for any one accepted item, whatever the
    items are (JCGM 106, 8.3.2). None where there is none within the tolerance.
    """

    demand: Demand
    readings: int
    guard_um: float
    reading: Reading
    u_um: float
    expanded_um: float
    k: float
    ratio: float
    index: float
    risks: Risks
    missed: float | None
    risks_high: Risks | None
    guard_needed_um: float | None
    guard_specific_um: float | None
    risks_guarded: Risks | None
    readings_needed: int | None
    averaging: tuple[Averaging, ...]
    answer: Answer

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)


def reading_of(quote: Quote, *, corrected: bool = False, other_um: float = 0.0) -> Reading:
    """Return a quote's reading as parts; raises UnusableTolerance where a tenth's length is not known."""
    um = quote.um_per_tenth
    u = (quote.u_corrected if corrected else quote.u).tenths
    spread, bias = quote.spread.tenths, quote.bias.tenths or 0.0
    if um is None or u is None or spread is None:
        raise UnusableTolerance("the length of a tenth is not known; name an instrument of the catalogue")
    chance = spread * math.sqrt(quote.random_share or 0.0)
    constant = 0.0 if corrected else bias
    remaining = math.sqrt(max(u**2 - constant**2 - chance**2, 0.0))
    high = quote.spread.high / spread if quote.spread.high is not None and spread > 0 else None
    df = (quote.u_corrected if corrected else quote.u).df
    return Reading(constant * um, chance * um, remaining * um, other_um, df, high)


def items_sd(tolerance_um: float, conforming: float) -> float:
    """Return the spread of items of which that share lies within the tolerance, if normal about zero.

    >>> round(items_sd(1.96, 0.95), 3)
    1.0
    """
    from scipy.special import ndtri

    if not 0 < conforming < 1:
        raise UnusableTolerance(f"the share that conforms is {conforming}; give one between 0 and 1")
    return tolerance_um / float(ndtri(0.5 + conforming / 2))


def assess(reading: Reading, demand: Demand, *, readings: int = 1, guard_um: float = 0.0) -> Capability:
    """Return whether the demand is met by a mean of readings, and what would help where it is not.

    Raises UnusableTolerance for numbers that make no question.
    """
    if readings < 1:
        raise UnusableTolerance(f"{readings} readings asked for; at least 1 is needed")
    u, bias = reading.u(readings), reading.bias
    k = coverage_factor(0.95, reading.df)
    whole = math.hypot(u, bias)
    ratio = test_uncertainty_ratio(demand.limits, k * whole)
    plain = demand.risks(u, bias, guard_um)
    high = reading.at_high_end()
    needed = _guard(demand, u, bias)
    guarded = None if needed is None else demand.risks(u, bias, needed)
    averaging = [_averaged(reading, demand, count, guard_um) for count in COUNTS]
    enough = next((a.readings for a in averaging if _met(demand, a)), None)
    specific = guard_band(u, demand.false_accept) + abs(bias)
    outside = 1 - plain.conforming
    return Capability(
        demand=demand,
        readings=readings,
        guard_um=guard_um,
        reading=reading,
        u_um=u,
        expanded_um=k * whole,
        k=k,
        ratio=ratio,
        index=capability_index(demand.limits, whole),
        risks=plain,
        missed=plain.false_accept / outside if outside > 0 else None,
        risks_high=None if high is None else demand.risks(high.u(readings), bias, guard_um),
        guard_needed_um=needed,
        guard_specific_um=specific if specific < demand.tolerance_um else None,
        risks_guarded=guarded,
        readings_needed=enough,
        averaging=tuple(a for a in averaging if a.readings in (*SHOWN, enough)),
        answer=_answer(demand, ratio, plain, enough, guarded),
    )


COUNTS = (*range(1, 21), 25, 30, 40, 50, 75, MOST_AVERAGED)
SHOWN = (1, 2, 3, 5, 10, 20, MOST_AVERAGED)


def _answer(demand: Demand, ratio: float, plain: Risks, enough: int | None, guarded: Risks | None) -> Answer:
    if demand.met(ratio, plain):
        return "yes"
    if enough is not None:
        return "with averaging"
    return "with a guard band" if guarded is not None and demand.met(ratio, guarded) else "no"


def _guard(demand: Demand, u: float, bias: float) -> float | None:
    items = demand.items_mean_um, demand.items_sd_um
    try:
        return guard_band_for(demand.false_accept, *items, u, demand.limits, bias)
    except UnusableTolerance:
        return None


def _averaged(reading: Reading, demand: Demand, count: int, guard: float) -> Averaging:
    u = reading.u(count)
    whole = coverage_factor(0.95, reading.df) * math.hypot(u, reading.bias)
    risks = demand.risks(u, reading.bias, guard)
    ratio = test_uncertainty_ratio(demand.limits, whole)
    return Averaging(count, u, ratio, risks.false_accept, risks.false_reject)


def _met(demand: Demand, one: Averaging) -> bool:
    few = one.false_accept <= demand.false_accept and one.false_reject <= demand.false_reject
    return few and one.ratio >= LEAST_RATIO


def risk_curves(capability: Capability) -> tuple[Floats, Floats, Floats]:
    """Return tolerances and, at each, the chances of false accept and false reject (shape (points,)).

    The items' spread grows with the tolerance, so that the same share of them conforms.
    """
    demand, reading = capability.demand, capability.reading
    reach = np.linspace(0.4, 2.5, CURVE_POINTS) * demand.tolerance_um
    share = demand.items_sd_um / demand.tolerance_um
    u = reading.u(capability.readings)
    risks = [
        global_risks(demand.items_mean_um, share * t, u, Tolerance(-t, t), 0.0, reading.bias)
        for t in reach.tolist()
    ]
    accept, reject = ([getattr(r, name) for r in risks] for name in ("false_accept", "false_reject"))
    return reach, np.array(accept), np.array(reject)
