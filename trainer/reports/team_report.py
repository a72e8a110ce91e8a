"""The report of a team: everyone's bias and spread, and what a reading by any of them is worth."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from trainer.reports import figures_team, team_sections
from trainer.reports.files import UnusableReport, write_whole
from trainer.reports.heading import ReportHeader, closing, title_block
from trainer.reports.house import SMALL_PT, SOFT, figure_to_png, figures_to_pdf, manner
from trainer.reports.readings import readings
from trainer.reports.sheet import PAPERS, Column, Sheets
from trainer.reports.skill_tables import title as instrument_title
from trainer.reports.wording import CAUTION, NONE, count, ends, fixed, in_tenths, lengths, percent, tenth_um
from trainer.scoring.intervals import Interval
from trainer.scoring.person import PersonScore
from trainer.scoring.precision import Precision, of_groups

if TYPE_CHECKING:
    import pandas as pd

    from trainer.reports.skill_values import Skills
    from trainer.reports.team_sections import Due

PEOPLE_A_FIGURE = 24  # more would stand too close
METHODS = [
    "Every person's bias and spread are those of their own report: misreads are set apart and counted, bias "
    "has Student's interval within tenths, spread has Bonett's (2006). All intervals are 95 %.",
    "Within, between and together are repeatability, the spread of people's biases, and reproducibility in "
    "the terms of ISO 5725-2:1994; their intervals allow for people who differ in spread. A reading by any "
    "of these people has the spread given as together.",
    "The band in the figures is the criterion, where one is given. A square marks a value beyond it; whether "
    "a person is signed off is decided by the sign-off test, not by this picture.",
]


def write(
    path: Path,
    scores: Sequence[PersonScore],
    answers: "pd.DataFrame",
    header: ReportHeader | None = None,
    *,
    title: str = "Team",
    skills: "Mapping[str, Skills] | None" = None,
    due: "Mapping[str, Due] | None" = None,
) -> Path:
    """Write the report of several people as a PDF and return its path.

    `skills` are everybody's figures in the other drills, by name; `due` in how many days each is due for a
    refresher (negative: overdue), and why then.
    """
    pages = draw_pages(scores, answers, header or ReportHeader(), title=title, skills=skills, due=due)
    about = {"title": f"Team report: {title}", "subject": "Micrometer reading between graduations"}
    return write_whole(path, figures_to_pdf(pages, **about))


def write_png(
    path: Path,
    scores: Sequence[PersonScore],
    answers: "pd.DataFrame",
    header: ReportHeader | None = None,
    *,
    title: str = "Team",
    skills: "Mapping[str, Skills] | None" = None,
    due: "Mapping[str, Due] | None" = None,
    dots_per_inch: float = 110.0,
) -> tuple[Path, ...]:
    """Write the pages as PNG files and return their paths: `path` itself, then name-2, name-3 ..."""
    pages = draw_pages(scores, answers, header or ReportHeader(), title=title, skills=skills, due=due)
    names = [path, *(path.with_stem(f"{path.stem}-{n}") for n in range(2, len(pages) + 1))]
    made = [figure_to_png(page, dots_per_inch=dots_per_inch) for page in pages]
    return tuple(write_whole(name, content) for name, content in zip(names, made, strict=True))


def team_precision(scores: Sequence[PersonScore], answers: "pd.DataFrame") -> Precision | None:
    """Return the spread within and between people, misreads left out; None for fewer than two people."""
    groups = []
    for score in scores:
        kept = readings(answers[answers["person"].astype(str) == score.person], score.instrument).kept_tenths
        if kept.size:
            groups.append(kept.tolist())
    return of_groups(groups) if len(groups) > 1 else None


def draw_pages(
    scores: Sequence[PersonScore],
    answers: "pd.DataFrame",
    header: ReportHeader,
    *,
    title: str = "Team",
    skills: "Mapping[str, Skills] | None" = None,
    due: "Mapping[str, Due] | None" = None,
) -> list[Figure]:
    """Return the pages of the report as figures; raises UnusableReport when nobody has a usable reading."""
    people = sorted((s for s in scores if s.bias_tenths.value is not None), key=_worst_first)
    if not people:
        raise UnusableReport("nobody has a usable reading; a team report needs at least one person with some")
    with manner():
        sheets = Sheets(PAPERS[header.paper], f"{title}: reading between the graduations")
        title_block(sheets, "Team report", title, _facts(people, header), header)
        precision = team_precision(people, answers)
        sheets.paragraph(summary(people, precision), size_pt=9.5, after_mm=2.5)
        sheets.caution(CAUTION[header.setting])
        _figures(sheets, people, header)
        _people(sheets, people)
        if precision is not None:
            _precision(sheets, precision, people)
        of_screen = people if header.setting == "screen" else []
        team_sections.draw(sheets, of_screen, skills or {}, due or {})
        closing(sheets, METHODS, header)
        sheets.number_pages()
    return sheets.pages


def summary(people: Sequence[PersonScore], precision: Precision | None) -> str:
    """Return the result of the team in two sentences."""
    biases = [p.bias_tenths.value for p in people if p.bias_tenths.value is not None]
    total, slips = sum(p.readings for p in people), sum(p.misreads.total for p in people)
    first = (
        f"{count(len(people), 'person', 'people')}, {count(total, 'reading')}, of which {slips} "
        f"{'was a misread' if slips == 1 else 'were misreads'}; biases from "
        f"{fixed(min(biases), sign=True)} to {fixed(max(biases), sign=True)} tenths."
    )
    together = precision.reproducibility_sd if precision else None
    if together is None or together.value is None:
        return first
    span = f" ({ends(together)})" if together.low is not None else ""
    return f"{first} A reading by any one of them has a spread of {in_tenths(together.value)}{span}."


def _worst_first(score: PersonScore) -> float:
    return -(score.rms_tenths if score.rms_tenths is not None else abs(score.bias_tenths.value or 0.0))


def _facts(people: Sequence[PersonScore], header: ReportHeader) -> list[tuple[str, str]]:
    instruments = sorted({instrument_title(p.instrument) if p.instrument else "not recorded" for p in people})
    limits = [
        f"bias within ±{fixed(header.bias_limit_tenths)}" if header.bias_limit_tenths is not None else "",
        f"spread to {fixed(header.spread_limit_tenths)}" if header.spread_limit_tenths is not None else "",
    ]
    criterion = ", ".join(part for part in limits if part)
    named = f"{header.criterion}: " if header.criterion else ""
    return [
        ("People", str(len(people))),
        ("Instrument", ", ".join(instruments)),
        ("Criterion", f"{named}{criterion} tenths" if criterion else ""),
        ("Conditions", header.conditions),
        ("Prepared", header.prepared_at),
    ]


def _figures(sheets: Sheets, people: Sequence[PersonScore], header: ReportHeader) -> None:
    for start in range(0, len(people), PEOPLE_A_FIGURE):
        some = people[start : start + PEOPLE_A_FIGURE]
        height = 6.0 + 5.2 * len(some)
        sheets.heading("Everyone's bias and spread" + (", continued" if start else ""), keep_mm=height + 18.0)
        wide = round(sheets.width_mm * 0.62)
        with sheets.column(0.0, wide):
            figures_team.team_bias(some, sheets.axes(height, left_mm=40.0), header.bias_limit_tenths)
        with sheets.column(wide + 4.0, sheets.width_mm - wide - 4.0):
            figures_team.team_spread(some, sheets.axes(height, left_mm=2.0), header.spread_limit_tenths)
        sheets.skip(height + 10.0)
    limited = header.bias_limit_tenths is not None
    band = " Shaded: inside the criterion; squares lie beyond it." if limited else ""
    sheets.caption(
        "Largest root mean square error on top. Dot and thick line: value with its 95 % interval. Thin line: "
        f"two spreads each way, where most readings lie.{band}"
    )


def _people(sheets: Sheets, people: Sequence[PersonScore]) -> None:
    sheets.heading("The numbers", keep_mm=30.0)
    widths = [("readings", 17.0), ("misreads", 21.0), ("bias", 14.0), ("95 % interval", 30.0)]
    widths += [("spread", 15.0), ("95 % interval", 26.0), ("u", 12.0)]
    columns = [Column(name, width, "right") for name, width in widths]
    rows = [
        [
            p.person,
            str(p.readings),
            f"{p.misreads.total} ({percent(p.misread_rate.value)})",
            fixed(p.bias_tenths.value, sign=True),
            ends(p.bias_tenths, sign=True),
            fixed(p.spread_tenths.value),
            ends(p.spread_tenths),
            fixed(p.u_reading.tenths),
        ]
        for p in people
    ]
    sheets.table(
        [Column("person", sheets.width_mm - sum(c.width_mm for c in columns)), *columns], rows, size_pt=7.5
    )
    text = "Tenths throughout; u: standard uncertainty of one reading, bias left in."
    few = [p.person for p in people if p.provisional]
    if few:
        text += f" Fewer than 50 readings: {', '.join(few[:6])}{' and others' if len(few) > 6 else ''}."
    sheets.paragraph(text, size_pt=SMALL_PT, colour=SOFT)


def _precision(sheets: Sheets, precision: Precision, people: Sequence[PersonScore]) -> None:
    sheets.heading("A reading by any one of them", keep_mm=34.0)
    named = {p.instrument for p in people}
    um = tenth_um(next(iter(named))) if len(named) == 1 else None
    parts: list[tuple[str, Interval | None]] = [
        ("within a person", precision.repeatability_sd),
        ("between people", precision.between_sd),
        ("together", precision.reproducibility_sd),
    ]
    rows = []
    for name, part in parts:
        size = lengths(part.value if part else None, um)
        value = fixed(part.value) if part else NONE
        rows.append(
            [name, value, ends(part) if part else NONE, fixed(size.um), fixed(size.ten_thousandths_in)]
        )
    headings = [("tenths", 24.0), ("95 % interval", 34.0), ("µm", 24.0), ("0.0001 in", 24.0)]
    columns = [Column(name, width, "right") for name, width in headings]
    sheets.table([Column("spread", sheets.width_mm - sum(c.width_mm for c in columns)), *columns], rows)
    notes = [*precision.notes, *dict.fromkeys(precision.reasons.values())]
    sheets.bullets([f"{note[:1].upper()}{note[1:]}." for note in notes], size_pt=SMALL_PT, colour=SOFT)
    mean = float(np.mean([p.bias_tenths.value or 0.0 for p in people]))
    sheets.paragraph(
        f"The mean bias of these people is {in_tenths(mean, sign=True)}, "
        "which is not part of the spread above.",
        size_pt=SMALL_PT,
        colour=SOFT,
    )
