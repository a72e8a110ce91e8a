"""Totals of the evidence and the bounds that they give: arrays in, arrays out, one person or many alike."""

import math
from dataclasses import dataclass, fields

import numpy as np

from trainer.scoring.errors import Floats
from trainer.scoring.intervals import bonett_lower, bonett_upper, t_quantile
from trainer.signoff.rules import (
    BIAS_FAIL_CONFIDENCE,
    DRIFT_TENTHS,
    DRIFT_WEIGHT,
    FAIL_CONFIDENCE,
    FAIL_FROM_BLOCKS,
    HOPELESS_RATIO,
    Points,
    Rules,
)


@dataclass(frozen=True, slots=True)
class Totals:
    """Running totals at every look; all arrays have one shape, such as (people, looks).

    `clean` counts the errors that are no misreads and `powers` their sums of powers 1 to 4, in tenths.
    `sittings` counts sittings, `means` sums their mean errors and `means_squared` the squares of these.
    `misreads` counts misreads and readings that were asked for and not given. `judgements` counts those
    given in a drill of judging; `judged` offsets outside and `inside` offsets well within the tolerance.
    """

    clean: Floats
    powers: tuple[Floats, Floats, Floats, Floats]
    misreads: Floats
    sittings: Floats
    means: Floats
    means_squared: Floats
    judged: Floats
    false_accepts: Floats
    slow: Floats
    judgements: Floats
    inside: Floats
    false_rejects: Floats

    @property
    def readings(self) -> Floats:
        """Return how many readings, or judgements, were asked for."""
        return self.clean + self.misreads + self.judgements


@dataclass(frozen=True, slots=True)
class Moments:
    """Mean, standard deviation and kurtosis of the clean errors, and what the sittings say of the bias."""

    mean: Floats
    sd: Floats
    kurtosis: Floats
    sitting_mean: Floats
    sitting_variance: Floats


@dataclass(frozen=True, slots=True)
class Looks:
    """What each look shows, limit by limit; the decision is in `shown` and `failed`. Shapes as in `Totals`.

    `hopeless` says that the points for a rate can no longer be reached within the attempt.

    `bias_bound` is the larger of the two upper bounds of the size of the bias, `spread_bound` the upper
    bound of the spread.
    """

    moments: Moments
    bias_bound: Floats
    spread_bound: Floats
    bias_shown: np.ndarray
    spread_shown: np.ndarray
    misreads_shown: np.ndarray
    judgement_shown: np.ndarray
    rejects_shown: np.ndarray
    pace_shown: np.ndarray
    bias_failed: np.ndarray
    spread_failed: np.ndarray
    misreads_failed: np.ndarray
    judgement_failed: np.ndarray
    rejects_failed: np.ndarray
    pace_failed: np.ndarray
    shown: np.ndarray
    failed: np.ndarray
    hopeless: np.ndarray


def moments(totals: Totals) -> Moments:
    """Return the moments; NaN where there are too few readings.

    Errors are at most 5 tenths here, so the sums of powers lose no digit that matters; the kurtosis is
    about the mean, not the trimmed mean of Bonett (2006): nearly the same from 50 readings.
    """
    n, (s1, s2, s3, s4) = totals.clean, totals.powers
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = s1 / n
        square = np.maximum(s2 - n * mean**2, 0.0)
        variance = np.where(n >= 2, square / (n - 1), np.nan)
        fourth = s4 - 4 * mean * s3 + 6 * mean**2 * s2 - 3 * n * mean**4
        kurtosis = np.where(square > 0, n * fourth / square**2, np.nan)
        k = totals.sittings
        sitting_mean = totals.means / k
        spread = np.maximum(totals.means_squared - k * sitting_mean**2, 0.0)
        sitting_variance = np.where(k >= 2, spread / (k - 1), np.nan)
    return Moments(mean, np.sqrt(variance), kurtosis, sitting_mean, sitting_variance)


def look(totals: Totals, rules: Rules) -> Looks:
    """Return what every look shows. A person passes where `shown`, and fails where `failed`, comes first."""
    found = moments(totals)
    bias_bound = _bias_bound(totals, found, rules)
    spread_bound = bonett_upper(found.sd, found.kurtosis, totals.clean, rules.spread_confidence)
    misreads = _points(totals.clean, totals.misreads, rules.misreads)
    judgement = _points(totals.judged - totals.false_accepts, totals.false_accepts, rules.judgement)
    rejects = _points(totals.inside - totals.false_rejects, totals.false_rejects, rules.rejects)
    pace = _points(totals.readings - totals.slow, totals.slow, rules.pace)
    bias_shown = (bias_bound < rules.bias_tenths) | rules.judges  # who judges gives no readings
    spread_shown = (spread_bound < rules.spread_tenths) | rules.judges
    bias_failed = _bias_excess(totals, found) > rules.bias_tenths
    lower = bonett_lower(found.sd, found.kurtosis, totals.clean, FAIL_CONFIDENCE)
    spread_failed = lower > rules.spread_tenths
    ripe = (totals.readings >= rules.first_look) & (totals.sittings >= rules.sittings)
    may_fail = totals.readings >= FAIL_FROM_BLOCKS * rules.block
    all_shown = bias_shown & spread_shown & misreads[0] & judgement[0] & rejects[0] & pace[0]
    any_failed = bias_failed | spread_failed | misreads[1] | judgement[1] | rejects[1] | pace[1]
    left = rules.most - totals.readings
    return Looks(
        found, bias_bound, spread_bound,
        bias_shown, spread_shown, misreads[0], judgement[0], rejects[0], pace[0],
        bias_failed, spread_failed, misreads[1], judgement[1], rejects[1], pace[1],
        shown=ripe & all_shown,
        failed=may_fail & any_failed & ~(ripe & all_shown),
        hopeless=may_fail & (_hopeless(totals.readings, totals.misreads, rules.misreads, left)
                             | _hopeless(totals.judged, totals.false_accepts, rules.judgement, left)
                             | _hopeless(totals.inside, totals.false_rejects, rules.rejects, left)
                             | _hopeless(totals.readings, totals.slow, rules.pace, left)),
    )  # fmt: skip


def first_end(looks: Looks, totals: Totals, rules: Rules) -> np.ndarray:
    """Return the index, along the last axis, of the look that ends the attempt; -1 where none does."""
    ends = looks.shown | looks.failed | looks.hopeless | (totals.readings >= rules.most)
    return np.where(ends.any(axis=-1), ends.argmax(axis=-1), -1)


def at(totals: Totals, index: int) -> Totals:
    """Return the totals of one look along the last axis."""
    cut = {
        f.name: getattr(totals, f.name)[..., index : index + 1] for f in fields(totals) if f.name != "powers"
    }
    first, second, third, fourth = (power[..., index : index + 1] for power in totals.powers)
    return Totals(powers=(first, second, third, fourth), **cut)


def _bias_bound(totals: Totals, found: Moments, rules: Rules) -> Floats:
    """Return the upper bound of the size of the bias: over all readings, and over the means of sittings."""
    n, k, confidence = totals.clean, totals.sittings, rules.bias_confidence
    with np.errstate(divide="ignore", invalid="ignore"):
        pooled = np.abs(found.mean) + t_quantile(n - 1, confidence, one_sided=True) * found.sd / np.sqrt(n)
        if rules.sittings < 2:  # nothing is said of other days
            return pooled
        error = np.sqrt(found.sitting_variance / k)
        by_sitting = np.abs(found.sitting_mean) + t_quantile(k - 1, confidence, one_sided=True) * error
    return np.maximum(pooled, by_sitting)


def _bias_excess(totals: Totals, found: Moments) -> Floats:
    """Return the lower bound of the size of the bias.

    Few sittings know their own variance badly, which made a bad bias slow to be recognised. So the
    variance of a sitting's mean is weighted with what is expected of it (a moderated variance, Smyth,
    Stat. Appl. Genet. Mol. Biol. 3 (2004) 3, from memory): the spread within, and a drift of 0.2 tenth.
    """
    n, k = totals.clean, totals.sittings
    with np.errstate(divide="ignore", invalid="ignore"):
        expected = found.sd**2 * k / n + DRIFT_TENTHS**2
        own = np.where(k >= 2, (k - 1) * np.nan_to_num(found.sitting_variance), 0.0)
        df = DRIFT_WEIGHT + k - 1
        error = np.sqrt((DRIFT_WEIGHT * expected + own) / df / k)
        by_sitting = np.abs(found.sitting_mean) - t_quantile(df, BIAS_FAIL_CONFIDENCE, one_sided=True) * error
        t = t_quantile(n - 1, BIAS_FAIL_CONFIDENCE, one_sided=True)
        pooled = np.abs(found.mean) - t * found.sd / np.sqrt(n)
    return np.minimum(pooled, by_sitting)


def _points(clean: Floats, bad: Floats, rule: Points | None) -> tuple[np.ndarray, np.ndarray]:
    """Return where a rate is shown below its limit, and where it is shown above."""
    if rule is None:
        return np.ones(clean.shape, bool), np.zeros(clean.shape, bool)
    clean_weight, bad_weight, threshold = rule.fail_weights
    return (
        clean - rule.penalty * bad >= rule.needed,
        clean * clean_weight + bad * bad_weight >= threshold,
    )


def _hopeless(of: Floats, bad: Floats, rule: Points | None, left: Floats) -> np.ndarray:
    """Return where even clean ones alone, `left` of them, could not bring the points any more.

    Only where the rate is not on its way to be shown above its limit: that verdict says more. Ending early
    cannot let anybody pass, so it costs no risk, and it spares people readings that lead nowhere.
    """
    if rule is None:
        return np.zeros(bad.shape, bool)
    clean = of - bad
    clean_weight, bad_weight, _ = rule.fail_weights
    heading = clean * clean_weight + bad * bad_weight > -math.log(HOPELESS_RATIO)
    missing = rule.needed - (clean - rule.penalty * bad)
    return (missing > left) & ~heading
