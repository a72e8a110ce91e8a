"""Spaced refreshers: who is due for a short drill; and when eyes are due for a rest.

Where somebody's sittings show how fast they forget, the next drill falls due before their error has grown to
the limit; otherwise after a plain interval. Forgetting is taken as a power of the time away (the form of most
forgetting curves: Wixted & Ebbesen, Psychological Science 2 (1991) 409, from memory): the root mean square
error after g days is that before, times (1 + g) to the power k.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from trainer.practice.words import tell

PLAIN_INTERVAL_DAYS = 90.0  # common practice, no source
LIMIT_TENTHS = 1.0  # root mean square error that a refresher is to forestall: the usual spread limit
SOONEST_DAYS, LATEST_DAYS = 7.0, 365.0
FEWEST_GAPS = 4
SHORTEST_GAP_DAYS = 2.0
SURE = 1.645  # standard errors: one-sided 95 %

EYE_REST_AFTER_S = 20 * 60.0  # twenty minutes of close work: common practice, no source


@dataclass(frozen=True, slots=True)
class Sat:
    """One sitting as a refresher needs it: its day (any count of days), its error and its readings."""

    day: float
    rms_tenths: float
    readings: int


@dataclass(frozen=True, slots=True)
class Forgetting:
    """How fast somebody forgets: the power k with its standard error, from `gaps` times away."""

    power: float
    standard_error: float
    gaps: int

    @property
    def shown(self) -> bool:
        """Return whether the sittings show forgetting at all, and from enough gaps."""
        return self.gaps >= FEWEST_GAPS and self.power > SURE * self.standard_error


@dataclass(frozen=True, slots=True)
class Refresher:
    """When the next short drill is due, in days of the same count, and why then."""

    due_day: float
    own_forgetting: bool
    reason: str


def forgetting(sittings: Sequence[Sat]) -> Forgetting | None:
    """Return how fast somebody forgets, or None without a gap long enough.

    A weighted line through the origin of the logarithm of the growth of the error on that of the time
    away; a root mean square of n readings has a relative standard error of about 1/sqrt(2 n).
    """
    ordered = sorted(sittings, key=lambda sat: sat.day)
    sum_xy = sum_xx = 0.0
    gaps = 0
    for before, after in pairwise(ordered):
        away = after.day - before.day
        if away < SHORTEST_GAP_DAYS or min(before.rms_tenths, after.rms_tenths) <= 0:
            continue
        weight = 1 / (1 / (2 * before.readings) + 1 / (2 * after.readings))
        x, y = math.log1p(away), math.log(after.rms_tenths / before.rms_tenths)
        sum_xy += weight * x * y
        sum_xx += weight * x * x
        gaps += 1
    return Forgetting(sum_xy / sum_xx, sum_xx**-0.5, gaps) if gaps else None


def refresher(
    sittings: Sequence[Sat],
    *,
    limit_tenths: float = LIMIT_TENTHS,
    interval_days: float = PLAIN_INTERVAL_DAYS,
) -> Refresher | None:
    """Return when somebody is due for a short drill, or None who never sat.

    By their own forgetting where it is shown: when the error is expected to reach the limit, a week to a
    year after the last sitting. Otherwise by the plain interval.
    """
    if not sittings:
        return None
    last = max(sittings, key=lambda sat: sat.day)
    own = forgetting(sittings)
    if last.rms_tenths >= limit_tenths:
        reason = tell("refresh.reached", rms=f"{last.rms_tenths:.1f}", limit=f"{limit_tenths:g}")
        return Refresher(last.day + SOONEST_DAYS, False, reason)
    if own is None or not own.shown:
        reason = tell("refresh.plain", days=f"{interval_days:g}")
        return Refresher(last.day + interval_days, False, reason)
    latest = LATEST_DAYS
    if last.rms_tenths > 0:  # a faultless last sitting says nothing of when the limit is reached
        growth = math.log(limit_tenths / last.rms_tenths) / own.power
        latest = math.expm1(min(growth, 10.0))
    kept = min(max(latest, SOONEST_DAYS), LATEST_DAYS)
    reason = tell("refresh.own", limit=f"{limit_tenths:g}", days=f"{kept:.0f}")
    return Refresher(last.day + kept, True, reason)


def due(people: Mapping[str, Sequence[Sat]], today: float) -> list[tuple[str, Refresher]]:
    """Return who is due today with their refresher, those overdue longest first."""
    found = [
        (person, when)
        for person, sittings in people.items()
        if (when := refresher(sittings)) is not None and when.due_day <= today
    ]
    return sorted(found, key=lambda pair: (pair[1].due_day, pair[0]))


def eye_rest(worked_s: float, rested_at_s: float = 0.0) -> str | None:
    """Return the reminder to rest the eyes, or None while it is not due.

    `worked_s` are the seconds of reading so far, `rested_at_s` how many they were at the last rest.
    """
    if worked_s - rested_at_s < EYE_REST_AFTER_S:
        return None
    minutes = round((worked_s - rested_at_s) / 60)
    return tell("refresh.eyes", minutes=minutes)
