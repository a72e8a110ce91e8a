"""Whether a criterion can be met at all: by a reader whose only error is rounding."""

import math
from typing import TYPE_CHECKING

from trainer.scoring.intervals import bonett_upper, t_quantile
from trainer.signoff.rules import Points, Rules

if TYPE_CHECKING:
    from trainer.signoff.criterion import Criterion

MARGIN = 1.1  # chance may deal a few more offsets of a kind than their share
UNIFORM_KURTOSIS = 1.8  # of a uniform distribution, exactly


def impossibilities(criterion: "Criterion") -> list[tuple[tuple[str, str], str]]:
    """Return (field, sentence) for each limit that even a perfect reader could not show."""
    from trainer.signoff.criterion import ROUNDING_TENTHS

    rules = Rules.of(criterion)
    most = rules.most
    found: list[tuple[tuple[str, str], str]] = []
    if most < rules.first_look:
        found.append((("evidence", "readings_at_most"), _too_few(rules, criterion.misread_rate)))
    outside, inside = _shares(rules)
    for section, field, rule, share, kind in (
        ("judgement", "false_accept_rate", rules.judgement, outside, " offsets outside"),
        ("judgement", "false_reject_rate", rules.rejects, inside, " offsets well inside"),
        ("pace", "slow_rate", rules.pace, 1.0, ""),
    ):
        if rule is not None and rule.needed > most * share * (1.0 if share == 1 else MARGIN):
            count = "" if share == 1 else f", in about {math.ceil(rule.needed / share)} judgements"
            told = f"needs {rule.needed}{kind} without a fault{count}, and readings_at_most is {most}"
            found.append(((section, field), told))
    if found:
        return found
    sd = ROUNDING_TENTHS
    spread = float(bonett_upper(sd, UNIFORM_KURTOSIS, float(most), rules.spread_confidence))
    if not spread < rules.spread_tenths:
        found.append(
            (
                ("limits", "spread_tenths"),
                f"is {rules.spread_tenths:g}; rounding to a tenth alone gives {sd:.2f}, so nobody shows it "
                f"with {most} readings: at least {math.ceil(spread * 100) / 100:.2f} can be asked",
            )
        )
    bias = float(t_quantile(most - 1.0, rules.bias_confidence, one_sided=True)) * sd / math.sqrt(most)
    if not bias < rules.bias_tenths:
        found.append(
            (("limits", "bias_tenths"), f"is {rules.bias_tenths:g}; {most} readings show at best {bias:.2f}")
        )
    return found


def _shares(rules: Rules) -> tuple[float, float]:
    """Return which shares of evenly spread offsets lie outside and well inside the tolerance."""
    if rules.windows is None:
        return 1.0, 1.0
    inside, low, high = rules.windows
    return (high - low) / high, inside / high


def _too_few(rules: Rules, rate: float) -> str:
    points: Points | None = rules.misreads
    if points is None:
        return f"is {rules.most}; {rules.sittings} sittings of {rules.block} take {rules.first_look} or more"
    return (
        f"is {rules.most}; a misread rate below {100 * rate:g} % needs at least {points.needed} readings and "
        f"{rules.sittings} sittings of {rules.block}, so ask for {rules.first_look} or more"
    )
