"""Every result is frozen, goes to JSON without NaN, and to a table whose gaps are None, from scraps too."""

import dataclasses
import json
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from trainer.scoring import (
    agreement,
    anova,
    budget,
    conformity,
    consistency,
    equivalence,
    judgement,
    line,
    montecarlo,
    pairs,
    precision,
    propagation,
    psychometric,
    robust,
    sequential,
    staircase,
    uncertainty,
)

NOBODY = pairs.Side("A", 1, 0, 0.1, None, None, None, None, 1, 0.1, None)
CERTAIN = budget.from_dict({"model": "a", "inputs": {"a": {"value": 1.0, "distribution": "constant"}}})

SCRAPS: dict[str, Callable[[], Any]] = {
    "one way": lambda: anova.one_way([[1.0, 2.0], [1.0, 2.0, 4.0]]),
    "one way, all equal": lambda: anova.one_way([[1.0, 1.0], [1.0, 1.0]]),
    "line": lambda: line.fit([1.0, 2.0, 3.0], [1.0, 2.0, 4.0]),
    "perfect line": lambda: line.fit([1.0, 2.0, 3.0], [1.0, 1.0, 1.0]),
    "one reading": lambda: uncertainty.type_a([1.0]),
    "cochran": lambda: consistency.cochran([1.0, 2.0, 3.0], 4),
    "pair off the table": lambda: consistency.grubbs_pair([float(i) for i in range(40)], low=True),
    "robust, all equal": lambda: robust.algorithm_a([1.0, 1.0, 1.0]),
    "one person": lambda: precision.of_groups([[1.0, 2.0]]),
    "one reading each": lambda: precision.of_groups([[1.0], [2.0]]),
    "all equal": lambda: precision.of_groups([[1.0, 1.0]] * 6),
    "two with one reading": lambda: pairs.compare(NOBODY, dataclasses.replace(NOBODY, name="B")),
    "equivalence": lambda: equivalence.from_difference(0.0, 1.0, 5, -1, 1),
    "cohen, one category": lambda: agreement.cohen_kappa([[1, 0], [0, 0]]),
    "fleiss, one category": lambda: agreement.fleiss_kappa([[2, 0], [2, 0]]),
    "one decision": lambda: agreement.decision_rates([True], [True]),
    "one trial": lambda: staircase.follow([True]),
    "rate test": lambda: sequential.rate_test(0.1, 0.2, 0.1, 0.1),
    "curve": lambda: psychometric.fit_curve([1, 2, 3, 4], [5, 5, 5, 5], [0, 2, 1, 5]),
    "three judgements": lambda: judgement.fit(np.zeros(3), [True] * 3),
    "risks with one limit": lambda: conformity.global_risks(0, 1, 0.1, conformity.Tolerance(None, 1)),
    "certain budget": lambda: propagation.evaluate(CERTAIN),
    "certain trials": lambda: montecarlo.run(CERTAIN, np.random.default_rng(1)),
}


@pytest.mark.parametrize("name", SCRAPS)
def test_views_hold_none_never_nan(name):
    result = SCRAPS[name]()
    json.dumps(result.to_dict(), allow_nan=False)
    table = result.summary()
    assert isinstance(table, pd.DataFrame)
    assert not table.empty or name == "one trial"
    for cell in table.to_numpy(dtype=object).ravel():
        assert not (isinstance(cell, float) and cell != cell)  # NaN is the one number unlike itself


@pytest.mark.parametrize("name", SCRAPS)
def test_results_are_frozen(name):
    result = SCRAPS[name]()
    field = dataclasses.fields(result)[0].name
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(result, field, None)
