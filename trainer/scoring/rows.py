"""Rows of the table as `PersonScore` values, with the reason for everything that cannot be had."""

import numpy as np

from trainer.instrument import catalogue
from trainer.scoring.errors import Floats, listed, or_none
from trainer.scoring.habits import FEWEST as FEWEST_FOR_DIGITS
from trainer.scoring.habits import digit_preference
from trainer.scoring.interpolation import ROUNDING_VARIANCE
from trainer.scoring.intervals import FEWEST_FOR_SPREAD, Interval
from trainer.scoring.misreads import KINDS
from trainer.scoring.person import (
    Drift,
    Misreads,
    PersonScore,
    ReadingUncertainty,
    SessionBias,
    Spread,
    SquareSplit,
    TenthRow,
    ToleranceLimits,
)
from trainer.scoring.words import tell

Columns = dict[str, Floats]
MOSTLY = 0.5  # share of truths on exact tenths from which they are said to stand there
CLEAR_P = 0.05


def person_scores(
    names: tuple[str, ...], instruments: tuple[str | None, ...], columns: Columns
) -> tuple[PersonScore, ...]:
    """Return one `PersonScore` a row of the table."""
    flat = {name: listed(column) for name, column in columns.items() if column.ndim == 1}
    um = {name: _tenth_um(name) for name in set(instruments)}
    return tuple(
        _person(row, name, instrument, um[instrument], flat, columns)
        for row, (name, instrument) in enumerate(zip(names, instruments, strict=True))
    )


def _tenth_um(instrument: str | None) -> float | None:
    if instrument is None or instrument not in catalogue.names():
        return None
    return catalogue.load(instrument).tenth_um


def _person(
    row: int,
    name: str,
    instrument: str | None,
    tenth_um: float | None,
    flat: dict[str, list[float | None]],
    columns: Columns,
) -> PersonScore:
    one = {key: values[row] for key, values in flat.items()}
    counts = {key: int(one[key] or 0) for key in ("readings", "used", "misreads", *_SET_APART)}
    u = one["u"]
    sd, bias = one["sd"], one["bias"]
    return PersonScore(
        person=name,
        instrument=instrument,
        readings=counts["readings"],
        used=counts["used"],
        misreads=Misreads(
            counts["misreads"],
            {kind: int(k) for kind, k in zip(KINDS, columns["by_kind"][row], strict=True) if k},
        ),
        misread_rate=Interval(one["misread_rate"], one["misread_low"], one["misread_high"]),
        bias_tenths=Interval(bias, one["bias_low"], one["bias_high"]),
        spread_tenths=Spread(
            sd, one["sd_low"], one["sd_high"], None if sd is None else float(counts["used"] - 1)
        ),
        rms_tenths=one["rms"],
        rms_interval=Interval(one["rms"], one["rms_low"], one["rms_high"]),
        spread_with_misreads_tenths=one["sd_all"],
        noise_tenths=_noise(one),
        cautions=_cautions(one),
        within_one_tenth=Interval(one["within"], one["within_low"], one["within_high"]),
        digit_preference=digit_preference(columns, row),
        profile=_profile(columns, row),
        drift=Drift(one["drift_slope"], one["drift_p"]),
        u_reading=ReadingUncertainty(
            u,
            one["u_df"],
            one["u_corrected"],
            one["u_corrected_df"],
            u * tenth_um if u and tenth_um else None,
        ),
        bias_over_sessions=SessionBias(
            int(one["sessions"] or 0),
            Interval(one["session_mean"], one["session_low"], one["session_high"]),
            one["session_sd"],
        ),
        mean_square_split=SquareSplit(
            one["split_bias"], one["split_profile"], one["split_rounding"], one["split_random"]
        ),
        tolerance_limits=ToleranceLimits(
            one["tolerance_low"], one["tolerance_high"], one["tolerance_factor"]
        ),
        reasons=_reasons(
            counts["readings"],
            counts["used"],
            one,
            thin_profile=bool(np.isnan(columns["tenth_low"][row]).any()),
        ),
        **{key: counts[key] for key in _SET_APART},
    )


def _noise(one: dict[str, float | None]) -> Interval:
    """Return the spread less rounding (Sheppard), where rounding is plain; limits taken along.

    For continuous truths rounding adds 1/12 (halves: 1/48) to the variance at any sharpness. It does not
    for answers kept within their pair of lines, truths on exact tenths, or a reader with a digit habit.
    """
    if not one["rounded"] or _cautions(one):
        return Interval(None)
    rounding = ROUNDING_VARIANCE * (0.25 if one["halves"] else 1.0)
    ends = (one["sd"], one["sd_low"], one["sd_high"])
    return Interval(*(None if x is None else max(x * x - rounding, 0.0) ** 0.5 for x in ends))


def _cautions(one: dict[str, float | None]) -> tuple[str, ...]:
    """Return what the figures of a person may hide."""
    found: list[str] = []
    if (one["on_tenths"] or 0.0) > MOSTLY:
        found.append(tell("hides.exact"))
    if one["clipped"] and one["sd"] is not None:
        found.append(tell("hides.clipped"))
    if one["digit_p"] is not None and one["digit_p"] < CLEAR_P:
        found.append(tell("hides.digits"))
    return tuple(found)


_SET_APART = ("skipped", "timed_out", "unusable", "repeated")


def _profile(columns: Columns, row: int) -> tuple[TenthRow, ...]:
    n, mean = columns["tenth_n"][row], columns["tenth_mean"][row]
    low, high = columns["tenth_low"][row], columns["tenth_high"][row]
    return tuple(
        TenthRow(tenth, int(n[tenth]), or_none(mean[tenth]), or_none(low[tenth]), or_none(high[tenth]))
        for tenth in range(10)
    )


def _reasons(readings: int, used: int, one: dict[str, float | None], *, thin_profile: bool) -> dict[str, str]:
    """Return why each value that is None is so, by field name."""
    if readings == 0:
        return dict.fromkeys(sorted(_ALL), tell("why.none"))
    if used == 0:
        told = tell("why.misread.one" if readings == 1 else "why.misread", n=readings)
        return dict.fromkeys(sorted(_ALL - {"misread_rate"}), told)
    why: dict[str, str] = {}
    some = ".one" if used == 1 else ""
    if used == 1:
        one_only = tell("why.one")
        why |= dict.fromkeys(("spread_tenths", "u_reading", "bias_tenths interval"), one_only)
    elif one["bias_low"] is None:
        why |= dict.fromkeys(
            ("bias_tenths interval", "spread_tenths interval", "u_reading"), tell("why.alike")
        )
    if used < FEWEST_FOR_SPREAD:
        why["spread_tenths interval"] = tell(f"why.spread{some}", fewest=FEWEST_FOR_SPREAD, n=used)
        why["tolerance_limits"] = why["rms_interval"] = why["mean_square_split"] = why[
            "spread_tenths interval"
        ]
    elif one["split_bias"] is None:
        why["mean_square_split"] = tell("why.split")
    if one["digit_z"] is None:
        why["digit_preference"] = (
            tell(f"why.digits{some}", fewest=FEWEST_FOR_DIGITS, n=used)
            if used < FEWEST_FOR_DIGITS
            else tell("why.not-whole")
        )
    if not one["rounded"]:
        why["noise_tenths"] = tell("why.not-whole")
    elif one["sd"] is not None and (cautions := _cautions(one)):
        why["noise_tenths"] = cautions[0]
    if one["drift_p"] is None:
        why["drift"] = tell("why.drift.few" if one["drift_slope"] is None else "why.drift.alike")
    if one["session_low"] is None:
        sessions = int(one["sessions"] or 0)
        why["bias_over_sessions"] = tell("why.sessions.one" if sessions < 2 else "why.sessions.alike")
    if thin_profile:
        why["profile"] = tell("why.profile")
    return why


_ALL = {
    "misread_rate",
    "bias_tenths",
    "spread_tenths",
    "rms_tenths",
    "within_one_tenth",
    "digit_preference",
    "profile",
    "drift",
    "u_reading",
    "bias_over_sessions",
    "mean_square_split",
    "tolerance_limits",
    "rms_interval",
}
