"""How many items adaptive placement saves: judgements of overlap, and a weak tenth or a slip-prone spot.

Run: python tests/benchmarks/bench_placement.py [--people 400]
Everybody is simulated; the figures are printed, nothing is asserted. docs/methods/drills.md quotes them.
"""

import argparse
import math

import numpy as np

from trainer.instrument import catalogue
from trainer.practice import threshold
from trainer.practice.placement import EASY_EVERY
from trainer.practice.strata import stratified_tenths
from trainer.practice.weakness import at_spot, next_position, weakness
from trainer.scoring import judgement

TOLERANCE, RANGE = 2.0, 4.0  # tenths: the shipped judge plan, metric
WIDTH_GUESS = TOLERANCE / 5
METRIC = catalogue.load("metric")
# (what the people are like, sd of their thresholds, sd of their log widths, lapse rate)
CASES = [
    ("threshold known within 0.3, width 0.4", 0.3, 0.0, 0.02),
    ("threshold known within 0.5, widths vary", 0.5, 0.3, 0.0),
    ("inattentive: lapses 5 %", 0.3, 0.3, 0.05),
]


def judged(people, trials, adaptive, case, rng):
    """Return offsets and judgements, shape (people, trials), with the people's thresholds and widths."""
    _, mu_sd, width_sd, lapse = case
    known = threshold.grid(TOLERANCE, RANGE)
    mu = TOLERANCE + mu_sd * rng.normal(size=people)
    width = 0.4 * np.exp(width_sd * rng.normal(size=people))
    shown, said = np.empty((people, trials)), np.empty((people, trials), dtype=bool)
    weight = np.tile(known.prior, (people, 1))
    strata = np.array([rng.permutation(trials) for _ in range(people)])
    even = RANGE * (strata + rng.random((people, trials))) / trials
    for k in range(trials):
        place = threshold.entropy_left(known, weight).argmin(axis=1)
        if k % EASY_EVERY == EASY_EVERY - 1:
            place = np.where(rng.random(people) < 0.5, 0, threshold.OFFSETS - 1)
        shown[:, k] = known.offsets_tenths[place] if adaptive else even[:, k]
        chance = lapse + (1 - 2 * lapse) * threshold.phi((shown[:, k] - mu) / width)
        said[:, k] = rng.random(people) < chance
        if adaptive:
            out = known.says_out[place]
            weight *= np.where(said[:, k, None], out, 1 - out)
            weight /= weight.sum(axis=1, keepdims=True)
    return shown, said, mu, width


def rms(shown, said, mu, width, trials):
    """Return the root mean square errors of threshold and log width, fitted as scoring fits them."""
    of_threshold, of_width = [], []
    for x, out, m, w in zip(shown[:, :trials], said[:, :trials], mu, width, strict=True):
        fitted = judgement.fit(x - TOLERANCE, out, WIDTH_GUESS)
        if fitted.posterior is None:
            continue
        posterior = fitted.posterior
        of_threshold.append(fitted.threshold_tenths.value - (m - TOLERANCE))
        of_width.append(float(posterior.weight.sum(axis=(0, 2)) @ posterior.log_width) - math.log(w))
    return float(np.sqrt(np.mean(np.square(of_threshold)))), float(np.sqrt(np.mean(np.square(of_width))))


def judgements(people, rng):
    """Print what 100 evenly spread offsets reach, and how many adaptive ones reach the same."""
    print(f"judgements: tolerance {TOLERANCE:g}, offsets 0 to {RANGE:g} tenths, {people} people a case")
    for case in CASES:
        goal = rms(*judged(people, 100, False, case, rng), 100)
        print(f"  {case[0]}\n    100 evenly spread   threshold {goal[0]:.3f}  log width {goal[1]:.3f}")
        placed = judged(people, 70, True, case, rng)
        for trials in (40, 50, 60, 70):
            got = rms(*placed, trials)
            marks = ["reached" if a <= b else "not yet" for a, b in zip(got, goal, strict=True)]
            print(f"    {trials:3d} adaptive        threshold {got[0]:.3f} {marks[0]}"
                  f"  log width {got[1]:.3f} {marks[1]}")  # fmt: skip


def until_found(rng, way, bias, weak):
    """Return how many readings it takes until a weak tenth stands out by 4 standard errors."""
    pairs, strata = [], stratified_tenths(600, rng)
    while len(pairs) < 600:
        known = weakness(pairs, METRIC)
        sure = np.abs(known.sureness())
        if len(pairs) >= 8 and sure.max() > 4 and known.counts[sure.argmax()] >= 3:
            return len(pairs), int(sure.argmax()) in weak
        if way == "adaptive":
            position = next_position(known, METRIC, rng)
        elif way == "stratified":
            position = 10.0 * rng.integers(2500) + strata[len(pairs)] + rng.random()
        else:
            position = METRIC.travel_tenths * rng.random()
        shift = bias if int(position % 10) in weak else 0.0
        pairs.append((position, round(position + shift + 0.6 * rng.normal())))
    return 600, False


def until_slips(rng, adaptive):
    """Return how many readings it takes to see three slips of somebody who slips at sleeve lines."""
    pairs = []
    while len(pairs) < 1500:
        known = weakness(pairs, METRIC)
        if known.slips[1] >= 3:
            break
        position = next_position(known, METRIC, rng) if adaptive else METRIC.travel_tenths * rng.random()
        spot = bool(at_spot(np.array([position]), METRIC)[0])
        slip = 500 if spot and rng.random() < 0.3 else 0
        pairs.append((position, round(position + 0.6 * rng.normal()) + slip))
    return len(pairs)


def weak_places(people, rng):
    """Print medians of the readings needed, and their ratios to random placement."""
    print(f"\na weak tenth: spread 0.6 tenth, found at 4 standard errors, {people} people a line")
    for bias, weak in ((-0.7, (7,)), (-0.7, (6, 7)), (1.0, (7,)), (1.0, (6, 7))):
        median, right = {}, {}
        for way in ("random", "stratified", "adaptive"):
            found = [until_found(rng, way, bias, weak) for _ in range(people)]
            median[way], right[way] = np.median([n for n, _ in found]), np.mean([r for _, r in found])
        told = "  ".join(f"{way} {n:.0f} ({right[way]:.0%} right)" for way, n in median.items())
        print(f"  {bias:+.1f} at {weak}: {told}  ratio to random "
              f"{median['adaptive'] / median['random']:.2f}, "
              f"to stratified {median['adaptive'] / median['stratified']:.2f}")  # fmt: skip
    slow, fast = (
        np.median([until_slips(rng, adaptive) for _ in range(people)]) for adaptive in (False, True)
    )
    print(f"\nthree slips seen of somebody who slips in 3 of 10 readings by a sleeve line: "
          f"random {slow:.0f}, adaptive {fast:.0f}, ratio {fast / slow:.2f}")  # fmt: skip


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=400)
    parser.add_argument("--seed", type=int, default=20260101)
    wanted = parser.parse_args()
    generator = np.random.default_rng(wanted.seed)
    judgements(wanted.people, generator)
    weak_places(max(wanted.people // 2, 20), generator)
