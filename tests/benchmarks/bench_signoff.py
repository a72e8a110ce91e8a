"""Shows the risks and the cost of the sign-off by simulation through the shipped code, 20,000 people a case.

    python tests/benchmarks/bench_signoff.py [--people 20000] [--only TABLE] [--write]

Prints the tables; with --write it puts them into docs/methods/signoff.md. Ends with 1 if a promise is
broken: at a limit at most 5 % pass (upper bound 5.3 %), of the good at least 95 %.
"""

import argparse
import dataclasses
import sys
import time
from pathlib import Path

import numpy as np

from trainer.scoring.intervals import clopper_pearson
from trainer.signoff import monitoring
from trainer.signoff.bounds import look
from trainer.signoff.cost import Outcome, outcome, typical_readers
from trainer.signoff.criteria import find
from trainer.signoff.judges import Judge, rates, simulated_judgements
from trainer.signoff.readers import Reader, errors, session_sums, simulated_totals
from trainer.signoff.rules import Points, Rules

DRIFTS = (0.0, 0.1, 0.2)
SEED = 20_261_125
PAGE = Path(__file__).resolve().parents[2] / "docs" / "methods" / "signoff.md"
# name: reader at drift 0, is at a limit, whether the limit is on the spread over all days (drift included)
READERS: list[tuple[str, Reader, bool, bool]] = [
    ("good: bias 0.2, spread 0.6, misreads 0.2 %", Reader(0.2, 0.6, 0.002), False, False),
    ("borderline: 0.35, 0.8, 0.5 %", Reader(0.35, 0.8, 0.005), False, False),
    ("at bias 0.5, spread 0.6", Reader(0.5, 0.6), True, False),
    ("at bias 0.5, digit habit, spread 0.8", Reader(0.5, 0.8, kind="digit habit"), True, False),
    ("at spread 1.0, normal", Reader(0.0, 1.0), True, True),
    ("at spread 1.0, digit habit", Reader(0.0, 1.0, kind="digit habit"), True, True),
    ("at spread 1.0, cyclic", Reader(0.0, 1.0, kind="cyclic"), True, True),
    ("at spread 1.0, heavy tails", Reader(0.0, 1.0, kind="heavy tails"), True, True),
    ("at the misread limit", Reader(0.0, 0.6, 1.0), True, False),
    ("bad bias 0.8", Reader(0.8, 0.6, 0.002), False, False),
    ("bad spread 1.4", Reader(0.2, 1.4, 0.002), False, False),
    ("bad misreads, 3 x limit", Reader(0.2, 0.6, 3.0), False, False),
]
# mean readings that the simulation study before this program measured: 5 % plan and 2 % plan, by drift
STUDY = {
    "good": ((99, 110, 144), (231, 233, 242)),
    "borderline": ((205, 214, 230), (354, 368, 399)),
    "bad bias": ((124, 145, 193), (123, 146, 206)),
    "bad spread": ((58, 57, 57), (58, 58, 58)),
    "bad misreads": ((82, 83, 82), (180, 181, 182)),
}
broken: list[str] = []


def placed(reader: Reader, drift: float, rate: float, *, spread_of_all_days: bool) -> Reader:
    """Return a reader with a drift; a misread rate of 1 or 3 stands for that multiple of the limit."""
    within = reader.spread_tenths
    if spread_of_all_days:
        within = float(np.sqrt(within**2 - drift**2))
    share = reader.misread_rate * rate if reader.misread_rate >= 1 else reader.misread_rate
    return dataclasses.replace(reader, spread_tenths=within, misread_rate=share, drift_tenths=drift)


def decision_table(level: str, people: int, column: int) -> list[str]:
    """Return the table of one plan."""
    criterion = find(level)
    rules = Rules.of(criterion)
    lines = [
        f"**{criterion.title}** ({people:,} people a case; first look {rules.first_look}, most {rules.most})",
        "",
        "| reader | drift 0: pass / fail % (mean readings) | drift 0.1 | drift 0.2 |",
        "|---|---|---|---|",
    ]
    for number, (name, reader, at_limit, all_days) in enumerate(READERS):
        cells = []
        for step, drift in enumerate(DRIFTS):
            chance = np.random.default_rng((SEED, column, number, step))
            real = placed(reader, drift, criterion.misread_rate, spread_of_all_days=all_days)
            found = outcome(name, real, rules, people=people, chance=chance, at_limit=at_limit)
            cells.append(_cell(found))
            _judge(f"{level}, {name}, drift {drift:g}", found, column, step)
        lines.append(f"| {name} | {' | '.join(cells)} |")
        print(lines[-1], flush=True)
    return [*lines, ""]


def _cell(found: Outcome) -> str:
    bound = f", at most {100 * found.pass_high:.2f}" if found.at_limit else ""
    return (
        f"{100 * found.pass_rate:.2f}{bound} / {100 * found.failed / found.people:.2f} "
        f"({found.mean_readings:.0f})"
    )


def _judge(case: str, found: Outcome, column: int, step: int) -> None:
    if found.at_limit and (found.pass_rate > 0.05 or found.pass_high > 0.053):
        broken.append(f"{case}: {100 * found.pass_rate:.2f} % pass, at most {100 * found.pass_high:.2f} %")
    if found.name.startswith("good") and found.pass_rate < 0.95:
        broken.append(f"{case}: only {100 * found.pass_rate:.2f} % pass")
    if found.name.startswith("bad spread") and found.mean_readings > 62:
        broken.append(f"{case}: recognised after {found.mean_readings:.0f} readings")
    if isinstance(found.reader, Judge):
        return  # the study was of readings alone
    for start, study in STUDY.items():
        # the study's means are whole numbers of a simulation of the same size
        if found.name.startswith(start) and found.mean_readings > study[column][step] + 1.5:
            broken.append(f"{case}: {found.mean_readings:.1f} readings, the study {study[column][step]}")


def confidence_table(people: int) -> list[str]:
    """Return the risk at the limits for the other confidences that a criterion may ask for."""
    lines = [
        "| confidence | case | drift 0: pass %, at most | drift 0.2: pass %, at most |",
        "|---|---|---|---|",
    ]
    for confidence, most in ((0.90, 200),):
        base = dataclasses.replace(find("first-level-metric"), confidence=confidence, readings_at_most=most)
        for number, (name, reader, at_limit, all_days) in enumerate(READERS):
            if not at_limit:
                continue
            cells = []
            for drift in (0.0, 0.2):
                chance = np.random.default_rng((SEED, 7, number, int(10 * drift), most))
                real = placed(reader, drift, base.misread_rate, spread_of_all_days=all_days)
                found = outcome(name, real, Rules.of(base), people=people, chance=chance, at_limit=True)
                cells.append(f"{100 * found.pass_rate:.2f}, {100 * found.pass_high:.2f}")
                if found.pass_rate > 1 - confidence:
                    broken.append(f"confidence {confidence:g}, {name}, drift {drift:g}: {cells[-1]} %")
            lines.append(f"| {100 * confidence:.0f} % | {name} | {' | '.join(cells)} |")
            print(lines[-1], flush=True)
    return [*lines, ""]


def naive_table(people: int) -> list[str]:
    """Return what repeating until it passes does to somebody exactly at a limit."""
    criterion = find("first-level-metric")
    shipped = Rules.of(criterion)
    naive = dataclasses.replace(
        shipped, bias_confidence=0.95, spread_confidence=0.95, sittings=1, first_look=shipped.block * 3,
        misreads=Points(criterion.misread_rate, 0, 0),
    )  # fmt: skip
    lines = [
        "| reader exactly at a limit (drift 0.1) | this rule | ordinary 95 % bounds, looked at after every "
        "block until they pass | 3 such attempts | 10 such attempts |",
        "|---|---|---|---|---|",
    ]
    for number, (name, reader, at_limit, all_days) in enumerate(READERS):
        if not at_limit:
            continue
        chance = np.random.default_rng((SEED, 3, number))
        real = placed(reader, 0.1, criterion.misread_rate, spread_of_all_days=all_days)
        ours = outcome(name, real, shipped, people=people, chance=chance)
        running = simulated_totals(real, people, 13, naive.block, chance)
        looks = look(running, naive)
        below = clopper_pearson(running.misreads, running.readings, 0.90)[1] < criterion.misread_rate
        passes = (looks.shown & below).any(axis=1).mean()
        cells = [ours.pass_rate, passes, 1 - (1 - passes) ** 3, 1 - (1 - passes) ** 10]
        lines.append(f"| {name} | " + " | ".join(f"{100 * cell:.1f} %" for cell in cells) + " |")
        print(lines[-1], flush=True)
    return [*lines, ""]


def monitoring_table(people: int) -> list[str]:
    """Return how often a year of twelve monitoring checks of 20 readings suspends somebody."""
    lines = [
        "| reader | level | drift 0.1: alarm within a year, median check | drift 0.2 |",
        "|---|---|---|---|",
    ]
    cases = [
        ("good: 0.2, 0.6, 0.2 %", Reader(0.2, 0.6, 0.002)),
        ("middling: 0.3, 0.8, 0.5 %", Reader(0.3, 0.8, 0.005)),
        ("borderline: 0.35, 0.8, 1 %", Reader(0.35, 0.8, 0.01)),
        ("at bias 0.5", Reader(0.5, 0.6)),
        ("at spread 1.0", Reader(0.0, 1.0)),
        ("at the misread limit", Reader(0.0, 0.6, 1.0)),
        ("bias 0.8", Reader(0.8, 0.6, 0.002)),
        ("bias 1.0", Reader(1.0, 0.6, 0.002)),
        ("spread 1.4", Reader(0.2, 1.4, 0.002)),
        ("misreads 3 x limit", Reader(0.2, 0.6, 3.0)),
    ]
    for level in ("first-level-metric", "second-level-metric"):
        criterion = find(level)
        for number, (name, reader) in enumerate(cases):
            cells = []
            for step, drift in enumerate((0.1, 0.2)):
                chance = np.random.default_rng((SEED, 4, number, step))
                real = placed(reader, drift, criterion.misread_rate, spread_of_all_days=False)
                error, misread = errors(real, (people, 12, 20), chance)
                table = session_sums(error, misread)
                sums = monitoring.accumulate(
                    monitoring.excesses(
                        table[0], table[1], table[2], table[5],
                        bias_tenths=criterion.bias_tenths, spread_tenths=criterion.spread_tenths,
                        rate=criterion.misread_rate,
                    )
                )  # fmt: skip
                alarm = (sums > monitoring.ALARM).any(axis=2)
                share = float(alarm.any(axis=1).mean())
                first = np.where(alarm.any(axis=1), alarm.argmax(axis=1) + 1.0, np.inf)
                median = f"check {np.median(first):.0f}" if share > 0.5 else "none"
                cells.append(f"{100 * share:.2f} %, {median}")
                if name.startswith("good") and share > 0.005:
                    broken.append(
                        f"monitoring, {level}, {name}, drift {drift:g}: {100 * share:.2f} % false alarms"
                    )
            lines.append(f"| {name} | {level} | {' | '.join(cells)} |")
            print(lines[-1], flush=True)
    return [*lines, ""]


def judging_table(people: int) -> list[str]:
    """Return the chance of passing the criteria of judging, and how many judgements that takes."""
    lines = [
        "| simulated judge | criterion | false accepts, rejects | passes | shown to fail | mean judgements |",
        "|---|---|---|---|---|---|",
    ]
    for column, level in enumerate(("judging-metric", "judging-inch")):
        criterion = find(level)
        rules = Rules.of(criterion)
        for number, (name, judge, at_limit) in enumerate(typical_readers(criterion)):
            assert isinstance(judge, Judge)
            chance = np.random.default_rng((SEED, 5, column, number))
            found = outcome(name, judge, rules, people=people, chance=chance, at_limit=at_limit)
            wrong = ", ".join(f"{100 * one:.1f} %" for one in rates(judge, rules))
            bound = f", at most {100 * found.pass_high:.2f}" if at_limit else ""
            lines.append(
                f"| {name} | {level} | {wrong} | {100 * found.pass_rate:.2f} %{bound} | "
                f"{100 * found.failed / people:.2f} % | {found.mean_readings:.0f} |"
            )
            _judge(f"{level}, {name}", found, column, 0)
            print(lines[-1], flush=True)
    return [*lines, ""]


def judging_monitoring_table(people: int) -> list[str]:
    """Return how often a year of twelve checks of judging suspends somebody."""
    lines = [
        "| simulated judge | criterion | alarm within a year, median check |",
        "|---|---|---|",
    ]
    for column, level in enumerate(("judging-metric", "judging-inch")):
        criterion = find(level)
        rules = Rules.of(criterion)
        assert rules.judgement is not None
        assert rules.rejects is not None
        for number, (name, judge, _) in enumerate(typical_readers(criterion)):
            assert isinstance(judge, Judge)
            chance = np.random.default_rng((SEED, 6, column, number))
            found = simulated_judgements(judge, rules, people, 12, chance)
            pairs = (
                (found.false_accepts, found.judged, rules.judgement.rate),
                (found.false_rejects, found.inside, rules.rejects.rate),
            )
            excess = [
                monitoring.rate_excess(np.diff(bad, prepend=0.0), np.diff(of, prepend=0.0), rate)
                for bad, of, rate in pairs
            ]
            alarm = (monitoring.accumulate(np.stack(excess, axis=-1)) > monitoring.ALARM).any(axis=2)
            share = float(alarm.any(axis=1).mean())
            first = np.where(alarm.any(axis=1), alarm.argmax(axis=1) + 1.0, np.inf)
            median = f"check {np.median(first):.0f}" if share > 0.5 else "none"
            lines.append(f"| {name} | {level} | {100 * share:.2f} %, {median} |")
            print(lines[-1], flush=True)
            if name == "good" and share > 0.005:
                broken.append(f"monitoring, {level}, {name}: {100 * share:.2f} % false alarms")
    return [*lines, ""]


def write(name: str, lines: list[str]) -> None:
    """Put lines between the marks of that name in the page."""
    text = PAGE.read_text(encoding="utf-8")
    start, end = f"<!-- figures: {name} -->\n", "<!-- end of figures -->"
    head, rest = text.split(start, 1)
    PAGE.write_text(head + start + "\n".join(lines) + end + rest.split(end, 1)[1], encoding="utf-8")


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--people", type=int, default=20_000)
    ask.add_argument("--only", help="One of the tables, by the name of its marks in the page.")
    ask.add_argument("--write", action="store_true")
    given = ask.parse_args()
    began = time.perf_counter()
    makers = {
        "decision": lambda: [
            line
            for column, level in enumerate(("first-level-metric", "second-level-metric"))
            for line in decision_table(level, given.people, column)
        ],
        "naive": lambda: naive_table(given.people),
        "confidence": lambda: confidence_table(given.people),
        "monitoring": lambda: monitoring_table(min(given.people, 20_000)),
        "judging": lambda: judging_table(given.people),
        "judging monitored": lambda: judging_monitoring_table(given.people),
    }
    tables = {name: make() for name, make in makers.items() if given.only in (None, name)}
    print(f"{time.perf_counter() - began:.0f} s")
    if given.write:
        for name, lines in tables.items():
            write(name, lines)
    for sentence in broken:
        print(f"BROKEN: {sentence}")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
