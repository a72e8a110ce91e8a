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
from scipy import stats

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
    """Score by the obvious loop over people with scipy and statsmodels: items 1, 2 and u_reading only."""
    from statsmodels.stats.proportion import proportion_confint

    rows = []
    for person, group in frame.groupby("person"):
        error = group["answer_tenths"] - group["truth_tenths"]
        misread = (error.abs() > 5) | (
            (error.abs() > 3.5) & ((error - (10 - 2 * (group["truth_tenths"] % 10))).abs() <= 2.5)
        )
        good = error[~misread]
        n = len(good)
        centre = stats.trim_mean(good, 1 / (2 * np.sqrt(n - 4)))
        kurtosis = n * ((good - centre) ** 4).sum() / ((good - good.mean()) ** 2).sum() ** 2
        c, z = n / (n - 1.959964), 1.959964
        se = c * np.sqrt((kurtosis - (n - 3) / n) / (n - 1))
        sd = good.std()
        rows.append(
            {
                "person": person,
                "bias": good.mean(),
                "bias_ends": stats.t.interval(0.95, n - 1, good.mean(), stats.sem(good)),
                "sd": sd,
                "sd_ends": sd * np.sqrt(c) * np.exp([-z * se / 2, z * se / 2]),
                "rms": np.sqrt((good**2).mean()),
                "misreads": proportion_confint(misread.sum(), len(group), method="beta"),
                "within": proportion_confint((good.abs() <= 1).sum(), n, method="beta"),
                "u": np.sqrt(sd**2 + good.mean() ** 2),
                "u_df": 2 * (n - 1) / (kurtosis - (n - 3) / n),
            }
        )
    return pd.DataFrame(rows)


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
    print(
        f"loop with scipy and statsmodels: {1e3 * loop_each:.2f} ms "
        f"a person; here, with them: {1e3 * fast_each:.3f} ms; {loop_each / fast_each:.1f} times faster"
    )
    kept.append(loop_each / fast_each >= 20)


if __name__ == "__main__":
    sys.exit(main())
