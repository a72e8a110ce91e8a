"""Coverage of every interval and size of every test, by simulated readers, into docs/methods/scoring.md.

    python tests/benchmarks/bench_coverage.py [--quick] [--write] [coverage others digits learning]

Prints the tables named, or all; `--write` puts them into the page, between its marks. `--quick` takes a
tenth of the readers. Fixed seed; the standard error of a coverage near 95 % is 0.22 points for 10,000
readers.
"""

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from trainer.scoring.learning import learning_forecast
from trainer.scoring.profile import cyclic_fit
from trainer.scoring.simulated import SIX_READERS, SimulatedReader, TrueValues, stratified_positions
from trainer.scoring.stacks import stack_of
from trainer.scoring.table import score_people

PAGE = Path(__file__).parents[2] / "docs" / "methods" / "scoring.md"
SIZES = (20, 50, 100, 200, 500)
READERS = {20: 10_000, 50: 10_000, 100: 10_000, 200: 5_000, 500: 4_000}
SEED = 20260101
HONEST = (
    *(reader for reader in SIX_READERS if not reader.pull),
    SimulatedReader("sigma 0.3", sigma_tenths=0.3),
    SimulatedReader("sigma 1.0", sigma_tenths=1.0),
    SimulatedReader("cyclic 0.6, sharp", sigma_tenths=0.3, exponent=0.6),
    SimulatedReader("cyclic 1.3", sigma_tenths=0.5, exponent=1.3),
    SimulatedReader("two cycles 0.7", sigma_tenths=0.5, exponent=0.7, cycles=2),
    SimulatedReader("two cycles 1.4", sigma_tenths=0.5, exponent=1.4, cycles=2),
)

Columns = dict[str, np.ndarray]


def population(
    reader: SimulatedReader,
    people: int,
    n: int,
    rng: np.random.Generator,
    *,
    clipped: bool = False,
    sessions: int = 1,
) -> Columns:
    """Return the scored columns of many people who read alike, dealt evenly over the tenths."""
    truth, answer = [], []
    for _ in range(people):
        for _ in range(sessions):
            dealt = stratified_positions(n // sessions, rng)
            truth.append(dealt)
            answer.append(reader.answers(dealt, rng, clipped=clipped))
    frame = pd.DataFrame(
        {
            "person": np.repeat(np.arange(people), n),
            "truth_tenths": np.concatenate(truth),
            "answer_tenths": np.concatenate(answer),
            "session": np.tile(np.repeat(np.arange(sessions), n // sessions), people),
            "drill": "tenths" if clipped else "full-reading",
        }
    )
    return score_people(frame).columns


def held(low: np.ndarray, high: np.ndarray, value: float | np.ndarray) -> float:
    """Return the percentage of intervals, of those that exist, which hold the value."""
    exists = np.isfinite(low)
    return 100 * float(np.mean(((low <= value) & (value <= high))[exists]))


JUDGES: dict[str, Callable[[Columns, TrueValues], float]] = {
    "bias": lambda c, t: held(c["bias_low"], c["bias_high"], t.bias_tenths),
    "spread": lambda c, t: held(c["sd_low"], c["sd_high"], t.spread_tenths),
    "rms": lambda c, t: held(c["rms_low"], c["rms_high"], t.rms_tenths),
    "share within one tenth (exact, so at least 95)": lambda c, t: held(
        c["within_low"], c["within_high"], t.within_one_tenth
    ),
    "mean error in a tenth": lambda c, t: held(c["tenth_low"], c["tenth_high"], np.array(t.bias_by_tenth)),
}


def heading(first: str, second: str, sizes: tuple[int, ...]) -> tuple[str, str]:
    """Return the two lines that open a table with a column for each number of readings."""
    columns = " | ".join(f"n = {n}" for n in sizes)
    return f"| {first} | {second} | {columns} |", "|---|---|" + "---|" * len(sizes)


def coverage(shrink: int) -> list[str]:
    """Return the table of coverage of the intervals of one person's score."""
    lines = [
        f"| interval | reader | {' | '.join(f'n = {n}' for n in SIZES)} |",
        "|---|---|" + "---|" * len(SIZES),
    ]
    results: dict[tuple[str, str], list[str]] = {}
    for reader in SIX_READERS:
        truth = reader.true_values()
        for n in SIZES:
            rng = np.random.default_rng([SEED, n, ord(reader.name[0])])
            columns = population(reader, READERS[n] // shrink, n, rng)
            for name, judge in JUDGES.items():
                results.setdefault((name, reader.name), []).append(f"{judge(columns, truth):.1f}")
    for name in JUDGES:
        for reader in SIX_READERS:
            lines.append(f"| {name} | {reader.name} | {' | '.join(results[name, reader.name])} |")
    return lines


def others(shrink: int) -> list[str]:
    """Return the table of the intervals that need sessions or a fit, and of the tolerance limits."""
    rng = np.random.default_rng(SEED)
    lines = ["| what | case | measured |", "|---|---|---|"]
    drifting = SimulatedReader("drifting", 0.2, 0.6, session_sd_tenths=0.2)
    for sessions, each in ((3, 30), (5, 20), (10, 20)):
        c = population(drifting, 4000 // shrink, sessions * each, rng, sessions=sessions)
        case = f"{sessions} sessions of {each}, bias moves by 0.2 between them"
        lines.append(
            f"| bias over sessions | {case} | {held(c['session_low'], c['session_high'], 0.2):.1f} % |"
        )
        lines.append(
            f"| bias as if of one session | the same | {held(c['bias_low'], c['bias_high'], 0.2):.1f} % |"
        )
    for exponent, n in ((0.8, 100), (0.8, 200), (1.3, 200)):
        reader = SimulatedReader("curved", 0.1, 0.5, exponent=exponent)
        lines.append(
            f"| exponent of the power model | exponent {exponent}, noise 0.5, n = {n} | "
            f"{exponent_coverage(reader, n, 2000 // shrink, rng):.1f} % |"
        )
    for n, method in ((50, "Howe, for normal errors"), (100, "order statistics")):
        for reader in SIX_READERS:
            c = population(reader, 4000 // shrink, n, rng)
            lines.append(f"| 95/95 limits: {method} | {reader.name}, n = {n} | {limits(reader, c):.1f} % |")
    for reader in SIX_READERS:
        c = population(reader, 4000 // shrink, 100, rng)
        square = c["u"] ** 2
        real = 2 * square.mean() ** 2 / square.var(ddof=1)
        lines.append(
            f"| degrees of freedom of u_reading | {reader.name}, n = 100 | "
            f"median {np.median(c['u_df']):.0f}, real {real:.0f} |"
        )
    return lines


def exponent_coverage(reader: SimulatedReader, n: int, people: int, rng: np.random.Generator) -> float:
    hits = 0
    for _ in range(people):
        truth = stratified_positions(n, rng)
        error = reader.answers(truth, rng) - truth
        value = cyclic_fit(stack_of(error, np.mod(truth, 10)), 1).exponent
        hits += value.low is not None and value.low <= reader.exponent <= value.high
    return 100 * hits / people


def limits(reader: SimulatedReader, columns: Columns) -> float:
    """Return the percentage of people whose tolerance limits hold at least 95 % of the reader's errors."""
    rng = np.random.default_rng(SEED)
    inside = 10 * (np.arange(1_000_000) + rng.random(1_000_000)) / 1_000_000
    errors = np.sort(reader.answers(inside, rng) - inside)
    errors = errors[np.abs(errors) <= 5]
    ends = [np.searchsorted(errors, columns[f"tolerance_{end}"]) for end in ("low", "high")]
    return 100 * float(np.mean((ends[1] - ends[0]) / len(errors) >= 0.95))


def digits(shrink: int) -> list[str]:
    """Return the table of size and power of the test of digit preference, nominal 5 %."""
    sizes = (50, 100, 200, 500)
    lines = [
        f"| accused, % | answers | {' | '.join(f'n = {n}' for n in sizes)} |",
        "|---|---|" + "---|" * len(sizes),
    ]
    habits = tuple(
        SimulatedReader(f"**habit**: 20 % pulled, noise {s}", sigma_tenths=s, pull=0.2)
        for s in (0.3, 0.6, 1.0)
    )
    habits += (SimulatedReader("**habit**: 10 % pulled, noise 0.6", sigma_tenths=0.6, pull=0.1),)
    for reader in (*HONEST, *habits):
        for clipped in (False, True):
            cells = []
            for n in sizes:
                rng = np.random.default_rng([SEED, n, 7])
                c = population(reader, 3000 // shrink, n, rng, clipped=clipped)
                p = c["digit_p"][np.isfinite(c["digit_p"])]
                cells.append(f"{100 * np.mean(p < 0.05):.1f}")
            kind = "within the pair" if clipped else "full readings"
            lines.append(f"| {reader.name} | {kind} | {' | '.join(cells)} |")
    return lines


def learning(shrink: int) -> list[str]:
    """Return the table of how often a forecast is given after K sessions of 50, and how often it holds."""
    session = np.arange(1, 41)
    curves = {
        "exponential, reaches 1.0 at session 5.4": 0.6 + 1.6 * np.exp(-(session - 1) / 3.2),
        "power, at session 7.2": 0.3 + 1.9 * session**-0.506,
        "exponential, slow, at session 11.8": 0.7 + 1.1 * np.exp(-(session - 1) / 8.3),
        "exponential, never (ends at 1.1)": 1.1 + 1.4 * np.exp(-(session - 1) / 3.0),
    }
    after = (4, 6, 8, 10, 12, 15)
    lines = [
        f"| spread over sessions | {' | '.join(f'K = {k}' for k in after)} |",
        "|---|" + "---|" * len(after),
    ]
    for name, curve in curves.items():
        reach = float(np.interp(-1.0, -curve, session)) if curve[-1] < 1 else np.inf
        cells = []
        for k in after:
            rng = np.random.default_rng([SEED, k])
            df = np.full(k, 49.0)
            whens = []
            people = 200 // shrink
            for _ in range(people):
                seen = curve[:k] * np.exp(rng.standard_normal(k) / np.sqrt(2 * df))
                forecast = learning_forecast(seen, df)
                if forecast.reason is None:
                    whens.append(forecast.sessions_to_limit)
            holds = [when.low <= reach <= when.high for when in whens]
            share = f"{100 * len(whens) / people:.0f} % given"
            cells.append(share + (f", {100 * np.mean(holds):.0f} % hold" if len(holds) >= 20 else ""))
        lines.append(f"| {name} | {' | '.join(cells)} |")
    return lines


def put(page: str, name: str, lines: list[str]) -> str:
    """Return the page with the text between the marks of that name replaced."""
    begin, end = f"<!-- {name}: begin -->", f"<!-- {name}: end -->"
    head, rest = page.split(begin)
    _, tail = rest.split(end)
    return f"{head}{begin}\n" + "\n".join(lines) + f"\n{end}{tail}"


TABLES = {"coverage": coverage, "others": others, "digits": digits, "learning": learning}


def main() -> None:
    shrink = 10 if "--quick" in sys.argv else 1
    wanted = [name for name in sys.argv[1:] if name in TABLES] or list(TABLES)
    page = PAGE.read_text(encoding="utf-8")
    for name, make in TABLES.items():
        if name not in wanted:
            continue
        lines = make(shrink)
        print(f"\n{name}\n" + "\n".join(lines), flush=True)
        page = put(page, name, lines)
    if "--write" in sys.argv:
        PAGE.write_text(page, encoding="utf-8")
        print(f"\nwritten to {PAGE.name}")


if __name__ == "__main__":
    main()
