"""How often the intervals of screen against bench hold the truth, by simulated readers.

    python tests/benchmarks/bench_transfer.py [--quick] [--write]

Every trial: one reader on the screen (truths dealt evenly) and on the bench (truths anywhere, a display with
a step, a zero offset estimated from five observations, an error of the display within its limits), the same
reader or one whose bias and noise differ on the bench. `--write` puts the table into
docs/methods/transfer.md, between its marks, and draws its picture. Fixed seed; the standard error of a
coverage near 95 % is 0.34 points for 4,000 trials.
"""

import math
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from trainer.practice.wording import percent
from trainer.scoring.pairs import sides
from trainer.scoring.reference import ReferenceUncertainty
from trainer.scoring.simulated import stratified_positions
from trainer.scoring.table import score_people
from trainer.scoring.transfer import of_sides

PAGE = Path(__file__).parents[2] / "docs" / "methods" / "transfer.md"
PICTURE = Path(__file__).parents[2] / "docs" / "pictures" / "transfer-coverage.png"
SEED = 20260303
ZEROS = 5  # observations of the zero, the fewest that a bench check takes
ZERO_SD = 0.2  # tenths: how well a zero graduation is set on the index line
# readings on the screen, on the bench, noise on the screen, on the bench, step and accuracy of the display
CASES = (
    (100, 50, 0.6, 0.6, 0.5, 0.0),
    (100, 50, 0.6, 0.6, 0.5, 0.5),
    (100, 20, 0.6, 0.6, 0.5, 0.0),
    (100, 50, 0.6, 0.9, 0.5, 0.5),
    (200, 100, 0.6, 0.6, 1.0, 0.5),
    (100, 50, 0.3, 0.3, 0.5, 0.0),
    (100, 50, 0.6, 0.6, 2.0, 0.0),
)


def answers(people: int, readings: int, bias: float, noise: float, rng: np.random.Generator) -> pd.DataFrame:
    """Return the answers on the screen of many people who read alike, to a tenth."""
    truth = np.concatenate([stratified_positions(readings, rng) for _ in range(people)])
    return frame(people, truth, np.rint(truth + bias + rng.normal(0, noise, truth.size)))


def at_the_bench(
    people: int, readings: int, bias: float, noise: float, step: float, accuracy: float,
    rng: np.random.Generator,
) -> tuple[pd.DataFrame, list[ReferenceUncertainty]]:  # fmt: skip
    """Return answers against a display as a bench check keeps them, and what is known of each display."""
    truth = rng.uniform(0, 20_000, (people, readings))
    offset = rng.uniform(-2, 2, (people, 1))
    off = rng.uniform(-accuracy, accuracy, (people, 1)) if accuracy else 0.0
    shown = step * np.rint((truth + offset + off) / step)
    zeros = step * np.rint((offset + rng.normal(0, ZERO_SD, (people, ZEROS))) / step)
    known = [
        ReferenceUncertainty(step, accuracy, float(z.std(ddof=1) / math.sqrt(ZEROS)), ZEROS - 1.0)
        for z in zeros
    ]
    given = np.rint(truth + bias + rng.normal(0, noise, truth.shape))
    return frame(people, (shown - zeros.mean(axis=1, keepdims=True)).ravel(), given.ravel()), known


def frame(people: int, truth: np.ndarray, given: np.ndarray) -> pd.DataFrame:
    """Return a table of answers, the same number for everybody."""
    person = np.repeat(np.arange(people), truth.size // people)
    return pd.DataFrame({"person": person.astype(str), "truth_tenths": truth, "answer_tenths": given})


def coverage(
    case: tuple[int, int, float, float, float, float], trials: int, rng: np.random.Generator
) -> dict[str, float]:
    """Return shares of intervals that hold the true difference and ratio, and the means of both."""
    n_screen, n_bench, screen_noise, bench_noise, step, accuracy = case
    seen = answers(trials, n_screen, 0.3, screen_noise, rng)
    read, known = at_the_bench(trials, n_bench, 0.5, bench_noise, step, accuracy, rng)
    first, second = sides(score_people(seen)), sides(score_people(read))
    found = [of_sides(a, b, r) for a, b, r in zip(first, second, known, strict=True)]
    true_ratio = math.hypot(bench_noise, 12**-0.5) / math.hypot(screen_noise, 12**-0.5)
    bias = [(i.low, i.value, i.high) for f in found if (i := f.bias_difference_tenths)]
    ratio = [(i.low, i.value, i.high) for f in found if (i := f.spread_ratio)]
    return {
        "true_ratio": true_ratio,
        "bias_held": float(np.mean([low <= 0.2 <= high for low, _, high in bias])),
        "ratio_held": float(np.mean([low <= true_ratio <= high for low, _, high in ratio])),
        "ratio_below": float(np.mean([high < true_ratio for _, _, high in ratio])),
        "ratio_above": float(np.mean([low > true_ratio for low, _, _ in ratio])),
        "bias": float(np.mean([value for _, value, _ in bias])),
        "ratio": float(np.median([value for _, value, _ in ratio])),
    }


def draw(found: list[dict[str, float]], trials: int) -> None:
    """Draw the coverages of all cases beside the 95 % that is promised, with two standard errors each."""
    from trainer.reports.house import figure_to_png, manner, new_figure

    with manner():
        figure = new_figure(150.0, 70.0)
        axes = figure.add_axes((0.36, 0.2, 0.6, 0.68))
        rows = np.arange(len(CASES))
        for place, (name, label) in enumerate((("bias_held", "difference"), ("ratio_held", "ratio"))):
            held = np.array([100 * got[name] for got in found])
            error = 200 * np.sqrt(held / 100 * (1 - held / 100) / trials)
            axes.errorbar(
                held,
                rows + 0.16 * (2 * place - 1),
                xerr=error,
                fmt="os"[place],
                color=("0.1", "0.55")[place],
                label=label,
            )
        axes.axvline(95, linewidth=0.8, color="0.3")
        words = "{} and {}, noise {} and {},\nstep {}, limits {}"
        named = [words.format(*case) for case in CASES]
        axes.set_yticks(rows, named)
        axes.tick_params(axis="y", labelsize=6)
        axes.invert_yaxis()
        axes.set_xlabel("intervals that hold the truth, %")
        axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=2, fontsize=7, frameon=False)
        PICTURE.write_bytes(figure_to_png(figure))


def table(trials: int) -> tuple[list[str], list[dict[str, float]]]:
    """Return the table of coverages as lines of Markdown, and the figures in it."""
    rng = np.random.default_rng(SEED)
    found = []
    lines = [
        "| screen | bench | noise on screen, bench | step | accuracy | difference holds | ratio holds | "
        "ratio too low, too high | median ratio (true) |",
        "|---:|---:|---|---:|---:|---:|---:|---|---|",
    ]
    for case in CASES:
        got = coverage(case, trials, rng)
        found.append(got)
        n_screen, n_bench, first, second, step, accuracy = case
        shares = ("bias_held", "ratio_held", "ratio_below", "ratio_above")
        held, ratio, below, above = (percent(got[name], 1) for name in shares)
        lines.append(
            f"| {n_screen} | {n_bench} | {first}, {second} | {step} | {accuracy} | {held} | {ratio} | "
            f"{below}, {above} | "
            f"{got['ratio']:.3f} ({got['true_ratio']:.3f}) |"
        )
    return lines, found


def main() -> None:
    """Print the table and put it into the page if asked."""
    trials = 400 if "--quick" in sys.argv else 4000
    lines, found = table(trials)
    print("\n".join(lines))
    if "--write" in sys.argv:
        draw(found, trials)
        text = PAGE.read_text(encoding="utf-8")
        before, _, rest = text.partition("<!-- coverage -->\n")
        after = rest.partition("<!-- end -->")[2]
        PAGE.write_text(
            before + "<!-- coverage -->\n" + "\n".join(lines) + "\n<!-- end -->" + after, encoding="utf-8"
        )


if __name__ == "__main__":
    main()
