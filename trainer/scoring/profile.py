"""Interpolation profile of one person: curve of proportion judgement, test against none, correction."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import special

from trainer.scoring.errors import Floats, error_tenths, or_none, within_division
from trainer.scoring.interpolation import (
    EXPONENTS,
    fit_harmonics,
    fit_power,
    harmonics,
    power_curve,
    readings,
)
from trainer.scoring.intervals import Interval, t_quantile
from trainer.scoring.misreads import is_misread, signatures
from trainer.scoring.stacks import Ints, Stack, stack_of

FEWEST = 50  # readings below which no curve is fitted: five a tenth
FOLDS = 10
CLEAR_GAIN_SE = 2.0  # a correction is recommended if its cross-validated gain is this many standard errors


@dataclass(frozen=True, slots=True)
class CyclicFit:
    """A fitted cyclical power model: exponent with 95 % interval, and the test against none (exponent 1).

    `at_limit`: the exponent ran into the end of the range searched; it then has no interval.
    """

    cycles: int
    exponent: Interval
    constant_tenths: float | None
    residual_sd_tenths: float | None
    p_value: float | None
    at_limit: bool = False

    def to_dict(self) -> dict[str, object]:
        """Return the values by name, ready for JSON."""
        return {
            "cycles": self.cycles,
            "exponent": self.exponent.to_dict(),
            "constant_tenths": self.constant_tenths,
            "residual_sd_tenths": self.residual_sd_tenths,
            "p_value": self.p_value,
            "at_limit": self.at_limit,
        }


@dataclass(frozen=True, slots=True)
class Correction:
    """What to add to a reading by its last digit, and whether that helps on readings not used for it.

    `by_digit[d]` tenths are to be added to a reading that ends in d (0 to 9). `kind`: none, constant or
    by-digit, the one that helps most; `gain` is the share of the root mean square error that it saves
    under cross-validation, with its standard error; `helps` only if the gain is clear.
    """

    kind: str
    by_digit: tuple[float, ...]
    rms_before_tenths: float | None
    rms_after_tenths: float | None
    gain: float | None
    gain_se: float | None
    helps: bool

    @property
    def advice(self) -> str:
        """Return one honest sentence on the use of the correction."""
        if self.gain is None:
            return f"A correction needs at least {FEWEST} readings whose errors differ."
        if not self.helps:
            return "A personal correction would not clearly help on new readings; leave readings as they are."
        return (
            f"A {self.kind} correction takes {100 * self.gain:.0f} % off the root mean square error on "
            "readings that it was not made from."
        )

    def to_dict(self) -> dict[str, object]:
        """Return the values by name, ready for JSON."""
        return {
            "kind": self.kind,
            "by_digit": list(self.by_digit),
            "rms_before_tenths": self.rms_before_tenths,
            "rms_after_tenths": self.rms_after_tenths,
            "gain": self.gain,
            "gain_se": self.gain_se,
            "helps": self.helps,
            "advice": self.advice,
        }


@dataclass(frozen=True, slots=True)
class InterpolationProfile:
    """The fitted curves, the test against no profile at all (F over two harmonics), and the correction."""

    readings: int
    one_cycle: CyclicFit
    two_cycles: CyclicFit
    f_statistic: float | None
    p_value: float | None
    correction: Correction
    curve_tenths: tuple[float, ...] = ()  # fitted error at 0.5, 1.5 ... 9.5 tenths, constant included

    def summary(self) -> pd.DataFrame:
        """Return one row a tenth: fitted error of a true position there, correction of that last digit."""
        return pd.DataFrame(
            {
                "tenth": range(10),
                "fitted_error_tenths": self.curve_tenths or (None,) * 10,
                "correction_tenths": self.correction.by_digit,
            }
        )

    def to_dict(self) -> dict[str, object]:
        """Return the values by name, ready for JSON."""
        return {
            "readings": self.readings,
            "one_cycle": self.one_cycle.to_dict(),
            "two_cycles": self.two_cycles.to_dict(),
            "f_statistic": self.f_statistic,
            "p_value": self.p_value,
            "curve_tenths": list(self.curve_tenths),
            "correction": self.correction.to_dict(),
        }


def interpolation_profile(
    truth_tenths: Floats, answer_tenths: Floats, *, instrument: str | None = None
) -> InterpolationProfile:
    """Return the profile of one person's readings, misreads set apart."""
    inside = within_division(truth_tenths)
    error = error_tenths(answer_tenths, truth_tenths)
    good = np.isfinite(error) & ~is_misread(error, inside, vernier=signatures(instrument).vernier)
    stack = stack_of(error[good], inside[good])
    n = int(good.sum())
    if n < FEWEST or np.ptp(error[good]) < 1e-9:
        none = CyclicFit(1, Interval(None), None, None, None)
        return InterpolationProfile(
            n, none, CyclicFit(2, Interval(None), None, None, None), None, None, _correction(stack)
        )
    fitted, rss = fit_harmonics(readings(stack))
    total = float((stack.centred**2).sum())
    f = (total - float(rss[0])) / 4 / (float(rss[0]) / (n - 5))
    return InterpolationProfile(
        n,
        cyclic_fit(stack, 1),
        cyclic_fit(stack, 2),
        or_none(f),
        or_none(special.fdtrc(4, n - 5, max(f, 0.0))),
        _correction(stack),
        tuple(_harmonics_at(np.arange(0.5, 10.0), stack, fitted).tolist()),
    )


def _harmonics_at(places: Floats, stack: Stack, fitted: Floats) -> Floats:
    """Return the fitted curve of harmonics at other places: its terms follow from its own values."""
    terms, *_ = np.linalg.lstsq(harmonics(stack.inside[0]), fitted[0])
    return np.asarray(harmonics(places) @ terms, float)


def cyclic_fit(stack: Stack, cycles: int) -> CyclicFit:
    """Return the cyclical power model fitted to a stack of one person.

    The interval is on the logarithm of the exponent, from the curvature of the sum of squares and
    Student's t (GUM H.3 manner).
    """
    n = int(stack.n[0])
    _, rss, constant, exponent = fit_power(readings(stack), cycles)
    none = float((stack.centred**2).sum())
    beta, left = float(exponent[0]), float(rss[0])
    variance = left / (n - 2)
    at_limit = not EXPONENTS[0] * 1.001 < beta < EXPONENTS[1] * 0.999
    step = 1e-4
    slope = (_curve(stack, beta * np.exp(step), cycles) - _curve(stack, beta * np.exp(-step), cycles)) / (
        2 * step
    )
    slope = slope - slope.mean()
    information = float(slope @ slope)
    value = Interval(beta)
    if not at_limit and information > 0 and variance > 0:
        half = float(t_quantile(n - 2)) * np.sqrt(variance / information)
        value = Interval(beta, float(beta * np.exp(-half)), float(beta * np.exp(half)))
    f = (none - left) / variance if variance > 0 else np.inf
    p = float(special.fdtrc(1, n - 2, max(f, 0.0)))
    return CyclicFit(cycles, value, float(constant[0]), float(np.sqrt(variance)), p, at_limit)


def _curve(stack: Stack, exponent: float, cycles: int) -> Floats:
    return 10 * power_curve(stack.inside[0] / 10, exponent, cycles)


def _correction(stack: Stack) -> Correction:
    """Return the best correction by the digit answered: what a bench can use, where no truth is known."""
    n = int(stack.n[0])
    error, inside = stack.error[0], stack.inside[0]
    digit = np.mod(np.rint(inside + error), 10).astype(np.int64)
    if n < FEWEST or np.ptp(error) < 1e-9:
        return Correction("none", (0.0,) * 10, None, None, None, None, False)
    fold = (7 * np.arange(n) + np.arange(n) // FOLDS) % FOLDS
    after = {kind: np.empty(n) for kind in ("constant", "by-digit")}
    for k in range(FOLDS):
        test = fold == k
        for kind in after:
            expected = _expected_by_digit(error[~test], digit[~test], kind)
            after[kind][test] = error[test] - expected[digit[test]]
    kind = min(after, key=lambda name: float(np.mean(after[name] ** 2)))
    before_square, after_square = error**2, after[kind] ** 2
    rms_before, rms_after = (float(np.sqrt(np.mean(x))) for x in (before_square, after_square))
    gain = 1 - rms_after / rms_before
    # delta method on the mean difference of squares; the folds share readings, which this leaves out
    se = float(np.std(before_square - after_square, ddof=1) / np.sqrt(n) / (2 * rms_before**2))
    helps = gain > CLEAR_GAIN_SE * se
    by_digit = -_expected_by_digit(error, digit, kind) if helps else np.zeros(10)
    values = tuple(float(x) + 0.0 for x in by_digit)
    return Correction(kind if helps else "none", values, rms_before, rms_after, gain, se, bool(helps))


def _expected_by_digit(error: Floats, digit: Ints, kind: str) -> Floats:
    """Return the expected error for each digit answered; digits are drawn towards the common mean.

    Positive-part shrinkage (Efron and Morris 1975): the less the digits' means differ beyond noise, the
    more they are taken together.
    """
    mean = float(error.mean())
    if kind == "constant":
        return np.full(10, mean)
    counts = np.bincount(digit, minlength=10).astype(float)
    sums = np.bincount(digit, weights=error, minlength=10)
    means = np.where(counts > 0, sums / np.maximum(counts, 1), mean)
    within = float(((error - means[digit]) ** 2).sum() / max(len(error) - int((counts > 0).sum()), 1))
    noise = within / np.maximum(counts, 1)
    used = counts > 0
    between = max(float(np.mean((means[used] - mean) ** 2 - noise[used])), 0.0)
    keep = np.where(used, between / (between + noise), 0.0) if between > 0 else np.zeros(10)
    return np.asarray(mean + keep * (means - mean), float)
