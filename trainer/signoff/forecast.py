"""About how many more readings: present estimates put into each bound, the number of readings raised.

Measured in the simulation study: about right for good readers, too small by half for those near a limit,
so it is shown as a range from N to 2 N, and "more than 500" beyond.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from trainer.signoff.bounds import Looks, Moments, Totals, look
from trainer.signoff.rules import Points, Rules
from trainer.signoff.words import tell

NAMES = ("bias", "spread", "misreads", "judgement", "rejects", "pace", "all")
FEWEST = 5  # usable readings or judgements; before that there is no rate
FURTHEST = 500  # readings; beyond this nothing useful is said


@dataclass(frozen=True, slots=True)
class Forecast:
    """How many more readings: about `least` to twice that; None is "not at the present rate".

    `early` says that there are too few readings to tell a rate from.
    """

    least: int | None
    early: bool = False

    def to_list(self) -> list[int] | None:
        """Return [N, 2 N], or None where it is not to be had."""
        return None if self.least is None else [self.least, 2 * self.least]

    @property
    def words(self) -> str:
        """Return the forecast in words.

        >>> Forecast(40).words
        'about 40 to 80 more readings at the present rate'
        """
        if self.early:
            return tell("forecast.early")
        if self.least is None:
            return tell("forecast.never")
        if self.least == 0:
            return tell("forecast.none")
        if self.least > FURTHEST:
            return tell("forecast.far", furthest=FURTHEST)
        return tell("forecast.about", least=self.least, most=2 * self.least)


def forecast(now: Totals, found: Looks, rules: Rules) -> dict[str, Forecast]:
    """Return the forecast for each limit and, under "all", for the whole verdict. `now` has one look."""
    steps = np.arange(0, FURTHEST // rules.block + 2)
    readings, clean = float(now.readings[0]), float(now.clean[0])
    if clean + float(now.judgements[0]) < FEWEST:
        return dict.fromkeys(NAMES, Forecast(None, early=True))
    ahead = look(_extended(now, found.moments, steps * rules.block, rules), rules)
    results: dict[str, Forecast] = {}
    for name, shown in (("bias", ahead.bias_shown), ("spread", ahead.spread_shown)):
        results[name] = _first(shown, rules.block)
    for name, rule, bad, of in (
        ("misreads", rules.misreads, float(now.misreads[0]), readings),
        ("judgement", rules.judgement, float(now.false_accepts[0]), float(now.judged[0])),
        ("rejects", rules.rejects, float(now.false_rejects[0]), float(now.inside[0])),
        ("pace", rules.pace, float(now.slow[0]), readings),
    ):
        each = readings / of if of else 1.0  # asked for each one that counts here
        results[name] = Forecast(0) if rule is None else _points_ahead(rule, bad, of, rules.block, each)
    results["all"] = _all(results, now, rules)
    return results


def _extended(now: Totals, moments: Moments, more: np.ndarray, rules: Rules) -> Totals:
    """Return the totals after `more` readings like those so far."""
    share = (now.readings + more) / now.readings
    # after one sitting nothing is known of the drift: that of within-sitting chance alone is put in
    variance = np.nan_to_num(moments.sitting_variance, nan=float(moments.sd[0]) ** 2 / rules.block)
    k = now.sittings + more / rules.block
    mean = moments.sitting_mean
    first, second, third, fourth = (power * share for power in now.powers)
    return replace(  # as far as the bounds of bias and spread ask; the rates are counted by their points
        now,
        clean=now.clean * share,
        powers=(first, second, third, fourth),
        sittings=k,
        means=k * mean,
        means_squared=k * mean**2 + np.maximum(k - 1, 0) * variance,
    )


def _first(shown: np.ndarray, block: int) -> Forecast:
    return Forecast(int(shown.argmax()) * block if shown.any() else FURTHEST + 1)


def _points_ahead(rule: Points, bad: float, of: float, block: int, each: float) -> Forecast:
    missing = rule.needed - (of - bad - rule.penalty * bad)
    if missing <= 0:
        return Forecast(0)
    gain = 1 - (rule.penalty + 1) * bad / of if of else 1.0
    return Forecast(None if gain <= 0 else math.ceil(missing * each / gain / block) * block)


def _all(results: dict[str, Forecast], now: Totals, rules: Rules) -> Forecast:
    waits = [
        rules.first_look - float(now.readings[0]),
        (rules.sittings - float(now.sittings[0])) * rules.block,
    ]
    ready = max(0, math.ceil(max(waits) / rules.block) * rules.block)
    least = [one.least for one in results.values()]
    known = [one for one in least if one is not None]
    return Forecast(None if len(known) < len(least) else max(*known, ready))
