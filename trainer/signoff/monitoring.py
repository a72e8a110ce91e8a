"""Monitoring between sign-offs: cumulative sums of what exceeds the limits, at a known false-alarm rate.

Each monitoring check adds, for the bias on either side, the spread and the misreads, by how many standard
errors it was beyond its limit (below: taken off, never under nought). A sum over `ALARM` suspends. This is
the cumulative sum chart (Page, Biometrika 41 (1954) 100, from memory) with the limit itself as reference, so
that somebody well inside the limits almost never alarms; measured rates: docs/methods/signoff.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trainer.scoring.errors import Floats
from trainer.signoff.criterion import Criterion
from trainer.signoff.evidence import CheckSession
from trainer.signoff.rules import DRIFT_TENTHS

ALARM = 4.0  # standard errors, summed; see the table of false alarms in docs/methods/signoff.md
CHARTS = ("bias high", "bias low", "spread", "misreads")
JUDGING_CHARTS = ("false accepts", "false rejects")
SQUARE_SPREAD = 2.0  # variance of a squared normal error over its square: kurtosis 3, less 1


@dataclass(frozen=True, slots=True)
class Chart:
    """The cumulative sums after each check, shape (checks, charts) in the order of `names`."""

    sums: Floats
    names: tuple[str, ...] = CHARTS

    @property
    def alarms(self) -> list[tuple[int, str]]:
        """Return (check number from 1, chart) for each chart's first alarm, the earliest first."""
        found = []
        for column, name in enumerate(self.names):
            over = np.flatnonzero(self.sums[:, column] > ALARM)
            if over.size:
                found.append((int(over[0]) + 1, name))
        return sorted(found)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, fit for JSON."""
        return {
            "alarm_above": ALARM,
            "charts": {name: self.sums[:, column].tolist() for column, name in enumerate(self.names)},
            "alarms": [{"check": number, "chart": name} for number, name in self.alarms],
        }


def excesses(
    clean: Floats,
    first: Floats,
    second: Floats,
    bad: Floats,
    *,
    bias_tenths: float,
    spread_tenths: float,
    rate: float,
) -> Floats:
    """Return by how many standard errors each check exceeds the limits, shape (..., 4).

    `clean` counts clean errors, `first` and `second` are their sums of powers 1 and 2, `bad` counts misreads
    and readings not given. A check without two clean readings says nothing of bias and spread.
    """
    enough = clean >= 2
    n = np.where(enough, clean, 2.0)
    mean = np.where(enough, first / n, 0.0)
    variance = np.where(enough, np.maximum(second - n * mean**2, 0.0) / (n - 1), 0.0)
    error = np.sqrt(spread_tenths**2 / n + DRIFT_TENTHS**2)
    high = np.where(enough, (mean - bias_tenths) / error, 0.0)
    low = np.where(enough, (-mean - bias_tenths) / error, 0.0)
    spread = np.where(enough, (variance / spread_tenths**2 - 1) / np.sqrt(SQUARE_SPREAD / (n - 1)), 0.0)
    return np.stack([high, low, spread, rate_excess(bad, clean + bad, rate)], axis=-1)


def rate_excess(bad: Floats, of: Floats, rate: float) -> Floats:
    """Return by how many standard errors the bad ones of each check exceed a limiting rate."""
    return np.asarray((bad - rate * of) / np.sqrt(np.maximum(rate * (1 - rate) * of, 1e-12)))


def accumulate(excess: Floats) -> Floats:
    """Return the running sums, never below nought, along the second axis from the last (the checks)."""
    sums = np.zeros_like(excess)
    level = np.zeros((*excess.shape[:-2], excess.shape[-1]))
    for check in range(excess.shape[-2]):
        level = np.maximum(0.0, level + excess[..., check, :])
        sums[..., check, :] = level
    return sums


def chart(criterion: Criterion, checks: Sequence[CheckSession]) -> Chart:
    """Return the chart of the monitoring checks since the sign-off (or since the last reinstatement)."""
    if criterion.false_accept_rate is not None and criterion.false_reject_rate is not None:
        rates = (criterion.false_accept_rate, criterion.false_reject_rate)
        counts = (
            [(check.false_accepts, check.judged) for check in checks],
            [(check.false_rejects, check.inside) for check in checks],
        )
        parts = [np.array(one, float).reshape(-1, 2) for one in counts]
        excess = [rate_excess(one[:, 0], one[:, 1], rate) for one, rate in zip(parts, rates, strict=True)]
        return Chart(accumulate(np.stack(excess, axis=-1)), JUDGING_CHARTS)
    errors = [np.array(check.errors_tenths, float) for check in checks]
    table = excesses(
        np.array([float(one.size) for one in errors]),
        np.array([float(one.sum()) for one in errors]),
        np.array([float((one**2).sum()) for one in errors]),
        np.array([float(check.misreads + check.not_given) for check in checks]),
        bias_tenths=criterion.bias_tenths,
        spread_tenths=criterion.spread_tenths,
        rate=criterion.misread_rate,
    )
    return Chart(accumulate(table.reshape(len(checks), len(CHARTS))))
