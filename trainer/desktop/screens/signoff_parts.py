"""Pieces of the sign-off: a limit with what was found, a statement in words."""

from typing import Any

from trainer.desktop.desk import Desk
from trainer.desktop.nodes import Band, Label, Row, Stack
from trainer.desktop.signing import Limit, Signed, Standing
from trainer.desktop.words import counted, say

IN_TENTHS = ("bias", "spread")
DAYS_SOON = 30  # a check that is due later than that is not spoken of


def limit_scale(one: Limit, desk: Desk) -> Stack:
    """Return one limit: what was found and the limit in words, both on a scale, and the verdict."""
    tenths = one.name in IN_TENTHS
    parts: list[Any] = [Label(say(f"signoff.limit.{one.name}"), "small", "soft"), Label(_found(one, desk))]
    band, ends = _band(one, desk)
    if band is not None:
        scale = Row((Label(ends[0], "small", "soft"), Label(ends[1], "small", "soft", "right")), (1, 1))
        parts += [band, scale]
    if one.low is not None and one.high is not None:
        low, high = _number(one.low, one, desk), _number(one.high, one, desk)
        unit = "" if tenths else "\N{NO-BREAK SPACE}%"
        interval = say("signoff.limit.interval", low=low, high=f"{high}{unit}")
    else:
        interval = say("signoff.limit.interval.none")
    parts.append(Label(interval, "small", "soft"))
    verdict = say(f"signoff.verdict.{one.verdict}")
    said = (
        verdict if not one.more else say("signoff.limit.said", verdict=verdict, more=desk.sentence(one.more))
    )
    parts.append(Label(said, "strong"))
    return Stack(tuple(parts), gap=2)


def _number(value: float, one: Limit, desk: Desk) -> str:
    if one.name in IN_TENTHS:
        return desk.tenths(value, sign=one.name == "bias")
    return desk.number(f"{100 * value:.1f}")


def _found(one: Limit, desk: Desk) -> str:
    limit = desk.number(f"{one.limit:g}" if one.name in IN_TENTHS else f"{100 * one.limit:g}")
    if one.name in IN_TENTHS:
        if one.value is None:
            return say("signoff.limit.none", limit=limit)
        either = f"±{limit}" if one.name == "bias" else limit
        return say("signoff.limit.tenths", value=_number(one.value, one, desk), limit=either)
    return say("signoff.limit.rate", count=one.count or 0, of=one.of or 0, limit=limit)


def _band(one: Limit, desk: Desk) -> tuple[Band | None, tuple[str, str]]:
    """Return the scale: bias about zero with both limits, the others from zero to beyond the limit."""
    if one.value is None:
        return None, ("", "")
    known = [abs(v) for v in (one.value, one.low, one.high) if v is not None]
    reach = max(2.0 * one.limit, min(max(known), 6.0 * one.limit))
    if one.name in IN_TENTHS:
        reach = max(1.0, float(-(-reach // 0.5)) * 0.5)
    top = desk.number(f"{reach:g}" if one.name in IN_TENTHS else f"{100 * reach:.0f}\N{NO-BREAK SPACE}%")
    if one.name == "bias":
        limits = (-one.limit, one.limit)
        return Band(one.value, one.low, one.high, -reach, reach, limits), (desk.number(f"-{top}"), f"+{top}")
    if one.name in IN_TENTHS:
        return Band(one.value, one.low, one.high, 0.0, reach, (one.limit,)), ("0", top)
    share = 100.0 if reach <= 0.3 else 10.0  # graduations of a per cent, or of ten
    low, high = (None if v is None else v * share for v in (one.low, one.high))
    return Band(one.value * share, low, high, 0.0, reach * share, (one.limit * share,)), ("0", top)


def limits(found: tuple[Limit, ...], desk: Desk, fold: float = 620) -> Row:
    """Return all limits beside each other."""
    return Row(tuple(limit_scale(one, desk) for one in found), (1,) * len(found), gap=28, fold=fold)


def verdict_words(one: Standing, desk: Desk) -> str:
    """Return the verdict in a few words for a table."""
    if not one.verdict:
        return say("signoff.no-check")
    word = say(f"signoff.verdict.{one.verdict}")
    return say("signoff.verdict.more", verdict=word, more=desk.sentence(one.more)) if one.more else word


def statement_words(one: Signed | None) -> str:
    """Return where a statement stands, in a few words for a table."""
    if one is None:
        return say("signoff.no-statement")
    if not one.in_force:
        return say(f"state.{one.state}")
    if one.due_in_days is None or one.due_in_days > DAYS_SOON:
        return say("signoff.until", day=one.valid_until)
    if one.state == "due":
        late = one.due_in_days < -1
        return say("signoff.due.late", day=one.due_at) if late else say("signoff.due.today")
    return say("signoff.due.in", day=one.valid_until, days=counted("signoff.days", one.due_in_days))
