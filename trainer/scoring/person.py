"""One person's score: frozen values, with None for what cannot be had and the reason beside it."""

from dataclasses import dataclass, field

import pandas as pd

from trainer.scoring.habits import DigitPreference
from trainer.scoring.intervals import FIRM_FROM, Interval


@dataclass(frozen=True, slots=True)
class Misreads:
    """How many readings were gross slips, in all and by kind (`trainer.scoring.misreads.KINDS`)."""

    total: int
    by_kind: dict[str, int]

    def to_dict(self) -> dict[str, object]:
        """Return the values by name, ready for JSON."""
        return {"total": self.total, "by_kind": dict(self.by_kind)}


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviation of the errors, rounding included, in tenths; `df` is its divisor, n - 1."""

    value: float | None
    low: float | None
    high: float | None
    df: float | None

    def to_dict(self) -> dict[str, float | None]:
        """Return the values by name, ready for JSON."""
        return {"value": self.value, "low": self.low, "high": self.high, "df": self.df}


@dataclass(frozen=True, slots=True)
class TenthRow:
    """Mean error where the truth lies in one tenth of the division, with its 95 % interval."""

    tenth: int
    n: int
    bias_tenths: float | None
    low: float | None
    high: float | None

    def to_dict(self) -> dict[str, float | int | None]:
        """Return the values by name, ready for JSON."""
        return {
            "tenth": self.tenth,
            "n": self.n,
            "bias_tenths": self.bias_tenths,
            "low": self.low,
            "high": self.high,
        }


@dataclass(frozen=True, slots=True)
class Drift:
    """Change of the error within a session, in tenths per 100 readings; p-value of no change."""

    slope_tenths_per_100: float | None
    p_value: float | None

    def to_dict(self) -> dict[str, float | None]:
        """Return the values by name, ready for JSON."""
        return {"slope_tenths_per_100": self.slope_tenths_per_100, "p_value": self.p_value}


@dataclass(frozen=True, slots=True)
class ReadingUncertainty:
    """Standard uncertainty of one reading and its degrees of freedom.

    `tenths`: bias left in the readings, sqrt(s2 + b2). `corrected_tenths`: bias taken off, s sqrt(1 + 1/n).
    `um`: the first in micrometres, where the instrument is known. Resolution is inside; add none.
    """

    tenths: float | None
    df: float | None
    corrected_tenths: float | None = None
    corrected_df: float | None = None
    um: float | None = None

    def to_dict(self) -> dict[str, float | None]:
        """Return the values by name, ready for JSON."""
        return {
            "tenths": self.tenths,
            "df": self.df,
            "corrected_tenths": self.corrected_tenths,
            "corrected_df": self.corrected_df,
            "um": self.um,
        }


@dataclass(frozen=True, slots=True)
class SessionBias:
    """Long-run bias: mean of the session means, with Student's interval over sessions (needs two)."""

    sessions: int
    mean: Interval
    between_sd_tenths: float | None = None

    def to_dict(self) -> dict[str, object]:
        """Return the values by name, ready for JSON."""
        return {
            "sessions": self.sessions,
            **self.mean.to_dict(),
            "between_sd_tenths": self.between_sd_tenths,
        }


@dataclass(frozen=True, slots=True)
class SquareSplit:
    """The mean square error as four parts that add up to it, in tenths squared."""

    bias: float | None
    profile: float | None
    rounding: float | None
    random: float | None

    def to_dict(self) -> dict[str, float | None]:
        """Return the values by name, ready for JSON."""
        return {
            "bias": self.bias,
            "profile": self.profile,
            "rounding": self.rounding,
            "random": self.random,
        }


@dataclass(frozen=True, slots=True)
class ToleranceLimits:
    """Limits that hold 95 % of this person's errors at 95 % confidence.

    `method`: "order statistics", for errors of any distribution (93 readings or more), else "Howe", for
    normal errors, with its `factor`.
    """

    low: float | None
    high: float | None
    factor: float | None

    @property
    def method(self) -> str | None:
        """Return how the limits were found, None where there are none."""
        if self.low is None:
            return None
        return "order statistics" if self.factor is None else "Howe"

    def to_dict(self) -> dict[str, object]:
        """Return the values by name, ready for JSON."""
        return {"low": self.low, "high": self.high, "factor": self.factor, "method": self.method}


@dataclass(frozen=True, slots=True)
class PersonScore:
    """Everything that is computed of one person's readings (on one instrument).

    `readings` counts answers given; `used` those that are not misreads; `skipped` and `timed_out` had no
    answer; `unusable` had no finite truth or answer; `repeated` rows repeat another one exactly.
    `spread_with_misreads_tenths` is the spread if misreads were not set apart; `noise_tenths` the spread
    without rounding, for training only (never beside the spread in a budget). `cautions` are sentences on
    what the figures may hide, `reasons` says of every None why, by field name.
    """

    person: str
    readings: int
    used: int
    misreads: Misreads
    misread_rate: Interval
    bias_tenths: Interval
    spread_tenths: Spread
    rms_tenths: float | None
    within_one_tenth: Interval
    digit_preference: DigitPreference
    profile: tuple[TenthRow, ...]
    drift: Drift
    u_reading: ReadingUncertainty
    rms_interval: Interval
    bias_over_sessions: SessionBias
    mean_square_split: SquareSplit
    tolerance_limits: ToleranceLimits
    noise_tenths: Interval = field(default_factory=lambda: Interval(None))
    spread_with_misreads_tenths: float | None = None
    instrument: str | None = None
    skipped: int = 0
    timed_out: int = 0
    unusable: int = 0
    repeated: int = 0
    reasons: dict[str, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()

    @property
    def provisional(self) -> bool:
        """Return whether the readings are too few for firm figures."""
        return self.used < FIRM_FROM

    @property
    def one_session(self) -> bool:
        """Return whether the bias is that of one session only."""
        return self.bias_over_sessions.sessions < 2

    def summary(self) -> pd.DataFrame:
        """Return one row a quantity with its value and interval; NaN for what cannot be had."""
        rows = (
            ("misread rate", self.misread_rate),
            ("bias, tenths", self.bias_tenths),
            ("bias over sessions, tenths", self.bias_over_sessions.mean),
            ("spread, tenths", self.spread_tenths),
            ("root mean square, tenths", self.rms_interval),
            ("within one tenth", self.within_one_tenth),
            ("u_reading, tenths", Interval(self.u_reading.tenths)),
        )
        frame = pd.DataFrame([(name, x.value, x.low, x.high) for name, x in rows])
        frame.columns = pd.Index(["quantity", "value", "low", "high"])
        return frame.astype({"value": float, "low": float, "high": float})

    def to_dict(self) -> dict[str, object]:
        """Return the person's entry of the `score --json` contract, with plain numbers and None."""
        return {
            "person": self.person,
            "instrument": self.instrument,
            "readings": self.readings,
            "used": self.used,
            "misreads": self.misreads.to_dict(),
            "misread_rate": self.misread_rate.to_dict(),
            "bias_tenths": self.bias_tenths.to_dict(),
            "spread_tenths": self.spread_tenths.to_dict(),
            "rms_tenths": self.rms_tenths,
            "within_one_tenth": self.within_one_tenth.to_dict(),
            "digit_preference": self.digit_preference.to_dict(),
            "profile": [row.to_dict() for row in self.profile],
            "drift": self.drift.to_dict(),
            "u_reading": self.u_reading.to_dict(),
            "noise_tenths": self.noise_tenths.to_dict(),
            "spread_with_misreads_tenths": self.spread_with_misreads_tenths,
            "rms_interval": self.rms_interval.to_dict(),
            "bias_over_sessions": self.bias_over_sessions.to_dict(),
            "mean_square_split": self.mean_square_split.to_dict(),
            "tolerance_limits": self.tolerance_limits.to_dict(),
            "provisional": self.provisional,
            "skipped": self.skipped,
            "timed_out": self.timed_out,
            "unusable": self.unusable,
            "repeated": self.repeated,
            "reasons": dict(self.reasons),
            "cautions": list(self.cautions),
        }
