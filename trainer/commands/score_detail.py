"""The detail of one person as lines of text: uncertainty, sessions, habits, curve, pace."""

from trainer.commands.score_numbers import number, probability, with_ends
from trainer.scoring.detail import PersonDetail
from trainer.scoring.intervals import Interval
from trainer.scoring.person import PersonScore

METHODS = {"order statistics": "by order statistics, for any errors", "Howe": "Howe's, for normal errors"}


def detail_lines(score: PersonScore, detail: PersonDetail) -> list[str]:
    """Return what one line of the table cannot hold of a person."""
    lines = ["", score.person]
    if score.bias_over_sessions.sessions > 1:
        over = with_ends(score.bias_over_sessions.mean, signed=True)
        lines.append(
            f"  bias over {score.bias_over_sessions.sessions} sessions {over} (mean of session means)"
        )
    lines.append(f"  rms {with_ends(score.rms_interval)}")
    if score.noise_tenths.value is not None:
        lines.append(f"  of the spread, without rounding {with_ends(score.noise_tenths)} (for training only)")
    if score.misreads.total:
        mixed = number(score.spread_with_misreads_tenths)
        lines.append(f"  spread would be {mixed} if misreads were not set apart")
    limits = score.tolerance_limits
    if limits.low is not None:
        ends = f"{number(limits.low, signed=True)} to {number(limits.high, signed=True)}"
        lines.append(f"  95/95 tolerance limits {ends} ({METHODS[limits.method or '']})")
    u = score.u_reading
    if u.tenths is not None:
        length = "" if u.um is None else f" = {u.um:.2f} µm"
        lines.append(
            f"  u_reading {number(u.tenths)} tenths{length} with the bias left in, "
            f"{number(u.corrected_tenths)} with it corrected; rounding is inside, add no resolution"
        )
    slope = number(score.drift.slope_tenths_per_100, 3, signed=True)
    lines.append(
        f"  drift {slope} tenths per 100 readings (p {probability(score.drift.p_value)}; by ranks p "
        f"{probability(detail.rank_trend.p_value)})"
    )
    lines += _pace(detail)
    lines += _split_and_digits(score)
    lines += _curve(detail)
    lines.append("  where the truth lies: mean error in each tenth")
    for row in score.profile:
        mean = with_ends(Interval(row.bias_tenths, row.low, row.high), signed=True)
        lines.append(f"    {row.tenth}–{row.tenth + 1}  n {row.n:4d}  {mean}")
    return lines


def _split_and_digits(score: PersonScore) -> list[str]:
    lines = []
    split = score.mean_square_split
    if split.bias is not None:
        parts = ", ".join(f"{name} {number(value, 3)}" for name, value in split.to_dict().items())
        lines.append(f"  mean square error, tenths²: {parts}")
    digits = score.digit_preference
    lines.append("  digits 0–9 answered: " + " ".join(str(count) for count in digits.counts))
    if digits.expected and digits.expected[0] is not None:
        lines.append("  expected without habit: " + " ".join(number(x, 0) for x in digits.expected))
    if digits.favoured or digits.shunned:
        favoured = " ".join(map(str, digits.favoured)) or "none"
        lines.append(f"  favoured {favoured}; shunned {' '.join(map(str, digits.shunned)) or 'none'}")
    return lines


def _pace(detail: PersonDetail) -> list[str]:
    lines = []
    first = detail.first_five
    if first.p_value is not None:
        lines.append(
            f"  first five readings of a session {with_ends(first.difference_tenths, signed=True)} against "
            f"the rest (p {probability(first.p_value)})"
        )
    pace = detail.pace
    if pace.median_seconds is not None:
        lines.append(
            f"  pace {pace.median_seconds:.1f} s a reading; time and size of error correlate "
            f"{number(pace.correlation, signed=True)} (p {probability(pace.p_value)})"
        )
    return lines + _learning(detail)


def _learning(detail: PersonDetail) -> list[str]:
    """Return when the spread comes down to the limit, or why that is not known; nothing once it is there."""
    learning, when = detail.learning, detail.learning.sessions_to_limit
    if learning.sessions < 2:
        return []
    if when.value is None or when.low is None or when.high is None:
        return [f"  learning: no forecast: {learning.reason}"]
    if when.value <= learning.sessions:
        return []
    limit = f"{learning.limit_tenths:g} tenth{'' if learning.limit_tenths == 1 else 's'}"
    return [
        f"  learning: at this pace the spread comes to {limit} about session {when.value:.0f} "
        f"(80 % interval {when.low:.0f} to {when.high:.0f}); a forecast is no sign-off"
    ]


def _curve(detail: PersonDetail) -> list[str]:
    """Return the lines on the curve; it is named only where the test finds one."""
    profile = detail.interpolation
    if profile.p_value is None:
        return []
    if profile.p_value >= 0.05:
        return [
            f"  no interpolation profile found (p {probability(profile.p_value)})",
            f"  {profile.correction.advice}",
        ]
    fit = min(profile.one_cycle, profile.two_cycles, key=lambda f: f.residual_sd_tenths or 0.0)
    exponent = with_ends(fit.exponent)
    cycles = "one cycle" if fit.cycles == 1 else "two cycles"
    return [
        f"  interpolation profile (p {probability(profile.p_value)}): power model of {cycles}, "
        f"exponent {exponent}",
        f"  {profile.correction.advice}",
    ]
