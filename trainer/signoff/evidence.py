"""Evidence: check sessions as the decision needs them, and why a session is not evidence.

Every check session in scope counts, abandoned ones too. A reading that was asked for and not given
(skipped, or out of time) counts with the misreads: leaving out the hard ones must not pay.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np

from trainer.instrument import catalogue
from trainer.instrument.refusal import Refusal
from trainer.instrument.sentence import joined
from trainer.scoring.errors import Floats, error_tenths, within_division
from trainer.scoring.misreads import is_misread, signatures
from trainer.signoff.bounds import Totals
from trainer.signoff.criterion import Criterion
from trainer.signoff.rules import Rules
from trainer.signoff.sight import unlike_sight
from trainer.signoff.words import tell


class UnusableMoment(Refusal):
    """A time is not one that can be used."""


@dataclass(frozen=True, slots=True)
class CheckSession:
    """One check: its clean errors in tenths, and counts of what else happened.

    `started_at` is ISO 8601 with its offset from UTC. `not_given` counts readings skipped or out of time,
    `slow` those that took longer than the criterion's pace. `seed` and `positions` tell a replay.

    A check of judging has `judgements` given; of the offsets outside the tolerance that count, `judged`, the
    `false_accepts`, and of those well `inside` the `false_rejects`. Of these, one not given counts as wrong.
    """

    id: str
    started_at: str
    errors_tenths: tuple[float, ...]
    misreads: int = 0
    not_given: int = 0
    slow: int = 0
    judged: int = 0
    false_accepts: int = 0
    ended_how: str = "finished"
    seed: str = ""
    judgements: int = 0
    inside: int = 0
    false_rejects: int = 0

    @property
    def readings(self) -> int:
        """Return how many readings, or judgements, were asked for."""
        return self.counted + self.misreads + self.not_given

    @property
    def counted(self) -> int:
        """Return how many clean readings, or judgements, were given: what makes a sitting."""
        return len(self.errors_tenths) + self.judgements


@dataclass(frozen=True, slots=True)
class Refused:
    """A session that is not evidence, and why."""

    id: str
    reason: str


def moment(text: str) -> datetime:
    """Return an ISO 8601 time as a moment in UTC, so that no change of time zone can move it.

    >>> moment("2026-03-29T02:30:00+01:00").isoformat()
    '2026-03-29T01:30:00+00:00'
    """
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise UnusableMoment(f"{text!r} is not a time; write it as 2026-03-29T14:05:00Z") from None
    if found.tzinfo is None:
        raise UnusableMoment(f"{text!r} says no time zone; add Z for UTC, or +01:00")
    try:
        return found.astimezone(UTC)
    except OverflowError:
        raise UnusableMoment(f"{text!r} lies outside the calendar in UTC") from None


def check_session(
    criterion: Criterion,
    *,
    id: str,
    started_at: str,
    instrument: str,
    truth_tenths: Sequence[float],
    answer_tenths: Sequence[float | None],
    outcomes: Sequence[str],
    seconds: Sequence[float | None],
    ended_how: str = "finished",
    seed: str = "",
) -> CheckSession:
    """Return a session of readings as evidence; the sequences have one entry an item shown."""
    truth = np.asarray(truth_tenths, float)
    answered = np.array([outcome == "answered" for outcome in outcomes], bool)
    answers = np.array([np.nan if answer is None else answer for answer in answer_tenths], float)
    error = error_tenths(answers[answered], truth[answered])
    misread = is_misread(error, within_division(truth[answered]), vernier=signatures(instrument).vernier)
    return CheckSession(
        id=id,
        started_at=started_at,
        errors_tenths=tuple(float(one) for one in error[~misread]),
        misreads=int(misread.sum()),
        not_given=int((~answered).sum()),
        slow=_slow(criterion, seconds),
        ended_how=ended_how,
        seed=seed,
    )


def judging_session(
    criterion: Criterion,
    *,
    id: str,
    started_at: str,
    offsets_tenths: Sequence[float],
    said_in: Sequence[bool | None],
    seconds: Sequence[float | None],
    ended_how: str = "finished",
    seed: str = "",
) -> CheckSession:
    """Return a session of judgements as evidence; the sequences have one entry an offset shown.

    `said_in` is None where no judgement was given. Offsets between the two windows do not count: there
    the tolerance itself is in doubt by the width of a line.
    """
    assert criterion.offset_tenths is not None  # a criterion that judges
    assert criterion.inside_tenths is not None
    size = np.abs(np.asarray(offsets_tenths, float))
    low, high = criterion.offset_tenths
    outside, inside = (size >= low) & (size <= high), size <= criterion.inside_tenths
    accepted = np.array([one is not False for one in said_in], bool)
    rejected = np.array([one is not True for one in said_in], bool)
    given = sum(one is not None for one in said_in)
    return CheckSession(
        id=id,
        started_at=started_at,
        errors_tenths=(),
        not_given=len(said_in) - given,
        slow=_slow(criterion, seconds),
        judged=int(outside.sum()),
        false_accepts=int((outside & accepted).sum()),
        ended_how=ended_how,
        seed=seed,
        judgements=given,
        inside=int(inside.sum()),
        false_rejects=int((inside & rejected).sum()),
    )


def _slow(criterion: Criterion, seconds: Sequence[float | None]) -> int:
    limit = criterion.seconds
    return 0 if limit is None else sum(1 for one in seconds if one is not None and one > limit)


def not_evidence(
    criterion: Criterion,
    *,
    instrument: str,
    drill: str,
    for_record: bool,
    plan: Mapping[str, Any],
    viewing: Mapping[str, Any],
) -> str:
    """Return why a session of this kind is not evidence for a criterion, or nothing when it is."""
    if not for_record:
        return tell("refused.practice")
    if plan.get("feedback", False):
        return tell("refused.feedback")
    if drill not in criterion.scope.drills:
        return tell("refused.drill", drill=drill, drills=joined(criterion.scope.drills, "or"))
    if plan.get("halves", False):
        return tell("refused.halves")
    if criterion.judges and (reason := _other_offsets(criterion, plan)):
        return reason
    if instrument not in catalogue.names():
        return tell("refused.instrument", instrument=instrument)
    if reason := criterion.scope.refuses(catalogue.load(instrument)):
        return tell("refused.scope", instrument=instrument, reason=reason)
    low, high = criterion.scope.viewing_deg
    angle = float(viewing.get("roll_deg") or 0.0)
    if not low <= angle <= high:
        turned, least, most = (f"{one:g}".replace("-", "−") for one in (angle, low, high))
        return tell("refused.turned", angle=turned, low=least, high=most)
    if unlike := unlike_sight(viewing, criterion.conditions):
        return tell("refused.sight", seen=joined(unlike))
    return ""


# the judge drill's own, where its plan leaves them out
JUDGED = {"tolerance_tenths": 2.0, "range_tenths": 4.0}


def _other_offsets(criterion: Criterion, plan: Mapping[str, Any]) -> str:
    """Return why the offsets of a plan are not those that a criterion of judging speaks of."""
    assert criterion.offset_tenths is not None
    if plan.get("placement", "stratified") != "stratified":
        return tell("refused.wavering")
    own = {**JUDGED, **plan.get("settings", {})}
    wanted = {"tolerance_tenths": criterion.tolerance_tenths, "range_tenths": criterion.offset_tenths[1]}
    for name, entry in (("tolerance_tenths", "refused.tolerance"), ("range_tenths", "refused.range")):
        if own[name] != wanted[name]:
            return tell(entry, own=f"{own[name]:g}", wanted=f"{wanted[name]:g}")
    return ""


def without_replays(sessions: Iterable[CheckSession]) -> tuple[list[CheckSession], list[Refused]]:
    """Return the sessions in order of time, and those refused because their seed had been used before."""
    kept: list[CheckSession] = []
    refused: list[Refused] = []
    seeds: dict[str, str] = {}
    for session in sorted(sessions, key=lambda one: (moment(one.started_at), one.id)):
        if session.seed and session.seed in seeds:
            refused.append(Refused(session.id, tell("refused.replay", other=seeds[session.seed])))
            continue
        seeds[session.seed] = session.id
        kept.append(session)
    return kept, refused


def sittings_of(sessions: Sequence[CheckSession], criterion: Criterion) -> list[int]:
    """Return the number, from 0, of the sitting to which each session belongs.

    A session that starts less than `sittings_apart_hours` after the start of a sitting belongs to it; so
    does one with less than half a block of clean readings, whose mean would weigh as much as a whole one's.
    """
    apart_s = criterion.sittings_apart_hours * 3600
    numbers: list[int] = []
    begun: datetime | None = None
    clean = 0
    for session in sessions:
        start = moment(session.started_at)
        full = 2 * clean >= criterion.readings_a_session
        if begun is None:
            numbers.append(0)
            begun = start
        elif (start - begun).total_seconds() < apart_s or not full or _small(session, criterion):
            numbers.append(numbers[-1])
        else:
            numbers.append(numbers[-1] + 1)
            begun, clean = start, 0
        clean += session.counted
    return numbers


def _small(session: CheckSession, criterion: Criterion) -> bool:
    return 2 * session.counted < criterion.readings_a_session


def totals(sessions: Sequence[CheckSession], criterion: Criterion) -> tuple[Totals, list[int]]:
    """Return the running totals at every look, shape (looks,), and how many sessions each look takes in.

    There is a look at the end of a session when a whole block has come since the last one.
    """
    rules = Rules.of(criterion)
    numbers = sittings_of(sessions, criterion)
    ends: list[int] = []
    since = 0
    for count, session in enumerate(sessions, 1):
        since += session.readings
        if since >= rules.block:
            ends.append(count)
            since = 0
    return stack([sums(sessions[:end], numbers[:end]) for end in ends]), ends


def sums(sessions: Sequence[CheckSession], numbers: Sequence[int]) -> list[float]:
    """Return the totals of sessions as a row: the fields of `Totals`, the four powers in place of one."""
    errors = np.array([error for session in sessions for error in session.errors_tenths], float)
    of = np.array(
        [number for session, number in zip(sessions, numbers, strict=True) for _ in session.errors_tenths],
        int,
    )
    means = [float(errors[of == number].mean()) for number in np.unique(of)] if errors.size else []
    judging = {number for one, number in zip(sessions, numbers, strict=True) if one.judgements}
    return [
        float(errors.size),
        *(float((errors**power).sum()) for power in (1, 2, 3, 4)),
        float(sum(one.misreads + one.not_given for one in sessions)),
        float(len(means) or len(judging)),
        sum(means),
        sum(mean**2 for mean in means),
        float(sum(one.judged for one in sessions)),
        float(sum(one.false_accepts for one in sessions)),
        float(sum(one.slow for one in sessions)),
        float(sum(one.judgements for one in sessions)),
        float(sum(one.inside for one in sessions)),
        float(sum(one.false_rejects for one in sessions)),
    ]


def stack(rows: Sequence[Sequence[float]]) -> Totals:
    """Return rows of `sums` as totals of shape (rows,)."""
    table: Floats = np.array(rows, float).reshape(len(rows), 15).T
    return Totals(table[0], (table[1], table[2], table[3], table[4]), *table[5:])
