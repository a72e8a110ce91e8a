"""Everybody's in-or-out judgements: wrong decisions each way, threshold and width, agreement.

An offset is in tenths of a division from the nearest graduation, a tolerance the same on both sides. For the
curve an offset counts by how far it lies beyond the tolerance, whichever the side, so a threshold above zero
means that a person lets items pass that are somewhat outside.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from trainer.scoring.agreement import (
    CohenKappa,
    DecisionRates,
    FleissKappa,
    UnusableRatings,
    cohen_kappa,
    decision_rates,
    fleiss_kappa,
    table_of,
)
from trainer.scoring.judgement import Judgement, fit

if TYPE_CHECKING:
    import pandas as pd

Floats = npt.NDArray[np.float64]
NEEDED = ("person", "truth_tenths", "said_out", "tolerance_tenths")
MOST_PAIRED = 40  # people; beyond, a list of every pair helps nobody
SAME_ITEM_TENTHS = 1e-6  # positions closer than this are one item shown to several people


@dataclass(frozen=True)
class JudgedPerson:
    """One person's judgements; `with_truth` is Cohen's kappa against the true state of the items."""

    person: str
    rates: DecisionRates
    curve: Judgement
    with_truth: CohenKappa

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return {
            "person": self.person,
            "rates": self.rates.to_dict(),
            "curve": self.curve.to_dict(),
            "with_truth": self.with_truth.to_dict(),
        }


@dataclass(frozen=True)
class JudgedPeople:
    """Everybody's judgements; `between` is Fleiss' kappa over the items that all of them judged.

    Of an item that a person judged several times the first judgement counts. `pairs` holds Cohen's kappa of
    every two people who share items. What there is none of has its reason.
    """

    people: tuple[JudgedPerson, ...]
    between: FleissKappa | None
    pairs: Mapping[tuple[str, str], CohenKappa]
    reasons: Mapping[str, str]

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return {
            "people": [person.to_dict() for person in self.people],
            "between": None if self.between is None else self.between.to_dict(),
            "pairs": [{"people": list(names), **k.to_dict()} for names, k in self.pairs.items()],
            "reasons": dict(self.reasons),
        }

    def summary(self) -> "pd.DataFrame":
        """Return one row a person."""
        import pandas as pd

        rows = {}
        for p in self.people:
            parts = (
                p.rates.false_accept,
                p.rates.false_reject,
                p.curve.threshold_tenths,
                p.curve.width_tenths,
            )
            rows[p.person] = [
                p.rates.items,
                *(i.value if i else None for i in parts),
                p.with_truth.kappa.value,
            ]
        columns = [
            "items",
            "false_accept",
            "false_reject",
            "threshold_tenths",
            "width_tenths",
            "kappa_with_truth",
        ]
        return pd.DataFrame.from_dict(rows, orient="index", columns=columns, dtype=object)


def from_limit(truth_tenths: npt.ArrayLike, tolerance_tenths: npt.ArrayLike) -> Floats:
    """Return how far beyond the tolerance positions lie from their nearest graduation; negative is within.

    >>> from_limit([101.5, 98.0], 1.0).tolist()
    [0.5, 1.0]
    """
    offset = np.mod(np.asarray(truth_tenths, dtype=np.float64) + 5.0, 10.0) - 5.0
    beyond: Floats = np.abs(offset) - np.asarray(tolerance_tenths, dtype=np.float64)
    return beyond


def judge_people(judgements: "pd.DataFrame") -> JudgedPeople:
    """Return everybody's figures from judgements, one row each.

    Columns: person, truth_tenths, said_out (true or false), tolerance_tenths; all people on one instrument.
    Raises UnusableRatings for a missing column or values that cannot be used.
    """
    beyond, said = _checked(judgements)
    names = judgements["person"].astype(str).to_numpy()
    people = tuple(
        _person(str(name), beyond[names == name], said[names == name])
        for name in dict.fromkeys(names.tolist())
    )
    between, pairs, reasons = _between(judgements, names, said)
    return JudgedPeople(people, between, pairs, reasons)


def _checked(judgements: "pd.DataFrame") -> tuple[Floats, npt.NDArray[np.bool_]]:
    for name in NEEDED:
        if name not in judgements.columns:
            raise UnusableRatings(f'the judgements have no column "{name}"; needed are {", ".join(NEEDED)}')
    if judgements.empty:
        raise UnusableRatings("there are no judgements; nothing can be said")
    if judgements["person"].isna().any():
        raise UnusableRatings("a judgement names no person; name the person or leave that judgement out")
    try:
        numbers = judgements[["truth_tenths", "tolerance_tenths"]].to_numpy(dtype=np.float64, na_value=np.nan)
    except (TypeError, ValueError) as fault:
        raise UnusableRatings(f"a position or tolerance is not a number: {fault}") from None
    if not np.isfinite(numbers).all() or (numbers[:, 1] <= 0).any():
        raise UnusableRatings("a position or tolerance is missing or not possible; leave that judgement out")
    said = judgements["said_out"]
    if not said.isin([True, False]).all():
        raise UnusableRatings("said_out must be true or false for every judgement; leave skipped items out")
    return from_limit(numbers[:, 0], numbers[:, 1]), said.to_numpy(dtype=bool)


def _person(name: str, beyond: Floats, said: npt.NDArray[np.bool_]) -> JudgedPerson:
    outside = beyond > 0  # on the limit itself is within
    both = [(bool(a), bool(b)) for a, b in zip(said, outside, strict=True)]
    _, table = table_of([a for a, _ in both], [b for _, b in both])
    return JudgedPerson(name, decision_rates(said, outside), fit(beyond, said), cohen_kappa(table))


def _between(
    judgements: "pd.DataFrame", names: npt.NDArray[Any], said: npt.NDArray[np.bool_]
) -> tuple[FleissKappa | None, dict[tuple[str, str], CohenKappa], dict[str, str]]:
    """Return agreement between people over the items that they share."""
    import pandas as pd

    # an item is a position with the tolerance it was judged against: another tolerance, another question
    shown = judgements[["truth_tenths", "tolerance_tenths"]].to_numpy(dtype=np.float64)
    item = np.unique(np.rint(shown / SAME_ITEM_TENTHS), axis=0, return_inverse=True)[1].ravel()
    frame = pd.DataFrame({"item": item, "person": names, "said": said}).drop_duplicates(["item", "person"])
    wide = frame.pivot(index="item", columns="person", values="said")
    order = list(dict.fromkeys(names.tolist()))
    reasons = {}
    if len(order) > MOST_PAIRED:
        reasons["pairs"] = f"{len(order)} people make too many pairs; choose at most {MOST_PAIRED}"
    pairs = _pairs(wide, order) if len(order) <= MOST_PAIRED else {}
    by_all = wide.dropna()
    if len(order) < 2 or len(by_all) < 2:
        why = (
            "one person; agreement needs at least 2"
            if len(order) < 2
            else "fewer than 2 items were judged by everybody; give all of them the same sitting"
        )
        return None, pairs, reasons | {"between": why}
    out = by_all.astype(bool).to_numpy().sum(axis=1)
    return fleiss_kappa(np.column_stack([out, len(order) - out])), pairs, reasons


def _pairs(wide: "pd.DataFrame", order: list[str]) -> dict[tuple[str, str], CohenKappa]:
    pairs = {}
    for first, second in combinations(order, 2):
        shared = wide[[first, second]].dropna()
        if len(shared) > 1:
            _, table = table_of(shared[first].astype(bool).tolist(), shared[second].astype(bool).tolist())
            pairs[first, second] = cohen_kappa(table)
    return pairs
