"""Simulated readers: people whose bias, spread and misreads are known exactly, for showing what a rule costs.

Simulated readers only; no figure here comes from people. Answers go through the same misread rule and
the same decision as real ones.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from trainer.scoring.errors import Floats
from trainer.scoring.misreads import is_misread
from trainer.signoff.bounds import Totals

KINDS = ("normal", "digit habit", "cyclic", "heavy tails")
PULLED_SHARE = 0.25  # "digit habit": this share of answers is 0 or 5 tenths, the nearest
CYCLE = 0.75  # "cyclic": exponent of the proportion judgement p^b / (p^b + (1-p)^b); from memory
CALIBRATION_SEED, CALIBRATION_READINGS = 20_260_101, 200_000


@dataclass(frozen=True, slots=True)
class Reader:
    """A simulated person.

    `spread_tenths` is the standard deviation of the clean errors, rounding included; `misread_rate` the
    share of readings that are one graduation off; `drift_tenths` the standard deviation of the bias from
    one sitting to the next.
    """

    bias_tenths: float
    spread_tenths: float
    misread_rate: float = 0.0
    drift_tenths: float = 0.0
    kind: str = "normal"


def errors(
    reader: Reader, sessions: tuple[int, ...], chance: np.random.Generator
) -> tuple[Floats, np.ndarray]:
    """Return errors in tenths and which are misreads, both of shape `sessions` (..., sittings, readings).

    The truths are stratified as in a real deal: in every block of ten readings each tenth comes once.
    """
    count = sessions[-1]
    inside = np.arange(count) % 10 + chance.random(sessions)
    drift = reader.drift_tenths * chance.standard_normal((*sessions[:-1], 1))
    noise = own_spread(reader.kind, reader.spread_tenths)
    error = _judged(reader.kind, inside, reader.bias_tenths + drift, noise, chance) - inside
    slip = chance.random(sessions) < reader.misread_rate
    error = np.where(slip, error + np.where(chance.random(sessions) < 0.5, 10.0, -10.0), error)
    return error, is_misread(error, inside)


def _judged(
    kind: str, inside: Floats, shift: Floats | float, noise: float, chance: np.random.Generator
) -> Floats:
    """Return the answers, in tenths from the line below, before slips."""
    if kind == "heavy tails":
        seen = inside + shift + noise * chance.standard_t(4, inside.shape)
    else:
        seen = inside + shift + noise * chance.standard_normal(inside.shape)
    if kind == "cyclic":
        share = inside / 10
        seen = seen + 10 * share**CYCLE / (share**CYCLE + (1 - share) ** CYCLE) - inside
    answer = np.rint(seen)
    if kind == "digit habit":
        pulled = chance.random(inside.shape) < PULLED_SHARE
        answer = np.where(pulled, 5 * np.rint(seen / 5), answer)
    return answer


@lru_cache(maxsize=256)
def own_spread(kind: str, spread_tenths: float) -> float:
    """Return the noise that gives a kind of reader this spread of clean errors, found by bisection."""
    if kind == "normal":  # rounding is independent of it, because the truths are continuous (Sheppard)
        return float(np.sqrt(max(spread_tenths**2 - 1 / 12, 0.0)))
    inside = np.arange(CALIBRATION_READINGS) % 10 + np.random.default_rng(CALIBRATION_SEED).random(
        CALIBRATION_READINGS
    )

    def spread(noise: float) -> float:
        chance = np.random.default_rng(CALIBRATION_SEED + 1)
        error = _judged(kind, inside, 0.0, noise, chance) - inside
        return float(error[~is_misread(error, inside)].std())

    low, high = 0.0, 2 * spread_tenths
    for _ in range(18):
        middle = (low + high) / 2
        low, high = (middle, high) if spread(middle) < spread_tenths else (low, middle)
    return (low + high) / 2


def simulated_totals(
    reader: Reader, people: int, sittings: int, block: int, chance: np.random.Generator
) -> Totals:
    """Return the running totals of many people after every sitting, shape (people, sittings)."""
    parts = []
    for start in range(0, people, 1000):  # a thousand at a time keeps the arrays small
        error, misread = errors(reader, (min(1000, people - start), sittings, block), chance)
        parts.append(session_sums(error, misread))
    return running(np.concatenate(parts, axis=1))


def session_sums(error: Floats, misread: np.ndarray) -> Floats:
    """Return, for each session, clean count, four sums of powers and misreads; shape (6, ..., sessions)."""
    clean = np.where(misread, 0.0, error)
    square = clean * clean
    rows = (~misread, clean, square, square * clean, square * square, misread)
    return np.stack([row.sum(axis=-1, dtype=float) for row in rows])


def running(table: Floats) -> Totals:
    """Return the running totals of sessions that are sittings each; `table` as from `session_sums`."""
    counts, first = table[0], table[1]
    means = np.divide(first, counts, out=np.zeros_like(first), where=counts > 0)
    clean, s1, s2, s3, s4, bad = np.cumsum(table, axis=-1)
    nought = np.zeros_like(clean)
    return Totals(
        clean=clean,
        powers=(s1, s2, s3, s4),
        misreads=bad,
        sittings=np.cumsum(counts > 0, axis=-1).astype(float),
        means=np.cumsum(means, axis=-1),
        means_squared=np.cumsum(means**2, axis=-1),
        judged=nought,
        false_accepts=nought,
        slow=nought,
        judgements=nought,
        inside=nought,
        false_rejects=nought,
    )
