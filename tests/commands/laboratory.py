"""A laboratory with its own clock, two supervisors and simulated people who take checks without a window."""

import itertools
import json
from datetime import UTC, datetime, timedelta

import numpy as np

from trainer.commands import sitting as sittings
from trainer.commands.main import main
from trainer.instrument import catalogue
from trainer.records import engine
from trainer.records.archive import Archive
from trainer.signoff import keys

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
RUTH, BEN = "Ruth Amsel", "Ben Olt"
PHRASES = {RUTH: "lantern orbit velvet nine", BEN: "harbour pickle quartz dune"}


class _Clock:
    def __init__(self, lab):
        self.lab = lab

    def now(self, _zone):
        return self.lab.now


class Laboratory:
    """Its clock is the archive's; `counter` stands for the seconds that never go back."""

    def __init__(self, monkeypatch, capsys, folder):
        self.patch, self.capsys, self.folder = monkeypatch, capsys, folder
        self.now, self.counter = START, 1000.0
        self.archive = str(folder / "lab.db")
        monkeypatch.setattr(engine, "utc_now", lambda: self.now)
        monkeypatch.setattr("trainer.commands.verify.datetime", _Clock(self))
        monkeypatch.setattr(keys.locked, "__kwdefaults__", {**keys.locked.__kwdefaults__, "log2_n": 10})
        ticking = {**sittings.begin.__kwdefaults__, "clock": lambda: self.counter}
        monkeypatch.setattr(sittings.begin, "__kwdefaults__", ticking)
        seeds = itertools.count(7001)  # so that every run of a test is the same run
        monkeypatch.setattr(sittings, "fresh_seed", lambda: next(seeds))
        monkeypatch.setenv("TENTHWISE_ARCHIVE", self.archive)
        monkeypatch.chdir(folder)

    def later(self, **passed):
        """Let time pass."""
        self.now += timedelta(**passed)
        self.counter += timedelta(**passed).total_seconds()

    def run(self, *arguments, by=None, new=None):
        """Run a command as an account; return its exit code, what it said, and what it said on stderr."""
        if by:
            self.patch.setenv("TENTHWISE_PASSPHRASE", PHRASES.get(by, by))
            arguments = (*arguments, "--as", by, "--key-file", f"{by.split()[0].lower()}.key")
        if new:
            self.patch.setenv("TENTHWISE_NEW_PASSPHRASE", PHRASES.get(new, new))
        self.capsys.readouterr()
        code = main(list(arguments))
        told = self.capsys.readouterr()
        return code, told.out, told.err

    def done(self, *arguments, **who):
        """Run a command that must succeed; return what it said."""
        code, out, err = self.run(*arguments, **who)
        assert code == 0, err
        return out

    def refused(self, *arguments, **who):
        """Run a command that must be refused in one sentence; return the sentence."""
        code, _, err = self.run(*arguments, **who)
        assert code == 1
        assert err.startswith("tenthwise: ")
        assert err.count("\n") == 1, err
        return err

    def set_up(self, *people):
        """Make two supervisors, and add people."""
        for person in people or ("Kim Vale",):  # before there are accounts: then it takes one
            self.done("people", "add", person)
        self.done("signoff", "keys", "set-up", RUTH, "--new-key-file", "ruth.key", new=RUTH)
        self.done("signoff", "keys", "add", BEN, "--new-key-file", "ben.key", by=RUTH, new=BEN)

    def ticket(self, person="Kim Vale", by=RUTH, *further):
        """Open a check; return its ticket."""
        return json.loads(self.done("signoff", "check", person, "--json", *further, by=by))["ticket"]

    def taking(self, ticket, person="Kim Vale", *further, plan="check-metric"):
        """Return the arguments of a check without a window."""
        small = ["--no-window", "pictures", "--size", "320x240", "--plain", "--json"]
        own = ["--ticket", ticket] if ticket else []
        return ["drill", plan, "--person", person, *small, *own, *further]

    def check(self, seed, *, person="Kim Vale", criterion=None, **reader):
        """Let a day pass and a person take a check; return the lines that the program wrote.

        `reader` are the particulars of `Reader`: bias, spread, says, at_most, during.
        """
        self.later(days=1)
        number = self.ticket(person, RUTH, *(["--criterion", criterion] if criterion else []))
        self.later(minutes=1)
        self.patch.setattr("sys.stdin", Reader(self, seed, **reader))
        code, out, err = self.run(*self.taking(number, person))
        assert code == (1 if "at_most" in reader else 0), err
        return [json.loads(line) for line in out.splitlines()]

    def finding(self, *arguments):
        """Return the report of `verify` as JSON."""
        return json.loads(self.run("verify", *arguments, "--json")[1])


class Reader:
    """Standard input of a simulated person: reads the items that the archive holds, five seconds each."""

    def __init__(self, lab, seed, bias=0.0, spread=0.45, says="yes", at_most=99, during=None):
        self.lab, self.bias, self.spread, self.says, self.at_most = lab, bias, spread, says, at_most
        self.during = during or {}  # what happens before a line is written, by the line's number from 1
        self.chance = np.random.default_rng(seed)
        self.given, self.lines = 0, None

    def readline(self):
        """Return the next reading, then the answer to whether it was taken alone, then nothing."""
        if self.lines is None:
            self.lines = self._readings()
        if self.given == min(self.at_most, len(self.lines)):
            return ""
        self.given += 1
        self.lab.later(seconds=4 + 3 * self.chance.random())
        self.during.get(self.given, lambda: None)()
        return self.lines[self.given - 1] + "\n"

    def _readings(self):
        with Archive.open(create=False) as archive:
            frame = archive.sessions()
            stored = archive.session(frame[frame["ended_how"].isna()]["session"].iloc[-1])
        micrometer = catalogue.load(stored.header.instrument)
        given = {one.number for one in stored.answers}
        truths = [one.position_tenths for one in stored.items if one.number not in given]
        read = [truth + self.bias + self.spread * self.chance.standard_normal() for truth in truths]
        typed = [f"{micrometer.reading_of(max(0.0, round(one))):.6f}" for one in read]
        return [*typed, *([self.says] if self.says else [])]
