"""An uncertainty budget as read: a model, its intermediate terms, its inputs and their correlations.

Everything is checked when the budget is made, so that whoever evaluates it can trust it.
"""

import math
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from trainer.instrument.refusal import Refusal
from trainer.scoring.component import Component, component
from trainer.scoring.expression import Expression, Tangle, UnusableExpression, is_name, order, parse, tangle

Floats = npt.NDArray[np.float64]
KEYS = ("title", "measurand", "unit", "model", "terms", "inputs", "correlations", "probability", "note")
MOST_INPUTS = 100


class UnusableBudget(Refusal):
    """The budget as a whole does not hold together; the text says where."""


@dataclass(frozen=True)
class Budget:
    """A checked budget. `terms` are in an order in which each uses only those before it."""

    model: Expression
    terms: Mapping[str, Expression]
    inputs: tuple[Component, ...]
    correlation: Floats  # (inputs, inputs)
    probability: float = 0.95
    measurand: str = "y"
    unit: str = ""
    title: str = ""
    note: str = ""

    def __call__(self, values: Mapping[str, Any]) -> Any:
        """Return the measurand for a value, array or jet of each input."""
        known = dict(values)
        for name, term in self.terms.items():
            known[name] = term(known)
        return self.model(known)

    def tangled(self) -> frozenset[frozenset[str]]:
        """Return the pairs of inputs that may bend each other's effect; all others have no mixed slope."""
        known: dict[str, Tangle] = {}
        for name, term in self.terms.items():
            known[name] = tangle(term, known)
        return tangle(self.model, known)[1]

    def correlated(self) -> tuple[int, ...]:
        """Return the places of the inputs that are correlated with any other."""
        apart = self.correlation - np.eye(len(self.inputs))
        return tuple(int(i) for i in np.nonzero(apart.any(axis=1))[0])


def from_dict(data: Mapping[str, Any]) -> Budget:
    """Return the budget described by tables as in a TOML file.

    `model` is a formula; `terms` maps names to formulas used in it; `inputs` maps names to fields (see
    `component`); `correlations` is a list of {between = ["a", "b"], r = 0.5}; `probability` is that of the
    expanded uncertainty. Raises UnusableBudget, UnusableComponent or UnusableExpression.
    """
    unknown = sorted(set(data) - set(KEYS))
    if unknown:
        raise UnusableBudget(f'the budget has an unknown entry "{unknown[0]}"; known are {", ".join(KEYS)}')
    if not isinstance(data.get("model"), str):
        raise UnusableBudget('the budget has no model; add model = "a + b", say')
    model = _formula("model", data["model"])
    terms = _terms(_table(data, "terms"))
    inputs = _inputs(_table(data, "inputs"))
    probability = data.get("probability", 0.95)
    if isinstance(probability, bool) or not isinstance(probability, int | float) or not 0 < probability < 1:
        raise UnusableBudget(f'probability is "{probability}"; give a number between 0 and 1 such as 0.95')
    names = tuple(c.name for c in inputs)
    _names_agree(model, terms, names)
    return Budget(
        model=model,
        terms=terms,
        inputs=inputs,
        correlation=correlation_matrix(names, data.get("correlations", ())),
        probability=float(probability),
        **{key: str(data.get(key, default)) for key, default in _TEXTS.items()},
    )


_TEXTS = {"measurand": "y", "unit": "", "title": "", "note": ""}


def correlation_matrix(names: Sequence[str], entries: Any) -> Floats:
    """Return the matrix of correlation coefficients; refuse one that no quantities could have."""
    place = {name: i for i, name in enumerate(names)}
    matrix = np.eye(len(names))
    if not isinstance(entries, Sequence) or isinstance(entries, str):
        raise UnusableBudget('correlations must be a list such as [{between = ["a", "b"], r = 0.5}]')
    for entry in entries:
        i, j, r = _correlation(entry, place)
        if matrix[i, j] != 0:
            raise UnusableBudget(f"the correlation of {names[i]} and {names[j]} is given twice; keep one")
        matrix[i, j] = matrix[j, i] = r
    # 1e-9: coefficients rounded to nine digits may miss a true matrix by so much
    if len(names) and float(np.linalg.eigvalsh(matrix)[0]) < -1e-9:
        raise UnusableBudget(
            "the correlations contradict each other (their matrix is not positive semi-definite); "
            "no quantities can be correlated like that: check signs and sizes"
        )
    return matrix


def _correlation(entry: Any, place: Mapping[str, int]) -> tuple[int, int, float]:
    between = entry.get("between") if isinstance(entry, Mapping) else None
    if not isinstance(between, Sequence) or isinstance(between, str) or len(between) != 2 or "r" not in entry:
        raise UnusableBudget('a correlation needs between = ["a", "b"] and r = ...')
    between = [_folded(name) for name in between]
    for name in between:
        if name not in place:
            raise UnusableBudget(f'a correlation names "{name}", which is not an input; check the spelling')
    if between[0] == between[1]:
        raise UnusableBudget(f"a correlation of {between[0]} with itself is given; leave it out")
    r = entry["r"]
    if isinstance(r, bool) or not isinstance(r, int | float) or not -1 <= r <= 1 or math.isnan(r):
        raise UnusableBudget(f'the correlation of {between[0]} and {between[1]} is "{r}"; give -1 to 1')
    return place[between[0]], place[between[1]], float(r)


def _table(data: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    table = data.get(key, {})
    if not isinstance(table, Mapping):
        raise UnusableBudget(f"{key} must be a table, one entry a name")
    named = {_folded(name): entry for name, entry in table.items()}
    if len(named) < len(table):
        raise UnusableBudget(f"two of the {key} have names that differ in form only; rename one of them")
    return named


def _folded(name: Any) -> str:
    """Return a name as formulas have it: the micro sign and the Greek letter are one (NFKC)."""
    return unicodedata.normalize("NFKC", str(name))


def _formula(name: str, text: Any) -> Expression:
    try:
        return parse(str(text))
    except UnusableExpression as refusal:
        raise UnusableExpression(f"{name}: {refusal}") from None


def _terms(table: Mapping[str, Any]) -> dict[str, Expression]:
    for name in table:
        if not is_name(name):
            raise UnusableBudget(f'term "{name}" is not a usable name; use letters, digits and _')
    formulas = {name: _formula(f"term {name}", text) for name, text in table.items()}
    return {name: formulas[name] for name in order(formulas)}


def _inputs(table: Mapping[str, Any]) -> tuple[Component, ...]:
    if not table:
        raise UnusableBudget("the budget has no inputs; add one table a quantity, such as [inputs.a]")
    if len(table) > MOST_INPUTS:
        raise UnusableBudget(f"the budget has {len(table)} inputs; the most is {MOST_INPUTS}")
    for name, fields in table.items():
        if not isinstance(fields, Mapping):
            raise UnusableBudget(f"input {name} must be a table with value = ... and what is known of it")
    return tuple(component(name, fields) for name, fields in table.items())


def _names_agree(model: Expression, terms: Mapping[str, Expression], inputs: Sequence[str]) -> None:
    """Refuse names that nothing defines, names defined twice, and inputs that nothing uses."""
    both = sorted(set(terms) & set(inputs))
    if both:
        raise UnusableBudget(f"{both[0]} is both a term and an input; rename one of them")
    used = {"the model": model} | {f"term {name}": term for name, term in terms.items()}
    for where, formula in used.items():
        for name in formula.names:
            if name not in terms and name not in inputs:
                raise UnusableBudget(
                    f'{where} uses "{name}", which is no input or term; define it or correct it'
                )
    reached = set(model.names).union(*(term.names for term in terms.values()))
    idle = [name for name in (*inputs, *terms) if name not in reached]
    if idle:
        raise UnusableBudget(f"{idle[0]} is defined but not used in the model; add it there or leave it out")
