"""The bench check: estimates on a real instrument, each locked before its reference is known.

A frozen state and one pure function, as for a sitting. The order is the point: zero observations of the
reference, then for every setting of the thimble first the estimate, then the reference, which the state
refuses to take in any other order.
"""

import math
from dataclasses import dataclass, replace
from decimal import Decimal
from statistics import fmean, stdev
from typing import Literal

from trainer.instrument import catalogue, typed
from trainer.instrument.micrometer import MM_PER_UNIT, Micrometer
from trainer.instrument.refusal import Refusal
from trainer.instrument.sentence import said
from trainer.instrument.typed import UnreadableAnswer
from trainer.practice.words import tell

Phase = Literal["zero", "estimate", "reference", "done", "left"]
ReferenceKind = Literal["display", "vernier"]

FARTHEST_ZERO_TENTHS = 100.0  # ten divisions; further off it is no zero
FEWEST_ZEROS = 5  # observations of the zero from which a mean with its uncertainty is taken
DISPLAY_S_PER_KEY = 0.02  # nobody types a figure every 20 ms; a display's button does
OTHER_UNIT_NEAR_TENTHS = 20.0  # so near to the estimate, in the other unit, a reference was read in that
SHORTEST_BURST = 4  # characters; shorter texts say nothing about who typed them


class UnusableReference(Refusal):
    """The description of the reference is not usable; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Reference:
    """What the estimates are compared with.

    `step` is the smallest step that it shows and `accuracy` the half-width of its stated limits of error,
    both in the instrument's unit. A vernier is read on the same instrument, so it needs no zero
    observations of its own.
    """

    kind: ReferenceKind
    step: Decimal
    accuracy: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        if self.kind not in ("display", "vernier"):
            raise UnusableReference(tell("bench-check.kind", kind=self.kind))
        if not self.step > 0:
            raise UnusableReference(tell("bench-check.bad-step", step=self.step))
        if self.accuracy < 0:
            raise UnusableReference(tell("bench-check.bad-accuracy", accuracy=self.accuracy))

    @property
    def decimals(self) -> int:
        """Return how many decimals the reference shows."""
        return max(0, -int(self.step.normalize().as_tuple().exponent))


@dataclass(frozen=True, slots=True)
class Pair:
    """One setting of the thimble: the estimate as locked, then the reference corrected for its zero."""

    number: int
    typed: str
    estimate_tenths: float
    reference_typed: str
    reference_tenths: float
    seconds: float
    at: str


@dataclass(frozen=True, slots=True)
class Entered:
    """A text was entered; `began_at_s` is when its first character came."""

    text: str
    began_at_s: float
    at_s: float
    at: str


@dataclass(frozen=True, slots=True)
class ZeroSet:
    """The person has finished observing the zero."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """The thimble moved before the reference was read; the locked estimate is given up, and that is kept."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Left:
    """The person stops here."""

    at_s: float


Event = Entered | ZeroSet | Withdrawn | Left


@dataclass(frozen=True, slots=True)
class BenchCheck:
    """A bench check as it stands. `zeros_tenths` are the reference's readings at the set zero."""

    instrument: str
    reference: Reference
    wanted: int
    phase: Phase
    zeros_tenths: tuple[float, ...] = ()
    pairs: tuple[Pair, ...] = ()
    withdrawn: int = 0
    estimate: tuple[str, float, float, str] | None = None  # typed, tenths, seconds taken, when
    complaint: str | None = None
    doubted: str | None = None
    since_s: float = 0.0

    @property
    def micrometer(self) -> Micrometer:
        """Return the instrument."""
        return catalogue.load(self.instrument)

    @property
    def zero_tenths(self) -> float:
        """Return the mean of the zero observations, by which the reference is corrected."""
        return fmean(self.zeros_tenths) if self.zeros_tenths else 0.0

    @property
    def zero_u_tenths(self) -> float | None:
        """Return the standard uncertainty of that mean, s/sqrt(n) (JCGM 100:2008, 4.2.3), or None below 2."""
        count = len(self.zeros_tenths)
        return stdev(self.zeros_tenths) / math.sqrt(count) if count > 1 else None


def start(instrument: str, reference: Reference, wanted: int, at_s: float) -> BenchCheck:
    """Return a bench check that begins with the zero, or with the first estimate where a vernier is read."""
    micrometer = catalogue.load(instrument)
    if reference.kind == "vernier" and micrometer.vernier is None:
        raise UnusableReference(tell("bench-check.no-vernier", instrument=instrument))
    if not 1 <= wanted <= 1000:
        raise UnusableReference(tell("bench-check.bad-readings", n=wanted))
    phase: Phase = "zero" if reference.kind == "display" else "estimate"
    return BenchCheck(instrument, reference, wanted, phase, since_s=at_s)


def step(check: BenchCheck, event: Event) -> BenchCheck:
    """Return the bench check after one event; what does not belong in this phase is ignored or refused."""
    match check.phase, event:
        case "zero", Entered():
            return _zero_read(check, event)
        case "zero", ZeroSet(at_s):
            return _zero_set(check, at_s)
        case "estimate", Entered():
            return _estimated(check, event)
        case "reference", Entered():
            return _referred(check, event)
        case "reference", Withdrawn(at_s):
            return replace(
                check,
                phase="estimate",
                estimate=None,
                withdrawn=check.withdrawn + 1,
                complaint=None,
                since_s=at_s,
            )
        case (("zero" | "estimate" | "reference"), Left()):
            return replace(check, phase="left")
    return check


def _zero_read(check: BenchCheck, event: Entered) -> BenchCheck:
    micrometer = check.micrometer
    try:
        value = typed.number(_without_unit(event.text, micrometer))
    except UnreadableAnswer as fault:
        return replace(check, complaint=said(fault))
    tenths = micrometer.position_of(value)  # of a larger range zero is where it begins: 25 mm, 1 in
    if abs(tenths) > FARTHEST_ZERO_TENTHS:
        return replace(check, complaint=_far_words(event.text.strip(), micrometer))
    return replace(check, zeros_tenths=(*check.zeros_tenths, tenths), complaint=None)


def _far_words(text: str, micrometer: Micrometer) -> str:
    """Return what the reference should show at the zero instead, and the remedy."""
    if not micrometer.base:
        return tell("bench-check.far", text=text)
    return tell("bench-check.far.base", text=text, begins=f"{micrometer.low} {micrometer.unit}")


def _zero_set(check: BenchCheck, at_s: float) -> BenchCheck:
    seen = len(check.zeros_tenths)
    if seen < FEWEST_ZEROS:
        return replace(check, complaint=tell("bench-check.zeros", n=seen, fewest=FEWEST_ZEROS))
    return replace(check, phase="estimate", complaint=None, since_s=at_s)


def _estimated(check: BenchCheck, event: Entered) -> BenchCheck:
    """Lock an estimate, unless the text was typed by the display or looks like its value.

    One outside the travel, a slip of the decimal point say, is doubted once, as in a sitting.
    """
    micrometer = check.micrometer
    if typed_by_display(event):
        return replace(check, complaint=tell("bench-check.display"))
    decimals = len(event.text.replace(",", ".").partition(".")[2].strip("\"'″ inchm"))
    if check.reference.decimals > micrometer.decimals and decimals >= check.reference.decimals:
        text, own = event.text.strip(), micrometer.decimals
        return replace(check, complaint=tell("bench-check.decimals", text=text, n=decimals, own=own))
    try:
        tenths = typed.reading(event.text, micrometer)
    except UnreadableAnswer as fault:
        return replace(check, complaint=said(fault))
    if not micrometer.holds(tenths) and check.doubted != event.text:
        outside = tell(
            "bench-check.outside", text=event.text.strip(), low=micrometer.low, high=micrometer.high,
            unit=micrometer.unit, again=tell("bench-check.again"),
        )  # fmt: skip
        return replace(check, complaint=outside, doubted=event.text)
    locked = (event.text, tenths, event.at_s - check.since_s, event.at)
    return replace(check, phase="reference", estimate=locked, complaint=None, doubted=None)


def _referred(check: BenchCheck, event: Entered) -> BenchCheck:
    micrometer = check.micrometer
    assert check.estimate is not None  # phase "reference" has one
    text, estimate_tenths, seconds, at = check.estimate
    try:
        raw_tenths = typed.reading(event.text, micrometer)
    except UnreadableAnswer as fault:
        return replace(check, complaint=said(fault))
    doubt = _doubt(check, event.text, raw_tenths, estimate_tenths)
    if doubt is not None and check.doubted != event.text:
        return replace(check, complaint=doubt, doubted=event.text)
    corrected = raw_tenths - check.zero_tenths
    number = len(check.pairs) + 1
    pair = Pair(number, text, estimate_tenths, event.text, corrected, seconds, at)
    phase: Phase = "done" if number == check.wanted else "estimate"
    return replace(
        check,
        pairs=(*check.pairs, pair),
        phase=phase,
        estimate=None,
        complaint=None,
        doubted=None,
        since_s=event.at_s,
    )


def typed_by_display(event: Entered) -> bool:
    """Return whether the keys came faster than fingers can: a display typed them at a press of its button."""
    characters = len(event.text)
    took_s = event.at_s - event.began_at_s
    return characters >= SHORTEST_BURST and took_s < DISPLAY_S_PER_KEY * characters


def _doubt(check: BenchCheck, text: str, raw_tenths: float, estimate_tenths: float) -> str | None:
    """Return why a reference value is doubted, or None; entering the same value again records it."""
    micrometer, reference = check.micrometer, check.reference
    entered, again = text.strip(), tell("bench-check.again")
    value = micrometer.reading_of(raw_tenths)
    factor = MM_PER_UNIT["in"]
    other = value * factor if micrometer.unit == "mm" else value / factor
    near = abs(micrometer.position_of(other) - estimate_tenths) < OTHER_UNIT_NEAR_TENTHS
    if near and abs(raw_tenths - estimate_tenths) > micrometer.turn_tenths:
        return tell("bench-check.other-unit", text=entered, unit=micrometer.unit, again=again)
    if not micrometer.holds(raw_tenths - check.zero_tenths):
        return tell("bench-check.travel", text=entered, again=again)
    if _off_step(value, reference.step):
        return tell("bench-check.step", text=entered, step=reference.step, again=again)
    shown = len(text.replace(",", ".").partition(".")[2].rstrip("\"'″ inchm"))
    if reference.kind == "display" and shown < reference.decimals - 1:
        return tell("bench-check.digits", text=entered, again=again)
    return None


def _off_step(value: Decimal, step: Decimal) -> bool:
    steps = value / step
    return abs(steps - steps.to_integral_value()) > Decimal("1e-6")


def _without_unit(text: str, micrometer: Micrometer) -> str:
    """Return a zero observation without the instrument's own unit behind it."""
    trimmed = text.strip()
    for unit in (micrometer.unit, '"', "″") if micrometer.unit == "in" else (micrometer.unit,):
        trimmed = trimmed.removesuffix(unit).rstrip()
    return trimmed
