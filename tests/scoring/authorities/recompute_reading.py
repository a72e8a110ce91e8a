"""How the shipped code computes the published values on readings: intervals, trends, digits, curves.

`register` adds them to the methods of recompute.py.
"""

from collections.abc import Callable
from typing import Any

import numpy as np

from trainer.scoring import drift, indices, intervals, tolerance
from trainer.scoring.central import central
from trainer.scoring.interpolation import power_curve
from trainer.scoring.stacks import stack_of

Doc = dict[str, Any]


def register(methods: dict[str, Callable[[Doc, Doc], dict[str, Any]]]) -> None:
    """Add the methods of this file under their own names."""
    for method in (
        univariate,
        rate,
        sd_chi_square,
        tolerance_factor,
        mann_kendall,
        mann_kendall_nile,
        whipple,
        myers,
        preference_score,
        power_curve_errors,
    ):
        methods[method.__name__.removesuffix("_errors")] = method


def univariate(inputs: Doc, document: Doc) -> dict[str, Any]:
    """Treat the numbers as errors of one person; the position within the division does not matter."""
    values = np.array([inputs["first"], *inputs["pair"] * inputs["pairs"]], float)
    columns = central(stack_of(values, np.zeros(len(values))))
    return {
        "mean": columns["bias"][0],
        "sd": columns["sd"][0],
        "lag_one": drift.serial_correlation(values),
    }


def rate(inputs: Doc, document: Doc) -> dict[str, Any]:
    kind, numbers = inputs["kind"], (inputs["count"], inputs["of"], inputs["confidence"])
    if kind == "exact":
        low, high = intervals.clopper_pearson(*numbers)
    else:
        low, high = intervals.wilson(*numbers, continuity=kind.endswith("continuity"))
    return {"low": float(low), "high": float(high)}


def sd_chi_square(inputs: Doc, document: Doc) -> dict[str, Any]:
    low, high = intervals.sd_chi_square(inputs["sd"], inputs["of"], inputs["confidence"])
    return {"low": low.tolist(), "high": high.tolist()}


def tolerance_factor(inputs: Doc, document: Doc) -> dict[str, Any]:
    function = {
        "howe": tolerance.howe_factor,
        "howe-one-sided": tolerance.howe_factor_one_sided,
        "exact": tolerance.exact_factor,
        "exact-one-sided": tolerance.exact_factor_one_sided,
    }[inputs["kind"]]
    share, confidence = inputs["coverage"], inputs["confidence"]
    return {"factor": [float(function(n, share, confidence)) for n in inputs["of"]]}


def mann_kendall(inputs: Doc, document: Doc) -> dict[str, Any]:
    return drift.mann_kendall(document["data"][inputs["data"]]).to_dict()


def mann_kendall_nile(inputs: Doc, document: Doc) -> dict[str, Any]:
    from statsmodels.datasets import nile

    volume = nile.load_pandas().data["volume"].to_numpy()
    return drift.mann_kendall(volume).to_dict() | {"sen": drift.sen_slope(volume)}


def whipple(inputs: Doc, document: Doc) -> dict[str, Any]:
    counts, digits = document["data"][inputs["data"]], tuple(inputs["digits"])
    return {"index": indices.whipple(counts, digits, first=inputs["first"], last=inputs["last"])}


def myers(inputs: Doc, document: Doc) -> dict[str, Any]:
    counts = [0] * inputs["offset"] + document["data"][inputs["data"]]
    span = {"first": inputs["first"], "last": inputs["last"]}
    shares = 100 * indices.myers_shares(counts, **span)
    return {"index": indices.myers(counts, **span), "shares": shares.tolist()}


def preference_score(inputs: Doc, document: Doc) -> dict[str, Any]:
    return {"score": indices.preference_score(inputs["counts"])}


def power_curve_errors(inputs: Doc, document: Doc) -> dict[str, Any]:
    at = np.arange(1, 10) / 10
    return {"errors": power_curve(at, inputs["exponent"], inputs["cycles"]).round(12).tolist()}
