"""What each dependency weighs, and what it costs to load: `python tests/benchmarks/bench_dependencies.py`.

The time is the best of several fresh interpreters, less that of an interpreter that loads nothing.
"""

import importlib.metadata
import subprocess
import sys
import time

MODULES = {
    "numpy": "numpy",
    "scipy": "scipy.stats",
    "pandas": "pandas",
    "matplotlib": "matplotlib.figure",
    "pygame-ce": "pygame",
    "SQLAlchemy": "sqlalchemy",
    "typer": "typer",
    "rich": "rich.console",
    "platformdirs": "platformdirs",
    "cryptography": "cryptography.hazmat.primitives.asymmetric.ed25519",
    "XlsxWriter": "xlsxwriter",
    "psycopg": "psycopg",
    "psycopg-binary": "psycopg_binary",
    "pyarrow": "pyarrow",
}
TRIES = 5


def best_s(code: str) -> float:
    """Return the shortest time of a fresh interpreter that runs the code."""
    times = []
    for _ in range(TRIES):
        began = time.perf_counter()
        subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
        times.append(time.perf_counter() - began)
    return min(times)


def size_mb(name: str) -> float:
    """Return how much a distribution's files take, in MB."""
    files = importlib.metadata.files(name) or []
    return sum(path.stat().st_size for file in files if (path := file.locate()).is_file()) / 1e6


def main() -> None:
    """Print a line for each dependency."""
    nothing = best_s("")
    print(f"{'dependency':<16}{'version':<12}{'size, MB':>10}{'load, s':>10}")
    for name, module in MODULES.items():
        try:
            version, size = importlib.metadata.version(name), size_mb(name)
            seconds = best_s(f"import {module}") - nothing
        except (importlib.metadata.PackageNotFoundError, subprocess.CalledProcessError):
            print(f"{name:<16}not installed, or not to be loaded alone")
            continue
        print(f"{name:<16}{version:<12}{size:>10.1f}{seconds:>10.2f}")


if __name__ == "__main__":
    main()
