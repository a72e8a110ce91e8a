"""Spoilt input of every kind, a million times: no traceback, no hang, no memory without end, nothing run.

Run: python tests/campaigns/fuzz.py [--cases 1000000] [--seed 1] [--kinds plan,budget] [--show]

Each case takes a valid sample of one kind, spoils it by a few random changes (or makes one out of pieces of
its language), and gives it to what reads it and to what uses what was read, in this process, as a command
would. To reach: only refusals (`Refusal`, or what the system says of a file), at most 1 s of processor time
a case, and the address space bounded by 1.5 GB above what the imported libraries take. An audit hook counts
programs started, connections, pickles, texts compiled to code, and files opened for writing outside the
case's own folder. The same seed gives the same cases.
"""

import argparse
import collections
import io
import os
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
from fuzz_kinds import KINDS, Kind

from trainer.instrument.refusal import Refusal

HANG_S = 1.0  # of processor time, so that other work on the machine makes no hang
ROOM_BYTES = 1536 << 20  # above what is taken when the libraries are there
WATCHED = (
    "os.system",
    "os.exec",
    "os.posix_spawn",
    "subprocess.Popen",
    "socket.connect",
    "pickle.find_class",
)
PIECES = [
    b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"nan", b"inf", b"-0", b"1e999", b"-1e-999", b"9" * 400,
    b"0" * 5000,
    b"9" * 5000, b"1_0", b"0x10", b"'''", b'"""', b"[", b"]" * 50, b"[" * 3000, b"{" * 3000, b'{"a":' * 2000,
    b"a." * 3000, b"(" * 3000, b"-" * 3000, b"..", b"../../x", b"/etc/passwd", b"%s%n", b"\\u0000", b"\\",
    b"\r",
    b"\n" * 300, b",", b";" * 300, b"\t", b"=", b"#", b"null", b"true", b"[]", b"{}", b'""', b"2026-02-30",
    b"9999-12-31T23:59:59Z", b"0001-01-01", b"24:00", b"\xe2\x88\x92", b"\xd9\xa3", b"\xf0\x9f\x93\x8f",
    b"\xe2\x80\xae", b"=cmd|' /C calc'!A0", b"'; DROP TABLE answers; --", b"${x}", b"**", b"9**9**9**9",
    b"1/0",
    b"__import__('os')", b"lambda:0", b"sqrt(-1)", b"exp(1000)", b"log(0)", b"e" * 2000, b"1" * 41, b"1,2,3",
]  # fmt: skip


class Hang(BaseException):
    """A case that took longer than `HANG_S`."""


@dataclass
class Found:
    """What a run found."""

    cases: collections.Counter[str] = field(default_factory=collections.Counter)
    refused: collections.Counter[str] = field(default_factory=collections.Counter)
    faults: collections.Counter[tuple[str, str]] = field(default_factory=collections.Counter)
    samples: dict[tuple[str, str], bytes] = field(default_factory=dict)
    slowest_s: dict[str, float] = field(default_factory=lambda: collections.defaultdict(float))
    doings: list[str] = field(default_factory=list)

    def keep(self, kind: str, what: str, data: bytes) -> None:
        """Count a fault and keep the first case that showed it."""
        self.faults[kind, what] += 1
        self.samples.setdefault((kind, what), data)


class Watch:
    """An audit hook: what a reader of poisoned input must never do. Hooks stay; `on`: it counts."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.on, self.seen = str(folder), False, list[str]()
        sys.addaudithook(self.hear)

    def hear(self, event: str, given: tuple[Any, ...]) -> None:
        if not self.on:
            return
        if event in WATCHED:
            self.seen.append(event)
        elif event == "open" and isinstance(given[0], str) and isinstance(given[2], int):
            writes = given[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            if writes and not str(Path(given[0]).absolute()).startswith((self.folder, "/dev/null")):
                self.seen.append(f"writes {given[0]}")
        elif event == "exec" and getattr(given[0], "co_filename", "") == "<string>":
            self.seen.append(f"runs a text as code: {given[0].co_names}")


def spoilt(sample: bytes, chance: random.Random, others: list[bytes]) -> bytes:
    """Return a sample with one to six changes."""
    data = bytearray(sample)
    for _ in range(chance.choice((1, 1, 1, 2, 3, 6))):
        at = chance.randrange(len(data) + 1)
        match chance.randrange(10):
            case 0 if data:
                data[min(at, len(data) - 1)] ^= 1 << chance.randrange(8)
            case 1 if data:
                data[min(at, len(data) - 1)] = chance.randrange(256)
            case 2:
                data[at:at] = chance.choice(PIECES)
            case 3:
                del data[at : at + chance.choice((1, 2, 8, 64, 1000))]
            case 4:
                end = at + chance.choice((1, 8, 40, 400))
                data[at:at] = data[at:end] * chance.choice((1, 2, 30))
            case 5:
                data = data[:at]
            case 6:
                lines = data.split(b"\n")
                chance.shuffle(lines)
                data = bytearray(b"\n".join(lines))
            case 7:
                other = chance.choice(others)
                data[at:at] = other[chance.randrange(len(other) + 1) :][: chance.choice((10, 100, 2000))]
            case 8:  # a value in place of another: from a sign of the language to the next
                begin = max(data.rfind(sign, 0, at) for sign in b"=,:; \t\n")
                ends = [end for sign in b",;\n}]" if (end := data.find(sign, at)) >= 0]
                data[begin + 1 : min(ends, default=len(data))] = chance.choice(PIECES)
            case _:
                line = chance.choice(data.split(b"\n"))
                data[at:at] = b"\n" + line + b"\n"
    return bytes(data)


def made_up(chance: random.Random, words: list[bytes]) -> bytes:
    """Return a text of the language's own words and of awkward pieces."""
    return b"".join(
        chance.choice(words if chance.random() < 0.8 else PIECES) for _ in range(chance.randrange(1, 40))
    )


@contextmanager
def bounded() -> Iterator[None]:
    """Raise `Hang` in what takes too long, and let memory end where it should."""

    def stop(*_: object) -> None:
        raise Hang

    with Path("/proc/self/statm").open(encoding="ascii") as file:
        taken = int(file.read().split()[0]) * resource.getpagesize()
    before, limits = signal.signal(signal.SIGPROF, stop), resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (taken + ROOM_BYTES, limits[1]))
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)
        resource.setrlimit(resource.RLIMIT_AS, limits)


def one(kind: Kind, data: bytes, folder: Path, found: Found, watch: Watch) -> None:
    """Give one case to its readers and note what comes of it."""
    found.cases[kind.name] += 1
    before = time.process_time()
    signal.setitimer(signal.ITIMER_PROF, HANG_S)
    watch.on = True
    try:
        with redirect_stdout(io.StringIO()):
            kind.use(data, folder)
    except (Refusal, OSError):  # what the command line tells in one sentence
        found.refused[kind.name] += 1
    except Hang:
        found.keep(kind.name, "hang", data)
    except (Exception, SystemExit) as fault:  # noqa: BLE001 (these are what is looked for)
        at = traceback.extract_tb(fault.__traceback__)
        ours = [step for step in at if "/trainer/" in step.filename.replace("\\", "/")] or at
        place = f"{Path(ours[-1].filename).name}:{ours[-1].lineno}"
        found.keep(kind.name, f"{type(fault).__name__} in {place}: {str(fault)[:90]}", data)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        watch.on = False
    taken = time.process_time() - before
    found.slowest_s[kind.name] = max(found.slowest_s[kind.name], taken)
    if watch.seen:
        found.doings += [f"{kind.name}: {doing}" for doing in watch.seen]
        found.samples.setdefault((kind.name, watch.seen[0]), data)
        watch.seen.clear()


def campaign(
    cases: int,
    seed: int,
    folder: Path,
    kinds: list[Kind],
    told: Callable[[Found], None] = lambda _: None,
) -> Found:
    """Run so many cases, spread over the kinds by their weights."""
    found, watch = Found(), Watch(folder)
    ready = [(kind, kind.samples(folder)) for kind in kinds]
    for kind, samples in ready:  # the samples are good, and everything that is imported late is there
        for sample in samples:
            if kind.good:
                kind.use(sample, folder)
    weights = [kind.weight for kind in kinds]
    everything = [sample for kind, samples in ready if kind.text for sample in samples]
    chance = random.Random(seed)
    with bounded():
        for number in range(cases):
            kind, samples = chance.choices(ready, weights)[0]
            if kind.text and chance.random() < 0.1:
                data = made_up(chance, kind.words)
            else:
                data = spoilt(chance.choice(samples), chance, everything if kind.text else samples)
            one(kind, data, folder, found, watch)
            if number % 10_000 == 9_999:
                told(found)
    return found


def report(found: Found, taken_s: float) -> None:
    """Print what was found."""
    total = sum(found.cases.values())
    print(
        f"{total} cases in {taken_s:.0f} s, {sum(found.refused.values())} refused in a sentence, the rest "
        "taken"
    )
    for name, count in found.cases.most_common():
        print(
            f"  {name}: {count} cases, {found.refused[name]} refused, slowest {found.slowest_s[name]:.2f} s"
        )
    hangs = sum(n for (_, what), n in found.faults.items() if what == "hang")
    print(f"tracebacks {sum(found.faults.values()) - hangs}, hangs over {HANG_S:g} s {hangs}, "
          f"forbidden doings {len(found.doings)}")  # fmt: skip
    print(f"most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    for (kind, what), count in found.faults.most_common():
        print(f"  {count} x {kind}: {what}")
    for doing in sorted(set(found.doings))[:20]:
        print(f"  {doing}")


def main() -> None:
    """Run the campaign."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", help=f"some of {', '.join(kind.name for kind in KINDS)}")
    parser.add_argument("--show", action="store_true", help="write the first case of each fault beside")
    options = parser.parse_args()
    kinds = [kind for kind in KINDS if options.kinds is None or kind.name in options.kinds.split(",")]
    os.environ["TENTHWISE_STATION"] = "TESTSTAT"
    before = time.monotonic()

    def told(found: Found) -> None:
        done = sum(found.cases.values())
        faults = "; ".join(f"{n} x {kind}: {what}" for (kind, what), n in found.faults.items())
        print(f"{done} after {time.monotonic() - before:.0f} s; faults: {faults or 'none'}", flush=True)

    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_DATA_HOME"] = folder
        found = campaign(options.cases, options.seed, Path(folder).absolute(), kinds, told)
    report(found, time.monotonic() - before)
    if options.show:
        for number, ((kind, what), data) in enumerate(found.samples.items()):
            Path(f"fuzz-{number}-{kind}.bin").write_bytes(data)
            print(f"fuzz-{number}-{kind}.bin: {what}")
    if found.faults or found.doings:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
