"""What is waited for: the next sitting, the end of a waiting time, a monitoring check; and from when."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from trainer.instrument.sentence import Moment
from trainer.signoff.attempts import History, opens_at
from trainer.signoff.criterion import Criterion
from trainer.signoff.evidence import CheckSession, moment, sittings_of
from trainer.signoff.standing import Standing
from trainer.signoff.statement import signable
from trainer.signoff.words import tell

SOON_DAYS = 14  # a renewal is spoken of from then on


def in_words(until: datetime, now: datetime) -> str:
    """Return how long it is until a moment, in days or hours.

    >>> in_words(datetime(2026, 3, 4, 8), datetime(2026, 3, 2, 8))
    'in 2 days'
    """
    hours = (until - now).total_seconds() / 3600
    if hours <= 0:
        return tell("soon.now")
    if hours < 1:
        return tell("soon.hour")
    if hours < 36:
        return tell("soon.hours.one" if round(hours) == 1 else "soon.hours", n=f"{hours:.0f}")
    return tell("soon.days", n=f"{hours / 24:.0f}")


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
        return tell("wait.signature", n=shown.number)
    return tell("wait.nothing", n=shown.number)


def _to_be_opened(criterion: Criterion, found: History, now: datetime) -> str:
    start = opens_at(criterion, found, now)
    if start <= now:
        told = tell("wait.training.now")
    else:
        told = tell("wait.training", start=Moment(start), soon=in_words(start, now))
    if other := found.barred_by(now):
        told = tell("wait.training.other", training=told, check=other.session, opened_for=other.opened_for)
    return told


def _next_sitting(criterion: Criterion, sessions: tuple[CheckSession, ...], now: datetime) -> str:
    """Return when the next check counts as another sitting."""
    if not sessions:
        return tell("wait.first")
    numbers = sittings_of(sessions, criterion)
    own = [one for one, number in zip(sessions, numbers, strict=True) if number == numbers[-1]]
    open_one = next((one.id for one in sessions if not one.ended_how), "")
    if open_one:
        return tell("wait.unfinished", session=open_one)
    if 2 * sum(one.counted for one in own) < criterion.readings_a_session:
        return tell("wait.small")
    start = moment(own[0].started_at) + timedelta(hours=criterion.sittings_apart_hours)
    if start <= now:
        return tell("wait.check")
    return tell("wait.day", start=Moment(start), soon=in_words(start, now))


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
    if days < 0:
        due = tell("reminder.overdue", days=_days(-days))
    else:
        due = tell("reminder.in", days=_days(days)) if days else tell("reminder.today")
    left = (present.valid_until.date() - now.date()).days
    return tell("reminder.renewal" if left <= SOON_DAYS else "reminder", due=due, left=_days(left))


def _days(count: int) -> str:
    return tell("days.one" if count == 1 else "days", n=count)
