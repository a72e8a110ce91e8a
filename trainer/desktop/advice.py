"""What to work on next, from a score: one sentence, the most useful first. Rules of thumb, no source."""

from typing import TYPE_CHECKING

from trainer.desktop.desk import Desk
from trainer.desktop.words import say

if TYPE_CHECKING:
    from trainer.scoring.person import PersonScore

NOTABLE_BIAS_TENTHS = 0.3  # common practice, no source: a third of the unit that is asked for
NOTABLE_SPREAD_TENTHS = 1.0  # common practice, no source: a tenth either way
NOTABLE_PROFILE_TENTHS = 0.8  # common practice, no source


def advice(score: "PersonScore", desk: Desk) -> tuple[str, ...]:
    """Return what stands out in a score, the most useful first; never empty."""
    found = [
        *_slips(score),
        *_bias(score, desk),
        *_digits(score),
        *_profile(score, desk),
        *_spread(score, desk),
    ]
    if score.skipped > max(1, score.readings // 10):
        found.append(say("advice.skips"))
    if not found:
        few = score.spread_tenths.low is None
        found.append(say("advice.few" if few else "advice.fine"))
    return tuple(found)


def _slips(score: "PersonScore") -> list[str]:
    kinds = {kind: n for kind, n in score.misreads.by_kind.items() if n}
    if not kinds:
        return []
    worst = max(kinds, key=lambda kind: kinds[kind])
    return [say("advice.misread", kind=say(f"misread.{worst}"), n=kinds[worst])]


def _bias(score: "PersonScore", desk: Desk) -> list[str]:
    bias = score.bias_tenths
    if bias.value is None or bias.low is None or bias.high is None or bias.low <= 0 <= bias.high:
        return []
    if abs(bias.value) < NOTABLE_BIAS_TENTHS:
        return []
    way = "high" if bias.value > 0 else "low"
    return [say(f"advice.bias.{way}", tenths=desk.tenths(abs(bias.value), sign=False))]


def _digits(score: "PersonScore") -> list[str]:
    habit = score.digit_preference
    if habit.p_value is None or habit.p_value > 0.05 or not habit.favoured:
        return []
    return [say("advice.digit", digits=", ".join(map(str, habit.favoured)))]


def _profile(score: "PersonScore", desk: Desk) -> list[str]:
    shown = [
        row
        for row in score.profile
        if row.bias_tenths is not None
        and row.low is not None
        and row.high is not None
        and not row.low <= 0 <= row.high
        and abs(row.bias_tenths) >= NOTABLE_PROFILE_TENTHS
    ]
    if not shown:
        return []
    worst = max(shown, key=lambda row: abs(row.bias_tenths or 0))
    return [say("advice.profile", tenth=worst.tenth, tenths=desk.tenths(worst.bias_tenths))]


def _spread(score: "PersonScore", desk: Desk) -> list[str]:
    spread = score.spread_tenths.value
    if spread is None or spread < NOTABLE_SPREAD_TENTHS:
        return []
    return [say("advice.spread", tenths=desk.tenths(spread, sign=False))]
