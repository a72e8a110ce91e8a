"""Two people, or one before and after: the difference of their biases and the ratio of their spreads."""

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from trainer.instrument.refusal import Refusal
from trainer.scoring.equivalence import welch
from trainer.scoring.errors import or_none
from trainer.scoring.intervals import FEWEST_FOR_SPREAD, Interval, as_table, t_quantile

if TYPE_CHECKING:
    import pandas as pd

    from trainer.scoring.table import PeopleScores


class UnusablePair(Refusal):
    """There is nothing on one side to compare."""


@dataclass(frozen=True, slots=True)
class Side:
    """What is known of one side; tenths of a division, misreads set apart. None where it is not known.

    `se` is the standard error of the bias with `df` degrees of freedom; `kurtosis` is Bonett's.
    """

    name: str
    used: int
    misreads: int
    bias: float | None
    se: float | None
    df: float | None
    sd: float | None
    kurtosis: float | None
    sessions: int
    session_mean: float | None
    session_sd: float | None


@dataclass(frozen=True, slots=True)
class PairComparison:
    """Second side less, or over, the first; intervals are 95 %.

    `bias_difference_tenths` speaks of these sessions; `across_sessions_tenths` of the people on other days
    too, from session means. `alike_within_tenths` is the smallest limit within which the biases are shown to
    agree (two one-sided tests at 5 %), for these sessions. None where a value cannot be had, with reasons.
    """

    first: Side
    second: Side
    bias_difference_tenths: Interval | None
    p_value: float | None
    alike_within_tenths: float | None
    across_sessions_tenths: Interval | None
    spread_ratio: Interval | None
    reasons: dict[str, str]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return one row a quantity: value, interval and the reason where one is missing."""
        names = ("bias_difference_tenths", "across_sessions_tenths", "spread_ratio")
        return as_table({name: getattr(self, name) for name in names}, self.reasons)


def sides(scores: "PeopleScores") -> list[Side]:
    """Return what is known of each of these people as sides of comparisons."""
    return [_side(scores, row) for row in range(len(scores.names))]


def _side(scores: "PeopleScores", row: int) -> Side:
    c = {name: or_none(column[row]) for name, column in scores.columns.items() if column.ndim == 1}
    se, high, df, bias = None, c["bias_high"], c["bias_df"], c["bias"]
    if high is not None and bias is not None and df:
        se = (high - bias) / float(t_quantile(df))
    return Side(
        name=scores.names[row],
        used=int(c["used"] or 0),
        misreads=int(c["misreads"] or 0),
        bias=bias,
        se=se,
        df=df,
        sd=c["sd"],
        kurtosis=c["kurtosis"],
        sessions=int(c["sessions"] or 0),
        session_mean=c["session_mean"],
        session_sd=c["session_sd"],
    )


def compare(first: Side, second: Side, level: float = 0.95) -> PairComparison:
    """Compare two sides with independent readings. Raises UnusablePair when one has none left."""
    for side in (first, second):
        if side.used == 0:
            raise UnusablePair(
                f"{side.name} has no readings left after misreads; there is nothing to compare"
            )
    reasons: dict[str, str] = {}
    difference, p_value, alike = _difference(first, second, level, reasons)
    return PairComparison(
        first=first,
        second=second,
        bias_difference_tenths=difference,
        p_value=p_value,
        alike_within_tenths=alike,
        across_sessions_tenths=_across(first, second, level, reasons),
        spread_ratio=_ratio(first, second, level, reasons),
        reasons=reasons,
        notes=_notes(first, second),
    )


def _difference(
    first: Side, second: Side, level: float, reasons: dict[str, str]
) -> tuple[Interval | None, float | None, float | None]:
    from scipy.special import stdtr, stdtrit

    value = (second.bias or 0.0) - (first.bias or 0.0)
    for side in (first, second):
        if side.se is None or side.df is None:
            reasons["bias_difference_tenths"] = (
                f"the bias of {side.name} has no interval: too few readings or all alike"
            )
            return Interval(value), None, None
    parts = [((s.se or 0.0) ** 2, s.df or 1.0) for s in (first, second)]
    se, df = welch(parts[0], parts[1])
    half = float(stdtrit(df, 0.5 + level / 2)) * se
    near = float(stdtrit(df, 0.95)) * se
    p_value = float(2 * stdtr(df, -abs(value) / se))
    return Interval(value, value - half, value + half), p_value, abs(value) + near


def _across(first: Side, second: Side, level: float, reasons: dict[str, str]) -> Interval | None:
    from scipy.special import stdtrit

    for side in (first, second):
        if side.sessions < 3 or not side.session_sd:
            reasons["across_sessions_tenths"] = (
                f"{side.name} has {side.sessions} session{'' if side.sessions == 1 else 's'}; "
                "at least 3 that differ are needed to speak of other days"
            )
            return None
    parts = [((s.session_sd or 0.0) ** 2 / s.sessions, s.sessions - 1.0) for s in (first, second)]
    se, df = welch(parts[0], parts[1])
    value = (second.session_mean or 0.0) - (first.session_mean or 0.0)
    half = float(stdtrit(df, 0.5 + level / 2)) * se
    return Interval(value, value - half, value + half)


def _ratio(first: Side, second: Side, level: float, reasons: dict[str, str]) -> Interval | None:
    """Return the ratio of spreads, with an interval on a log scale that does not need normal errors.

    Each side's logarithm of the variance has Bonett's standard error (Comput. Statist. Data Anal. 50 (2006)
    775), from its own kurtosis; the two are independent.
    """
    from scipy.special import ndtri

    if not first.sd or second.sd is None:
        lacking = first if not first.sd else second
        what = "has no spread" if lacking.sd is None else "gave equal errors only"
        reasons["spread_ratio"] = f"{lacking.name} {what}; a ratio needs one"
        return None
    ratio = second.sd / first.sd
    few = min((first, second), key=lambda s: s.used)
    if few.used < FEWEST_FOR_SPREAD or not second.sd:
        reasons["spread_ratio"] = (
            f"{few.name} has {few.used} readings; an interval for a spread needs {FEWEST_FOR_SPREAD}"
            if few.used < FEWEST_FOR_SPREAD
            else f"{second.name} gave equal errors only"
        )
        return Interval(ratio)
    z = float(ndtri(0.5 + level / 2))
    (c1, v1), (c2, v2) = (_log_variance(s, z) for s in (first, second))
    centre, half = 2 * math.log(ratio) + c2 - c1, z * math.sqrt(v1 + v2)
    ends = (math.exp((centre - half) / 2), math.exp((centre + half) / 2))
    return Interval(ratio, min(ends[0], ratio), max(ends[1], ratio))


def _log_variance(side: Side, z: float) -> tuple[float, float]:
    """Return Bonett's small-sample shift of a log variance, and the variance of that logarithm."""
    n = side.used
    shift = n / (n - z)
    spread = max((side.kurtosis or 3.0) - (n - 3) / n, 0.0) / (n - 1)
    return math.log(shift), spread * shift**2


def _notes(first: Side, second: Side) -> tuple[str, ...]:
    notes = []
    for side in (first, second):
        if side.misreads:
            word = "misread is" if side.misreads == 1 else "misreads are"
            notes.append(f"{side.misreads} {word} set apart for {side.name}")
    if min(first.sessions, second.sessions) < 3:
        notes.append("the difference of biases is for these sessions; bias moves from day to day")
    return tuple(notes)
