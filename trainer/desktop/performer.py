"""Who does the work that effects ask for: at once in tests, in a thread of its own in the window."""

import queue
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from trainer.desktop.events import Arrived, Refused
from trainer.desktop.screen import Effect

Answer = Arrived | Refused
BRIEF_S = 0.03  # how long the window waits for a brief effect before it draws that it waits


@dataclass(frozen=True, slots=True)
class Broken(Exception):
    """An effect failed in a way that nobody foresaw; carries the exception itself."""

    cause: BaseException


class Performer(Protocol):
    """Does work and hands back answers."""

    def start(self, effects: Sequence[Effect]) -> list[Answer]:
        """Start the work; return the answers that are there already."""

    def arrived(self) -> list[Answer]:
        """Return the answers that have come since; raise Broken for work that fell over."""

    def close(self) -> None:
        """Finish what was started."""


def answer(effect: Effect, services: Any) -> Answer:
    """Run an effect and return its answer; refusals and the system's faults become sentences."""
    try:
        return Arrived(effect.what, effect.run(services))
    except (ValueError, OSError) as fault:
        from trainer.instrument.refusal import Refusal
        from trainer.instrument.sentence import said

        if isinstance(fault, Refusal):
            return Refused(effect.what, said(fault))
        if isinstance(fault, OSError):
            where = f" ({fault.filename})" if fault.filename else ""
            return Refused(effect.what, f"{fault.strerror or fault}{where}")
        raise


class AtOnce:
    """Does the work when it is asked for."""

    def __init__(self, services: Any) -> None:
        self.services = services

    def start(self, effects: Sequence[Effect]) -> list[Answer]:
        """Do the work and return all answers."""
        return [answer(effect, self.services) for effect in effects]

    def arrived(self) -> list[Answer]:
        """Return nothing: all answers were handed back at once."""
        return []

    def close(self) -> None:
        """Leave nothing unfinished."""


class InThread:
    """Does the work in order in a thread; `wake` is called when an answer is there.

    `done` is told the name of each piece of work that is done, in that thread.
    """

    def __init__(
        self, services: Any, wake: Callable[[], None], done: Callable[[str], None] = lambda what: None
    ) -> None:
        self._services, self._wake, self._done = services, wake, done
        self._asked: queue.SimpleQueue[tuple[Effect, threading.Event] | None] = queue.SimpleQueue()
        self._answers: queue.SimpleQueue[Answer | Broken] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="archive", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while (asked := self._asked.get()) is not None:
            effect, done = asked
            try:
                found: Answer | Broken = answer(effect, self._services)
            except Exception as fault:  # noqa: BLE001 - handed to the main thread, which shows the crash screen
                found = Broken(fault)
            self._done(effect.what)  # before the answer is there: what it loads is wanted for showing it
            self._answers.put(found)
            done.set()
            self._wake()

    def start(self, effects: Sequence[Effect]) -> list[Answer]:
        """Start the work; wait a moment for brief work, so that its answer is drawn in the same picture."""
        brief = []
        for effect in effects:
            done = threading.Event()
            self._asked.put((effect, done))
            if effect.brief:
                brief.append(done)
        if brief and brief[-1].wait(BRIEF_S):
            return self.arrived()
        return []

    def arrived(self) -> list[Answer]:
        """Return the answers that have come since the last call."""
        found: list[Answer] = []
        while True:
            try:
                got = self._answers.get_nowait()
            except queue.Empty:
                return found
            if isinstance(got, Broken):
                raise got from got.cause  # so that the details tell where it happened
            found.append(got)

    def close(self, patience_s: float = 10.0) -> None:
        """Finish what was started, within reason."""
        self._asked.put(None)
        self._thread.join(patience_s)
