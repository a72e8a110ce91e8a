"""A bench with a sign-off: a real archive by the player's clock, quick keys, people and their checks."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from player import Player
from trainer.commands.window_signoff import WindowOffice
from trainer.desktop.signing import Who
from trainer.desktop.work import Services
from trainer.instrument import catalogue
from trainer.practice import plans
from trainer.practice.deal import deal
from trainer.records.archive import Archive
from trainer.records.values import SessionHeader
from trainer.signoff import keys

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)  # where the player's clock stands at 1000 s
RUTH, BEN = "Ruth Amsel", "Ben Olt"
PHRASES = {RUTH: "lantern orbit velvet nine", BEN: "harbour pickle quartz dune"}


@contextmanager
def quick_keys() -> Iterator[None]:
    """Stretch passphrases a little only, so that tests do not wait; the rules are the same."""
    before = keys.locked.__kwdefaults__
    keys.locked.__kwdefaults__ = {**before, "log2_n": 10}
    try:
        yield
    finally:
        keys.locked.__kwdefaults__ = before


class Bench:
    """An archive with its office and a player of the window on it. Each player goes on where time stands."""

    def __init__(self, folder: Path, people: Sequence[str] = ("Kim Vale", "Lee Orr")) -> None:
        self.folder, self.seconds, self.set_back_s = folder, 0.0, 0.0
        self.player: Player | None = None
        self.archive = Archive.open(folder / "lab.db", clock=self.now)
        for name in people:
            self.archive.add_person(name)
        self.office = WindowOffice(
            folder / "criteria",
            folder / "statements",
            counter=self.counter,
            key_path=lambda account: folder / "keys" / f"{account.lower().split(' ')[0]}.key",
        )

    def counter(self) -> float:
        """Return seconds that only grow."""
        return self.seconds if self.player is None else self.player.clock.now_s - 1000.0

    def now(self) -> datetime:
        """Return the moment by the archive's clock."""
        return START + timedelta(seconds=self.counter() - self.set_back_s)

    def open(self, **more: Any) -> Player:
        """Open the window; its clock goes on from where the last one stood."""
        self.seconds = self.counter()
        self.player = None
        services = Services(lambda: self.archive, lambda: 7, open_office=lambda: self.office)
        player = Player(self.archive, services=services, **more)
        player.clock.now_s += self.seconds
        player.wait(0.0)
        self.player = player
        return player

    def later(self, **passed: float) -> None:
        """Let time pass."""
        seconds = timedelta(**passed).total_seconds()
        if self.player is None:
            self.seconds += seconds
        else:
            self.player.wait(seconds)

    def accounts(self, *names: str) -> None:
        """Make accounts without the window; the first vouches for the others."""
        first, *others = names
        self.office.set_up(self.archive, first, PHRASES[first])
        for name in others:
            self.office.add_account(self.archive, who(first), name, ("supervisor",), PHRASES[name])

    def check(
        self, person: str, chance: np.random.Generator, bias: float, spread: float, slips: float = 0.0
    ) -> str:
        """Let a day pass and a simulated reader take a check of the first criterion, without the window."""
        self.later(days=1)
        known = self.archive.person(person)
        opened = self.office.start_check(self.archive, who(RUTH), known.id, "first-level-metric")
        self.later(minutes=1)
        plan = plans.find("check-metric")
        items = deal(plan, catalogue.load("metric"), chance)
        header = SessionHeader(
            instrument="metric", drill=plan.drill, for_record=True, seed=int(chance.integers(2**40)),
            program_version="0.1.0", drawing_version="1", viewing={}, px_per_mm=20.0, station="bench 3",
            started_at=self.office.now(self.archive),
        )  # fmt: skip
        given = {**plan.to_dict(), "ticket": opened.ticket}
        session = self.archive.begin_session(known.id, given, [item.to_dict() for item in items], header)
        for item in items:
            self.later(seconds=5 + 3 * float(chance.random()))
            error = bias + spread * chance.standard_normal() + (500.0 if chance.random() < slips else 0.0)
            answer = float(max(0, round(item.position_tenths + error)))
            self.archive.save_answer(
                session,
                {
                    "number": item.number, "typed": f"{answer:.0f}", "answer_tenths": answer,
                    "outcome": "answered", "seconds": 5 + 3 * float(chance.random()),
                    "at": self.office.now(self.archive),
                },
            )  # fmt: skip
        self.archive.end_session(session, "finished", self.office.now(self.archive))
        self.office.close_check(self.archive, session, "finished", attested=True)
        return str(session)


def who(account: str) -> Who:
    """Return an account with its passphrase."""
    return Who(account, PHRASES[account])
