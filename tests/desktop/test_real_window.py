"""A real window under a virtual X server: xdotool types a whole drill; the answers are in a real archive."""

import os
import re
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

NEEDED = ("Xvfb", "xdotool")
PATIENCE_S = 60.0


@pytest.fixture
def screen(request: pytest.FixtureRequest) -> Iterator[dict[str, str]]:
    """Start a virtual X server, its size a parameter, and give the environment of its clients."""
    size = getattr(request, "param", "1280x800x24")
    read, write = os.pipe()
    server = subprocess.Popen(
        # without -noreset the server begins anew whenever its last client goes, and forgets its displays
        ["Xvfb", "-displayfd", str(write), "-screen", "0", size, "-nolisten", "tcp", "-noreset"],
        pass_fds=[write],
        stderr=subprocess.DEVNULL,
    )
    os.close(write)
    try:
        number = os.read(read, 16).decode().strip()
        yield {**os.environ, "DISPLAY": f":{number}", "SDL_VIDEODRIVER": "x11"}
    finally:
        os.close(read)
        server.terminate()
        server.wait(10)


def until(true: Callable[[], bool], what: str) -> None:
    """Wait for something to become true."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        if true():
            return
        time.sleep(0.1)
    raise AssertionError(f"it never came to this: {what}")


def count(path: Path, query: str) -> int:
    """Return a number out of the archive, -1 while it is not there."""
    if not path.is_file():
        return -1
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=5)) as connection:
            return int(connection.execute(query).fetchone()[0])
    except sqlite3.OperationalError:
        return -1


def naps(process: int) -> int:
    """Return how often the main thread of a process has lain down to wait."""
    told = Path(f"/proc/{process}/task/{process}/status").read_text(encoding="ascii")
    return int(re.search(r"^voluntary_ctxt_switches:\s*(\d+)", told, re.MULTILINE)[1])


@pytest.mark.skipif(
    sys.platform != "linux" or not all(map(shutil.which, NEEDED)),
    reason="needs Xvfb and xdotool (apt-get install xvfb xdotool); the program's own CI installs both",
)
def test_a_whole_drill_is_typed_into_a_real_window(screen, tmp_path):
    archive, told = tmp_path / "archive.sqlite", tmp_path / "told.txt"
    log = told.open("wb")
    program = subprocess.Popen(
        [sys.executable, "-m", "trainer", "--archive", str(archive)],
        env={**screen, "XDG_DATA_HOME": str(tmp_path / "data")},
        stdout=log,
        stderr=subprocess.STDOUT,
    )

    def hands(*what: str) -> None:
        subprocess.run(["xdotool", *what], env=screen, check=True, timeout=30)

    try:
        until(lambda: count(archive, "select count(*) from people") == 0, "an archive made by the window")
        time.sleep(1.0)  # the list of people has to come back to the window before the name is typed
        hands("type", "--delay", "30", "Ada Example")
        hands("key", "Return")
        until(lambda: count(archive, "select count(*) from people") == 1, "a person added")
        time.sleep(1.0)
        hands("key", "Return")
        until(lambda: count(archive, "select count(*) from sessions") == 1, "a session begun")
        time.sleep(1.0)
        hands("key", "Return")
        for number in range(20):
            time.sleep(0.3)
            hands("type", str(number % 10))
            hands("key", "Return")
            done = number + 1
            until(lambda done=done: count(archive, "select count(*) from answers") == done, f"answer {done}")
            time.sleep(0.2)
            hands("key", "Return")
        ended = "select count(*) from sessions where ended_how = 'finished'"
        until(lambda: count(archive, ended) == 1, "the session finished")
        time.sleep(3.0)  # the result is scored and drawn
        before = naps(program.pid)
        time.sleep(2.0)
        assert naps(program.pid) - before < 40  # a window that looks for events would nap 2000 times
        hands("key", "ctrl+q")
        assert program.wait(30) == 0
    finally:
        program.kill()
        program.wait(10)
        log.close()
    assert "Traceback" not in told.read_text(encoding="utf-8")
    with closing(sqlite3.connect(archive)) as connection:
        typed = [row[0] for row in connection.execute("select typed from answers order by number")]
    assert typed == [str(number % 10) for number in range(20)]
