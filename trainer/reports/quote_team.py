"""The quote of a team: what a reading by any one of several people is worth."""

import math
from collections.abc import Sequence

from trainer.reports import quote
from trainer.reports.readings import Readings
from trainer.reports.wording import Setting, tenth_um
from trainer.scoring.intervals import Interval, clopper_pearson, interval, t_quantile
from trainer.scoring.person import PersonScore
from trainer.scoring.precision import Precision

TEAM_METHOD = "JCGM 100:2008, 4.2 and G.4; ISO 5725-2:1994, 7.4; docs/methods/quoting.md"


def of_team(
    scores: Sequence[PersonScore],
    shown: Sequence[Readings],
    precision: Precision,
    *,
    setting: Setting = "screen",
    conditions: str = "",
    provisional: bool = False,
    left_out: Sequence[str] = (),
    notes: Sequence[str] = (),
) -> quote.Quote:
    """Return one quote for a reading by any one of these people; raises TooLittleEvidence.

    The bias is the mean of everyone's biases, with Student's interval over people; the spread is the
    reproducibility of ISO 5725-2, with degrees of freedom after Satterthwaite.
    """
    for score in scores:
        quote.check_enough(score.person, score.used, score.instrument, provisional=provisional)
    if len(scores) < 2 or precision.reproducibility_sd is None or precision.repeatability_sd is None:
        raise quote.TooLittleEvidence("a quote for a team needs at least 2 people with enough readings each")
    total, within = precision.reproducibility_sd, precision.repeatability_sd
    biases = [s.bias_tenths.value for s in scores if s.bias_tenths.value is not None]
    mean = math.fsum(biases) / len(biases)
    u_mean = math.sqrt(math.fsum((b - mean) ** 2 for b in biases) / (len(biases) - 1) / len(biases))
    half = float(t_quantile(len(biases) - 1)) * u_mean
    sd, df = (
        total.value or 0.0,
        satterthwaite_df([s.used for s in scores], within.value or 0.0, total.value or 0.0),
    )
    days = [quote.days(one) for one in shown]
    kinds: dict[str, int] = {}
    for score in scores:
        for kind, n in score.misreads.by_kind.items():
            kinds[kind] = kinds.get(kind, 0) + n
    readings = sum(s.readings for s in scores)
    rate = clopper_pearson(sum(kinds.values()), readings)
    between = precision.between_sd
    return quote.Quote(
        people=tuple(s.person for s in scores),
        instrument=scores[0].instrument,
        setting=setting,
        conditions=conditions,
        first_day=min((d[0] for d in days if d[0]), default=""),
        last_day=max((d[1] for d in days if d[1]), default=""),
        sessions=sum(len(one.sessions) for one in shown),
        readings=readings,
        used=sum(s.used for s in scores),
        misreads={kind: n for kind, n in kinds.items() if n},
        misread_rate=interval(sum(kinds.values()) / readings, rate),
        bias=quote.Amount(
            "mean bias of these people", mean, mean - half, mean + half, len(biases) - 1, signed=True
        ),
        within=quote.Amount(
            "spread within a person", *_all(within), df=float(sum(s.used - 1 for s in scores))
        ),
        between=quote.Amount("spread between people", *_all(between), df=float(len(scores) - 1))
        if between
        else None,
        spread=quote.Amount("spread of a reading by any of them", *_all(total), df=df),
        u=quote.Amount(quote.U_LEFT, math.hypot(sd, mean), df=_df_with_bias(sd, df, mean, u_mean)),
        u_corrected=quote.Amount(
            quote.U_CORRECTED, math.hypot(sd, u_mean), df=_df_two(sd, df, u_mean, len(biases) - 1)
        ),
        notes=(*notes, *precision.notes, *dict.fromkeys(precision.reasons.values())),
        method=TEAM_METHOD,
        um_per_tenth=tenth_um(scores[0].instrument),
        left_out=tuple(left_out),
        random_share=_random_share(scores, within.value or 0.0, sd),
    )


def satterthwaite_df(used: Sequence[int], within: float, total: float) -> float:
    """Return the degrees of freedom of a reproducibility standard deviation (Satterthwaite 1946).

    The variance is MS_between/n0 + (1 - 1/n0) MS_within, n0 the usual number of readings a person
    (ISO 5725-2, 7.4.5.4). With nothing seen between people it is that of the pooled variance.

    >>> satterthwaite_df([20, 20, 20], 1.0, 1.0)
    57.0
    """
    people, readings = len(used), sum(used)
    pooled = float(readings - people)
    between = total**2 - within**2
    if between <= 0 or total <= 0:
        return pooled
    usual = (readings - sum(n * n for n in used) / readings) / (people - 1)
    of_means = between + within**2 / usual
    rest = (1 - 1 / usual) * within**2
    return float(total**4 / (of_means**2 / (people - 1) + rest**2 / pooled))


def _random_share(scores: Sequence[PersonScore], within: float, total: float) -> float | None:
    """Return the share of the squared reproducibility that is chance within a person."""
    shares = [quote.random_share(score) for score in scores]
    known = [share for share in shares if share is not None]
    if len(known) < len(shares) or total <= 0:
        return None
    return math.fsum(known) / len(known) * (within / total) ** 2


def _df_with_bias(sd: float, df: float, bias: float, u_bias: float) -> float | None:
    """Return the degrees of freedom of sqrt(sd^2 + bias^2): 2 u^4 over the variance of u^2 (G.4.2)."""
    variance = 2 * sd**4 / df + 4 * bias**2 * u_bias**2
    return 2 * (sd**2 + bias**2) ** 2 / variance if variance > 0 else None


def _df_two(first: float, first_df: float, second: float, second_df: float) -> float | None:
    """Return the effective degrees of freedom of two independent parts (G.4.1)."""
    shares = first**4 / first_df + second**4 / second_df
    return (first**2 + second**2) ** 2 / shares if shares > 0 else None


def _all(part: Interval) -> tuple[float | None, float | None, float | None]:
    return part.value, part.low, part.high
