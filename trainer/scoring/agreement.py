"""Do people agree with each other and with the truth, beyond what chance would give? Kappa statistics.

A kappa near 0.8 or above is usually called good (common practice, no source); its interval matters more.
Every standard error is named, because two are in use for each kappa and they differ.
"""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from trainer.instrument.refusal import Refusal
from trainer.scoring.intervals import Interval, clopper_pearson, interval, normal_quantile

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]


class UnusableRatings(Refusal):
    """The table of judgements cannot be used."""


@dataclass(frozen=True, slots=True)
class CohenKappa:
    """Agreement of two people on the same items.

    `se` (Fleiss, Cohen and Everitt 1969) belongs to the estimate and makes the interval; `se_chance` (same
    paper) holds under chance agreement and makes z.
    """

    kappa: Interval
    observed: float
    expected: float
    se: float | None
    se_chance: float | None
    z: float | None
    p_value: float | None
    items: float
    reason: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        flat = asdict(self)
        ends = flat.pop("kappa")
        ends["kappa"] = ends.pop("value")
        return pd.DataFrame([ends | flat], dtype=object)


@dataclass(frozen=True, slots=True)
class FleissKappa:
    """Agreement of several people on the same items, as many a item.

    `se_chance` (Fleiss, Nee and Landis 1979) and `se_1971` (Fleiss 1971) both hold under chance agreement;
    the first is the better one.
    """

    kappa: float | None
    kappa_free: float
    by_category: tuple[float | None, ...]
    observed: float
    expected: float
    se_chance: float | None
    z: float | None
    p_value: float | None
    se_1971: float | None
    z_1971: float | None
    items: int
    judges: int
    reason: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the values as one row."""
        import pandas as pd

        return pd.DataFrame([asdict(self)], dtype=object)


@dataclass(frozen=True, slots=True)
class DecisionRates:
    """One person's accept and reject decisions against the truth, with exact 95 % intervals.

    `false_accept` is the share accepted of items truly outside (the dangerous one), `false_reject` the share
    rejected of items truly inside; None where no such item was shown.
    """

    items: int
    right: Interval
    false_accept: Interval | None
    false_reject: Interval | None
    reasons: dict[str, str]

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return one row a rate."""
        import pandas as pd

        rates = {"right": self.right, "false_accept": self.false_accept, "false_reject": self.false_reject}
        rows = {name: (r.value, r.low, r.high) if r else (None, None, None) for name, r in rates.items()}
        return pd.DataFrame.from_dict(rows, orient="index", columns=["value", "low", "high"], dtype=object)


Weights = Literal["linear", "squared"] | npt.ArrayLike | None


def cohen_kappa(table: npt.ArrayLike, weights: Weights = None, level: float = 0.95) -> CohenKappa:
    """Return the kappa of a square table of counts (or proportions), first person by rows.

    `weights` are agreement weights with 1 for full agreement: None counts exact agreement only; "linear" and
    "squared" fall off with the distance of ordered categories (Cohen 1968). Raises UnusableRatings for a
    table that is not square, negative or empty.
    """
    counts = _square(table)
    items = float(counts.sum())
    shares = counts / items
    w = _weights(weights, len(counts))
    rows, columns = shares.sum(axis=1), shares.sum(axis=0)
    chance = np.outer(rows, columns)
    observed, expected = float((w * shares).sum()), float((w * chance).sum())
    if expected >= 1 - 1e-12:
        reason = "both always gave the same one judgement; chance alone would agree as well"
        return CohenKappa(Interval(None), observed, expected, None, None, None, None, items, reason)
    kappa = (observed - expected) / (1 - expected)
    by_row, by_column = w @ columns, rows @ w
    spread = w - (by_row[:, None] + by_column[None, :]) * (1 - kappa)
    free = float((shares * spread**2).sum()) - (kappa - expected * (1 - kappa)) ** 2
    under = float((chance * (w - by_row[:, None] - by_column[None, :]) ** 2).sum()) - expected**2
    se, se_chance = (math.sqrt(max(v, 0.0) / items) / (1 - expected) for v in (free, under))
    z = kappa / se_chance if se_chance > 0 else None
    half = normal_quantile(level) * se
    return CohenKappa(
        Interval(kappa, max(kappa - half, -1.0), min(kappa + half, 1.0)),
        observed, expected, se, se_chance, z, None if z is None else _two_sided(z), items,
    )  # fmt: skip


def fleiss_kappa(counts: npt.ArrayLike) -> FleissKappa:
    """Return the kappa of counts of shape (items, categories), every row adding up to the judges.

    Raises UnusableRatings when the rows differ, or there are fewer than two judges or items.
    """
    table = _finite(counts, "judgement counts")
    if table.ndim != 2 or len(table) < 2:
        raise UnusableRatings("agreement of several people needs at least 2 items, one row each")
    judges = float(table[0].sum())
    if not (table.sum(axis=1) == judges).all() or judges < 2:
        raise UnusableRatings("every item needs judgements by the same 2 or more people; leave others out")
    items = len(table)
    p = table.sum(axis=0) / (items * judges)
    observed = float(((table**2).sum(axis=1) - judges).mean() / (judges * (judges - 1)))
    expected = float((p**2).sum())
    categories = table.shape[1]
    free = (observed - 1 / categories) / (1 - 1 / categories) if categories > 1 else 1.0
    size = (items, int(judges))
    if expected >= 1 - 1e-12:
        reason = "everyone always gave the same one judgement; chance alone would agree as well"
        none = (None,) * categories
        return FleissKappa(None, free, none, observed, expected, *(None,) * 5, *size, reason)
    kappa = (observed - expected) / (1 - expected)
    se, se_1971 = _fleiss_errors(p, items, judges)
    return FleissKappa(
        kappa, free, _by_category(table, p, judges), observed, expected,
        se, kappa / se, _two_sided(kappa / se), se_1971, kappa / se_1971, *size,
    )  # fmt: skip


def decision_rates(said_reject: npt.ArrayLike, truly_outside: npt.ArrayLike) -> DecisionRates:
    """Return how often one person's decisions are wrong, each way (arrays of booleans, shape (items,))."""
    said, truth = np.asarray(said_reject, dtype=bool), np.asarray(truly_outside, dtype=bool)
    if said.shape != truth.shape or said.ndim != 1 or len(said) == 0:
        raise UnusableRatings(f"{said.size} decisions for {truth.size} items; one decision an item is needed")
    outside, inside = int(truth.sum()), int((~truth).sum())
    reasons = {}
    if not outside:
        reasons["false_accept"] = "no item shown was outside the limit"
    if not inside:
        reasons["false_reject"] = "no item shown was inside the limit"
    return DecisionRates(
        items=len(said),
        right=_rate(int((said == truth).sum()), len(said)),
        false_accept=_rate(int((~said & truth).sum()), outside) if outside else None,
        false_reject=_rate(int((said & ~truth).sum()), inside) if inside else None,
        reasons=reasons,
    )


def table_of(first: Sequence[Any], second: Sequence[Any]) -> tuple[tuple[Any, ...], npt.NDArray[np.int64]]:
    """Return the categories, sorted, and the square table of counts of two people's judgements."""
    if len(first) != len(second) or not len(first):
        raise UnusableRatings(f"{len(first)} and {len(second)} judgements; give pairs on the same items")
    categories = tuple(sorted(set(first) | set(second)))
    place = {category: i for i, category in enumerate(categories)}
    table = np.zeros((len(categories), len(categories)), dtype=np.int64)
    for a, b in zip(first, second, strict=True):
        table[place[a], place[b]] += 1
    return categories, table


def _rate(count: int, of: int) -> Interval:
    return interval(count / of, clopper_pearson(count, of))


def _finite(values: npt.ArrayLike, name: str) -> Floats:
    table = np.asarray(values, dtype=np.float64)
    if not np.isfinite(table).all() or (table < 0).any():
        raise UnusableRatings(f"the {name} hold a negative or missing number; give counts")
    return table


def _square(table: npt.ArrayLike) -> Floats:
    counts = _finite(table, "judgement counts")
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or counts.sum() <= 0:
        raise UnusableRatings("the table of two people's judgements must be square and not empty")
    return counts


def _weights(weights: Weights, size: int) -> Floats:
    if weights is None:
        return np.eye(size)
    if isinstance(weights, str):
        power = {"linear": 1, "squared": 2}.get(weights)
        if power is None:
            raise UnusableRatings(f'weights "{weights}" are not known; use linear, squared or a table')
        apart = np.abs(np.subtract.outer(np.arange(size), np.arange(size))).astype(np.float64)
        return 1 - (apart / max(size - 1, 1)) ** power
    given = np.asarray(weights, dtype=np.float64)
    if given.shape != (size, size) or not np.isfinite(given).all():
        raise UnusableRatings(f"the weights need {size} rows and columns of numbers, as the table has")
    return given


def _by_category(table: Floats, p: Floats, judges: float) -> tuple[float | None, ...]:
    spread = (table * (judges - table)).sum(axis=0)
    bottom = len(table) * judges * (judges - 1) * p * (1 - p)
    return tuple(float(1 - s / b) if b > 0 else None for s, b in zip(spread, bottom, strict=True))


def _fleiss_errors(p: Floats, items: int, judges: float) -> tuple[float, float]:
    pairs = items * judges * (judges - 1)
    pq = p * (1 - p)
    total = float(pq.sum())
    nee = math.sqrt(2 / pairs) * math.sqrt(total**2 - float((pq * (1 - 2 * p)).sum())) / total
    two, three = float((p**2).sum()), float((p**3).sum())
    first = two - (2 * judges - 3) * two**2 + 2 * (judges - 2) * three
    return nee, math.sqrt(2 / pairs * max(first, 0.0)) / (1 - two)


def _two_sided(z: float) -> float:
    from scipy.special import ndtr

    return float(2 * ndtr(-abs(z)))
