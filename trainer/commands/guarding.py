"""The guard of a check without a window: the ticket before it, its course, and the word at its end."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.instrument.refusal import Refusal
from trainer.signoff.evidence import moment
from trainer.signoff.guard import PERSON_ATTESTS, UnusableTicket, Watch, told_by_clock

if TYPE_CHECKING:
    from trainer.commands.sitting import Sitting
    from trainer.practice.plan import Plan
    from trainer.records.archive import Archive
    from trainer.records.values import StoredSession
    from trainer.signoff.guard import Ticket

QUESTION = "Is that so? Type yes or no:"


def look_at_ticket(archive: "Archive", ticket: str, person: str, plan: "Plan") -> "Ticket":
    """Return the ticket for a check that is about to begin; raise before anything is kept."""
    from trainer.records import office

    return office.ticket_in_force(archive, ticket, person_id=archive.person(person).id, plan=plan)


def look_again(archive: "Archive", ticket: str, stored: "StoredSession") -> "Ticket | None":
    """Return the ticket under which a stored session may be gone on with; None when it has no guard.

    Its plan was held against the ticket when it began, and it goes on with that plan.
    """
    from trainer.records import office

    own = str(stored.plan.get("ticket", ""))
    if ticket and ticket.strip().casefold() != own:
        under = f"ticket {own}" if own else "no ticket"
        raise UnusableTicket(
            f"the unfinished session was begun under {under}, not under {ticket}; "
            "leave out --ticket to go on with it, or leave out --resume to begin the new check"
        )
    if not own:
        return None
    return office.ticket_in_force(archive, own, person_id=stored.person.id, session_id=stored.id)


@dataclass
class Guard:
    """Keeps `watch` while a sitting goes on; compares the archive's clock with seconds that only grow."""

    sitting: "Sitting"
    watch: Watch
    as_json: bool

    def __post_init__(self) -> None:
        """Begin to compare the clock with the counter."""
        self._seen = self._look()

    @contextmanager
    def watching(self) -> Iterator[None]:
        """Keep the guard's record however the check ends: finished, left, or stopped by hand."""
        try:
            yield
        except BaseException:
            self._close("left", attested=False)
            raise
        if self.sitting.session.phase != "done":
            self._close("left", attested=False)
            return
        attested = False
        try:
            attested = self._attests()
        finally:  # stopped by hand at the question, the check is finished all the same
            self._close("finished", attested=attested)

    def glance(self) -> None:
        """Note what the clock tells of the last reading: set back, or time that nobody was there."""
        at, counted = self._look()
        passed, waited = (at - self._seen[0]).total_seconds(), counted - self._seen[1]
        self._seen = at, counted
        for kind, detail in told_by_clock(passed, waited):
            self._mark(kind, detail)

    def sentences(self) -> list[str]:
        """Return what stands on the record of the check, for the person who took it."""
        attested = ["you attested that you took it alone"] if self.watch.attested else []
        return [f"on the record of this check: {one}" for one in (*attested, *self.watch.flags)]

    def _look(self) -> tuple[datetime, float]:
        return moment(self.sitting.now()), self.sitting.clock()

    def _mark(self, kind: str, detail: str = "") -> None:
        """Note something on the record, and in the archive at once, so that a killed program leaves it."""
        at = self.sitting.now()
        self.watch = self.watch.marked(kind, at, detail)
        self.sitting.archive.note(self.sitting.session_id, kind, at, detail)

    def _close(self, how: str, *, attested: bool) -> None:
        from trainer.records import office

        if how == "left":
            self._mark("left")
        self.watch = office.close_check(
            self.sitting.archive, self.sitting.session_id, self.watch, how=how, attested=attested
        )

    def _attests(self) -> bool:
        """Return whether the person says that they took the check themselves."""
        complaint = ""
        while True:
            self._ask(complaint)
            line = sys.stdin.readline()
            said = line.strip().casefold()
            if said in ("yes", "no") or not line:
                if said != "yes":
                    print("warning: not attested; the record of this check says so", file=sys.stderr)
                return said == "yes"
            complaint = f"{line.strip()!r} is neither yes nor no"

    def _ask(self, complaint: str) -> None:
        from trainer.commands.output import print_json

        if self.as_json:
            said = {"asks": "attestation", "statement": PERSON_ATTESTS, "question": QUESTION}
            print_json({**said, **({"refused": complaint} if complaint else {})}, one_line=True)
            return
        if complaint:
            print(complaint)
        print(f"\n{PERSON_ATTESTS}\n{QUESTION} ", end="", flush=True)


def guard_of(sitting: "Sitting", ticket: "Ticket | None", as_json: bool, *, resumed: bool) -> Guard | None:
    """Return the guard of a sitting under a ticket, or None where there is no ticket."""
    from trainer.records import office

    if ticket is None:
        return None
    if resumed:
        return Guard(sitting, office.resume_watch(sitting.archive, sitting.session_id), as_json)
    return Guard(sitting, office.begin_watch(ticket), as_json)


def warn_without_ticket(archive: "Archive") -> None:
    """Say on stderr that a check without a ticket shows nobody's skill, where there is a sign-off at all."""
    from trainer.records import accounts, documents

    if documents.listed(archive, accounts.KEY):
        print(
            "warning: without a ticket (--ticket) this check counts for no criterion that asks for a "
            "supervisor; `tenthwise signoff check` opens one",
            file=sys.stderr,
        )


def refuse_new_person(ticket: str, *, new_person: bool) -> None:
    """Raise where a check under a ticket would add the person: a supervisor named somebody known."""
    if ticket and new_person:
        raise Refusal("a ticket names a person who is in the archive; leave out --new-person")
