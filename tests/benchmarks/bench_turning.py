"""How quickly a turned thimble is redrawn: `python tests/benchmarks/bench_turning.py`. Prints figures only.

Targets: the median frame of a set-to drill within twice the incremental frame of the painter alone, and from
input to new picture within one frame at 60 Hz (16.7 ms), at both sizes. Both are timed in turns in one run,
of the same turn of the same instrument: a frame takes longer the more marks and numerals are in sight.
"""

import os
import statistics
import sys
import time
from pathlib import Path

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
HERE = Path(__file__).parents[1]
sys.path.insert(0, str(HERE / "desktop"))
sys.path.insert(0, str(HERE.parent))

import pygame  # noqa: E402 - after the driver is chosen

from player import Player  # noqa: E402
from tour import Stubborn  # noqa: E402
from trainer.desktop import events, pictures, window  # noqa: E402
from trainer.desktop.app import applied  # noqa: E402
from trainer.desktop.screens.plans import run  # noqa: E402
from trainer.desktop.screens.rooms import ROOMS  # noqa: E402
from trainer.drawing.painter import Painter  # noqa: E402
from trainer.practice.plan import Plan  # noqa: E402

FRAME_MS = 1000 / 60
TURNS = 120
WAYS = ("arrow key", "wheel", "drag")


def begun(size: tuple[int, int]) -> Player:
    """Return a player in front of a set-to item."""
    player = Player(Stubborn(["Ada Example"]), size=size, scale=size[1] / 1080)
    plan = Plan("try", "Try", "set-to", "metric", 3)
    player.app, effects = applied(player.app, 0, run(plan, player.app.desk), player.fitter, ROOMS)
    player.perform(effects)
    player.press("enter")
    return player


def turned(player: Player, way: str, k: int) -> None:
    """Turn the thimble a little, by key, wheel or drag."""
    x, y = player.placed("thimble").rect.center
    now_s = player.clock()
    if way == "arrow key":
        player.press("up", repeat=True)
    elif way == "wheel":
        player.send(events.Wheel(x, y, 1.0, now_s))
    else:
        player.send(events.PointerMoved(x, y + k % 40, now_s, held=True))


def measured(size: tuple[int, int]) -> None:
    """Print both times at one size of the window."""
    from player import GALLERY

    player = begun(size)
    surface = pygame.Surface(size)
    placed = player.placed("thimble")
    window.draw(player.app, surface, player.fitter, GALLERY)
    shot = player.screen.shot(player.clock())
    painter = Painter(
        pictures.instrument_of(shot),
        shot.faults,
        pictures.viewing_of(shot, placed.rect.size),
        placed.rect.size,
    )
    painter.paint(shot.position_tenths)
    alone: list[float] = []
    frames: list[float] = []  # the picture alone, the input already taken
    work: list[float] = []  # processor time of both, which a busy machine does not stretch
    times: dict[str, list[float]] = {way: [] for way in WAYS}
    for way in WAYS:
        if way == "drag":
            player.send(events.PointerDown(*placed.rect.center, player.clock()))
        for k in range(TURNS):
            began = time.perf_counter()
            used = time.thread_time()
            turned(player, way, k + 1)
            drawn = time.perf_counter()
            window.draw(player.app, surface, player.fitter, GALLERY)
            frames.append((time.perf_counter() - drawn) * 1e3)
            times[way].append((time.perf_counter() - began) * 1e3)
            work.append((time.thread_time() - used) * 1e3)
            position_tenths = player.screen.shot(player.clock()).position_tenths
            began = time.perf_counter()
            painter.paint(position_tenths)
            alone.append((time.perf_counter() - began) * 1e3)
    base = statistics.median(alone)
    print(f"{size[0]} x {size[1]}: painter alone, incremental frame {base:.2f} ms")
    frame = statistics.median(frames)
    print(f"  a frame of the drill {frame:.2f} ms, {frame / base:.1f} times the painter alone (target 2)")
    print(f"  processor time from input to picture {statistics.median(work):.2f} ms")
    for way, found in times.items():
        middle, late = statistics.median(found), statistics.quantiles(found, n=20)[-1]
        print(
            f"  {way:10s} input to picture {middle:6.2f} ms (95 % within {late:6.2f}), "
            f"{middle / FRAME_MS:4.2f} of a frame (target 1)"
        )


if __name__ == "__main__":
    for wanted in ((1920, 1080), (3840, 2160)):
        measured(wanted)
