"""The decision: shown, not yet shown, or shown to fail; per limit and overall.

`decide` replays every look over all the evidence of an attempt. The first look at which everything is
shown, or something is shown to fail, ends the attempt; what comes after it cannot change the verdict, and
nothing that came before it can be left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trainer.instrument.sentence import joined
from trainer.scoring.intervals import Interval, bonett, clopper_pearson, interval, mean_t
from trainer.signoff.bounds import Looks, Totals, at, first_end, look
from trainer.signoff.criterion import Criterion
from trainer.signoff.evidence import CheckSession, sittings_of, stack, sums, totals
from trainer.signoff.forecast import Forecast, forecast
from trainer.signoff.rules import Points, Rules
from trainer.signoff.words import tell

SHOWN, NOT_YET, FAILED = "shown", "not yet shown", "shown to fail"
INTERVAL_CONFIDENCE = 0.95  # of the printed intervals; the bounds of the decision are narrower


@dataclass(frozen=True, slots=True)
class LimitVerdict:
    """What is known about one limit. `estimate` has the ordinary 95 % interval.

    `bound` is what the decision compares with `limit`: for a rate, the points reached, and `limit` of
    points needed is `needed`. `forecast` is how many readings are still wanted for this limit.
    """

    name: str
    limit: float
    estimate: Interval
    bound: float | None
    verdict: str
    forecast: Forecast
    needed: int | None = None
    count: int | None = None
    of: int | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, fit for JSON."""
        return {
            "name": self.name,
            "limit": self.limit,
            **self.estimate.to_dict(),
            "bound": self.bound,
            "needed_points": self.needed,
            "count": self.count,
            "of": self.of,
            "verdict": self.verdict,
            "more_readings": self.forecast.to_list(),
        }


@dataclass(frozen=True, slots=True)
class Decision:
    """The verdict over the sessions that it took in, in order. `ended` says that the attempt is over."""

    verdict: str
    ended: bool
    limits: tuple[LimitVerdict, ...]
    readings: int
    sittings: int
    looks: int
    sessions: tuple[str, ...]
    forecast: Forecast
    at_most: int
    first_look: int

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, fit for JSON."""
        return {
            "verdict": self.verdict,
            "attempt_over": self.ended,
            "readings": self.readings,
            "sittings": self.sittings,
            "looks": self.looks,
            "sessions": list(self.sessions),
            "limits": [one.to_dict() for one in self.limits],
            "more_readings": self.forecast.to_list(),
            "readings_at_most": self.at_most,
        }

    @property
    def sentence(self) -> str:
        """Return the verdict in a sentence for the supervisor."""
        sittings = tell(f"decision.sittings{'.one' if self.sittings == 1 else ''}", n=self.sittings)
        if self.verdict == SHOWN:
            return tell("decision.shown", n=self.readings, sittings=sittings)
        if self.verdict == FAILED:
            failed = [tell(f"limit.{one.name}") for one in self.limits if one.verdict == FAILED]
            return tell("decision.failed", n=self.readings, limits=joined(failed))
        if self.ended:
            return tell("decision.ended", n=self.readings, most=self.at_most)
        if not self.readings:
            return tell("decision.none", fewest=self.first_look)
        readings = tell(f"decision.readings{'.one' if self.readings == 1 else ''}", n=self.readings)
        return tell("decision.not-yet", readings=readings, sittings=sittings, forecast=self.forecast.words)


def decide(criterion: Criterion, sessions: Sequence[CheckSession]) -> Decision:
    """Return the decision on the sessions of one attempt, in order of time.

    Before the first look, or between two, the figures are those of all sessions so far and the verdict is
    that of the last look.
    """
    rules = Rules.of(criterion)
    running, ends = totals(sessions, criterion)
    index, looks = -1, 0
    if ends:
        looks = len(ends)
        index = int(first_end(look(running, rules), running, rules))
    if index >= 0:
        taken = list(sessions[: ends[index]])
        now = at(running, index)
        looks = index + 1
    else:
        taken = list(sessions)
        now = stack([sums(taken, sittings_of(taken, criterion))])
    found = look(now, rules)
    over = index >= 0
    verdict = NOT_YET
    if over and bool(found.shown[0]):
        verdict = SHOWN
    elif over and bool(found.failed[0]):
        verdict = FAILED
    ahead = forecast(now, found, rules)
    limits = _limits(now, found, rules, ahead, verdict)
    whole = Forecast(0) if over else ahead["all"]
    return Decision(
        verdict, over, limits, int(now.readings[0]), int(now.sittings[0]), looks,
        tuple(one.id for one in taken), whole, rules.most, rules.first_look,
    )  # fmt: skip


def _limits(
    now: Totals, found: Looks, rules: Rules, ahead: dict[str, Forecast], overall: str
) -> tuple[LimitVerdict, ...]:
    n, moments = now.clean, found.moments

    def verdict(name: str) -> str:
        failed = bool(getattr(found, f"{name}_failed")[0]) and overall != SHOWN
        shown = bool(getattr(found, f"{name}_shown")[0])
        ripe = now.readings[0] >= 2 * rules.block  # a verdict on less would be chance
        return FAILED if failed and ripe else SHOWN if shown else NOT_YET

    def one(array: np.ndarray) -> float | None:
        return float(array[0]) if np.isfinite(array[0]) else None

    sd = moments.sd
    bias = interval(moments.mean[0], _first(mean_t(moments.mean, sd**2, n, n - 1)))
    spread = interval(sd[0], _first(bonett(sd, moments.kurtosis, n)))
    limits = [
        LimitVerdict(
            "bias", rules.bias_tenths, bias, one(found.bias_bound), verdict("bias"), ahead["bias"],
            of=int(n[0]),
        ),
        LimitVerdict(
            "spread", rules.spread_tenths, spread, one(found.spread_bound), verdict("spread"),
            ahead["spread"], of=int(n[0]),
        ),
    ]  # fmt: skip
    if rules.judges:
        limits = []
    for name, rule, bad, of in (
        ("misreads", rules.misreads, now.misreads, now.readings),
        ("judgement", rules.judgement, now.false_accepts, now.judged),
        ("rejects", rules.rejects, now.false_rejects, now.inside),
        ("pace", rules.pace, now.slow, now.readings),
    ):
        if rule is not None:
            limits.append(_rate(name, rule, float(bad[0]), float(of[0]), verdict(name), ahead[name]))
    return tuple(limits)


def _rate(name: str, rule: Points, bad: float, of: float, verdict: str, ahead: Forecast) -> LimitVerdict:
    low, high = clopper_pearson(bad, of, INTERVAL_CONFIDENCE)
    rate = interval(bad / of if of else np.nan, (low, high))
    points = of - bad - rule.penalty * bad
    return LimitVerdict(
        name, rule.rate, rate, points, verdict, ahead, needed=rule.needed, count=int(bad), of=int(of)
    )


def _first(ends: tuple[np.ndarray, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    return ends[0][0], ends[1][0]
