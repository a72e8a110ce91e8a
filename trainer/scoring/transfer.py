"""Screen against bench: does what pictures say of a person hold on a real instrument?

For reports: `compare(screen, bench, reference)` takes two tables of answers and gives a `Transfer`, whose
`sentences()` are ready to be printed; `of_sides` does the same from what is known of both sides. The shell
finds both tables of a person in an archive by `trainer.commands.transfer.found(archive, person, ...)`.

Both differences are bench less (or over) screen. The bench spread has the reference's resolution taken out;
the reference's zero and accuracy are common to all bench readings and widen the interval of the bias.
"""

import math
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from trainer.scoring.intervals import (
    CONFIDENCE,
    FEWEST_FOR_SPREAD,
    Interval,
    as_table,
    bonett,
    normal_quantile,
)
from trainer.scoring.pairs import Side, UnusablePair, sides
from trainer.scoring.pairs import compare as compare_sides
from trainer.scoring.reference import ReferenceUncertainty, without

if TYPE_CHECKING:
    import pandas as pd

NO_ACCURACY = "no accuracy of the reference was given; a difference may be the reference's own"


@dataclass(frozen=True, slots=True)
class Transfer:
    """One person on the screen and on the bench, on one instrument; tenths of a division, 95 % intervals.

    `bias_difference_tenths` is bench less screen, for these sessions, with its two-sided `p_value`;
    `alike_within_tenths` is the smallest limit within which both biases are shown to agree (two one-sided
    tests at 5 %). `across_sessions_tenths` speaks of other days too. `spread_ratio` is bench over screen,
    the reference's part taken out. None where a value cannot be had, `reasons` says why by field name.
    """

    person: str
    instrument: str | None
    screen: Side
    bench: Side
    observed_bench_sd: float | None
    reference: ReferenceUncertainty
    bias_difference_tenths: Interval | None
    p_value: float | None
    alike_within_tenths: float | None
    across_sessions_tenths: Interval | None
    spread_ratio: Interval | None
    reasons: dict[str, str]
    notes: tuple[str, ...]

    @property
    def bias_differs(self) -> bool | None:
        """Whether a difference of biases is shown; None where there is no interval."""
        return _apart(self.bias_difference_tenths, 0.0)

    @property
    def spread_differs(self) -> bool | None:
        """Whether a difference of spreads is shown; None where there is no interval."""
        return _apart(self.spread_ratio, 1.0)

    def sentences(self) -> tuple[str, ...]:
        """Return what was found, a sentence for the bias and one for the spread."""
        return (self._bias_sentence(), self._spread_sentence())

    def _bias_sentence(self) -> str:
        found = self.bias_difference_tenths
        if found is None or found.value is None:
            return f"how {self.person} reads on the bench is not known: {self._why('bias')}"
        told = f"{abs(found.value):.2f} tenths {'higher' if found.value >= 0 else 'lower'} than on the screen"
        if found.low is None or found.high is None:
            return f"on the bench {self.person} reads {told}, without an interval: {self._why('bias')}"
        ends = f" (95 %: {_short(found.low)} to {_short(found.high)})"
        return f"on the bench {self.person} reads {told}{ends}: {_verdict(self.bias_differs)}"

    def _spread_sentence(self) -> str:
        found = self.spread_ratio
        if found is None or found.value is None:
            return f"the spreads cannot be compared: {self._why('spread')}"
        told = f"the spread on the bench is {found.value:.2f} times that on the screen"
        if found.low is None or found.high is None:
            return f"{told}, without an interval: {self._why('spread')}"
        return f"{told} (95 %: {found.low:.2f} to {found.high:.2f}): {_verdict(self.spread_differs)}"

    def _why(self, what: str) -> str:
        return self.reasons.get({"bias": "bias_difference_tenths", "spread": "spread_ratio"}[what], "")

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        found = asdict(self)
        return found | {
            "bias_differs": self.bias_differs,
            "spread_differs": self.spread_differs,
            "reference_u_tenths": self.reference.u_tenths,
            "sentences": list(self.sentences()),
            "notes": list(self.notes),
        }

    def summary(self) -> "pd.DataFrame":
        """Return one row a quantity: value, interval and the reason where one is missing."""
        names = ("bias_difference_tenths", "across_sessions_tenths", "spread_ratio")
        return as_table({name: getattr(self, name) for name in names}, self.reasons)


def compare(
    screen: "pd.DataFrame",
    bench: "pd.DataFrame",
    reference: ReferenceUncertainty,
    *,
    instrument: str | None = None,
) -> Transfer:
    """Compare one person's answers on the screen with theirs on the bench (columns as for `score_people`).

    Raises UnusablePair where one side has no readings left, or where they are by several people.
    """
    first, second = (_of_one(answers, instrument) for answers in (screen, bench))
    return of_sides(first, second, reference, instrument=instrument)


def _of_one(answers: "pd.DataFrame", instrument: str | None) -> Side:
    from trainer.scoring.table import score_people

    scores = score_people(answers, instrument=instrument)
    if len(scores.names) != 1:
        raise UnusablePair(f"the answers are by {len(scores.names)} people; choose those of one")
    return sides(scores)[0]


def of_sides(
    screen: Side, bench: Side, reference: ReferenceUncertainty, *, instrument: str | None = None
) -> Transfer:
    """Compare two sides of one person; `bench` as observed, the reference's part still in it."""
    for side, where in ((screen, "screen"), (bench, "bench")):
        if side.used == 0:
            raise UnusablePair(f"{side.name} has no {where} readings left after misreads; take some first")
    person = bench.name
    first = replace(screen, name=f"{person} on the screen")
    second = _widened(replace(bench, name=f"{person} on the bench"), reference)
    pair = compare_sides(first, second)
    reasons = {name: why for name, why in pair.reasons.items() if name != "spread_ratio"}
    notes = [*pair.notes, *([NO_ACCURACY] if reference.accuracy_tenths == 0 else [])]
    return Transfer(
        person=person,
        instrument=instrument,
        screen=first,
        bench=second,
        observed_bench_sd=bench.sd,
        reference=reference,
        bias_difference_tenths=pair.bias_difference_tenths,
        p_value=pair.p_value,
        alike_within_tenths=pair.alike_within_tenths,
        across_sessions_tenths=_across_widened(pair.across_sessions_tenths, reference),
        spread_ratio=_spread_ratio(first, replace(bench, name=second.name), reference, reasons),
        reasons=reasons,
        notes=tuple(notes),
    )


def _widened(bench: Side, reference: ReferenceUncertainty) -> Side:
    """Return the bench side with the reference's common part in its standard error, resolution taken out.

    The degrees of freedom are Welch and Satterthwaite's (JCGM 100:2008, G.4.1).
    """
    own = without(Interval(bench.sd), reference.resolution_u_tenths).value
    if bench.se is None or bench.df is None:
        return replace(bench, sd=own)
    se, df = reference.widened(bench.se, bench.df)
    return replace(bench, sd=own, se=se, df=min(df, 1e9))


def _across_widened(found: Interval | None, reference: ReferenceUncertainty) -> Interval | None:
    """Return the difference over days with the reference's accuracy, which no number of days averages out."""
    if found is None or found.value is None or found.low is None or found.high is None:
        return found
    shared = normal_quantile(CONFIDENCE) * reference.accuracy_u_tenths
    half = math.hypot(found.high - found.value, shared)
    return Interval(found.value, found.value - half, found.value + half)


def _spread_ratio(
    screen: Side, bench: Side, reference: ReferenceUncertainty, reasons: dict[str, str]
) -> Interval | None:
    """Return bench over screen, the reference's resolution taken out of the bench.

    Each spread has Bonett's interval; the ends of the bench's have the resolution taken out too. Both are
    joined on a log scale by the distances of their ends from their values, squared and added (Zou and
    Donner, Statist. Med. 27 (2008) 1693), which keeps the lopsidedness that taking a part out brings.
    """
    for side in (screen, bench):
        if not side.sd:
            what = "has no spread" if side.sd is None else "gave equal errors only"
            reasons["spread_ratio"] = f"{side.name} {what}; a ratio needs one"
            return None
    ends = {side.name: _with_ends(side) for side in (screen, bench)}
    below, above = ends[screen.name], without(ends[bench.name], reference.resolution_u_tenths)
    ratio = (above.value or 0.0) / (below.value or math.nan)
    few = min((screen, bench), key=lambda s: s.used)
    if few.used < FEWEST_FOR_SPREAD:
        reasons["spread_ratio"] = (
            f"{few.name} has {few.used} readings; an interval for a spread needs {FEWEST_FOR_SPREAD}"
        )
        return Interval(ratio)
    if not above.value:
        top = None if above.high is None or below.low is None else above.high / below.low
        reasons["spread_ratio"] = "the scatter on the bench is no larger than the reference's step makes it"
        return Interval(0.0, 0.0, top)
    down = math.hypot(_log(above.value, above.low), _log(below.high, below.value))
    up = math.hypot(_log(above.high, above.value), _log(below.value, below.low))
    return Interval(ratio, ratio * math.exp(-down), ratio * math.exp(up))


def _with_ends(side: Side) -> Interval:
    low, high = bonett(side.sd or 0.0, side.kurtosis or 3.0, side.used)
    return Interval(side.sd, float(low), float(high))


def _log(upper: float | None, lower: float | None) -> float:
    """Return the distance of two spreads on a log scale, infinite from nought; never below 0."""
    if not lower:
        return math.inf
    return max(math.log((upper or lower) / lower), 0.0)


def _apart(found: Interval | None, nought: float) -> bool | None:
    if found is None or found.low is None or found.high is None:
        return None
    return not found.low <= nought <= found.high


def _short(value: float) -> str:
    """Return an end of an interval with two decimals, nought without a sign."""
    text = f"{value:.2f}"
    return text.lstrip("-") if float(text) == 0 else text


def _verdict(differs: bool | None) -> str:
    return "a difference is shown" if differs else "no difference shown"
