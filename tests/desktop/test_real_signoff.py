"""The sign-off in a real window under a virtual X server: threads, keys and a real archive together."""

import shutil
import subprocess
import sys
import time

import pytest
from test_real_window import NEEDED, count, until
from test_real_window import screen as screen  # the fixture: a virtual X server of our own

from trainer.records.archive import Archive

PHRASE = "lantern orbit velvet nine"
DOCUMENTS = "select count(*) from documents where kind = '{}'"


@pytest.mark.skipif(
    sys.platform != "linux" or not all(map(shutil.which, NEEDED)),
    reason="needs Xvfb and xdotool (apt-get install xvfb xdotool); the program's own CI installs both",
)
def test_set_up_and_a_check_left_by_closing_the_window(screen, tmp_path):
    path, told = tmp_path / "archive.sqlite", tmp_path / "told.txt"
    with Archive.open(path) as archive:
        archive.add_person("Kim Vale")
    log = told.open("wb")
    program = subprocess.Popen(
        [sys.executable, "-m", "trainer", "--archive", str(path)],
        env={**screen, "XDG_DATA_HOME": str(tmp_path / "data")},
        stdout=log,
        stderr=subprocess.STDOUT,
    )

    def hands(*what: str) -> None:
        subprocess.run(["xdotool", *what], env=screen, check=True, timeout=30)
        time.sleep(0.4)

    def typed(text: str) -> None:
        hands("type", "--delay", "30", text)
        hands("key", "Return")

    try:
        time.sleep(5.0)  # the libraries are loaded and the list of people is there
        hands("key", "ctrl+6")
        time.sleep(1.5)
        hands("key", "Return")
        time.sleep(0.5)
        for text in ("Ruth Amsel", PHRASE, PHRASE):
            typed(text)
        until(lambda: count(path, DOCUMENTS.format("key")) == 1, "the first account")
        time.sleep(2.0)
        for key in ("shift+Tab", "shift+Tab", "Return", "space", "Tab", "Return"):
            hands("key", key)
        time.sleep(1.0)
        typed(PHRASE)
        until(lambda: count(path, DOCUMENTS.format("check")) == 1, "a check opened")
        until(lambda: count(path, "select count(*) from sessions") == 1, "the check begun")
        time.sleep(1.0)
        hands("key", "Return")
        typed("7.123")
        until(lambda: count(path, "select count(*) from answers") == 1, "an answer")
        hands("key", "ctrl+q")
        hands("key", "Return")  # it asks, as a check is under way
        assert program.wait(30) == 0
    finally:
        program.kill()
        program.wait(10)
        log.close()
    assert "Traceback" not in told.read_text(encoding="utf-8")
    assert count(path, DOCUMENTS.format("check-end")) == 1
