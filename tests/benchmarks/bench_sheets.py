"""How long a class of thirty different sheets takes, and how large its files are.

Plain script; prints the figures for several pages, and the time of a sheet as a ratio to its dealing.
"""

import time

import numpy as np

from trainer.instrument import catalogue
from trainer.practice.sheets import make
from trainer.reports import sheets

SHEETS = 30
PAGES = (
    ("metric", 20, "a4", 1.0),
    ("metric", 20, "a4", 1.5),
    ("metric", 30, "a4", 1.0),
    ("metric", 40, "a4", 1.0),
    ("metric", 12, "a4", 2.0),
    ("inch", 40, "letter", 1.0),
    ("metric-vernier", 20, "a4", 1.0),
    ("metric-1mm-pitch", 40, "a4", 1.0),
)


def main() -> None:
    """Make the pages and print what they cost."""
    for instrument, readings, paper, magnification in PAGES:
        begun, cpu = time.perf_counter(), time.process_time()
        made = [make(instrument, readings, np.random.default_rng(k)) for k in range(SHEETS)]
        dealt = time.perf_counter()
        chosen = sheets.layout(catalogue.load(instrument), readings, paper, magnification)
        files = [sheets.file_of([sheet], chosen) for sheet in made]
        done, cpu = time.perf_counter(), time.process_time() - cpu
        print(
            f"{instrument}, {readings} readings, {paper}, {magnification:g}x: {SHEETS} sheets in "
            f"{done - begun:.1f} s, {cpu:.1f} s of one core "
            f"({(done - dealt) / (dealt - begun):.0f} times their dealing), "
            f"largest {max(map(len, files)) / 1000:.0f} kB"
        )


if __name__ == "__main__":
    main()
