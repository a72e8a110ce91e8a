"""Two displays and a window manager under a virtual X server: a display goes dark, the window is closed."""

import json
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from test_real_window import count, until
from test_real_window import screen as screen  # the fixture: a virtual X server of our own

from trainer.desktop.settings import USUAL_PX_PER_MM

NEEDED = ("Xvfb", "xdotool", "openbox", "xrandr")
NOTES = "select count(*) from acts where kind = 'note' and detail like '%{}%'"


class Bench:
    """The program in a window that a manager keeps, and hands on its keys."""

    def __init__(self, screen: dict[str, str], folder: Path) -> None:
        self.screen, self.archive = screen, folder / "archive.sqlite"
        self.settings = folder / "data" / "tenthwise" / "window.json"
        self.settings.parent.mkdir(parents=True)
        left = {"px_per_mm": USUAL_PX_PER_MM, "distance_mm": 500, "resolution": [1200, 760]}
        self.settings.write_text(
            json.dumps({"displays": {"left 1200x760": left}, "window": [100, 100, 900, 600]})
        )
        self.told = folder / "told.txt"
        self.log = self.told.open("wb")
        self.manager = subprocess.Popen(["openbox"], env=screen, stdout=self.log, stderr=subprocess.STDOUT)
        until(self.managed, "the window manager")
        self.run("xrandr", "--setmonitor", "left", "1200/317x760/201+0+0", "screen")
        self.run("xrandr", "--setmonitor", "right", "1280/300x760/178+1200+0", "none")
        self.program = subprocess.Popen(
            [sys.executable, "-m", "trainer", "--archive", str(self.archive)],
            env={**screen, "XDG_DATA_HOME": str(folder / "data")},
            stdout=self.log,
            stderr=subprocess.STDOUT,
        )

    def run(self, *what: str) -> str:
        done = subprocess.run(what, env=self.screen, check=True, timeout=30, capture_output=True, text=True)
        return done.stdout

    def managed(self) -> bool:
        asked = ["xdotool", "get_num_desktops"]  # only a manager knows
        return subprocess.run(asked, env=self.screen, capture_output=True, timeout=30).returncode == 0

    def hands(self, *what: str) -> str:
        return self.run("xdotool", *what)

    @property
    def window(self) -> str:
        return self.hands("search", "--onlyvisible", "--pid", str(self.program.pid)).split()[-1]

    def place(self) -> dict[str, int]:
        told = self.hands("getwindowgeometry", "--shell", self.window)
        return {k: int(v) for k, v in (line.split("=") for line in told.split())}

    def close(self) -> None:
        for process in (self.program, self.manager):
            process.kill()
            process.wait(10)
        self.log.close()


@pytest.fixture
def bench(screen, tmp_path):
    found = Bench(screen, tmp_path)
    yield found
    found.close()


@pytest.mark.parametrize("screen", ["2480x760x24"], indirect=True)
@pytest.mark.skipif(
    sys.platform != "linux" or not all(map(shutil.which, NEEDED)),
    reason="needs Xvfb, xdotool, openbox and xrandr (apt-get install xvfb xdotool openbox "
    "x11-xserver-utils); the program's own CI installs them",
)
def test_a_display_goes_dark_and_the_window_is_closed_in_mid_drill(bench):
    until(lambda: count(bench.archive, "select count(*) from people") == 0, "an archive made by the window")
    time.sleep(2.0)
    bench.hands("type", "--delay", "30", "Ada Example")
    bench.hands("key", "Return")
    until(lambda: count(bench.archive, "select count(*) from people") == 1, "a person added")
    time.sleep(1.0)
    bench.hands("key", "Return")
    until(lambda: count(bench.archive, "select count(*) from sessions") == 1, "a session begun")
    time.sleep(1.0)
    bench.hands("key", "Return")
    bench.hands("windowmove", bench.window, "1300", "60")
    until(lambda: count(bench.archive, NOTES.format("right 1280x760")) == 1, "the move noted")

    bench.run("xrandr", "--delmonitor", "right")

    def back() -> bool:
        bench.hands("key", "shift")  # the server gives no word of it; whoever sees nothing presses a key
        return bench.place()["X"] + 900 <= 1200

    until(back, "the window back on a display that is on")
    until(lambda: count(bench.archive, NOTES.format("left 1200x760")) == 2, "and that noted")
    time.sleep(0.5)
    bench.hands("type", "4")
    bench.hands("key", "Return")
    until(lambda: count(bench.archive, "select count(*) from answers") == 1, "an answer")
    bench.hands("key", "Return")
    time.sleep(0.5)

    window = bench.window
    bench.hands("windowminimize", window)
    until(lambda: count(bench.archive, NOTES.format('"pause"')) == 1, "the clock stopped")
    bench.hands("windowactivate", "--sync", window)
    time.sleep(0.5)
    bench.hands("key", "alt+F4")  # the manager's key for the close button
    time.sleep(1.5)
    assert bench.program.poll() is None  # it asks
    bench.hands("key", "Return")
    assert bench.program.wait(30) == 0
    assert count(bench.archive, NOTES.format("window-closed")) == 1
    assert count(bench.archive, "select count(*) from sessions where ended_how is null") == 1
    kept = json.loads(bench.settings.read_text(encoding="utf-8"))
    assert kept["window"][2:] == [900, 600]
    assert kept["window"][0] + 900 <= 1200
    assert "Traceback" not in bench.told.read_text(encoding="utf-8")
