"""The guard of a check in the window: its ticket, the clock beside a counter, and its record at the end."""

import time
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.practice.plan import Plan
    from trainer.records.archive import Archive


class WindowGuard:
    """Keeps the records of checks under way; `counter` gives seconds that only grow."""

    def __init__(self, counter: Callable[[], float] = time.monotonic) -> None:
        self._counter = counter
        self._seen: dict[str, tuple[datetime, float]] = {}

    def look_at_ticket(
        self, store: "Archive", ticket: str, person_id: str, plan: "Plan", session_id: str = ""
    ) -> None:
        """Raise unless a check may begin, or the session go on, under this ticket now."""
        from trainer.records import office

        office.ticket_in_force(store, ticket, person_id=person_id, plan=plan, session_id=session_id)

    def now(self, store: "Archive") -> str:
        """Return the moment by the archive's clock."""
        return store.store.now()

    def glance(self, store: "Archive", session_id: str) -> None:
        """Compare the archive's clock with the counter; the first look at a session only remembers."""
        from trainer.records import office
        from trainer.signoff.guard import told_by_clock

        at, counted = office.now(store), self._counter()
        before = self._seen.get(session_id)
        self._seen = {session_id: (at, counted)}
        if before is None:
            return
        passed, waited = (at - before[0]).total_seconds(), counted - before[1]
        for kind, detail in told_by_clock(passed, waited):
            store.note(session_id, kind, self.now(store), detail)

    def resumed(self, store: "Archive", session_id: str) -> None:
        """Note that a check is taken up again."""
        from trainer.records import office

        office.resume_watch(store, session_id)

    def close_check(self, store: "Archive", session_id: str, how: str, attested: bool) -> tuple[str, ...]:
        """Keep the record: what was noted while the check ran is in the archive already."""
        from trainer.records import checks, office

        watch = checks.watch_so_far(store, session_id)
        return office.close_check(store, session_id, watch, how=how, attested=attested).flags
