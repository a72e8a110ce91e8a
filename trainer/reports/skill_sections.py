"""The sections of a person's report on every drill beside whole readings; only those with data appear."""

from collections.abc import Callable, Sequence
from functools import partial

from matplotlib.axes import Axes

from trainer.instrument import catalogue
from trainer.practice.kind import length_words
from trainer.reports import figures_judgement, figures_skills
from trainer.reports.house import SMALL_PT, SOFT
from trainer.reports.sheet import Sheets
from trainer.reports.skill_tables import conditions, others, small_table, title
from trainer.reports.skill_values import (
    Calibrating,
    Judging,
    SelfCheckScore,
    SettingScore,
    Sizing,
    Skills,
    VernierScore,
)
from trainer.reports.wording import NONE, count, ends, fixed, percent, percents
from trainer.scoring.intervals import Interval
from trainer.scoring.person import PersonScore

FIGURE_MM = 33.0
LABELS_MM = 14.0  # for numbers such as 100 % with the axis's name beside them
MOST_RUNS = 6  # calibration runs listed; the newest
METHODS = [
    "Judgements: the chance of saying out is a normal curve of how far the offset lies beyond the tolerance, "
    "with lapses, fitted over a grid; threshold and width have 95 % intervals from it. A false accept passes "
    "an item that is outside. Rates have exact intervals (Clopper and Pearson 1934). Offsets placed "
    "adaptively gather near the threshold, so their rates are those of hard items, not of a production.",
    "Settings, sizes and estimates are scored as readings are: misreads set apart, Student's and Bonett's "
    "intervals. A difference of two ways of turning has Welch's interval. The risks of a calibration verdict "
    "hold for instruments like those of the drill (JCGM 106:2012, 9.5), not for a laboratory's own.",
]


def draw(sheets: Sheets, skills: Skills, clear: PersonScore | None = None) -> None:
    """Set every section that has data; `clear` is the score of whole readings in clear sight."""
    for judging in skills.judging:
        _judging(sheets, judging)
    for sizing in skills.sizing:
        _sizing(sheets, sizing)
    _setting(sheets, skills)
    _vernier(sheets, skills.vernier, skills.self_check)
    for calibrating in skills.calibrating:
        _calibrating(sheets, calibrating)
    others(sheets, skills)
    conditions(sheets, skills, clear)


def _pairs(sheets: Sheets, rows: Sequence[tuple[str, str, str]]) -> None:
    """Set values with their intervals in a narrow column."""
    small_table(sheets, "", (("value", 16.0), ("95 % interval", 27.0)), [list(row) for row in rows])


def _beside(
    sheets: Sheets,
    heading: str,
    draw_figure: Callable[[Axes], object],
    rows: Sequence[tuple[str, str, str]],
    caption: str,
) -> None:
    """Set a figure on the left and values on the right under one heading."""
    figure_mm = sheets.tall(FIGURE_MM)
    height = max(figure_mm + 11.0, 4.8 * (len(rows) + 1) + 3.0)
    sheets.heading(heading, keep_mm=height + 8.0)
    half = round(sheets.width_mm * 0.44)
    with sheets.column(half + 5.0, sheets.width_mm - half - 5.0):
        _pairs(sheets, rows)
    with sheets.column(0.0, half):
        draw_figure(sheets.axes(figure_mm, left_mm=LABELS_MM))
    sheets.skip(height)
    sheets.caption(caption)


def _shared(name: str, value: Interval | None, of: int) -> tuple[str, str, str]:
    if value is None or value.value is None:
        return (name, f"none of {of}", NONE)
    return (name, percent(value.value), percents(value))


def _tenths(name: str, value: Interval | None, *, sign: bool = False) -> tuple[str, str, str]:
    if value is None:
        return (name, NONE, NONE)
    return (name, fixed(value.value, sign=sign), ends(value, sign=sign))


def _of_score(score: PersonScore, name: str = "") -> list[tuple[str, str, str]]:
    spread = Interval(score.spread_tenths.value, score.spread_tenths.low, score.spread_tenths.high)
    return [
        _tenths(f"bias{name}, tenths", score.bias_tenths, sign=True),
        _tenths(f"spread{name}, tenths", spread),
    ]


def _judging(sheets: Sheets, judging: Judging) -> None:
    micrometer = catalogue.load(judging.instrument)
    limit = length_words(judging.tolerance_tenths, micrometer, signed=False)
    accepts, outside, rejects, inside = judging.counts()
    rates, curve = judging.rates, judging.curve
    rows = [
        _shared(f"false accepts ({accepts} of {outside})", rates.false_accept, outside),
        _shared(f"false rejects ({rejects} of {inside})", rates.false_reject, inside),
        _tenths("threshold beyond it, tenths", curve.threshold_tenths, sign=True),
        _tenths("width, tenths", curve.width_tenths),
        _shared("lapses", curve.lapse, rates.items),
    ]
    made = figures_judgement.judged(judging.beyond_tenths, judging.said_out, curve)
    why = "".join(f" {r[:1].upper()}{r[1:]}." for r in dict.fromkeys(curve.reasons.values()))
    _beside(
        sheets,
        f"Judging overlap at ±{limit}",
        lambda ax: figures_judgement.psychometric(made, ax),
        rows,
        f"{title(judging.instrument)}, {count(rates.items, 'judgement')}, {judging.taken}. Rings: share "
        "judged out at offsets alike, larger for more trials. Line and band: fitted curve, 95 %. Dashes: "
        f"threshold with its interval; above 0, items somewhat outside still pass.{why}",
    )


def _sizing(sheets: Sheets, sizing: Sizing) -> None:
    score = sizing.score
    rows = [*_of_score(score), ("said on the wrong side", str(sizing.wrong_side), NONE)]
    rows.append(("more than half a division off", str(score.misreads.total), NONE))
    rows.append(_shared("within one tenth", score.within_one_tenth, score.readings))
    _beside(
        sheets,
        "Sizing an offset",
        lambda ax: figures_skills.sizes_said(sizing.offset_tenths, sizing.said_tenths, ax),
        rows,
        f"{title(sizing.instrument)}, {count(score.readings, 'offset')}, {sizing.taken}. Rings: what was "
        "said of each offset; on the line it was exact.",
    )


SETTING_WORDS = {"set-line": "Setting a line", "set-to": "Setting to a reading"}


def _setting(sheets: Sheets, skills: Skills) -> None:
    for setting in skills.setting:
        errors, ways = setting.errors()
        rows = _of_score(setting.score)
        for way, score in (("rising", setting.rising), ("falling", setting.falling)):
            if score is not None and not setting.typed:
                rows.append(_tenths(f"bias, {way} ({score.used})", score.bias_tenths, sign=True))
        if setting.difference is not None:
            rows.append(_tenths("rising less falling", setting.difference, sign=True))
        if setting.turned_back is not None:
            rows.append(("turned back on the way", percent(setting.turned_back, 0), NONE))
        rows.append(("more than half a division off", str(setting.score.misreads.total), NONE))
        _beside(
            sheets,
            SETTING_WORDS[setting.drill] + (" by typed turns" if setting.typed else ""),
            partial(figures_skills.setting_errors, errors, ways),
            rows,
            f"{title(setting.instrument)}, {count(setting.score.readings, 'setting')}, {setting.taken}."
            + _setting_words(setting),
        )


def _setting_words(setting: SettingScore) -> str:
    if setting.typed:
        return " Turns typed without a window show reading and arithmetic, not the hand; kept apart."
    return " A mark for each setting, by the way of the last turn; thick bars: means."


def _vernier(sheets: Sheets, vernier: Sequence[VernierScore], checks: Sequence[SelfCheckScore]) -> None:
    if vernier:
        sheets.heading("Reading a vernier", keep_mm=26.0)
        headings = [("lines read", 17.0), ("right", 16.0), ("95 % interval", 26.0), ("clear", 17.0)]
        headings += [("near-ties", 18.0), ("next line", 17.0), ("further", 14.0)]
        rows = [
            [
                v.instrument, str(v.lines), percent(v.right.value), percents(v.right),
                percent(v.clear[1].value, 0),
                f"{percent(v.ties[1].value, 0)} of {v.ties[0]}" if v.ties[0] else NONE,
                str(v.next_line), str(v.further),
            ]
            for v in vernier
        ]  # fmt: skip
        small_table(sheets, "instrument", headings, rows)
        taken = ", ".join(dict.fromkeys(v.taken for v in vernier))
        sheets.caption(
            f"{taken[:1].upper()}{taken[1:]}. Clear, near-ties: share right; in a near-tie two neighbouring "
            "lines coincide about equally well and both are right. Next line, further: wrong answers one "
            "line from the coinciding one, and more."
        )
    if checks:
        sheets.heading("Self-check: the estimate against the vernier", keep_mm=26.0)
        headings = [("pairs", 12.0), ("bias", 14.0), ("95 % interval", 26.0), ("spread", 15.0)]
        headings += [("95 % interval", 24.0), ("within a tenth", 22.0), ("95 % interval", 24.0)]
        rows = [
            [
                c.instrument, str(c.pairs), fixed(c.against.bias_tenths.value, sign=True),
                ends(c.against.bias_tenths, sign=True), fixed(c.against.spread_tenths.value),
                ends(c.against.spread_tenths), percent(c.borne_out.value, 0), percents(c.borne_out),
            ]
            for c in checks
        ]  # fmt: skip
        small_table(sheets, "instrument", headings, rows)
        truly = checks[0].against_truth
        sheets.caption(
            "Estimate less the vernier line that the person then named, in tenths; estimates kept within "
            f"their pair of lines look a little better than whole readings. Against the true position: bias "
            f"{fixed(truly.bias_tenths.value, sign=True)}, spread {fixed(truly.spread_tenths.value)} tenths"
            f"{'' if len(checks) == 1 else ' (first instrument)'}."
        )


def _calibrating(sheets: Sheets, calibrating: Calibrating) -> None:
    micrometer = catalogue.load(calibrating.instrument)
    limit = length_words(calibrating.mpe_tenths, micrometer, signed=False)
    right, accepts, rejects = calibrating.verdicts()
    last = calibrating.runs[-1]
    blocks = [float(micrometer.reading_of(row.block_tenths)) for row in last.rows]
    rows = [
        ("verdicts right", f"{right} of {len(calibrating.runs)}", NONE),
        ("false accepts", str(accepts), NONE),
        ("false rejects", str(rejects), NONE),
    ]
    if calibrating.readings is not None:
        rows += _of_score(calibrating.readings)
    if calibrating.risk is not None:
        rows.append(("risk of a false accept", percent(calibrating.risk.false_accept), NONE))
        rows.append(("risk of a false reject", percent(calibrating.risk.false_reject), NONE))
    _beside(
        sheets,
        f"Calibration runs, limit ±{limit}",
        lambda ax: figures_skills.block_errors(
            blocks, last.true_errors_tenths, [row.recorded_error_tenths for row in last.rows],
            calibrating.mpe_tenths, micrometer.unit, ax,
        ),
        rows,
        f"{title(calibrating.instrument)}. Figure: the last run. Squares: the instrument's true errors; "
        "rings: errors recorded; dashes: the limit. Bias and spread: reading errors at the blocks. Risks: "
        "shares of all instruments like those of the drill, one reading a block, with that bias and spread.",
    )  # fmt: skip
    _runs(sheets, calibrating)


def _runs(sheets: Sheets, calibrating: Calibrating) -> None:
    headings = [("largest true error", 28.0), ("largest recorded", 28.0), ("truth", 20.0)]
    headings += [("recorded says", 24.0), ("verdict", 20.0), ("outcome", 24.0)]
    rows = []
    for number, run in list(enumerate(calibrating.runs, 1))[-MOST_RUNS:]:
        recorded = [row.recorded_error_tenths for row in run.rows if row.recorded_error_tenths is not None]
        outcome = (
            "right" if run.said == run.truth else "false accept" if run.said == "accept" else "false reject"
        )
        rows.append(
            [
                str(number), fixed(max(run.true_errors_tenths, key=abs), sign=True),
                fixed(max(recorded, key=abs), sign=True) if recorded else NONE,
                run.truth, run.recorded or NONE, run.said or NONE, outcome,
            ]
        )  # fmt: skip
    small_table(sheets, "run", headings, rows)
    effect = calibrating.runs[-1].effect()
    sheets.paragraph(
        f"Errors in tenths. Last run: {effect[:1].lower()}{effect[1:]}", size_pt=SMALL_PT, colour=SOFT
    )
