"""Speed and memory of scoring: `score` on a million answers, ten million to the table, against a loop.

    python tests/benchmarks/bench_score.py [--quick]

Prints the figures and exits with 1 if a promise is not kept. Ratios are taken within one run.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd
import statsmodels.api as sm
from scipy import optimize, stats
from statsmodels.stats.proportion import proportion_confint

from trainer.scoring.table import score_people

GIB = 2**30


def answers(people: int, each: int, seed: int = 1) -> pd.DataFrame:
    """Return invented answers: spread 0.67 tenths, 1 % misreads, 20 % of the people with a digit habit."""
    rng = np.random.default_rng(seed)
    n = people * each
    person = np.repeat(np.arange(people, dtype=np.int32), each)
    truth = 10 * rng.integers(0, 2500, n) + np.tile(np.arange(each) % 10, people) + rng.random(n)
    seen = truth + 0.1 + 0.6 * rng.standard_normal(n)
    pulled = (person % 5 == 0) & (rng.random(n) < 0.2)
    answer = np.where(pulled, 5 * np.rint(seen / 5), np.rint(seen))
    slipped = rng.random(n) < 0.01
    answer[slipped] += rng.choice([-500, -10, 10, 500], slipped.sum())
    return pd.DataFrame({"person": person, "truth_tenths": truth, "answer_tenths": answer})


def loop(frame: pd.DataFrame) -> pd.DataFrame:
    """Score by the obvious loop over people with scipy and statsmodels: the same table, no tricks."""
    return pd.DataFrame([one_person(str(person), group) for person, group in frame.groupby("person")])


def one_person(person: str, group: pd.DataFrame) -> dict[str, object]:
    """Return misreads, bias, spread, rms, limits, digit preference and u_reading of one person."""
    truth, answer = group["truth_tenths"].to_numpy(), group["answer_tenths"].to_numpy()
    all_errors, position = answer - truth, truth % 10
    misread = (np.abs(all_errors) > 5) | (
        (np.abs(all_errors) > 3.5) & (np.abs(all_errors - (10 - 2 * position)) <= 2.5)
    )
    error, inside = all_errors[~misread], position[~misread]
    n, mean, sd = len(error), error.mean(), error.std(ddof=1)
    centre = stats.trim_mean(error, 1 / (2 * np.sqrt(n - 4)))
    kurtosis = n * ((error - centre) ** 4).sum() / ((error - mean) ** 2).sum() ** 2
    z = stats.norm.ppf(0.975)
    c = n / (n - z)
    se = c * np.sqrt((kurtosis - (n - 3) / n) / (n - 1))
    tenths = pd.Series(error).groupby(inside.astype(int))
    within = (tenths.var() * (tenths.count() - 1)).sum() / (n - 10)
    kinds = [name_of(t, a) for t, a in zip(truth[misread], answer[misread], strict=True)]
    return {
        "person": person,
        "kinds": pd.Series(kinds).value_counts().to_dict(),
        "misreads": proportion_confint(misread.sum(), len(group), method="beta"),
        "bias": mean,
        "bias_ends": stats.t.interval(0.95, n - 10, mean, np.sqrt(within / n)),
        "sd": sd,
        "sd_ends": sd * np.sqrt(c) * np.exp([-z * se / 2, z * se / 2]),
        "rms": np.sqrt((error**2).mean()),
        "within": proportion_confint((np.abs(error) <= 1).sum(), n, method="beta"),
        "tolerance": z * np.sqrt(1 + 1 / n) * np.sqrt((n - 1) / stats.chi2.ppf(0.05, n - 1)) * sd,
        "profile": [stats.t.interval(0.95, len(e) - 1, e.mean(), stats.sem(e)) for _, e in tenths],
        "digits": digit_test(error, inside),
        "u": np.hypot(sd, mean),
        "u_df": 2 * (n - 1) / (kurtosis - (n - 3) / n),
    }


def name_of(truth: float, answer: float) -> str:
    error = answer - truth
    if abs(abs(error) - 10) <= 2.5:
        return "graduation"
    if abs(error - 250 * round(error / 250)) <= 2.5:
        return "turn"
    return "wrong-side" if abs(error - (10 - 2 * (truth % 10))) <= 2.5 else "unexplained"


def digit_test(error: np.ndarray, inside: np.ndarray) -> tuple[float, np.ndarray]:
    """Return the smaller z of the two curves and the expected digits, by OLS and curve_fit."""
    angle = 2 * np.pi * inside / 10
    design = np.column_stack([np.ones_like(angle), *(f(k * angle) for k in (1, 2) for f in (np.cos, np.sin))])
    fit = sm.OLS(error, design).fit()

    def power(x: np.ndarray, constant: float, exponent: float) -> np.ndarray:
        p = np.clip(x / 10, 1e-9, 1 - 1e-9)
        return constant + 10 * (p**exponent / (p**exponent + (1 - p) ** exponent) - p)

    best, _ = optimize.curve_fit(power, inside, error, p0=(0.0, 1.0), bounds=([-5, 0.2], [5, 5]))
    curve = power(inside, *best)
    models = (
        (fit.fittedvalues, np.sqrt(fit.mse_resid - 1 / 12)),
        (curve, np.sqrt(((error - curve) ** 2).sum() / (len(error) - 2) - 1 / 12)),
    )
    answer = np.rint(inside + error)
    zs, expected = [], np.zeros(11)
    for fitted, sigma in models:
        edges = np.array([stats.norm.cdf(k - 0.5, inside + fitted, sigma) for k in range(12)])
        cells = np.diff(edges, axis=0)
        p = cells[0] + cells[5] + cells[10]
        zs.append((np.isin(answer, (0, 5, 10)).sum() - p.sum()) / np.sqrt((p * (1 - p)).sum()))
        expected = cells.sum(axis=1)
    return min(zs), expected


def peak_gib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / GIB


def timed(frame: pd.DataFrame) -> tuple[float, pd.DataFrame]:
    start = time.perf_counter()
    table = score_people(frame).summary()
    return time.perf_counter() - start, table


def command(people: int, each: int) -> tuple[float, float]:
    """Return seconds and GiB of `score --json` on a CSV file, as a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "answers.csv"
        frame = answers(people, each)
        frame["person"] = "reader " + frame["person"].astype(str)
        frame.to_csv(path, index=False)
        before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
        start = time.perf_counter()
        call = [sys.executable, "-m", "trainer", "score", str(path), "--json"]
        subprocess.run(call, check=True, stdout=subprocess.DEVNULL)
        seconds = time.perf_counter() - start
        after = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    return seconds, max(before, after) * 1024 / GIB


def main() -> int:
    quick = "--quick" in sys.argv
    kept = []
    seconds, gib = command(100 if quick else 1000, 1000)
    print(f"score --json, {'0.1' if quick else '1'} million answers from CSV: {seconds:.2f} s, {gib:.2f} GiB")
    kept.append(seconds <= 5 and gib <= 1)

    decades = (10, 100, 1000) if quick else (100, 1000, 10_000)
    score_people(answers(10, 100))  # imports and first calls are not counted
    costs = []
    for people in decades:
        frame = answers(people, 1000)
        seconds, table = timed(frame)
        costs.append(seconds / len(frame))
        print(
            f"table of {len(frame):>10,} answers of {people:>6,} people: {seconds:6.2f} s, "
            f"{peak_gib():.2f} GiB peak"
        )
        if people == decades[1]:
            compare(frame, table, kept)
        del frame
    print(f"cost per answer over the decades: {', '.join(f'{1e9 * c:.0f} ns' for c in costs)}")
    kept += [max(costs) <= 3 * min(costs)]  # the smallest run is all overhead
    if not quick:
        kept += [seconds <= 20, peak_gib() <= 3]
    print("promises kept" if all(kept) else "PROMISES NOT KEPT")
    return 0 if all(kept) else 1


def compare(frame: pd.DataFrame, table: pd.DataFrame, kept: list[bool]) -> None:
    """Time the loop on some of the people, check that it agrees, and compare the time per person."""
    some = 50
    part = frame[frame["person"] < some]
    start = time.perf_counter()
    obvious = loop(part)
    loop_each = (time.perf_counter() - start) / some
    seconds, _ = timed(frame)
    fast_each = seconds / len(table)
    np.testing.assert_allclose(table["bias_tenths"][:some], obvious["bias"], rtol=1e-10)
    np.testing.assert_allclose(table["spread_tenths"][:some], obvious["sd"], rtol=1e-10)
    np.testing.assert_allclose(table["spread_low"][:some], [e[0] for e in obvious["sd_ends"]], rtol=1e-6)
    np.testing.assert_allclose(table["bias_low"][:some], [e[0] for e in obvious["bias_ends"]], rtol=1e-6)
    np.testing.assert_allclose(table["digit_z"][:some], [d[0] for d in obvious["digits"]], atol=0.02)
    print(
        f"the same table by a loop with scipy and statsmodels: {1e3 * loop_each:.2f} ms a person; "
        f"here {1e3 * fast_each:.3f} ms; {loop_each / fast_each:.1f} times faster"
    )
    kept.append(loop_each / fast_each >= 20)


if __name__ == "__main__":
    sys.exit(main())
