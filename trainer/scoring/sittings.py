"""Sessions within people: drift within a session by regression, and the long-run bias over sessions."""

import numpy as np
from scipy import special

from trainer.scoring.errors import Floats
from trainer.scoring.intervals import mean_t
from trainer.scoring.stacks import Ints

Columns = dict[str, Floats]
NAMES = (
    "drift_slope",
    "drift_p",
    "drift_se",
    "sessions",
    "session_mean",
    "session_low",
    "session_high",
    "session_sd",
)


def sitting_columns(error: Floats, order: Ints, person: Ints, sitting: Ints, people: int) -> Columns:
    """Return the columns of drift and of bias over sessions.

    All arrays have one entry a reading, sorted by person and sitting; `order` is its place in the sitting.
    The slope is the regression of error on place, pooled within sittings, in tenths per 100 readings.
    """
    if not len(error):
        return {name: np.full(people, 0.0 if name == "sessions" else np.nan) for name in NAMES}
    starts = _starts(sitting)
    owner = person[starts]
    n = np.diff(np.append(starts, len(error))).astype(float)
    mean_error = np.add.reduceat(error, starts) / n
    place = order.astype(float)
    mean_place = np.add.reduceat(place, starts) / n
    number = np.repeat(np.arange(len(starts)), n.astype(np.int64))
    place -= mean_place[number]
    away = error - mean_error[number]
    bounds = _starts(person)
    present = person[bounds]
    sxx = np.add.reduceat(place * place, bounds)
    sxy = np.add.reduceat(place * away, bounds)
    syy = np.add.reduceat(away * away, bounds)
    readings = np.diff(np.append(bounds, len(error)))
    sittings = np.bincount(owner, minlength=people)[present]
    columns = _slope(sxx, sxy, syy, readings - sittings - 1)
    spread = _over_sittings(mean_error, owner, people)
    return {name: _scattered(value, present, people) for name, value in columns.items()} | spread


def _starts(groups: Ints) -> Ints:
    """Return where each run of equal numbers begins."""
    return np.flatnonzero(np.r_[True, groups[1:] != groups[:-1]])


def _scattered(values: Floats, where: Ints, people: int) -> Floats:
    out = np.full(people, np.nan)
    out[where] = values
    return out


def _slope(sxx: Floats, sxy: Floats, syy: Floats, df: Ints) -> Columns:
    """Return slope per 100 readings, its p-value and standard error; NaN where it cannot be had."""
    known = (sxx > 0) & (df >= 1)
    slope = np.where(known, sxy / np.where(known, sxx, 1.0), np.nan)
    rest = np.maximum(syy - slope * sxy, 0.0)
    noisy = known & (rest > 1e-18 * np.maximum(syy, 1.0))
    se = np.sqrt(np.where(noisy, rest / np.maximum(df, 1) / np.where(known, sxx, 1.0), np.nan))
    p = 2 * special.stdtr(np.maximum(df, 1), -np.abs(slope / se))
    p = np.where(known & ~noisy & (sxy != 0), 0.0, p)  # a perfect line
    return {"drift_slope": 100 * slope, "drift_p": p, "drift_se": 100 * se}


def _over_sittings(means: Floats, owner: Ints, people: int) -> Columns:
    """Return number and mean of session means with Student's interval over sessions."""
    k = np.bincount(owner, minlength=people).astype(float)
    k_safe = np.maximum(k, 1)
    centre = np.bincount(owner, weights=means, minlength=people) / k_safe
    squares = np.bincount(owner, weights=(means - centre[owner]) ** 2, minlength=people)
    variance = np.where(k > 1, squares / np.maximum(k - 1, 1), np.nan)
    low, high = mean_t(centre, variance, k, k - 1)
    return {
        "sessions": k,
        "session_mean": np.where(k > 0, centre, np.nan),
        "session_low": low,
        "session_high": high,
        "session_sd": np.sqrt(variance),
    }
