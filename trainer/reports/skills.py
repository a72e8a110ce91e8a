"""Figures of every skill beside whole readings, from kept sittings: what a report's further sections show.

Each family stands by itself, and within it each instrument; sittings under viewing conditions are set apart.
"""

from collections.abc import Sequence

import numpy as np

from trainer.instrument import catalogue
from trainer.practice import skills
from trainer.practice.skills import KeptSitting, Placed
from trainer.practice.worksheet import population_risk
from trainer.reports.skill_values import (
    BETWEEN_LINES,
    SECTIONS,
    Calibrating,
    HalfLineScore,
    Judging,
    OtherReading,
    SelfCheckScore,
    SettingScore,
    Sizing,
    Skills,
    UnderConditions,
    VernierScore,
)
from trainer.scoring.agreement import decision_rates
from trainer.scoring.equivalence import welch
from trainer.scoring.intervals import Interval, clopper_pearson, t_quantile
from trainer.scoring.judgement import fit
from trainer.scoring.person import PersonScore
from trainer.scoring.table import score_readings

NEAR_TENTHS = 1.0  # an estimate within a tenth of the vernier bears it out
RISK_SEED = 106  # any number: the same figures give the same risk each time
FEWEST_A_WAY = 5  # settings each way; below, a difference of the ways says nothing


OTHERS = {
    "tenths": BETWEEN_LINES,
    "zero-look": "the zero of a closed micrometer",
    "zero-offset": "readings corrected for a zero offset",
    "block-reading": "readings at gauge blocks",
}
READING_DRILLS = (
    "full-reading",
    "tenths",
    "half-line",
    "zero-offset",
    "estimate",
    "zero-look",
    "block-reading",
)


def skills_of(sittings: Sequence[KeptSitting], *, practice: bool = False) -> Skills:
    """Return the figures of one person's sittings of every drill.

    Of each kind checks for the record count; practice where there are none, or with `practice` as well.
    """
    clear = [sitting for sitting in sittings if sitting.clear]
    found: dict[str, list[object]] = {name: [] for name in SECTIONS}
    for instrument in dict.fromkeys(sitting.instrument for sitting in clear):
        mine = [sitting for sitting in clear if sitting.instrument == instrument]
        found["judging"] += _judging(instrument, *_taken(mine, "judge", practice))
        found["sizing"] += _sizing(instrument, *_taken(mine, "size-it", practice))
        for drill in ("set-line", "set-to"):
            found["setting"] += _setting(drill, instrument, *_taken(mine, drill, practice))
        found["vernier"] += _vernier(instrument, *_taken(mine, "vernier", practice))
        found["self_check"] += _self_check(instrument, mine)
        found["calibrating"] += _calibrating(instrument, mine)
        found["half_line"] += _half_line(instrument, mine)
        found["others"] += [
            OtherReading(words, instrument, score)
            for asks, words in OTHERS.items()
            if (score := _score(skills.placed(mine, asks), instrument)) is not None
        ]
    found["conditions"] += _conditions([sitting for sitting in sittings if not sitting.clear])
    days = sorted({sitting.started_at[:10] for sitting in sittings if sitting.started_at})
    return Skills(
        **{name: tuple(rows) for name, rows in found.items()},  # type: ignore[arg-type]
        instruments=tuple(dict.fromkeys(sitting.instrument for sitting in sittings)),
        days=tuple(dict.fromkeys([days[0], days[-1]])) if days else (),
    )


def _taken(sittings: Sequence[KeptSitting], drill: str, practice: bool) -> tuple[list[KeptSitting], str]:
    """Return the sittings of a drill that count, and how they were taken."""
    mine = [sitting for sitting in sittings if sitting.drill == drill]
    checks = [sitting for sitting in mine if sitting.for_record]
    if checks and not practice:
        return checks, "checks"
    return mine, "practice" if not checks else "checks and practice" if len(checks) < len(mine) else "checks"


def _score(placed: Sequence[Placed], instrument: str) -> PersonScore | None:
    if not placed:
        return None
    truth = np.array([one.truth_tenths for one in placed])
    return score_readings(truth, np.array([one.answer_tenths for one in placed]), instrument=instrument)


def rate(count: int, of: int) -> Interval:
    """Return a share with its exact interval (Clopper and Pearson), unknown of none.

    >>> rate(4, 20).to_dict()["value"]
    0.2
    """
    if not of:
        return Interval(None)
    low, high = clopper_pearson(count, of)
    return Interval(count / of, float(low), float(high))


def _judging(instrument: str, sittings: Sequence[KeptSitting], taken: str) -> list[Judging]:
    trials = skills.judgements(sittings)
    found = []
    for tolerance in sorted({trial.tolerance_tenths for trial in trials}):
        here = [trial for trial in trials if trial.tolerance_tenths == tolerance]
        beyond = np.array([trial.beyond_tenths for trial in here])
        said = np.array([trial.said_out for trial in here], dtype=np.bool_)
        rates, curve = decision_rates(said, beyond > 0), fit(beyond, said)
        found.append(Judging(instrument, taken, tolerance, beyond, said, rates, curve))
    return found


def _sizing(instrument: str, sittings: Sequence[KeptSitting], taken: str) -> list[Sizing]:
    pairs = skills.sizes(sittings)
    if not pairs:
        return []
    offset, said = (np.array(column) for column in zip(*pairs, strict=True))
    # lines far apart in one row of positions, so that an offset of either sign keeps its place
    score = score_readings(100.0 + offset, 100.0 + said, instrument=instrument)
    wrong = int(((offset * said < 0) & (np.abs(said - offset) > NEAR_TENTHS)).sum())
    return [Sizing(instrument, taken, score, offset, said, wrong)]


def _setting(drill: str, instrument: str, sittings: Sequence[KeptSitting], taken: str) -> list[SettingScore]:
    every = skills.settings(sittings, drill)
    found = []
    for typed in (False, True):
        mine = [one for one in every if (one.way is None) == typed]
        score = _score([one.placed for one in mine], instrument)
        if score is None:
            continue
        ways = {
            way: _score([one.placed for one in mine if one.way == way], instrument)
            for way in ("rising", "falling")
        }
        back = None if typed else float(np.mean([one.reversals > 0 for one in mine]))
        found.append(
            SettingScore(
                drill, instrument, taken, typed, score, ways["rising"], ways["falling"],
                difference(ways["rising"], ways["falling"]), back,
                tuple((one.placed.error_tenths, one.way or "typed") for one in mine),
            )
        )  # fmt: skip
    return found


def difference(first: PersonScore | None, second: PersonScore | None) -> Interval | None:
    """Return the difference of two biases, first less second, with Welch's interval; None of few."""
    if first is None or second is None or min(first.used, second.used) < FEWEST_A_WAY:
        return None
    values = (first.bias_tenths.value, second.bias_tenths.value)
    spreads = (first.spread_tenths.value, second.spread_tenths.value)
    (a, b), (sa, sb) = values, spreads
    if a is None or b is None or sa is None or sb is None or not sa + sb:
        return None
    sides = [(sd**2 / n, n - 1.0) for sd, n in ((sa, first.used), (sb, second.used))]
    se, df = welch(*sides)
    half = float(t_quantile(df)) * se
    return Interval(a - b, a - b - half, a - b + half)


def _vernier(instrument: str, sittings: Sequence[KeptSitting], taken: str) -> list[VernierScore]:
    said = skills.lines_said(sittings, "vernier")
    if not said:
        return []
    ties, clear = [s for s in said if s.tie], [s for s in said if not s.tie]
    return [
        VernierScore(
            instrument, taken, len(said),
            rate(sum(s.right for s in said), len(said)),
            (len(clear), rate(sum(s.right for s in clear), len(clear))),
            (len(ties), rate(sum(s.right for s in ties), len(ties))),
            next_line=sum(s.away == 1 for s in said),
            further=sum(s.away > 1 for s in said),
        )
    ]  # fmt: skip


def _self_check(instrument: str, sittings: Sequence[KeptSitting]) -> list[SelfCheckScore]:
    pairs = skills.self_checks(sittings)
    against = _score([Placed(p.vernier_tenths, p.estimate_tenths) for p in pairs], instrument)
    truly = _score([Placed(p.truth_tenths, p.estimate_tenths) for p in pairs], instrument)
    if against is None or truly is None:
        return []
    near = sum(abs(p.estimate_tenths - p.vernier_tenths) <= NEAR_TENTHS + 1e-9 for p in pairs)
    return [SelfCheckScore(instrument, len(pairs), against, truly, rate(near, len(pairs)))]


def _calibrating(instrument: str, sittings: Sequence[KeptSitting]) -> list[Calibrating]:
    micrometer = catalogue.load(instrument)
    every = skills.calibrations(sittings)
    readings = _score(skills.placed(sittings, "block-reading"), instrument) if every else None
    found = []
    for mpe in sorted({run.mpe_tenths for run in every}):
        mine = tuple(run for run in every if run.mpe_tenths == mpe)
        risk = None
        if readings and readings.bias_tenths.value is not None and readings.spread_tenths.value is not None:
            blocks = [row.block_tenths for row in mine[-1].rows]
            own = readings.bias_tenths.value, readings.spread_tenths.value
            risk = population_risk(mpe, blocks, micrometer, *own, np.random.default_rng(RISK_SEED))
        found.append(Calibrating(instrument, mpe, mine, readings, risk))
    return found


def _half_line(instrument: str, sittings: Sequence[KeptSitting]) -> list[HalfLineScore]:
    every = skills.half_lines(sittings)
    score = _score([one.placed for one in every], instrument)
    if score is None:
        return []
    turn = catalogue.load(instrument).turn_tenths
    sides = []
    for before in (True, False):
        mine = [one.placed for one in every if one.before == before]
        slip = turn if before else -turn  # a line counted too early, or overlooked
        slips = sum(abs(one.error_tenths - slip) < turn / 10 for one in mine)
        sides.append((len(mine), rate(slips, len(mine))))
    return [HalfLineScore(instrument, score, sides[0], sides[1])]


def _conditions(sittings: Sequence[KeptSitting]) -> list[UnderConditions]:
    found = []
    keys = dict.fromkeys((s.conditions, s.drill, s.instrument) for s in sittings)
    for conditions, drill, instrument in sorted(keys):
        mine = [
            s for s in sittings if (s.conditions, s.drill, s.instrument) == (conditions, drill, instrument)
        ]
        if drill == "judge":
            trials = skills.judgements(mine)
            wrong = sum(t.said_out != (t.beyond_tenths > 0) for t in trials)
            row = UnderConditions(conditions, drill, instrument, len(trials), None, rate(wrong, len(trials)))
        else:
            asks = READING_DRILLS if drill in ("self-check", "zero-offset", "calibration") else (drill,)
            score = _score(skills.placed(mine, *asks), instrument)
            row = UnderConditions(
                conditions, drill, instrument, 0 if score is None else score.readings, score
            )
        if row.answers:
            found.append(row)
    return found
