"""What a person should work on next, from their score: a few sentences, the costliest fault first."""

from trainer.reports.wording import count, direction, fixed, in_tenths, percent
from trainer.scoring.person import PersonScore

MOST = 4  # sentences; more is not read
CLEAR = 0.05  # p-value at or below which a habit is named
SMALL_BIAS_TENTHS = 0.2  # a bias below this is not worth a drill
PROFILE_TENTHS = 0.5  # a tenth this far from the rest is named

# Remedies: common practice, no source.
REMEDIES = {
    "graduation": "say the graduation just passed aloud before estimating the tenth",
    "turn": "read the sleeve first and write it down before looking at the thimble",
    "half-millimetre": "look whether the half-millimetre line is uncovered before reading the thimble",
    "wrong-side": "count tenths from the graduation that the index line has passed, never from the next",
    "swapped-digits": "type what you read from left to right, and compare before confirming",
    "vernier-line": "find two lines equally far off on either side; the coinciding one is in the middle",
    "decimal-or-unit": "say the unit with the reading, and compare its size with the sleeve",
    "unexplained": "repeat the reading from the sleeve on whenever it surprises you",
}


def advice(score: PersonScore, *, spread_limit_tenths: float | None = None) -> tuple[str, ...]:
    """Return what to work on, the costliest first; one sentence of assurance when nothing stands out."""
    found = [*_misreads(score), *_bias(score), *_digits(score), *_profile(score), *_drift(score)]
    spread = score.spread_tenths.value
    if spread_limit_tenths is not None and spread is not None and spread > spread_limit_tenths and not found:
        found.append(
            f"The spread of {in_tenths(spread)} is above the limit of {fixed(spread_limit_tenths)} without "
            "one habit behind it: take unhurried drills with feedback, and halve the interval in mind first."
        )
    if score.provisional:
        few = f"{count(score.used, 'reading')} {'is' if score.used == 1 else 'are'} few"
        found.append(f"{few}: take more before drawing conclusions (50 or more).")
    return tuple(found[:MOST]) or ("Nothing stands out; keep in practice with a short drill now and then.",)


def _misreads(score: PersonScore) -> list[str]:
    kinds = {kind: n for kind, n in score.misreads.by_kind.items() if n}
    if not kinds:
        return []
    worst = max(kinds, key=lambda kind: kinds[kind])
    times = {1: "once", 2: "twice"}.get(kinds[worst], f"{kinds[worst]} times")
    return [
        f"Misreads first, since each is worth many tenths. The commonest came {times}: {REMEDIES[worst]}."
    ]


def _bias(score: PersonScore) -> list[str]:
    bias = score.bias_tenths
    if bias.value is None or bias.low is None or bias.high is None:
        return []
    if bias.low <= 0 <= bias.high or abs(bias.value) < SMALL_BIAS_TENTHS:
        return []
    return [
        f"Readings are {in_tenths(abs(bias.value))} {direction(bias.value)} on average: look at right "
        "angles to the index line, and judge from the middle of each line, not from its edge."
    ]


def _digits(score: PersonScore) -> list[str]:
    habit = score.digit_preference
    if habit.p_value is None or habit.p_value > CLEAR:
        return []
    share = f" (about {percent(habit.index, 0)} of readings)" if habit.index else ""
    return [
        f"Answers are drawn to 0 and 5{share}: decide between the two neighbouring tenths before answering."
    ]


def _profile(score: PersonScore) -> list[str]:
    mean = score.bias_tenths.value or 0.0
    rows = [
        r for r in score.profile if r.low is not None and r.high is not None and r.bias_tenths is not None
    ]
    clear = [r for r in rows if not r.low <= mean <= r.high and abs(r.bias_tenths - mean) >= PROFILE_TENTHS]  # type: ignore[operator]
    if not clear:
        return []
    worst = max(clear, key=lambda r: abs((r.bias_tenths or 0.0) - mean))
    away = (worst.bias_tenths or 0.0) - mean
    return [
        f"Between {worst.tenth} and {worst.tenth + 1} tenths readings lie {in_tenths(abs(away))} "
        f"{'above' if away > 0 else 'below'} your others: drill that part of the division."
    ]


def _drift(score: PersonScore) -> list[str]:
    drift = score.drift
    if drift.p_value is None or drift.slope_tenths_per_100 is None or drift.p_value > CLEAR / 5:
        return []
    way = direction(drift.slope_tenths_per_100)
    size = in_tenths(abs(drift.slope_tenths_per_100))
    return [
        f"Within a session readings wander {way}, {size} per 100: take shorter sittings and rest the eyes."
    ]
