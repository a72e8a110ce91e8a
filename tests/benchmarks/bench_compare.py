"""Coverage of the intervals for people compared and for judgements, beside the older methods; and speed.

Run `python tests/benchmarks/bench_compare.py [--runs 2000] [--seed 1]`. It prints the tables that
docs/methods/comparing.md and docs/methods/judgement.md quote. Coverage in per cent; its Monte Carlo
standard error at 95 % is 0.5 points for 2,000 runs.
"""

import argparse
import math
import time
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy import stats
from scipy.special import ndtr

from trainer.scoring import compare, judgement, pairs, precision

WITHIN = 0.67  # tenths: a good reader's spread, rounding included
LEVELS = np.linspace(-3, 3, 9)  # offsets in widths


def spreads(people: int, unlike: bool, rng: np.random.Generator) -> np.ndarray:
    """Return everybody's spread: equal, or log-normal with a coefficient of variation of 40 %."""
    if not unlike:
        return np.full(people, WITHIN)
    log_sd = math.sqrt(math.log(1.16))
    return WITHIN * np.exp(log_sd * rng.standard_normal(people) - log_sd**2 / 2)


def graybill_wang(n: np.ndarray, m: np.ndarray, v: np.ndarray) -> tuple[float, float]:
    """Return the classic interval for the sum of variances, which takes one common spread for granted."""
    people, df = len(n), float((n - 1).sum())
    parts = (float(m.var(ddof=1)), people - 1.0), (float((v * (1 - 1 / n)).mean()), df)
    g = sum(p for p, _ in parts)
    low = math.sqrt(sum(((1 - d / stats.chi2.ppf(0.975, d)) * p) ** 2 for p, d in parts))
    high = math.sqrt(sum(((d / stats.chi2.ppf(0.025, d) - 1) * p) ** 2 for p, d in parts))
    return math.sqrt(max(g - low, 0.0)), math.sqrt(g + high)


def precision_coverage(
    people: int, between: float, runs: int, rng: np.random.Generator, *, unlike: bool, unequal: bool
) -> list[float]:
    """Return the coverage of repeatability, between people, reproducibility, and of the classic interval."""
    mean_square = WITHIN**2 * (1.16 if unlike else 1.0)
    truths = math.sqrt(mean_square), between, math.sqrt(mean_square + between**2)
    held = np.zeros(4)
    for _ in range(runs):
        n = rng.integers(10, 70, people) if unequal else np.full(people, 40)
        sd = spreads(people, unlike, rng)
        m = between * rng.standard_normal(people) + sd / np.sqrt(n) * rng.standard_normal(people)
        v = sd**2 * rng.chisquare(n - 1) / (n - 1)
        p = precision.of_statistics(n, m, v)
        found = p.repeatability_sd, p.between_sd, p.reproducibility_sd
        held[:3] += [i.low <= t <= i.high for i, t in zip(found, truths, strict=True)]
        low, high = graybill_wang(n, m, v)
        held[3] += low <= truths[2] <= high
    return (100 * held / runs).tolist()


def show_precision(runs: int, rng: np.random.Generator) -> None:
    print("\n## Spread of people: coverage of 95 % intervals (between-people SD 0.1 / 0.3 / 0.8 tenths)")
    print("| spreads | readings | people | repeatability | between | reproducibility | classic |")
    print("|---|---|---|---|---|---|---|")
    for unlike in (False, True):
        for unequal in (False, True):
            for people in (5, 10, 30):
                rows = [
                    precision_coverage(people, b, runs, rng, unlike=unlike, unequal=unequal)
                    for b in (0.1, 0.3, 0.8)
                ]
                cells = [" / ".join(f"{row[i]:.1f}" for row in rows) for i in range(4)]
                kind = "differ by 40 %" if unlike else "equal"
                print(
                    f"| {kind} | {'10 to 69' if unequal else '40'} | {people} | " + " | ".join(cells) + " |"
                )


def rounded(n: int, sd: float, rng: np.random.Generator) -> np.ndarray:
    truth = 10 * rng.random(n)
    return np.rint(truth + sd * rng.standard_normal(n)) - truth


def digit_habit(n: int, sd: float, rng: np.random.Generator) -> np.ndarray:
    """A quarter of answers go to the nearest of 0, 5, 10."""
    truth = 10 * rng.random(n)
    felt = truth + sd * rng.standard_normal(n)
    pulled = rng.random(n) < 0.25
    return np.where(pulled, 5 * np.rint(felt / 5), np.rint(felt)) - truth


def heavy_tails(n: int, sd: float, rng: np.random.Generator) -> np.ndarray:
    truth = 10 * rng.random(n)
    return np.rint(truth + sd / math.sqrt(2) * rng.standard_t(4, n)) - truth


def side(errors: np.ndarray) -> pairs.Side:
    n, centred = len(errors), errors - errors.mean()
    ranked = np.sort(errors)
    cut = int(n / (2 * math.sqrt(n - 4)))
    middle = ranked[cut : n - cut].mean()
    kurtosis = n * ((errors - middle) ** 4).sum() / (centred**2).sum() ** 2
    sd = errors.std(ddof=1)
    return pairs.Side("x", n, 0, errors.mean(), sd / math.sqrt(n), n - 1.0, sd, kurtosis, 1, None, None)


def show_pairs(runs: int, rng: np.random.Generator) -> None:
    print("\n## Two people: coverage of the difference of biases, the ratio of spreads, and the F interval")
    print("| readers | n | difference | ratio | ratio by F |")
    print("|---|---|---|---|---|")
    for name, reader in (
        ("rounded normal", rounded),
        ("digit habit", digit_habit),
        ("t4 tails", heavy_tails),
    ):
        truth = [reader(2_000_000, sd, rng) for sd in (0.5, 0.9)]
        ratio, difference = truth[1].std() / truth[0].std(), truth[1].mean() - truth[0].mean()
        for n in (20, 50, 100, 200):
            held = np.zeros(3)
            for _ in range(runs):
                first, second = (reader(n, sd, rng) for sd in (0.5, 0.9))
                found = pairs.compare(side(first), side(second))
                held[0] += found.bias_difference_tenths.low <= difference <= found.bias_difference_tenths.high
                held[1] += found.spread_ratio.low <= ratio <= found.spread_ratio.high
                f = second.var(ddof=1) / first.var(ddof=1)
                held[2] += (
                    f / stats.f.ppf(0.975, n - 1, n - 1) <= ratio**2 <= f * stats.f.ppf(0.975, n - 1, n - 1)
                )
            print(f"| {name} | {n} | " + " | ".join(f"{100 * h / runs:.1f}" for h in held) + " |")


def sittings(sessions: int, moves: float, bias: float, sd: float, rng: np.random.Generator) -> pairs.Side:
    """Return a side of sessions of 20 readings, whose bias moves from session to session."""
    day = bias + moves * rng.standard_normal(sessions)
    errors = day[:, None] + sd * rng.standard_normal((sessions, 20))
    means = errors.mean(axis=1)
    whole = side(errors.ravel())
    return replace(whole, sessions=sessions, session_mean=means.mean(), session_sd=means.std(ddof=1))


def show_sessions(runs: int, rng: np.random.Generator) -> None:
    print(
        "\n## Two people on other days: coverage of the true difference, by how much bias moves (SD, tenths)"
    )
    print("| sessions | moves | in these sessions | across sessions |")
    print("|---|---|---|---|")
    for first, second in ((3, 3), (3, 8), (5, 5), (10, 10)):
        for moves in (0.0, 0.1, 0.2):
            held = np.zeros(2)
            for _ in range(runs):
                found = pairs.compare(
                    sittings(first, moves, 0.0, 0.6, rng), sittings(second, moves, 0.3, 0.8, rng)
                )
                both = found.bias_difference_tenths, found.across_sessions_tenths
                held += [i.low <= 0.3 <= i.high for i in both]
            cells = " | ".join(f"{100 * h / runs:.1f}" for h in held)
            print(f"| {first} and {second} | {moves} | {cells} |")


def show_judgement(runs: int, rng: np.random.Generator) -> None:
    print("\n## Judgement: coverage of 95 % intervals; bias and spread of ln width")
    print("| lapses | trials | threshold | width | median bias of ln width | RMS of ln width |")
    print("|---|---|---|---|---|---|")
    for lapse in (0.0, 0.02, 0.05):
        for n in (50, 100, 200):
            held, logs = np.zeros(2), []
            for _ in range(runs):
                threshold, width = 0.5 * rng.standard_normal(), math.exp(0.3 * rng.standard_normal())
                x = np.tile(LEVELS, n // 9 + 1)[:n]
                said = rng.random(n) < lapse + (1 - 2 * lapse) * ndtr((x - threshold) / width)
                found = judgement.fit(x, said, width_guess=1.0)
                t, w = found.threshold_tenths, found.width_tenths
                held[0] += t.low <= threshold <= t.high
                if w is not None:
                    held[1] += w.low <= width <= w.high
                    logs.append(math.log(w.value / width))
            cells = ["–"] * 3
            if logs:
                spread = math.sqrt(np.mean(np.square(logs)))
                cells = [f"{100 * held[1] / runs:.1f}", f"{np.median(logs):+.2f}", f"{spread:.2f}"]
            print(f"| {100 * lapse:.0f} % | {n} | {100 * held[0] / runs:.1f} | " + " | ".join(cells) + " |")


def show_speed(rng: np.random.Generator) -> None:
    print("\n## Speed: comparing everybody")
    for people in (100, 1_000, 10_000):
        readings = 100
        truth = 5000 * rng.random(people * readings)
        bias = np.repeat(0.3 * rng.standard_normal(people), readings)
        frame = pd.DataFrame(
            {
                "person": np.repeat([f"P{i}" for i in range(people)], readings),
                "truth_tenths": truth,
                "answer_tenths": np.rint(truth + bias + 0.6 * rng.standard_normal(len(truth))),
            }
        )
        start = time.perf_counter()
        compare.compare_people(frame)
        taken = time.perf_counter() - start
        each = 1e6 * taken / len(frame)
        print(f"{people} people of {readings} readings: {taken:.2f} s, {each:.2f} us a reading")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=20260101)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    print(f"seed {options.seed}, {options.runs} runs a cell")
    show_precision(options.runs, rng)
    show_pairs(options.runs, rng)
    show_sessions(options.runs, rng)
    show_judgement(options.runs, rng)
    show_speed(rng)


if __name__ == "__main__":
    main()
