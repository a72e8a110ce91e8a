"""What guarded checks and the sign-off add to Home and to the drill; the heavier modules come when needed."""

from typing import TYPE_CHECKING, Any

from trainer.desktop.screen import Effect
from trainer.desktop.sittings import EndSession
from trainer.desktop.words import counted, say

if TYPE_CHECKING:
    from trainer.desktop.benches import OpenBench
    from trainer.desktop.signing import Reminders
    from trainer.desktop.sittings import Sitting


def reminder(told: "Reminders") -> str:
    """Return the one quiet line about the sign-off, "" where nothing is due."""
    parts = [
        counted("signoff.reminder.due", told.due) if told.due else "",
        counted("signoff.reminder.suspended", told.suspended) if told.suspended else "",
    ]
    if told.expiring:
        days = counted("signoff.days", told.expires_in_days)
        entry = "signoff.reminder.expires.one" if told.expiring == 1 else "signoff.reminder.expires"
        parts.append(say(entry, n=told.expiring, days=days))
    said = ", ".join(part for part in parts if part)
    return say("signoff.reminder", said=said) if said else ""


def ended(found: "Sitting | OpenBench", at: str, how: str = "closed") -> tuple[Effect, ...]:
    """Return the work of closing what was left open; a guarded check keeps its record and counts."""
    end = EndSession(found.session_id, how if not ticket(found) else "closed", at)
    if not ticket(found):
        return (end,)
    from trainer.desktop.signing_work import CloseCheck

    return end, CloseCheck(found.session_id, "closed")


def left(found: "Sitting", note: Effect) -> tuple[Effect, ...]:
    """Return the work of leaving a guarded check: its record is kept so far, and it may be gone on with."""
    if not found.ticket:
        return ()
    from trainer.desktop.signing_work import CloseCheck

    return note, CloseCheck(found.session_id, "left")


def glance(found: "Sitting") -> tuple[Effect, ...]:
    """Return the work of looking at the clock of a guarded check."""
    if not found.ticket:
        return ()
    from trainer.desktop.signing_work import Glance

    return (Glance(found.session_id),)


def last_word(found: "Sitting") -> Any:
    """Return the screen on which the person attests a guarded check, None after any other sitting."""
    if not found.ticket:
        return None
    from trainer.desktop.screens.signoff_attest import Attest

    return Attest(found.session_id)


def ticket(found: Any) -> str:
    """Return the ticket of what was left open, "" where there is none."""
    return str(getattr(found, "ticket", ""))
