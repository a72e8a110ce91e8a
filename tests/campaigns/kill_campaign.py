"""Kill stations in the middle of sessions, at random moments, and count what was lost.

Run: python tests/campaigns/kill_campaign.py [--kills 1000] [--archive URL] [--seed 1]

A station is a process of its own that takes sessions and prints each answer's number after the archive has
confirmed it. It is killed (SIGKILL) after a random time; the next one resumes the session that was left.
At the end: answers that were confirmed and are not there (lost), answers that are there twice or differ
(the primary key forbids the first), and what `archive check` finds. To reach: 0, 0, 0.
"""

import argparse
import random
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.values import SessionHeader

HEADER = SessionHeader("metric", "full-reading", False, 1, "0", "0", {}, 7.56, "campaign")
ITEMS = 25  # of one session
AT = "2026-03-02T09:00:00.000Z"


@dataclass
class Tally:
    """What a campaign found."""

    kills: int = 0
    confirmed: set[tuple[str, int]] = field(default_factory=set)
    kept: int = 0
    lost: list[tuple[str, int]] = field(default_factory=list)
    wrong: int = 0
    findings: list[str] = field(default_factory=list)
    reopened_s: float = 0.0


def truth(number: int) -> float:
    """Return the answer that a station gives to an item, so that a wrong one can be told."""
    return 1000.0 + number / 8


def station(place: str) -> None:
    """Take sessions without end; say each answer that is on disk."""
    items = [{"number": n, "position_tenths": truth(n), "asks": "full-reading"} for n in range(1, ITEMS + 1)]
    with Archive.open(place) as archive:
        if not archive.people():
            archive.add_person("A reader")
        while True:
            left = archive.unfinished("A reader")
            session = left[0].id if left else archive.begin_session("A reader", {"name": "x"}, items, HEADER)
            for item in archive.session(session).unanswered:
                given = {
                    "number": item.number, "typed": "1", "answer_tenths": truth(item.number),
                    "outcome": "answered", "seconds": 1.0, "at": AT,
                }  # fmt: skip
                archive.save_answer(session, given)
                sys.stdout.write(f"{session} {item.number}\n")
                sys.stdout.flush()
            archive.end_session(session, "finished", AT)


def campaign(place: str, kills: int, chance: random.Random, *, longest_s: float = 0.25) -> Tally:
    """Start and kill stations one after the other; return what was found."""
    found = Tally()
    for _ in range(kills):
        command = [sys.executable, __file__, "--station", place]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=Path.cwd()) as process:
            assert process.stdout is not None
            first = process.stdout.readline()  # it is at work; from now on it may die at any moment
            time.sleep(chance.uniform(0, longest_s))
            process.kill()
            rest = process.stdout.read()
        whole = [line for line in (first + rest).splitlines(keepends=True) if line.endswith("\n")]
        found.confirmed |= {(s, int(n)) for s, n in (line.split() for line in whole)}
        found.kills += 1
        if found.kills % 100 == 0:
            print(f"{found.kills} kills", file=sys.stderr, flush=True)
    before = time.perf_counter()
    with Archive.open(place, create=False) as archive:
        found.reopened_s = time.perf_counter() - before
        frame = archive.answers()
        found.findings = check(archive.store).findings
    kept = list(zip(frame["session"], frame["item"], strict=True))
    found.kept = len(kept)
    found.lost = sorted(found.confirmed - set(kept))
    doubled = len(kept) - len(set(kept))
    found.wrong = doubled + int((frame["answer_tenths"] != frame["item"].map(truth)).sum())
    return found


def main() -> None:
    """Run a campaign, or be one of its stations."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--archive", help="URL of an empty database; without it a file")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--station", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.station:
        station(options.station)
        return
    with tempfile.TemporaryDirectory() as folder:
        place = options.archive or str(Path(folder) / "a.tenthwise")
        found = campaign(place, options.kills, random.Random(options.seed))
    print(f"{found.kills} kills, {len(found.confirmed)} answers confirmed, {found.kept} kept")
    print(
        f"lost {len(found.lost)}, doubled or wrong {found.wrong}, findings of the check {len(found.findings)}"
    )
    if found.lost or found.wrong or found.findings:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
