"""The folder in which the docs' commands are tried one by one: people, checks, a statement, a sheet."""

import io
import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np
import pygame

from tests.commands.laboratory import RUTH, Laboratory
from tests.docs.snippets import ROOT
from trainer.commands.main import main
from trainer.desktop.window import Window
from trainer.records import sheets as kept
from trainer.records.archive import Archive

KIM, VALE = "Kim", "Kim Vale"
READY, FAILED = "Ana Ruiz", "Jo Late"  # everything is shown and not signed; shown to fail
SAMPLE = "sessions/recorded/pump-shop.sqlite"
DONE = []  # once it was done: a copy of the folder, and the two clocks


class Caught:
    """What was said since the last look, of a whole module's fixture, which cannot have pytest's own."""

    def __init__(self, monkeypatch):
        self.patch = monkeypatch
        self.readouterr()

    def readouterr(self):
        """Return what was said on both streams, and begin anew."""
        told = [stream.getvalue() for stream in (sys.stdout, sys.stderr) if isinstance(stream, io.StringIO)]
        for name in ("stdout", "stderr"):
            self.patch.setattr(sys, name, io.StringIO())
        self.out, self.err = told or ("", "")
        return self


class Bench(Laboratory):
    """A laboratory whose keys lie where the program puts them by itself."""

    def run(self, *arguments, by=None, new=None):
        """Run a command as an account; return its exit code and what it said."""
        if by:
            arguments = (*arguments, "--as", by)
        self.capsys.readouterr()
        code = main(list(arguments))
        told = self.capsys.readouterr()
        return code, told.out, told.err


def furnish(monkeypatch, folder):
    """Fill a folder with the bench, by the program's own commands; return the laboratory."""
    bench = Bench(monkeypatch, Caught(monkeypatch), folder)
    if DONE:
        kept, bench.now, bench.counter = DONE
        shutil.copytree(kept.name, folder, symlinks=True, dirs_exist_ok=True)
    enter(monkeypatch, folder)
    bench.archive = str(folder / "archive.tenthwise")
    if not DONE:
        live(bench)
        kept = tempfile.TemporaryDirectory(prefix="tenthwise-docs-", ignore_cleanup_errors=True)
        shutil.copytree(folder, kept.name, symlinks=True, dirs_exist_ok=True)
        DONE.extend([kept, bench.now, bench.counter])
    return bench


def live(bench):
    """Let a fortnight pass at the bench."""
    bench.later(days=105)  # from March to the middle of June
    for person in (KIM, VALE, READY, FAILED):
        bench.done("people", "add", person)
    bench.done("signoff", "keys", "set-up", RUTH)
    for seed in (11, 12):
        bench.check(seed, person=FAILED, spread=3.0)
    for person in (READY, KIM):
        for seed in (1, 2, 3, 4):
            bench.check(seed, person=person)
    bench.later(hours=1)
    bench.done("signoff", "sign", KIM, "--out", "kim.json", by=RUTH)
    Path("ticket.txt").write_text(bench.ticket(VALE), encoding="utf-8")
    bench_check(bench)
    bench.done("export", "answers", "--out", "all.csv", by=RUTH)
    paper(bench)
    others()


def enter(monkeypatch, folder, archive="archive.tenthwise"):
    """Make a folder the place where one is: its archive, its keys, the sample beside it."""
    monkeypatch.chdir(folder)
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    monkeypatch.setenv("COLUMNS", "110")
    monkeypatch.setenv("TENTHWISE_ARCHIVE", str(folder / archive))
    for name in ("TENTHWISE_PASSPHRASE", "TENTHWISE_NEW_PASSPHRASE"):
        monkeypatch.setenv(name, "lantern orbit velvet nine")
    if not (folder / "sessions").exists():
        (folder / "sessions").symlink_to(ROOT / "sessions")
        (folder / "backups").mkdir()
        (folder / "names.txt").write_text("Kim Vale\nAna Ruiz\n", encoding="utf-8")


def bench_check(bench):
    """Let Kim take a bench check of forty settings."""
    chance = np.random.default_rng(40)
    rows = ["estimate,reference", *[",0.0000"] * 5]
    for truth in chance.uniform(100, 24000, 40):
        rows.append(f"{round(truth + 0.5 * chance.standard_normal()) / 1000:.3f},{truth / 1000:.4f}")
    Path("bench.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    bench.done(
        *("bench", KIM, "--instrument", "metric", "--step", "0.0001", "--from", "bench.csv", "--even-so")
    )


def paper(bench):
    """Print a sheet of twenty readings, and write its number with three forms of its answers."""
    bench.done("sheet", "--instrument", "metric", "--sheets", "1", "--out", "printed")
    (printed,) = Path("printed").glob("sheet-*.pdf")
    number = printed.stem.removeprefix("sheet-")
    with Archive.open(bench.archive, create=False) as archive:
        items = kept.find(archive, number)["items"]
    answers = [f"{round(item['position_tenths']) / 1000:.3f}" for item in items]
    answers[2] = "-"
    Path("sheet.txt").write_text(f"{number}\n{' '.join(answers)}\n", encoding="utf-8")
    Path("answers.txt").write_text("\n".join(answers) + "\n", encoding="utf-8")
    rows = [f"{number},{KIM},{n},{one.strip('-')}" for n, one in enumerate(answers, 1)]
    Path("answers.csv").write_text("sheet,person,item,answer\n" + "\n".join(rows) + "\n", encoding="utf-8")


def others():
    """Write the files that other commands want: answers, judgements, archives whole and damaged, a plan."""
    only = ("--instrument", "metric", "--drill", "full-reading")
    main(["export", "answers", *only, "--out", "class.csv", "--archive", SAMPLE])
    chance = np.random.default_rng(5)
    rows = ["person,truth_tenths,answer_tenths,instrument,drill,typed"]
    for line in chance.integers(1, 400, 120):
        offset = chance.uniform(-4, 4)
        word = "out" if abs(offset) - 2 + 0.4 * chance.standard_normal() > 0 else "in"
        rows.append(f"{KIM},{10 * line + offset:.3f},,metric,judge,{word}")
    Path("judged.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    main(["archive", "restore", "archive.tenthwise", "--archive", "damaged.tenthwise"])
    damaged = bytearray(Path("damaged.tenthwise").read_bytes())
    damaged[-4096:-2048] = bytes(2048)
    Path("damaged.tenthwise").write_bytes(bytes(damaged))
    shutil.copy(ROOT / "sessions" / "plans" / "30-full-reading-metric.toml", "my-plan.toml")


def closing_at_once(monkeypatch):
    """Let every window that opens be closed as soon as it has shown two pictures; return what it showed."""
    shown = []
    show = Window.show

    def shows_and_closes(window, app, *rest):
        show(window, app, *rest)
        shown.append(type(app.top.screen).__name__)
        if len(shown) > 1:
            pygame.event.post(pygame.event.Event(pygame.QUIT))
        else:
            window.wake()

    monkeypatch.setattr(Window, "show", shows_and_closes)
    return shown
