"""What is waited for: the next sitting, the end of a waiting time, a monitoring check; and from when."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from trainer.signoff.attempts import History, opens_at
from trainer.signoff.criterion import Criterion
from trainer.signoff.evidence import CheckSession, moment, sittings_of
from trainer.signoff.standing import Standing
from trainer.signoff.statement import signable

SOON_DAYS = 14  # a renewal is spoken of from then on


def in_words(until: datetime, now: datetime) -> str:
    """Return how long it is until a moment, in days or hours.

    >>> in_words(datetime(2026, 3, 4, 8), datetime(2026, 3, 2, 8))
    'in 2 days'
    """
    hours = (until - now).total_seconds() / 3600
    if hours <= 0:
        return "now"
    if hours < 1:
        return "in less than an hour"
    if hours < 36:
        return f"in {hours:.0f} hour{'' if round(hours) == 1 else 's'}"
    return f"in {hours / 24:.0f} days"


def waited_for(criterion: Criterion, found: History, now: datetime, *, signed: Iterable[int] = ()) -> str:
    """Return in a sentence what an attempt waits for, and from when it is to be had.

    `signed` are the numbers of the attempts on which a statement was signed.
    """
    if found.may_open(now):
        return _to_be_opened(criterion, found, now)
    shown = signable(found)
    if shown is None:
        return _next_sitting(criterion, found.last.sessions, now)
    if shown.number not in set(signed):
        return f"a signature: attempt {shown.number} shows everything, and a supervisor can sign"
    return (
        f"nothing: attempt {shown.number} is signed; checks from now on monitor it and count for the renewal"
    )


def _to_be_opened(criterion: Criterion, found: History, now: datetime) -> str:
    start = opens_at(criterion, found, now)
    when = "now" if start <= now else f"from {start:%Y-%m-%d %H:%M} UTC ({in_words(start, now)})"
    told = f"training; a supervisor can open a new attempt {when}, with a reason"
    if other := found.barred_by(now):
        told += f" (check {other.session}, opened for {other.opened_for}, has led to no sign-off)"
    return told


def _next_sitting(criterion: Criterion, sessions: tuple[CheckSession, ...], now: datetime) -> str:
    """Return when the next check counts as another sitting."""
    if not sessions:
        return "a first check, at any time"
    numbers = sittings_of(sessions, criterion)
    own = [one for one, number in zip(sessions, numbers, strict=True) if number == numbers[-1]]
    open_one = next((one.id for one in sessions if not one.ended_how), "")
    if open_one:
        return f"session {open_one} is unfinished; go on with it (--resume), or it is closed as it stands"
    if 2 * sum(one.counted for one in own) < criterion.readings_a_session:
        return "a check at any time; the last sitting has too few readings to stand alone, and is added to"
    start = moment(own[0].started_at) + timedelta(hours=criterion.sittings_apart_hours)
    if start <= now:
        return "a check, at any time; it counts as another sitting"
    return (
        f"another day: a check counts as another sitting from {start:%Y-%m-%d %H:%M} UTC "
        f"({in_words(start, now)}); before then it adds to the present one"
    )


def due_in_days(present: Standing, now: datetime) -> int | None:
    """Return in how many days the next monitoring check is due, below nought where it is overdue.

    None for a statement that no check keeps alive any more. Days are those of the calendar, in UTC.
    """
    if not present.in_force:
        return None
    return (present.due_at.date() - now.date()).days


def reminder(present: Standing, now: datetime) -> str:
    """Return the reminder that goes with a statement in force, or nothing."""
    days = due_in_days(present, now)
    if days is None:
        return ""
    told = f"{_days(-days)} overdue" if days < 0 else "due today" if days == 0 else f"due in {_days(days)}"
    left = (present.valid_until.date() - now.date()).days
    renewal = f"; renewal: {_days(left)} left" if left <= SOON_DAYS else ""
    return f"monitoring check: {told}{renewal}"


def _days(count: int) -> str:
    return f"{count} day{'' if count == 1 else 's'}"
