"""How quick the window is: `python tests/benchmarks/bench_window.py`. Prints figures, asserts nothing.

Frame times are given beside a plain copy of as many pixels in the same run, so that machines compare.
"""

import gc
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
HERE = Path(__file__).parents[1]
sys.path.insert(0, str(HERE / "desktop"))
sys.path.insert(0, str(HERE.parent))

import pygame  # noqa: E402 - after the driver is chosen

TIMES = """
import os, sys, time
with open("/proc/self/stat") as file:
    ticks = int(file.read().rsplit(")", 1)[1].split()[19])
started = ticks / os.sysconf("SC_CLK_TCK")
def told():
    heavy = [m for m in ("scipy", "pandas", "matplotlib", "sqlalchemy") if m in sys.modules]
    now = time.clock_gettime(time.CLOCK_BOOTTIME)
    used = time.process_time()
    print(f"{(now - started) * 1e3:.0f} {used * 1e3:.0f} {','.join(heavy) or 'none'}", flush=True)
    os._exit(0)
"""
START = (
    TIMES
    + """
from trainer.desktop import program, window
from trainer.desktop.store import MemoryStore
from trainer.practice import plans
show = window.Window.show
def first(self, *given):
    show(self, *given)
    told()
window.Window.show = first
program.run(program.Given(lambda: MemoryStore(["Ada Example"]), plans.shipped()))
"""
)
STALLS = """
import sys, time
place, folder = sys.argv[1], sys.argv[2]
from pathlib import Path
from trainer.commands.limits import limits_of
from trainer.desktop import events, program, window
from trainer.practice import plans
def open_store():
    from trainer.records.archive import Archive
    return Archive.open(place)
held = [], []  # milliseconds: of the loop between two waits, and of a wait that should have been short
state = {"left": None, "until": None, "woken": False}
poll, wake = window.Window.poll, window.Window.wake
def woken(self):
    state["woken"] = True
    wake(self)
window.Window.wake = woken
def watched(self, wait_s):
    now = time.perf_counter()
    if state["left"] is not None:
        held[0].append((now - state["left"]) * 1e3)
    state["until"] = state["until"] or now + 4.0
    found, last = [], time.perf_counter()
    deadline = last + (wait_s if wait_s is not None else 10.0)
    while not found and last < deadline and not state["woken"]:
        if last > state["until"]:
            found = [events.CloseAsked(last)]
            break
        time.sleep(0.001)
        now = time.perf_counter()
        held[1].append((now - last) * 1e3)
        last = now
        found = list(poll(self, 0.001))
        last = time.perf_counter()
    state["woken"] = False
    state["left"] = time.perf_counter()
    return found
window.Window.poll = watched
who, kept = "Ada Example", Path(folder)
program.run(program.Given(open_store, plans.shipped(), limits=limits_of, person=who, folder=kept))
print(f"{max(held[0][1:], default=0.0):.1f} {max(held[1]):.1f}", flush=True)
"""
BARE = (
    TIMES
    + """
import numpy, pygame
pygame.display.init()
pygame.font.init()
window = pygame.Window("bare", (1280, 720))
window.get_surface().fill((200, 200, 200))
window.flip()
told()
"""
)


def median_ms(what: Callable[[], object], times: int = 15) -> float:
    """Return the median time of a call, in milliseconds."""
    found = []
    for _ in range(times):
        began = time.perf_counter()
        what()
        found.append((time.perf_counter() - began) * 1e3)
    return statistics.median(found)


def frames() -> None:
    """Print the time of a whole redraw of each screen."""
    from player import GALLERY
    from tour import seen_at, tour
    from trainer.desktop import window
    from trainer.desktop.app import Fitter

    for size, scale in (((1920, 1080), 1.0), ((3840, 2160), 2.0)):
        surface, other = pygame.Surface(size), pygame.Surface(size)
        copy = median_ms(lambda a=surface, b=other: a.blit(b, (0, 0)))
        print(f"\nwhole redraw at {size[0]} x {size[1]}, scale {scale:g}; a plain copy takes {copy:.2f} ms")
        fitter = Fitter()
        for name, app in tour().items():
            there = seen_at(app, size, scale, "light")

            def draw(there=there, surface=surface, fitter=fitter):
                fitter._last = []  # lay out anew, as after a key
                window.draw(there, surface, fitter, GALLERY)

            draw()
            took = median_ms(draw, 9)
            print(f"  {name:18s} {took:7.2f} ms  {took / copy:6.1f} copies")


def keys() -> None:
    """Print the time from a key to the picture that answers it, once the painter's thread is done."""
    from player import GALLERY, Player, typed_answer
    from tour import Stubborn

    for size in ((1920, 1080), (3840, 2160)):
        player = Player(Stubborn(["Ada Example"]), size=size, scale=size[1] / 1080)
        player.press("3", ctrl=True)
        for _ in range([p.name for p in player.app.desk.plans].index("check-metric")):
            player.press("down")
        player.press("enter", "enter")
        player.picture()
        GALLERY._painted.prepare()
        typed, entered = [], []
        while not player.screen.session.over and len(entered) < 19:
            for character in typed_answer(player.screen.session, player.screen.session.item, 0.0):
                began = time.perf_counter()
                player.type(character)
                player.picture()
                typed.append((time.perf_counter() - began) * 1e3)
            began = time.perf_counter()
            player.press("enter")
            player.picture()
            entered.append((time.perf_counter() - began) * 1e3)
        print(
            f"key to picture at {size[0]} x {size[1]}: a digit {statistics.median(typed):.1f} ms, "
            f"Enter to the next item {statistics.median(entered):.1f} ms (worst {max(entered):.1f})"
        )


def start(times: int = 9) -> None:
    """Print the time from process start to the first picture, with compiled modules as installed.

    Beside it, in turn, a program that only imports numpy and pygame and shows an empty window.
    """
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    with tempfile.TemporaryDirectory() as cache:
        environment |= {"PYTHONPYCACHEPREFIX": cache, "PYTHONPATH": str(HERE.parent)}

        def run(script: str) -> list[str]:
            command = [sys.executable, "-c", script]
            done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
            return done.stdout.splitlines()[-1].split()

        run(START), run(BARE)  # compile
        ours, bare = zip(*((run(START), run(BARE)) for _ in range(times)), strict=True)
    for name, runs in (("ours", ours), ("bare numpy and pygame", bare)):
        walls, used = ([float(r[i]) for r in runs] for i in (0, 1))
        print(
            f"process start to first picture, {name}: median {statistics.median(walls):.0f} ms, "
            f"best {min(walls):.0f} ms, processor time {statistics.median(used):.0f} ms"
        )
    print(f"heavy modules loaded before the first picture: {ours[-1][2]}")


def stalls(times: int = 5) -> None:
    """Print for how long the main thread was held up while archive, history and libraries were loaded."""
    from player import Player
    from tour import take
    from trainer.records.archive import Archive

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "archive.sqlite"
        with Archive.open(place) as archive:
            archive.add_person("Ada Example")
            player = Player(archive)
            for _ in range(12):
                take(player, "Ada Example", "full-reading-metric", [0.3, -0.4, 1.0, 0.2, -0.7])
                player.press("1", ctrl=True)
        environment = {**os.environ, "PYTHONPATH": str(HERE.parent)}
        runs = []
        for _ in range(times):
            command = [sys.executable, "-c", STALLS, str(place), folder]
            done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
            runs.append([float(v) for v in done.stdout.splitlines()[-1].split()])
    own, waits = zip(*runs, strict=True)
    print(
        f"longest hold-up of the main thread in the first four seconds: its own work median "
        f"{statistics.median(own):.0f} ms (worst {max(own):.0f}), by loading in the other thread median "
        f"{statistics.median(waits):.0f} ms (worst {max(waits):.0f})"
    )


def resident_mb() -> float:
    """Return the memory of this process, in megabytes."""
    pages = Path("/proc/self/statm").read_text(encoding="ascii").split()[1]
    return int(pages) * os.sysconf("SC_PAGE_SIZE") / 1e6


def memory(drills: int = 100, answers: int = 10_000) -> None:
    """Print the memory after drills of twenty readings; after the first ten it should not grow."""
    from player import Player
    from tour import take
    from trainer.desktop.store import MemoryStore

    marks = {}
    for number in range(1, drills + 1):
        player = Player(MemoryStore(["Ada Example"]))  # the store forgets, so that only the window is weighed
        take(player, "Ada Example", "full-reading-metric", [0.2, -0.4])
        player.picture()
        if number in (10, 50, drills):
            gc.collect()
            marks[number] = resident_mb()
    print("memory after " + ", ".join(f"{n} drills {mb:.0f} MB" for n, mb in marks.items()))
    player = Player(MemoryStore(["Ada Example"]))
    for _ in range(answers // 20):
        take(player, "Ada Example", "full-reading-metric", [0.2, -0.4])
        player.app = replace(player.app, pages=player.app.pages[:1])
    player.press("4", ctrl=True)
    player.picture()
    print(f"memory with {answers} answers of one person in the store, Progress shown: {resident_mb():.0f} MB")


if __name__ == "__main__":
    start()
    pygame.display.init()
    pygame.font.init()
    stalls()
    keys()
    frames()
    memory()
