"""Bias, spread, root mean square and the reading component of uncertainty, for stacks of people."""

import numpy as np

from trainer.scoring.errors import HAIR_TENTHS, Floats
from trainer.scoring.intervals import (
    FEWEST_FOR_SPREAD,
    bonett,
    clopper_pearson,
    mean_t,
    rms_log_delta,
    trim_share,
)
from trainer.scoring.stacks import Stack
from trainer.scoring.tolerance import howe_factor, outside_allowed

# Chi-square of counts over tenths: chance stays below it once in 120 (9 df), stratified dealing always.
EVEN_BELOW = 2.0
WITHIN_ONE_TENTH = (
    1.0 + HAIR_TENTHS
)  # an answer one tenth off counts as within, whatever its decimals do in binary

Columns = dict[str, Floats]


def kurtosis_about_trimmed(stack: Stack) -> Floats:
    """Return Bonett's kurtosis: n sum (d - trimmed mean)^4 / (sum (d - mean)^2)^2; NaN where it has none."""
    n = stack.n
    ranked = stack.ranked
    cut = np.floor(n * np.where(n > 4, trim_share(n), 0.0)).astype(np.int64)
    place = np.arange(ranked.shape[1])
    kept = (place >= cut[:, None]) & (place < (n - cut)[:, None])
    trimmed = np.where(kept, ranked, 0.0).sum(axis=1) / np.maximum(n - 2 * cut, 1)
    squares = np.where(stack.held, stack.error - trimmed[:, None], 0.0) ** 2
    total = (stack.centred**2).sum(axis=1)
    known = total > 0
    return np.where(known, n * (squares**2).sum(axis=1) / np.where(known, total, 1.0) ** 2, np.nan)


def central(stack: Stack) -> Columns:
    """Return the columns of bias, spread, rms, share within one tenth and u_reading of each person."""
    n = stack.n.astype(float)
    squares = stack.centred**2
    total = squares.sum(axis=1)
    varies = (
        total > (1e-9 * np.maximum(1.0, np.abs(stack.mean))) ** 2 * n
    )  # less is the rounding of binary numbers
    total = np.where(varies, total, 0.0)
    variance = np.where(n > 1, total / np.maximum(n - 1, 1), np.nan)
    kurtosis = np.where(varies, kurtosis_about_trimmed(stack), np.nan)
    columns: Columns = {
        "bias": stack.mean,
        "sd": np.sqrt(variance),
        "kurtosis": kurtosis,
        "third": (squares * stack.centred).sum(axis=1) / n,
        "mean_square": (stack.error**2).sum(axis=1) / n,
    }
    on_tenth = np.abs(stack.inside - np.rint(stack.inside)) < HAIR_TENTHS
    columns["on_tenths"] = (on_tenth & stack.held).sum(axis=1) / n
    columns |= _tenths(stack)
    columns |= _bias_ends(n, total, columns)
    enough = np.where(n >= FEWEST_FOR_SPREAD, columns["sd"], np.nan)
    columns["sd_low"], columns["sd_high"] = bonett(enough, kurtosis, n)
    close = ((np.abs(stack.error) <= WITHIN_ONE_TENTH) & stack.held).sum(axis=1)
    columns["within"] = close / n
    columns["within_low"], columns["within_high"] = clopper_pearson(close, n)
    columns |= u_reading(n, columns)
    columns["rms"] = np.sqrt(columns["mean_square"])
    enough = np.where((n >= FEWEST_FOR_SPREAD) & varies, columns["rms"], np.nan)
    columns["rms_low"], columns["rms_high"] = rms_log_delta(enough, columns["u_df"], n)
    return columns | _tolerance(stack, columns)


def _tolerance(stack: Stack, columns: Columns) -> Columns:
    """Return 95/95 tolerance limits: order statistics where there are enough readings, else Howe's."""
    n = stack.n
    out = outside_allowed(n)
    free = (out >= 2) & (columns["sd"] > 0)
    low = np.take_along_axis(stack.ranked, np.maximum(out // 2 - 1, 0)[:, None], axis=1)[:, 0]
    high = np.take_along_axis(stack.ranked, np.minimum(n - out + out // 2, n - 1)[:, None], axis=1)[:, 0]
    factor = np.where((n >= FEWEST_FOR_SPREAD) & (out < 2), howe_factor(np.maximum(n, 2)), np.nan)
    reach = np.where(columns["sd"] > 0, factor * columns["sd"], np.nan)
    return {
        "tolerance_low": np.where(free, low, columns["bias"] - reach),
        "tolerance_high": np.where(free, high, columns["bias"] + reach),
        "tolerance_factor": factor,
    }


def _tenths(stack: Stack) -> Columns:
    """Return counts, means and sums of squares per person and tenth, of shape (people, 10)."""
    counts = stack.per_tenth()
    means = stack.per_tenth(stack.error) / np.where(counts > 0, counts, np.nan)
    filled = np.append(np.nan_to_num(means).ravel(), 0.0)
    inner = np.where(stack.held.ravel(), stack.error.ravel() - filled[stack.cells], 0.0)
    return {"tenth_n": counts, "tenth_mean": means, "tenth_squares": stack.per_tenth(inner**2)}


def _bias_ends(n: Floats, total: Floats, columns: Columns) -> Columns:
    """Return the bias interval: within tenths where truths were dealt evenly over them, else ordinary.

    Chance alone spreads counts over ten tenths with chi-square 9 in the mean; stratified dealing, less
    a few misreads, stays below 2.
    """
    counts = columns["tenth_n"]
    expected = n[:, None] / 10
    uneven = ((counts - expected) ** 2 / expected).sum(axis=1)
    df_within = n - (counts > 0).sum(axis=1)
    within = columns["tenth_squares"].sum(axis=1)
    use_within = (uneven < EVEN_BELOW) & (df_within >= 10) & (within > 0) & (total > 0)
    df = np.where(use_within, df_within, n - 1)
    variance = np.where(use_within, within, total) / np.maximum(df, 1)
    low, high = mean_t(columns["bias"], variance, n, df)
    return {"bias_low": low, "bias_high": high, "bias_df": df, "bias_within_tenths": use_within.astype(float)}


def u_reading(n: Floats, columns: Columns) -> Columns:
    """Return the standard uncertainty of a reading and its degrees of freedom, with and without bias.

    Bias left in the readings: u = sqrt(s2 + b2). Bias corrected: u = s sqrt(1 + 1/n). The spread of
    answer minus truth already holds the rounding of the answer, so no resolution is to be added (GUM
    F.2.2.1 is for dispersion that was not observed). Degrees of freedom are 2 u4 / var(u2), with the
    variance of s2 from Bonett's kurtosis: for a normal reader without bias about n - 1.
    """
    variance, bias = columns["sd"] ** 2, columns["bias"]
    square = variance + bias**2
    df_s = spread_df(n, columns["kurtosis"])
    var_s2 = 2 * variance**2 / df_s
    var_u2 = var_s2 + 4 * bias**2 * variance / n + 4 * bias * columns["third"] / n
    # the third moment is an estimate too: do not let it eat more than half of the other two terms
    var_u2 = np.maximum(var_u2, 0.5 * (var_s2 + 4 * bias**2 * variance / n))
    known = (variance > 0) & (n > 1)
    df = np.where(known, 2 * square**2 / np.where(known & (var_u2 > 0), var_u2, np.nan), np.nan)
    few = n < FEWEST_FOR_SPREAD
    return {
        "u": np.where(known, np.sqrt(square), np.nan),
        "u_df": np.where(few, np.minimum(df, n - 1), df),
        "u_corrected": np.where(known, np.sqrt(variance * (1 + 1 / n)), np.nan),
        "u_corrected_df": np.where(few, np.minimum(df_s, n - 1), df_s),
    }


def spread_df(n: Floats, kurtosis: Floats) -> Floats:
    """Return the degrees of freedom that a sample variance is worth: 2 (n-1) / (g4 - (n-3)/n).

    >>> spread_df(np.array([100.0]), np.array([3.0 - 0.03])).item()
    99.0
    """
    excess = kurtosis - (n - 3) / np.maximum(n, 1)
    return np.where((n > 1) & (excess > 0), 2 * (n - 1) / np.where(excess > 0, excess, np.nan), np.nan)
