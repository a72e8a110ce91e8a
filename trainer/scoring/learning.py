"""Learning across sessions: will the spread reach a limit, and when; withheld while nobody could say.

Two families of curves, exponential and power (Heathcote, Brown and Mewhort 2000, from memory), each on a
grid of start, asymptote and rate, weighted by how well they explain the sessions' spreads; the answer
averages over both, since real data cannot tell them apart.
"""

from dataclasses import dataclass

import numpy as np

from trainer.scoring.errors import Floats
from trainer.scoring.intervals import Interval

SPREADS = np.geomspace(0.3, 6.0, 40)  # tenths; grid of starts and asymptotes
EXPONENTIAL_RATES = np.geomspace(0.02, 2.0, 30)  # per session
POWER_RATES = np.geomspace(0.05, 3.0, 30)
FEWEST_SESSIONS = 4  # four readings of a curve with three parameters
USEFUL_RATIO = 2.0  # of the ends of the 80 % interval; simulation in docs/methods/scoring.md
MAY_NEVER = 0.10  # probability of an asymptote above the limit that must be said
LAST_SESSION = 1e6  # a session beyond this is never


@dataclass(frozen=True, slots=True)
class LearningForecast:
    """The session in which the spread reaches the limit, with an 80 % interval, or why that is not said.

    `sessions_to_limit` counts from the first session as 1. `may_never` is the probability that practice
    ends above the limit. A pass is a sign-off test, never a forecast.
    """

    sessions: int
    limit_tenths: float
    sessions_to_limit: Interval
    asymptote_tenths: Interval
    may_never: float | None
    reason: str | None

    def to_dict(self) -> dict[str, object]:
        """Return the values by name, ready for JSON."""
        return {
            "sessions": self.sessions,
            "limit_tenths": self.limit_tenths,
            "sessions_to_limit": self.sessions_to_limit.to_dict(),
            "asymptote_tenths": self.asymptote_tenths.to_dict(),
            "may_never": self.may_never,
            "reason": self.reason,
        }


def learning_forecast(
    spread_tenths: Floats, spread_df: Floats, limit_tenths: float = 1.0
) -> LearningForecast:
    """Return the forecast from the spread of each session, in order, and its degrees of freedom.

    ln(spread) is taken as normal with variance 1 / (2 df); see `central.spread_df`.
    """
    spread: Floats = np.asarray(spread_tenths, float)
    df: Floats = np.asarray(spread_df, float)
    known = np.isfinite(spread) & (spread > 0) & np.isfinite(df) & (df > 0)
    number: Floats = np.asarray(np.flatnonzero(known) + 1.0, float)
    log_spread: Floats = np.asarray(np.log(np.where(known, spread, 1.0))[known], float)
    count = int(known.sum())
    none = Interval(None)
    if count < FEWEST_SESSIONS:
        reason = f"a forecast needs at least {FEWEST_SESSIONS} sessions with a spread; there are {count}"
        return LearningForecast(count, limit_tenths, none, none, None, reason)
    weight, reached, asymptote = _posterior(number, log_spread, 1 / (2 * df[known]), limit_tenths)
    low, middle, high = _quantiles(reached, weight, (0.1, 0.5, 0.9))
    ends = _quantiles(asymptote, weight, (0.1, 0.5, 0.9))
    never = float(weight[asymptote >= limit_tenths].sum())
    withheld = _why_withheld(low, high)
    when = none if withheld else Interval(middle, low, high)
    return LearningForecast(count, limit_tenths, when, Interval(ends[1], ends[0], ends[2]), never, withheld)


def _why_withheld(low: float, high: float) -> str | None:
    if high >= LAST_SESSION:
        return "the sessions so far leave open whether the limit is reached at all"
    if high / max(low, 1.0) > USEFUL_RATIO:
        return f"the sessions so far allow anything from session {low:.0f} to session {high:.0f}"
    return None


def _posterior(
    session: Floats, log_spread: Floats, variance: Floats, limit: float
) -> tuple[Floats, Floats, Floats]:
    """Return weights, session of reaching the limit and asymptote of every curve on the grids."""
    weights, reached, asymptotes = [], [], []
    start, asymptote = SPREADS[:, None, None], SPREADS[None, :, None]
    above = np.broadcast_to(start >= asymptote, (len(SPREADS), len(SPREADS), len(EXPONENTIAL_RATES)))
    for family, rates in (("exponential", EXPONENTIAL_RATES), ("power", POWER_RATES)):
        rate = rates[None, None, :]
        misfit = np.zeros(above.shape)
        for k, y, v in zip(session, log_spread, variance, strict=True):
            left = np.exp(-rate * (k - 1)) if family == "exponential" else k**-rate
            misfit += (y - np.log(asymptote + (start - asymptote) * left)) ** 2 / v
        weights.append(np.where(above, -misfit / 2, -np.inf).ravel())
        reached.append(
            np.broadcast_to(_session_of(limit, start, asymptote, rate, family), above.shape).ravel()
        )
        asymptotes.append(np.broadcast_to(asymptote, above.shape).ravel())
    log_weight = np.concatenate(weights)
    weight = np.exp(log_weight - log_weight.max())
    return weight / weight.sum(), np.concatenate(reached), np.concatenate(asymptotes)


def _session_of(limit: float, start: Floats, asymptote: Floats, rate: Floats, family: str) -> Floats:
    """Return the session at which a curve is down at the limit; 1 if it starts below, a million if never."""
    share = (limit - asymptote) / np.maximum(start - asymptote, 1e-12)
    usable = np.clip(share, 1e-12, 1.0)
    if family == "exponential":
        session = 1 - np.log(usable) / rate
    else:
        session = np.exp(np.minimum(-np.log(usable) / rate, np.log(LAST_SESSION)))
    return np.where(share <= 0, LAST_SESSION, np.minimum(session, LAST_SESSION))


def _quantiles(values: Floats, weight: Floats, shares: tuple[float, ...]) -> list[float]:
    order = np.argsort(values)
    running = np.cumsum(weight[order])
    places = np.minimum(np.searchsorted(running, shares), len(values) - 1)
    return [float(x) for x in values[order][places]]
