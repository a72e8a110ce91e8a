"""The report of one person: numbers with intervals, figures, misreads, advice, methods; PDF or PNG pages."""

from pathlib import Path
from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from trainer.instrument import catalogue
from trainer.reports import figures, habits_section, progress_section, skill_sections
from trainer.reports.advice import advice
from trainer.reports.files import write_whole
from trainer.reports.heading import ReportHeader, closing, title_block
from trainer.reports.house import SMALL_PT, SOFT, figure_to_png, figures_to_pdf, manner
from trainer.reports.readings import Readings, readings
from trainer.reports.sheet import PAPERS, Column, Sheets
from trainer.reports.skill_values import Skills
from trainer.reports.wording import (
    CAUTION,
    NONE,
    count,
    direction,
    ends,
    fixed,
    in_tenths,
    lengths,
    percent,
    percents,
    tenth_um,
)
from trainer.scoring.person import PersonScore

if TYPE_CHECKING:
    import pandas as pd

    from trainer.scoring.transfer import Transfer

TIGHTER = (0.8, 0.6)  # of the figures' heights, where that saves a page that would hold the methods alone
METHODS = [
    "Error is the answer minus the true position, in tenths of a division; positive reads high. Misreads are "
    "gross slips, told apart by a rule fixed beforehand (an error above 5 tenths, or above 3.5 and near what "
    "a known slip gives); they are counted and never mixed into bias and spread.",
    "Bias is the mean error, with Student's interval from the variance within tenths. Spread is the standard "
    "deviation of the errors, rounding to the tenth included, with Bonett's interval (2006), which does not "
    "need normal errors. Rates have exact intervals (Clopper and Pearson 1934). All intervals are 95 %.",
    "The standard uncertainty of one reading follows JCGM 100:2008: the spread, and the bias with it where "
    "the bias is not corrected. Resolution is already inside the spread and is not to be added again.",
    "Digit preference is tested against the positions really shown and a smooth curve fitted to this person, "
    "so that even use of digits is not presumed.",
]


def write(
    path: Path,
    score: PersonScore,
    answers: "pd.DataFrame",
    header: ReportHeader | None = None,
    *,
    skills: Skills | None = None,
    transfer: "Transfer | None" = None,
) -> Path:
    """Write the report as a PDF, of two to four pages as a rule, and return its path.

    `answers` are that person's, with the columns of an answers table; `skills` are their figures in the
    other drills, `transfer` those of the bench against the screen. The same values give the same file.
    """
    title = f"Reading report: {score.person}"
    pages = draw_pages(score, answers, header or ReportHeader(), skills=skills, transfer=transfer)
    return write_whole(
        path, figures_to_pdf(pages, title=title, subject="Micrometer reading between graduations")
    )


def write_png(
    path: Path,
    score: PersonScore,
    answers: "pd.DataFrame",
    header: ReportHeader | None = None,
    *,
    skills: Skills | None = None,
    transfer: "Transfer | None" = None,
    dots_per_inch: float = 110.0,
) -> tuple[Path, ...]:
    """Write the pages as PNG files and return their paths: `path` itself, then name-2, name-3 ..."""
    pages = draw_pages(score, answers, header or ReportHeader(), skills=skills, transfer=transfer)
    names = [path, *(path.with_stem(f"{path.stem}-{n}") for n in range(2, len(pages) + 1))]
    made = [figure_to_png(page, dots_per_inch=dots_per_inch) for page in pages]
    return tuple(write_whole(name, content) for name, content in zip(names, made, strict=True))


def write_skills(
    path: Path,
    person: str,
    skills: Skills,
    header: ReportHeader | None = None,
    *,
    dots_per_inch: float = 110.0,
) -> tuple[Path, ...]:
    """Write the report of somebody with drills but no whole readings; a PDF, or PNG pages by `path`."""
    pages = skill_pages(person, skills, header or ReportHeader())
    if path.suffix.lower() != ".png":
        about = {"title": f"Drill report: {person}", "subject": "Drills of reading a micrometer"}
        return (write_whole(path, figures_to_pdf(pages, **about)),)
    names = [path, *(path.with_stem(f"{path.stem}-{n}") for n in range(2, len(pages) + 1))]
    made = [figure_to_png(page, dots_per_inch=dots_per_inch) for page in pages]
    return tuple(write_whole(name, content) for name, content in zip(names, made, strict=True))


def skill_pages(person: str, skills: Skills, header: ReportHeader) -> list[Figure]:
    """Return the pages of a report of drills alone."""
    with manner():
        sheets = Sheets(PAPERS[header.paper], f"{person}: drills")
        named = [catalogue.load(name).title for name in skills.instruments if name in catalogue.names()]
        facts = [
            ("Instruments", "; ".join(named)),
            ("Dates", " to ".join(skills.days)),
            ("Conditions", header.conditions),
            ("Prepared", header.prepared_at),
        ]
        title_block(sheets, "Drill report", person, facts, header)
        sheets.paragraph("No whole readings count here: what follows is of the drills alone.", size_pt=9.5)
        sheets.caution(CAUTION[header.setting])
        skill_sections.draw(sheets, skills)
        closing(sheets, skill_sections.METHODS, header)
        sheets.number_pages()
    return sheets.pages


def draw_pages(
    score: PersonScore,
    answers: "pd.DataFrame",
    header: ReportHeader,
    *,
    skills: Skills | None = None,
    transfer: "Transfer | None" = None,
) -> list[Figure]:
    """Return the pages of the report as figures; sections without data are left out.

    Where the methods would stand on a page of their own, figures are set less tall if that saves the page.
    """
    pages, alone = _drawn(score, answers, header, skills, transfer, 1.0)
    for height_share in TIGHTER if alone else ():
        tighter, _ = _drawn(score, answers, header, skills, transfer, height_share)
        if len(tighter) < len(pages):
            return tighter
    return pages


def _drawn(
    score: PersonScore,
    answers: "pd.DataFrame",
    header: ReportHeader,
    skills: Skills | None,
    transfer: "Transfer | None",
    height_share: float,
) -> tuple[list[Figure], bool]:
    """Return the pages, and whether the methods made one more of them."""
    mine = answers[answers["person"].astype(str) == score.person] if "person" in answers else answers
    shown = readings(mine, score.instrument)
    with manner():
        foot = f"{score.person}: reading between the graduations"
        sheets = Sheets(PAPERS[header.paper], foot, height_share=height_share)
        title_block(sheets, "Reading report", score.person, _facts(score, shown, header), header)
        sheets.paragraph(summary(score), size_pt=9.5, after_mm=2.5)
        sheets.caution(CAUTION[header.setting])
        _numbers(sheets, score)
        _position_figure(sheets, score, shown)
        _order_figure(sheets, shown)
        habits_section.habits(sheets, score)
        sheets.heading("What to work on", keep_mm=12.0)
        sheets.bullets(advice(score, spread_limit_tenths=header.spread_limit_tenths))
        progress_section.sessions(sheets, mine, shown, header)
        if transfer is not None:
            progress_section.bench(sheets, transfer)
        if skills and header.setting != "screen":  # the drills below were not taken there
            sheets.heading("Drills on the screen", keep_mm=60.0)
            sheets.caution(CAUTION["screen"])
        skill_sections.draw(sheets, skills or Skills(), score if header.setting == "screen" else None)
        before = len(sheets.pages)
        closing(sheets, [*METHODS, *(skill_sections.METHODS if skills else [])], header)
        sheets.number_pages()
    return sheets.pages, len(sheets.pages) > before


def summary(score: PersonScore) -> str:
    """Return the result in two sentences."""
    bias, spread = score.bias_tenths, score.spread_tenths
    if bias.value is None or spread.value is None:
        return f"{count(score.used, 'usable reading')}: too few for a bias and a spread."
    span = f" (95 % interval {ends(bias, sign=True)})" if bias.low is not None else ""
    wide = f" ({ends(spread)})" if spread.low is not None else ""
    where = " in this session" if score.one_session else " on average"
    slips = f"{score.misreads.total} of {count(score.readings, 'reading')}"
    return (
        f"Reads {in_tenths(abs(bias.value))} {direction(bias.value)}{where}{span}, with a spread of "
        f"{in_tenths(spread.value)}{wide}, rounding included. {slips} "
        f"{'was a misread' if score.misreads.total == 1 else 'were misreads'}."
    )


def _facts(score: PersonScore, shown: Readings, header: ReportHeader) -> list[tuple[str, str]]:
    known = score.instrument is not None and score.instrument in catalogue.names()
    instrument = (
        catalogue.load(str(score.instrument)).title if known else (score.instrument or "not recorded")
    )
    days = sorted({start[:10] for start in shown.starts if start})
    span = days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}" if days else "not recorded"
    set_aside = [
        f"{score.skipped} skipped" if score.skipped else "",
        f"{score.timed_out} out of time" if score.timed_out else "",
    ]
    left = ", ".join(part for part in set_aside if part)
    made_on = {"screen": "pictures on a screen", "sheet": "printed sheets", "bench": "a real instrument"}
    total = f"{score.readings} in {count(len(shown.sessions), 'session')}" + (f"; {left}" if left else "")
    return [
        ("Instrument", instrument),
        ("Readings", total),
        ("Read from", made_on[header.setting]),
        ("Dates", span),
        ("Conditions", header.conditions),
        ("Prepared", header.prepared_at),
    ]


def _numbers(sheets: Sheets, score: PersonScore) -> None:
    um, u, between = tenth_um(score.instrument), score.u_reading, score.bias_over_sessions
    sheets.heading("The numbers", keep_mm=40.0)
    rows = [
        _row("Bias", score.bias_tenths.value, ends(score.bias_tenths, sign=True), None, um, sign=True),
        _row("Spread", score.spread_tenths.value, ends(score.spread_tenths), score.spread_tenths.df, um),
        _row("Root mean square error", score.rms_tenths, ends(score.rms_interval), None, um),
        _row("u of one reading, bias left in", u.tenths, NONE, u.df, um),
        _row("u of one reading, bias corrected", u.corrected_tenths, NONE, u.corrected_df, um),
    ]
    if between.sessions > 1:
        long_run = ends(between.mean, sign=True)
        rows.insert(
            1, _row("Bias over sessions", between.mean.value, long_run, between.sessions - 1, um, sign=True)
        )
    headings = [("tenths", 22.0), ("95 % interval", 32.0), ("df", 14.0), ("µm", 20.0), ("0.0001 in", 22.0)]
    columns = [Column(name, width, "right") for name, width in headings]
    sheets.table([Column("", sheets.width_mm - sum(c.width_mm for c in columns)), *columns], rows)
    for text in _remarks(score):
        sheets.paragraph(text, size_pt=SMALL_PT, colour=SOFT, after_mm=0.5)


def _row(
    name: str, tenths: float | None, span: str, df: float | None, um: float | None, *, sign: bool = False
) -> list[str]:
    size = lengths(tenths, um)
    return [
        name,
        fixed(tenths, 2, sign=sign),
        span,
        fixed(df, 0),
        fixed(size.um, 2, sign=sign),
        fixed(size.ten_thousandths_in, 2, sign=sign),
    ]


def _remarks(score: PersonScore) -> list[str]:
    """Return rates in words, then why any number is missing or weak."""
    rates = [
        f"{name}: {percent(rate.value)} of readings (95 % interval {percents(rate)})."
        for name, rate in (("Within one tenth", score.within_one_tenth), ("Misreads", score.misread_rate))
        if rate.value is not None
    ]
    reasons = [f"{r[:1].upper()}{r[1:]}." for r in dict.fromkeys(score.reasons.values())]
    number = count(score.used, "usable reading")
    few = [f"Provisional: {number}, where 50 are needed."] if score.provisional else []
    return ["  ".join(rates), *few, *reasons[:3]]


def _position_figure(sheets: Sheets, score: PersonScore, shown: Readings) -> None:
    sheets.heading("Error against position within the division", keep_mm=62.0)
    height_mm = sheets.tall(min(max(sheets.room_mm - 19.0, 42.0), 80.0))
    figures.error_by_position(shown, score.profile, sheets.axes(height_mm))
    sheets.caption(
        f"Rings: readings. Bars: mean of each tenth; shaded: its 95 % interval, where there are "
        f"{figures.FEWEST_IN_A_TENTH} readings or more. Triangles: misreads, at the edge where they lie "
        "beyond the scale."
    )


def _order_figure(sheets: Sheets, shown: Readings) -> None:
    height_mm = sheets.tall(52.0)
    sheets.heading("Errors in order of time", keep_mm=height_mm + 16.0)
    figures.errors_in_order(shown, sheets.axes(height_mm))
    several = " Upright lines part the sessions; bars are their means." if len(shown.sessions) > 1 else ""
    sheets.caption(f"Rings: readings. Triangles: misreads.{several}")
