"""Curves of judgement fitted by maximum likelihood, for checking against tables and other programs.

For a person's own threshold and width use `judgement`, whose intervals hold for few trials and with lapses.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]
ROUNDS = 100  # of Fisher scoring; a fit that exists takes fewer than ten
WIDTH_5_95 = 3.289707253902945  # normal quantile of 0.95 times 2, by scipy.special.ndtri
TINY = 1e-300


class UnusableJudgements(Refusal):
    """The judgements do not determine a curve."""


@dataclass(frozen=True, slots=True)
class LinkFit:
    """A generalised linear fit of share against x: link(share) = intercept + slope x.

    `median` is the x at a share of one half, with its standard error by the delta method. Deviance and
    chi_square compare fitted with observed counts, with levels less two degrees of freedom.
    """

    link: str
    intercept: float
    slope: float
    se_intercept: float
    se_slope: float
    covariance: float
    deviance: float
    chi_square: float
    df: int
    fitted: tuple[float, ...]
    median: float
    se_median: float

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        return pd.DataFrame([asdict(self)], dtype=object)


@dataclass(frozen=True, slots=True)
class CurveFit:
    """A curve guess + (1 - guess - lapse) F((x - threshold)/scale) at its greatest likelihood."""

    shape: str
    guess: float
    lapse: float
    threshold: float
    scale: float
    minus_log_likelihood: float
    deviance: float

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        return pd.DataFrame([asdict(self)], dtype=object)


def _normal(eta: Floats) -> tuple[Floats, Floats]:
    from scipy.special import ndtr

    return ndtr(eta), np.exp(-0.5 * eta * eta) / math.sqrt(2 * math.pi)


def _logistic(eta: Floats) -> tuple[Floats, Floats]:
    from scipy.special import expit

    p = expit(eta)
    return p, p * (1 - p)


def _extreme(eta: Floats) -> tuple[Floats, Floats]:
    e = np.exp(np.minimum(eta, 700.0))
    return -np.expm1(-e), e * np.exp(-e)


# Each gives the share and its slope at a linear predictor; and the predictor at a share of one half.
LINKS: dict[str, tuple[Callable[[Floats], tuple[Floats, Floats]], float]] = {
    "probit": (_normal, 0.0),
    "logit": (_logistic, 0.0),
    "cloglog": (_extreme, math.log(math.log(2))),
}
SHAPES = {"normal": _normal, "logistic": _logistic}


def fit_link(x: Sequence[float], trials: Sequence[int], hits: Sequence[int], link: str = "probit") -> LinkFit:
    """Fit by Fisher scoring. Raises UnusableJudgements when no finite fit exists."""
    if link not in LINKS:
        raise UnusableJudgements(f'link "{link}" is not known; use one of {", ".join(LINKS)}')
    xs, n, k = _levels(x, trials, hits)
    _not_separated(xs, n, k)
    share_at, middle = LINKS[link]
    centre, unit = float(xs.mean()), float(xs.std())
    z = (xs - centre) / unit  # well-conditioned steps
    beta, information = _score(share_at, z, n, k, middle)
    p, _ = share_at(beta[0] + beta[1] * z)
    back = np.array([[1.0, -centre / unit], [0.0, 1.0 / unit]])
    intercept, slope = back @ beta
    covariance = back @ np.linalg.inv(information) @ back.T
    median = (middle - intercept) / slope
    gradient = np.array([-1.0, -median]) / slope
    expected = n * p
    return LinkFit(
        link=link,
        intercept=float(intercept),
        slope=float(slope),
        se_intercept=math.sqrt(covariance[0, 0]),
        se_slope=math.sqrt(covariance[1, 1]),
        covariance=float(covariance[0, 1]),
        deviance=deviance(n, k, p),
        chi_square=float(((k - expected) ** 2 / (expected * (1 - p))).sum()),
        df=len(xs) - 2,
        fitted=tuple(expected.tolist()),
        median=float(median),
        se_median=math.sqrt(float(gradient @ covariance @ gradient)),
    )


def fit_curve(
    x: Sequence[float], trials: Sequence[int], hits: Sequence[int],
    *, shape: str = "normal", guess: float = 0.0, lapse: float = 0.0,
) -> CurveFit:  # fmt: skip
    """Fit threshold and scale with guessing and lapses given (guess 0.5 for two-alternative trials)."""
    from scipy.optimize import minimize

    if shape not in SHAPES:
        raise UnusableJudgements(f'shape "{shape}" is not known; use one of {", ".join(SHAPES)}')
    if not (0 <= guess < 1 and 0 <= lapse < 1 and guess + lapse < 1):
        raise UnusableJudgements(f"guess {guess} and lapse {lapse} leave no room for a curve")
    xs, n, k = _levels(x, trials, hits)
    if guess == 0 and lapse == 0:
        _not_separated(xs, n, k)
    centre, unit = float((xs * n).sum() / n.sum()), float(xs.std())

    def share(parameters: Floats) -> Floats:
        threshold, log_scale = parameters
        z = ((xs - centre) / unit - threshold) / math.exp(min(max(log_scale, -50.0), 50.0))
        return guess + (1 - guess - lapse) * SHAPES[shape](np.clip(z, -1e6, 1e6))[0]

    def loss(parameters: Floats) -> float:
        return _minus_log_likelihood(n, k, share(parameters))

    start = np.array([0.0, math.log(0.5)])
    for _ in range(2):  # a second start from the first end, as the simplex may shrink too early
        found = minimize(
            loss, start, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-12, "maxiter": 4000}
        )
        start = found.x
    threshold, log_scale = (float(v) for v in found.x)
    if not -12 < log_scale < 12:
        raise UnusableJudgements(
            "the judgements do not fix the steepness; more trials near the change are needed"
        )
    p = share(found.x)
    return CurveFit(
        shape, guess, lapse, centre + unit * threshold, unit * math.exp(log_scale),
        float(found.fun), deviance(n, k, p),
    )  # fmt: skip


def deviance(n: Floats, k: Floats, p: Floats) -> float:
    """Return twice the log likelihood ratio of the observed shares over the fitted ones."""
    from scipy.special import xlogy

    misses = n - k
    per_hit = xlogy(k, np.where(k > 0, k, 1) / np.maximum(n * p, TINY))
    per_miss = xlogy(misses, np.where(misses > 0, misses, 1) / np.maximum(n * (1 - p), TINY))
    return float(2 * (per_hit + per_miss).sum())


def _minus_log_likelihood(n: Floats, k: Floats, p: Floats) -> float:
    from scipy.special import xlogy

    return float(-(xlogy(k, np.maximum(p, TINY)) + xlogy(n - k, np.maximum(1 - p, TINY))).sum())


def _score(
    share_at: Callable[[Floats], tuple[Floats, Floats]], z: Floats, n: Floats, k: Floats, middle: float
) -> tuple[Floats, Floats]:
    """Return the coefficients and their information at the greatest likelihood."""
    design = np.column_stack([np.ones_like(z), z])
    beta = np.array([middle, 0.0])
    for _ in range(ROUNDS):
        p, slope = share_at(design @ beta)
        p = np.clip(p, 1e-15, 1 - 1e-15)
        weight = n * slope**2 / (p * (1 - p))
        information = design.T @ (weight[:, None] * design)
        push = design.T @ ((k - n * p) * slope / (p * (1 - p)))
        try:
            step = np.linalg.solve(information, push)
        except np.linalg.LinAlgError:
            break
        beta = beta + step * min(1.0, 4.0 / max(float(np.abs(step).max()), 1e-300))
        if float(np.abs(step).max()) < 1e-12:
            return beta, information
    raise UnusableJudgements("the fit does not settle; the judgements do not rise or fall with the offset")


def _not_separated(x: Floats, n: Floats, k: Floats) -> None:
    """Refuse data where some offset divides all answers of one kind from all of the other."""
    hits, misses = x[k > 0], x[k < n]
    if len(hits) and len(misses) and misses.max() > hits.min() and hits.max() > misses.min():
        return
    raise UnusableJudgements(
        "the judgements change cleanly at one place, so the steepness has no end; "
        "more trials near the change are needed"
    )


def _levels(x: Sequence[float], trials: Sequence[int], hits: Sequence[int]) -> tuple[Floats, Floats, Floats]:
    xs, n, k = (np.asarray(v, dtype=np.float64) for v in (x, trials, hits))
    if not (xs.shape == n.shape == k.shape) or xs.ndim != 1 or len(xs) < 2:
        raise UnusableJudgements("levels, trials and hits need the same length, at least 2")
    if not (np.isfinite(xs).all() and np.isfinite(n).all() and np.isfinite(k).all()):
        raise UnusableJudgements("a level or count is not a finite number; leave that level out")
    if (n < 1).any() or (k < 0).any() or (k > n).any():
        raise UnusableJudgements("every level needs at least 1 trial and hits between 0 and its trials")
    if xs.min() == xs.max():
        raise UnusableJudgements("every trial was at the same level; a curve needs at least 2 levels")
    return xs, n, k
