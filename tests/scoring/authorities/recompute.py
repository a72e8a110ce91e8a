"""How the shipped code computes each published value: one function a method named in the TOML files.

Each takes an entry's inputs and its whole document and returns numbers by name.
"""

import math
from collections.abc import Callable
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from trainer.scoring import (
    agreement,
    anova,
    budget,
    conformity,
    consistency,
    equivalence,
    line,
    montecarlo,
    precision,
    propagation,
    psychometric,
    robust,
    sequential,
    staircase,
    uncertainty,
)

Doc = dict[str, Any]
Method = Callable[[Doc, Doc], dict[str, Any]]
METHODS: dict[str, Method] = {}


def method(function: Method) -> Method:
    METHODS[function.__name__] = function
    return function


def computed(entry: Any) -> list[float]:
    """Return the numbers an entry asks for, in the order of its printed ones."""
    found = METHODS[entry.method](entry.inputs, entry.document)
    numbers: list[float] = []
    for name in entry.pick:
        value = found[name]
        numbers += list(value) if isinstance(value, list | tuple) else [value]
    return numbers


# --- NIST -----------------------------------------------------------------------------------------


@cache
def nist(folder: str, name: str) -> tuple[tuple[float, float], ...]:
    """Return the data pairs of a NIST file as scipy ships it; data start at line 61."""
    path = files("scipy.stats").joinpath("tests", "data", folder, f"{name}.dat")
    if not path.is_file():
        raise FileNotFoundError(
            f"this scipy has no tests/data/{folder}/{name}.dat; install a scipy wheel that carries its tests"
        )
    pairs = (text.split() for text in path.read_text(encoding="ascii").splitlines()[60:])
    return tuple((float(p[0]), float(p[1])) for p in pairs if len(p) == 2)


@method
def one_way(inputs: Doc, doc: Doc) -> Doc:
    groups: dict[float, list[float]] = {}
    for group, value in nist("nist_anova", inputs["set"]):
        groups.setdefault(group, []).append(value)
    return anova.one_way(list(groups.values())).to_dict()


@method
def one_way_groups(inputs: Doc, doc: Doc) -> Doc:
    return anova.one_way([[float(v) for v in group] for group in inputs["groups"]]).to_dict()


@method
def norris(inputs: Doc, doc: Doc) -> Doc:
    pairs = nist("nist_linregress", "Norris")
    return line.fit([x for _, x in pairs], [y for y, _ in pairs]).to_dict()


@method
def h3(inputs: Doc, doc: Doc) -> Doc:
    fit = line.fit(doc["data"]["h3"]["t"], doc["data"]["h3"]["b"], origin=20.0)
    value, u = fit.at(30.0)
    return fit.to_dict() | {"at_30": value, "u_at_30": u}


# --- ISO 5725, E691 -------------------------------------------------------------------------------


@method
def precision_(inputs: Doc, doc: Doc) -> Doc:
    groups = doc["data"][inputs["data"]]
    p = precision.of_groups(groups)
    means = [float(np.mean(g)) for g in groups]
    sds = [float(np.std(g, ddof=1)) for g in groups]
    c, g = consistency.cochran(sds, len(groups[0])), consistency.grubbs(means)
    return {
        "mean": p.mean,
        "sd_of_means": p.sd_of_means,
        "repeatability": p.repeatability_sd.value,
        "between": p.between_sd.value,
        "reproducibility": p.reproducibility_sd.value,
        "r_limit": p.repeatability_limit,
        "R_limit": p.reproducibility_limit,
        "h": consistency.h_values(means),
        "k": consistency.k_values(sds),
        "cochran": c.value,
        "cochran_5": c.critical_5,
        "cochran_1": c.critical_1,
        "grubbs": g.value,
        "grubbs_5": g.critical_5,
        "grubbs_1": g.critical_1,
    }


METHODS["precision"] = precision_


@method
def algorithm_a(inputs: Doc, doc: Doc) -> Doc:
    found = robust.algorithm_a(doc["data"][inputs["data"]], inputs.get("rounds", 1000))
    return {"mean": found.mean, "sd": found.sd}


@method
def algorithm_s(inputs: Doc, doc: Doc) -> Doc:
    w = robust.algorithm_s(doc["data"][inputs["data"]], inputs["df"])
    return {"w": w, "s_r": w / math.sqrt(2)}


@method
def cochran_critical(inputs: Doc, doc: Doc) -> Doc:
    levels = inputs.get("levels", (0.01, 0.05))
    return {
        "critical": [
            consistency.cochran_critical(inputs["people"], n, level)
            for n in inputs["readings"]
            for level in levels
        ]
    }


@method
def grubbs_critical(inputs: Doc, doc: Doc) -> Doc:
    return {
        "critical": [
            consistency.grubbs_critical(inputs["count"], level, sides=sides)
            for sides in (2, 1)
            for level in (0.01, 0.05)
        ]
    }


@method
def mandel_critical(inputs: Doc, doc: Doc) -> Doc:
    levels = (0.05, 0.01, 0.005)
    h = [consistency.h_critical(inputs["people"], level) for level in levels]
    k = [consistency.k_critical(inputs["people"], n, level) for n in inputs["readings"] for level in levels]
    return {"critical": h + k}


@method
def mandel_one(inputs: Doc, doc: Doc) -> Doc:
    people, level = inputs["people"], inputs["level"]
    return {
        "h": consistency.h_critical(people, level),
        "k": consistency.k_critical(people, inputs["readings"], level),
    }


@method
def outliers(inputs: Doc, doc: Doc) -> Doc:
    if "count" in inputs:
        one_sided = consistency.grubbs_critical(inputs["count"], 0.05, sides=1)
        return {"one_sided": [one_sided, one_sided]}
    values = doc["data"][inputs["data"]]
    a = uncertainty.type_a(values)
    return {"mean": a.mean, "sd": a.sd, "grubbs": consistency.grubbs(values).value}


# --- GUM ------------------------------------------------------------------------------------------


@method
def type_a(inputs: Doc, doc: Doc) -> Doc:
    return uncertainty.type_a(inputs["values"]).to_dict()


@method
def from_expanded(inputs: Doc, doc: Doc) -> Doc:
    return {"u": uncertainty.from_expanded(inputs["expanded"], inputs["k"])}


@method
def limits(inputs: Doc, doc: Doc) -> Doc:
    a = inputs["half_width"]
    return {"rectangular": uncertainty.rectangular(a), "triangular": uncertainty.triangular(a)}


@method
def resolution(inputs: Doc, doc: Doc) -> Doc:
    return {"u": uncertainty.resolution(inputs["step"])}


@method
def resolutions(inputs: Doc, doc: Doc) -> Doc:
    return {"u": [uncertainty.resolution(step) for step in inputs["step"]]}


@method
def relative_u_of_sd(inputs: Doc, doc: Doc) -> Doc:
    return {"relative": [inputs["scale"] * uncertainty.relative_u_of_sd(n) for n in inputs["n"]]}


@method
def combined(inputs: Doc, doc: Doc) -> Doc:
    u = uncertainty.combined(inputs["u"])
    df = uncertainty.welch_satterthwaite(inputs["u"], inputs["df"])
    # the example takes t at 19, to which 18.9987 rounds
    k = uncertainty.coverage_factor(0.95, round(df))
    return {"u": u, "df": df, "k": k, "expanded": k * u}


@method
def t_row(inputs: Doc, doc: Doc) -> Doc:
    # trap: the columns 68.27, 95.45 and 99.73 % are those of one, two and three sigmas exactly
    sigmas = uncertainty.NORMAL_COVERAGE
    columns = (sigmas[1], 0.90, 0.95, sigmas[2], 0.99, sigmas[3])
    return {"t": [uncertainty.coverage_factor(p, inputs["df"]) for p in columns]}


@method
def budget_(inputs: Doc, doc: Doc) -> Doc:
    made = budget.from_dict(doc["data"][inputs["budget"]])
    result = propagation.evaluate(made, second_order=inputs.get("second_order", False))
    found: Doc = {
        name: getattr(result, name)
        for name in ("estimate", "u", "df", "df_used", "k", "expanded", "u_second", "low", "high")
    }
    found |= {f"part.{row.name}": row.contribution for row in result.lines}
    of_theta = [t.variance for t in result.second_order if t.first == "da" and t.second in ("tbar", "delta")]
    of_alpha = [t.variance for t in result.second_order if (t.first, t.second) == ("alpha", "dtheta")]
    return found | {
        "u_squared": result.u**2,
        "second.theta": math.sqrt(sum(of_theta)),
        "second.alpha": math.sqrt(sum(of_alpha)),
    }


METHODS["budget"] = budget_


@method
def h2(inputs: Doc, doc: Doc) -> Doc:
    names = ("v", "i", "f")
    sets = np.array([doc["data"]["h2"][name] for name in names])
    u, r = sets.std(axis=1, ddof=1) / math.sqrt(sets.shape[1]), np.corrcoef(sets)
    known = {
        n: {"value": float(m), "u": float(s)} for n, m, s in zip(names, sets.mean(axis=1), u, strict=True)
    }
    found: Doc = {f"u_{n}": known[n]["u"] for n in names}
    found |= {"r_vi": r[0, 1], "r_vf": r[0, 2], "r_if": r[1, 2]}
    models = {"R": "v / (i / 1000) * cos(f)", "X": "v / (i / 1000) * sin(f)", "Z": "v / (i / 1000)"}
    for name, model in models.items():
        used = names if "f" in model else names[:2]
        pairs = [(a, b) for k, a in enumerate(used) for b in used[k + 1 :]]
        data = {
            "model": model,
            "inputs": {n: known[n] for n in used},
            "correlations": [
                {"between": [a, b], "r": float(r[names.index(a), names.index(b)])} for a, b in pairs
            ],
        }
        result = propagation.evaluate(budget.from_dict(data))
        found |= {name: result.estimate, f"u_{name}": result.u}
    return found


@method
def h5(inputs: Doc, doc: Doc) -> Doc:
    means, sds = (np.array(doc["data"]["h5"][name]) for name in ("mean_uv", "sd_uv"))
    p = precision.of_statistics([5] * len(means), means, sds**2)
    within = p.repeatability_sd.value
    return {
        "sd_of_means": p.sd_of_means,
        "within": within,
        "between": p.between_sd.value,
        "f": 5 * p.sd_of_means**2 / within**2,
    }


@cache
def _chance(name: str, digits: int, text: str) -> montecarlo.MonteCarlo:
    import tomllib

    made = budget.from_dict(tomllib.loads(text)["data"][name])
    return montecarlo.run(made, np.random.default_rng(20260101), digits=digits, most_trials=2_000_000)


@method
def montecarlo_(inputs: Doc, doc: Doc) -> Doc:
    from pathlib import Path

    text = (Path(__file__).parent / "jcgm101.toml").read_text(encoding="utf-8")
    run = _chance(inputs["budget"], inputs["digits"], text)
    return {
        "estimate": run.estimate,
        "u": run.u,
        "low": run.low,
        "high": run.high,
        "length": run.high - run.low,
        "shortest_low": run.shortest[0],
        "shortest_high": run.shortest[1],
    }


METHODS["montecarlo"] = montecarlo_


# --- JCGM 106 -------------------------------------------------------------------------------------


@method
def conformity_(inputs: Doc, doc: Doc) -> Doc:
    if "probability" in inputs:
        return {"z": [conformity.z_for(p) for p in inputs["probability"]]}
    tolerance = conformity.Tolerance(inputs.get("low"), inputs.get("high"))
    return {"p": conformity.conformance_probability(inputs["measured"], inputs["u"], tolerance)}


METHODS["conformity"] = conformity_


@method
def guarded_speed(inputs: Doc, doc: Doc) -> Doc:
    # the uncertainty is a share of the measured speed v: v - z (share v) = limit
    guard = conformity.guard_band(inputs["relative"], inputs["risk"])
    return {"speed": inputs["limit"] / (1 - guard)}


@method
def global_risks(inputs: Doc, doc: Doc) -> Doc:
    tolerance = conformity.Tolerance(inputs["low"], inputs["high"])
    prior = inputs["prior_mean"], inputs["prior_sd"]
    return conformity.global_risks(*prior, inputs["u"], tolerance, inputs["guard"]).to_dict()


# --- TOST -----------------------------------------------------------------------------------------


@method
def tost(inputs: Doc, doc: Doc) -> Doc:
    limits_ = (-inputs["limit"], inputs["limit"])
    level = inputs.get("level", 0.05)
    match inputs["kind"]:
        case "one":
            found = equivalence.one_sample(
                inputs["mean"], inputs["sd"], inputs["n"], *limits_, reference=inputs["reference"]
            )
        case "two":
            found = equivalence.two_samples(
                tuple(inputs["means"]), tuple(inputs["sds"]), tuple(inputs["n"]), *limits_
            )
        case "paired":
            found = equivalence.paired_summary(
                tuple(inputs["means"]), tuple(inputs["sds"]), inputs["r"], inputs["n"], *limits_
            )
        case "difference":
            found = equivalence.from_difference(inputs["difference"], inputs["u"], inputs["df"], *limits_)
        case "raw":
            first, second = (uncertainty.type_a(doc["data"][name]) for name in ("first", "second"))
            found = equivalence.two_samples(
                (first.mean, second.mean),
                (first.sd, second.sd),
                (first.readings, second.readings),
                *limits_,
                pooled=inputs["pooled"],
                level=level,
            )
    return found.to_dict()


# --- Agreement ------------------------------------------------------------------------------------


@method
def fleiss(inputs: Doc, doc: Doc) -> Doc:
    return agreement.fleiss_kappa(doc["data"][inputs["data"]]).to_dict()


@method
def randolph(inputs: Doc, doc: Doc) -> Doc:
    found = [agreement.fleiss_kappa(table) for table in inputs["tables"]]
    return {"kappas": [value for k in found for value in (k.kappa, k.kappa_free)]}


@method
def cohen(inputs: Doc, doc: Doc) -> Doc:
    weights = inputs.get("weights")
    if "disagreement" in inputs:
        apart = np.array(inputs["disagreement"], dtype=float)
        weights = 1 - apart / apart.max()
    if "data" in inputs:
        table = agreement.table_of(*(doc["data"][inputs["data"]][r] for r in inputs["raters"]))[1]
    else:
        table = np.array(inputs["table"], dtype=float)
    found = agreement.cohen_kappa(table, weights)
    k = found.kappa
    return found.to_dict() | {"kappa": k.value, "low": k.low, "high": k.high}


@method
def decision_rates(inputs: Doc, doc: Doc) -> Doc:
    rates = []
    for missed, bad, alarmed, good in inputs["pairs"]:
        outside = np.arange(bad + good) < bad
        said = np.concatenate([np.arange(bad) >= missed, np.arange(good) < alarmed])
        found = agreement.decision_rates(said, outside)
        rates += [100 * found.false_accept.value, 100 * found.false_reject.value]
    return {"rates": rates}


# --- Judgement ------------------------------------------------------------------------------------


@method
def link(inputs: Doc, doc: Doc) -> Doc:
    d = doc["data"]["beetles"]
    return psychometric.fit_link(d["x"], d["n"], d["k"], inputs["link"]).to_dict()


@method
def curve(inputs: Doc, doc: Doc) -> Doc:
    d = doc["data"]["demo"]
    found = psychometric.fit_curve(
        d["x"], d["n"], d["k"], shape=inputs["shape"], guess=0.5, lapse=inputs["lapse"]
    )
    return found.to_dict() | {"width": psychometric.WIDTH_5_95 * found.scale}


@method
def width(inputs: Doc, doc: Doc) -> Doc:
    return {"width": psychometric.WIDTH_5_95}


@method
def convergence(inputs: Doc, doc: Doc) -> Doc:
    return {"rates": [inputs.get("scale", 1) * staircase.convergence(n) for n in inputs["n"]]}


@method
def staircase_(inputs: Doc, doc: Doc) -> Doc:
    found = staircase.follow([r == "C" for r in inputs["responses"]])
    return {
        "trials": found.reversal_trials,
        "values": found.reversal_values,
        "midpoints": found.midpoints(),
        "last_2": found.mean_of_last(2),
        "last_4": found.mean_of_last(4),
    }


METHODS["staircase"] = staircase_


# --- Sequential -----------------------------------------------------------------------------------


@method
def wald_bounds(inputs: Doc, doc: Doc) -> Doc:
    low, high = sequential.wald_bounds(inputs["alpha"], inputs["beta"])
    return {"low": low, "high": high, "ln_low": math.log(low), "ln_high": math.log(high)}


@method
def rate_test(inputs: Doc, doc: Doc) -> Doc:
    found = sequential.rate_test(inputs["p0"], inputs["p1"], inputs["alpha"], inputs["beta"])
    trials = {
        f"n_{name}": found.expected_trials(rate)
        for name, rate in (("p0", found.p0), ("p1", found.p1), ("slope", found.slope))
    }
    return found.to_dict() | trials


@method
def spending(inputs: Doc, doc: Doc) -> Doc:
    spend = {"obrien_fleming": sequential.obrien_fleming_spent, "pocock": sequential.pocock_spent}[
        inputs["kind"]
    ]
    spent = [spend(share) for share in inputs["shares"]]
    return {"spent": spent, "z": sequential.boundaries(spent, inputs["shares"])}


@method
def constants(inputs: Doc, doc: Doc) -> Doc:
    if inputs["kind"] == "obrien_fleming_z":
        (looks,) = inputs["looks"]
        c = sequential.obrien_fleming_constant(looks)
        return {"constants": [c * math.sqrt(looks / k) for k in range(1, looks + 1)]}
    of = {"pocock": sequential.pocock_constant, "obrien_fleming": sequential.obrien_fleming_constant}
    return {"constants": [of[inputs["kind"]](looks) for looks in inputs["looks"]]}
