"""The law of propagation of uncertainty (JCGM 100:2008, clause 5 and annex G), first and second order."""

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from trainer.scoring import uncertainty
from trainer.scoring.budget import Budget, UnusableBudget
from trainer.scoring.jet import Jet

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]
BENT = 0.05  # second order adds more than this share: say so (our convention)


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One input's part: `contribution` is |sensitivity| u, `share` its part of the variance (sums to 1)."""

    name: str
    value: float
    distribution: str
    u: float
    df: float | None
    sensitivity: float
    contribution: float
    share: float | None
    unit: str
    note: str


@dataclass(frozen=True, slots=True)
class SecondOrderTerm:
    """What one pair of inputs adds to the variance beyond the first order, as a signed square."""

    first: str
    second: str
    variance: float


@dataclass(frozen=True, slots=True)
class BudgetResult:
    """A measurand's estimate and uncertainty. `df` is None without limit; `df_used` is cut to a whole number.

    `u_second` includes second-order terms; None where correlations leave it undefined, with the reason.
    """

    measurand: str
    unit: str
    title: str
    model: str
    estimate: float
    u: float
    df: float | None
    df_used: int | None
    probability: float
    k: float
    expanded: float
    u_second: float | None
    lines: tuple[BudgetLine, ...]
    second_order: tuple[SecondOrderTerm, ...]
    reasons: dict[str, str]
    notes: tuple[str, ...]

    @property
    def low(self) -> float:
        """Lower end of the coverage interval."""
        return self.estimate - self.expanded

    @property
    def high(self) -> float:
        """Upper end of the coverage interval."""
        return self.estimate + self.expanded

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return asdict(self)

    def summary(self) -> "pd.DataFrame":
        """Return the budget table, one row an input."""
        import pandas as pd

        return pd.DataFrame([asdict(line) for line in self.lines], dtype=object).set_index("name")


def evaluate(budget: Budget, *, second_order: bool = False) -> BudgetResult:
    """Propagate the uncertainties; derivatives are exact to rounding error.

    With `second_order` the expanded uncertainty includes the second-order terms (JCGM 100, 5.1.2, Note).
    Raises UnusableBudget where the model has no value or no slope at the estimates.
    """
    with np.errstate(all="ignore"):  # what is not finite is refused below, in a sentence
        estimate, slopes, pairs = _derivatives(budget)
        u = np.array([c.u for c in budget.inputs])
        signed = slopes * u
        first = _length(signed, budget.correlation)
        if not math.isfinite(first):
            raise UnusableBudget("the uncertainty grows beyond any number; check the formula and the values")
        reasons: dict[str, str] = {}
        terms, u_second = _second(budget, slopes, pairs, u, first, reasons)
    used = first
    if second_order:
        if u_second is None:
            raise UnusableBudget(f"the second order was asked for, but {reasons['u_second']}")
        used = u_second
    df = _effective_df(budget, signed, used)
    whole = uncertainty.whole_df(df)
    k = uncertainty.coverage_factor(budget.probability, whole)
    if not math.isfinite(k * used):
        raise UnusableBudget("the uncertainty grows beyond any number; check the formula and the values")
    return BudgetResult(
        measurand=budget.measurand,
        unit=budget.unit,
        title=budget.title,
        model=budget.model.text,
        estimate=estimate,
        u=used,
        df=df,
        df_used=whole,
        probability=budget.probability,
        k=k,
        expanded=k * used,
        u_second=u_second,
        lines=_lines(budget, slopes, signed, first),
        second_order=terms,
        reasons=reasons,
        notes=_notes(budget, first, u_second, second_order),
    )


def _derivatives(budget: Budget) -> tuple[float, Floats, list[tuple[int, int, Jet]]]:
    """Return the value, the slope by each input, and a jet for each input and tangled pair."""
    at = {c.name: c.value for c in budget.inputs}
    names = list(at)
    slopes, tangled = np.zeros(len(names)), budget.tangled()
    pairs: list[tuple[int, int, Jet]] = []
    try:
        estimate = _as_jet(budget({name: Jet.of(value) for name, value in at.items()})).value
        for i, first in enumerate(names):
            for j in [i, *(k for k in range(i + 1, len(names)) if frozenset({first, names[k]}) in tangled)]:
                steps: dict[str, Any] = dict(at)
                steps[names[j]] = Jet.of(at[names[j]], 1)
                steps[first] = Jet.of(at[first], 0)
                jet = _as_jet(budget({n: v if isinstance(v, Jet) else Jet.of(v) for n, v in steps.items()}))
                pairs.append((i, j, jet))
                slopes[i] = jet.derivative(1, 0)
    except (ValueError, ZeroDivisionError, OverflowError) as trouble:
        raise UnusableBudget(
            f"the model has no value or no slope at the estimates ({trouble}); check formula and values"
        ) from None
    every = np.array([jet.c for _, _, jet in pairs])
    if not np.isfinite(every).all() or not math.isfinite(estimate):
        raise UnusableBudget(
            "the model grows beyond any number at the estimates; check the formula and the values"
        )
    return estimate, slopes, pairs


def _as_jet(value: Any) -> Jet:
    return value if isinstance(value, Jet) else Jet.of(float(value))


def _second(
    budget: Budget,
    slopes: Floats,
    pairs: list[tuple[int, int, Jet]],
    u: Floats,
    first: float,
    reasons: dict[str, str],
) -> tuple[tuple[SecondOrderTerm, ...], float | None]:
    """Return the terms sum over i, j of (f_ij^2 / 2 + f_i f_ijj) u_i^2 u_j^2, by unordered pair."""
    if budget.correlated():
        reasons["u_second"] = (
            "second-order terms hold for independent inputs only; use the Monte Carlo result"
        )
        return (), None
    scale = first or 1.0  # squares of tiny or enormous numbers would leave the range of doubles
    terms, added = [], []
    for i, j, jet in pairs:
        both = u[i] * u[j] / scale
        slope_i, slope_j = slopes[i] * u[i] / scale, slopes[j] * u[j] / scale
        if i == j:
            part = (jet.derivative(2, 0) * both) ** 2 / 2 + slope_i * (jet.derivative(3, 0) * both * u[i])
        else:  # f_ij and f_ji, half each
            part = (jet.derivative(1, 1) * both) ** 2
            part += slope_i * (jet.derivative(1, 2) * both * u[j])
            part += slope_j * (jet.derivative(2, 1) * both * u[i])
        if part != 0:
            added.append(float(part))
            names = budget.inputs[i].name, budget.inputs[j].name
            terms.append(SecondOrderTerm(*names, float(part * scale * scale)))
    square = (1.0 if first else 0.0) + math.fsum(added)
    if not math.isfinite(square) or not all(math.isfinite(t.variance) for t in terms):
        reasons["u_second"] = "the second-order terms grow beyond any number"
        return (), None
    if square < 0:
        reasons["u_second"] = "the second-order terms outweigh the first; the model is too bent for a series"
        return tuple(terms), None
    return tuple(terms), scale * math.sqrt(square)


def _length(signed: Floats, correlation: Floats) -> float:
    """Return the root of signed' R signed, without squaring numbers that a double cannot square."""
    scale = float(np.abs(signed).max())
    if scale == 0 or not math.isfinite(scale):
        return scale
    unit = signed / scale
    return scale * math.sqrt(max(float(unit @ correlation @ unit), 0.0))


def _effective_df(budget: Budget, signed: Floats, total: float) -> float | None:
    """Return Welch-Satterthwaite degrees of freedom.

    The formula is for independent inputs. Correlated ones are taken together as one contribution with the
    fewest degrees of freedom among them: a cautious convention of this program.
    """
    together = budget.correlated()
    parts = [(float(abs(signed[i])), c.df) for i, c in enumerate(budget.inputs) if i not in together]
    if together:
        index = list(together)
        block = _length(signed[index], budget.correlation[np.ix_(index, index)])
        known = [df for df in (budget.inputs[i].df for i in index) if df is not None and df != math.inf]
        parts.append((block, min(known, default=None)))
    shares = (
        math.fsum((p / total) ** 4 / df for p, df in parts if df and df != math.inf) if total > 0 else 0.0
    )
    return 1 / shares if shares > 0 else None


def _lines(budget: Budget, slopes: Floats, signed: Floats, first: float) -> tuple[BudgetLine, ...]:
    unit = signed / (first or 1.0)
    parts = unit * (budget.correlation @ unit)
    return tuple(
        BudgetLine(
            c.name, c.value, c.distribution, c.u, c.df, float(slopes[i]), float(abs(signed[i])),
            float(parts[i]) if first > 0 else None, c.unit, c.note,
        )
        for i, c in enumerate(budget.inputs)
    )  # fmt: skip


def _notes(budget: Budget, first: float, u_second: float | None, second_order: bool) -> tuple[str, ...]:
    notes = []
    if budget.correlated() and any(budget.inputs[i].df is not None for i in budget.correlated()):
        notes.append(
            "correlated inputs count as one contribution with the fewest degrees of freedom among them "
            "(a cautious convention; the Welch-Satterthwaite formula is for independent inputs)"
        )
    if u_second is not None and not second_order and abs(u_second - first) > BENT * first:
        notes.append(
            f"the model is bent: with second-order terms u is {u_second:.3g} instead of {first:.3g}; "
            "use the second order or the Monte Carlo result"
        )
    return tuple(notes)
