"""The quote: what a reading by a person, or by anyone of a team, is worth in an uncertainty budget.

Values first; `quote_text` and the workbook are views of them. Sources: JCGM 100:2008, 4.2 (repeated
observations), F.2.4.5 (a bias that is not corrected), G.4 (degrees of freedom); ISO 5725-2:1994, 7.4 (team).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.reports.readings import Readings
from trainer.reports.wording import Setting, count, lengths, tenth_um
from trainer.scoring.conformity import averaged
from trainer.scoring.intervals import Interval
from trainer.scoring.person import PersonScore
from trainer.scoring.reference import ReferenceUncertainty, bench_result
from trainer.scoring.transfer import Transfer

FEWEST = 50  # below this a spread is provisional; simulation, docs/methods/scoring.md
FEWEST_PROVISIONAL = 20  # below this a spread has no interval that holds; the same simulation
U_LEFT = "u of one reading, bias left in"
U_CORRECTED = "u of one reading, bias corrected"
METHOD = "JCGM 100:2008, 4.2, F.2.4.5 and G.4; docs/methods/quoting.md"


class TooLittleEvidence(Refusal):
    """There are too few readings to quote; the sentence says how many more are needed."""


@dataclass(frozen=True, slots=True)
class Amount:
    """A number in tenths of a division with its interval and degrees of freedom, where it has them."""

    name: str
    tenths: float | None
    low: float | None = None
    high: float | None = None
    df: float | None = None
    signed: bool = False

    def to_dict(self, um_per_tenth: float | None) -> dict[str, Any]:
        """Return the number and its interval in tenths, micrometres and ten-thousandths of an inch."""
        size, low, high = (lengths(x, um_per_tenth) for x in (self.tenths, self.low, self.high))
        return {
            "tenths": self.tenths,
            "low_tenths": self.low,
            "high_tenths": self.high,
            "um": size.um,
            "low_um": low.um,
            "high_um": high.um,
            "ten_thousandths_in": size.ten_thousandths_in,
            "low_ten_thousandths_in": low.ten_thousandths_in,
            "high_ten_thousandths_in": high.ten_thousandths_in,
            "df": self.df,
        }


@dataclass(frozen=True, slots=True)
class Quote:
    """A reading as a component of a budget.

    `u` holds where the bias is left in the readings, `u_corrected` where it is taken off. For one person
    `between` is None. `notes` are cautions that belong beside the numbers.
    """

    people: tuple[str, ...]
    instrument: str | None
    setting: Setting
    conditions: str
    first_day: str
    last_day: str
    sessions: int
    readings: int
    used: int
    misreads: Mapping[str, int]
    misread_rate: Interval
    bias: Amount
    spread: Amount
    u: Amount
    u_corrected: Amount
    within: Amount | None = None
    between: Amount | None = None
    notes: tuple[str, ...] = ()
    method: str = METHOD
    um_per_tenth: float | None = None
    left_out: tuple[str, ...] = field(default=())
    random_share: float | None = (
        None  # of the spread's square: what averaging readings of one position lowers
    )
    beside: Transfer | None = None  # the same person's bench against the screen, where both are known

    @property
    def team(self) -> bool:
        """Whether the quote is for several people."""
        return len(self.people) > 1

    @property
    def provisional(self) -> bool:
        """Whether the readings are fewer than a firm quote needs."""
        return self.used < FEWEST

    @property
    def validity(self) -> str:
        """What the figures were shown on and, where it is known, whether screen and bench agree."""
        where = {"bench": "a real instrument", "sheet": "printed sheets", "screen": "pictures on a screen"}
        if self.beside is not None:
            told = "; ".join(self.beside.sentences())
            return f"shown on {where[self.setting]}; {told}"
        confirmed = "" if self.setting == "bench" else ", not confirmed on a real instrument yet"
        return f"shown on {where[self.setting]}{confirmed}"

    @property
    def amounts(self) -> tuple[Amount, ...]:
        """The rows of the quote's table."""
        parts = (self.bias, self.within, self.between, self.spread, self.u, self.u_corrected)
        return tuple(part for part in parts if part is not None)

    def to_dict(self) -> dict[str, Any]:
        """Return everything by name, at full precision, for JSON."""
        um = self.um_per_tenth
        slips = sum(self.misreads.values())
        return {
            "people": list(self.people),
            "instrument": self.instrument,
            "tenth_um": um,
            "setting": self.setting,
            "conditions": self.conditions,
            "first_day": self.first_day or None,
            "last_day": self.last_day or None,
            "sessions": self.sessions,
            "readings": self.readings,
            "used": self.used,
            "provisional": self.provisional,
            "misreads": {"total": slips, "by_kind": dict(self.misreads), **self.misread_rate.to_dict()},
            "bias": self.bias.to_dict(um),
            "spread": self.spread.to_dict(um),
            "within": self.within.to_dict(um) if self.within else None,
            "between": self.between.to_dict(um) if self.between else None,
            "u_reading": self.u.to_dict(um),
            "u_reading_corrected": self.u_corrected.to_dict(um),
            "random_share": self.random_share,
            "left_out": list(self.left_out),
            "validity": self.validity,
            "against_screen": self.beside.to_dict() if self.beside else None,
            "notes": list(self.notes),
            "method": self.method,
        }


def check_enough(name: str, used: int, instrument: str | None, *, provisional: bool = False) -> None:
    """Raise TooLittleEvidence when a person has too few usable readings to quote, saying how many more."""
    fewest = FEWEST_PROVISIONAL if provisional else FEWEST
    if used >= fewest:
        return
    on = f" on {instrument}" if instrument else ""
    hint = ""
    if not provisional and used >= FEWEST_PROVISIONAL:
        hint = f", or allow a provisional quote, which needs {FEWEST_PROVISIONAL}"
    raise TooLittleEvidence(
        f"{name} has {count(used, 'usable reading')}{on}; a quote needs {fewest}: "
        f"take {fewest - used} more{hint}"
    )


def of_person(
    score: PersonScore,
    shown: Readings,
    *,
    setting: Setting = "screen",
    conditions: str = "",
    reference: ReferenceUncertainty | None = None,
    provisional: bool = False,
    notes: Sequence[str] = (),
    beside: Transfer | None = None,
) -> Quote:
    """Return the quote of one person; raises TooLittleEvidence.

    `reference` is that of a bench check: its resolution is taken out of the spread, its accuracy and zero
    go into both uncertainties.
    """
    check_enough(score.person, score.used, score.instrument, provisional=provisional)
    bias, spread = score.bias_tenths, score.spread_tenths
    spread_part = Interval(spread.value, spread.low, spread.high)
    u = Amount(U_LEFT, score.u_reading.tenths, *_ends(score.rms_interval), df=score.u_reading.df)
    corrected = Amount(
        U_CORRECTED, score.u_reading.corrected_tenths, df=score.u_reading.corrected_df or score.u_reading.df
    )
    said = list(notes)
    if reference is not None:
        checked = bench_result(score, reference)
        bias, spread_part = checked.bias_tenths, checked.spread_tenths
        u, corrected = _against(reference, bias.value, spread_part.value, score)
        said += checked.cautions
    if score.one_session:
        said.append("one session only: the bias is that of this session, and may differ on another day")
    if score.used < FEWEST:
        said.append(f"provisional: {score.used} usable readings are fewer than {FEWEST}")
    first, last = days(shown)
    return Quote(
        people=(score.person,),
        instrument=score.instrument,
        setting=setting,
        conditions=conditions,
        first_day=first,
        last_day=last,
        sessions=len(shown.sessions),
        readings=score.readings,
        used=score.used,
        misreads={kind: n for kind, n in score.misreads.by_kind.items() if n},
        misread_rate=score.misread_rate,
        bias=Amount("bias", bias.value, bias.low, bias.high, signed=True),
        spread=Amount("spread", spread_part.value, spread_part.low, spread_part.high, df=spread.df),
        u=u,
        u_corrected=corrected,
        notes=tuple(said),
        um_per_tenth=tenth_um(score.instrument),
        random_share=random_share(score),
        beside=beside,
    )


def _against(
    reference: ReferenceUncertainty, bias: float | None, spread: float | None, score: PersonScore
) -> tuple[Amount, Amount]:
    """Return both uncertainties with the reference's accuracy and zero, which every reading shares."""
    if bias is None or spread is None:
        return Amount(U_LEFT, None), Amount(U_CORRECTED, None)
    shared = reference.common_u_tenths
    df = score.u_reading.df
    left = Amount(U_LEFT, math.hypot(spread, bias, shared), df=df)
    return left, Amount(
        U_CORRECTED,
        math.hypot(spread, (score.spread_tenths.value or spread) / math.sqrt(score.used), shared),
        df=score.u_reading.corrected_df or df,
    )


def random_share(score: PersonScore) -> float | None:
    """Return the share of the squared spread that is chance, neither profile nor rounding."""
    split = score.mean_square_split
    if split.random is None or split.profile is None or split.rounding is None:
        return None
    whole = split.random + split.profile + split.rounding
    return split.random / whole if whole > 0 else None


def averaged_u(quote: Quote, readings: int, *, corrected: bool = False) -> float | None:
    """Return the standard uncertainty, in tenths, of a mean of readings of one position by the same person.

    Averaging lowers chance alone. Bias, the profile within the division, rounding (the same position is
    rounded the same way) and, for a team, the spread between people stay. None where it cannot be had.
    """
    u = (quote.u_corrected if corrected else quote.u).tenths
    spread = quote.spread.tenths
    if u is None or spread is None:
        return None
    chance = spread * math.sqrt(quote.random_share or 0.0)
    return averaged(chance, math.sqrt(max(u**2 - chance**2, 0.0)), readings)


def _ends(part: Interval) -> tuple[float | None, float | None]:
    return part.low, part.high


def days(shown: Readings) -> tuple[str, str]:
    """Return the first and last day of the sessions, or empty texts."""
    days = sorted(start[:10] for start in shown.starts if start)
    return (days[0], days[-1]) if days else ("", "")
