"""The sections of a person's report on time and place: session to session, forecast, screen against bench."""

from typing import TYPE_CHECKING

import numpy as np

from trainer.reports import figures, figures_skills
from trainer.reports.heading import ReportHeader
from trainer.reports.house import SMALL_PT, SOFT
from trainer.reports.readings import Readings
from trainer.reports.sheet import Column, Sheets
from trainer.reports.skill_tables import title
from trainer.reports.wording import NONE, ends, fixed, in_tenths, percent, true_minus
from trainer.scoring.central import spread_df
from trainer.scoring.intervals import FEWEST_FOR_SPREAD
from trainer.scoring.learning import LearningForecast, learning_forecast
from trainer.scoring.table import score_people

if TYPE_CHECKING:
    import pandas as pd

    from trainer.scoring.transfer import Transfer

FIGURE_MM = 42.0
LABELS_MM = 14.0  # for numbers such as −0.75 with the axis's name beside them


def sessions(sheets: Sheets, answers: "pd.DataFrame", shown: Readings, header: ReportHeader) -> None:
    """Set bias and spread of every session, the band that a criterion allows, and when it may be reached."""
    points = session_points(answers, shown)
    if len(points) < 2:
        return
    forecast = forecast_of(points, header.spread_limit_tenths)
    height_mm = sheets.tall(FIGURE_MM)
    sheets.heading("From session to session", keep_mm=height_mm + 28.0)
    half = sheets.width_mm / 2 - 2.0
    with sheets.column(0.0, half):
        figures.bias_over_sessions(
            points, sheets.axes(height_mm, left_mm=LABELS_MM), header.bias_limit_tenths
        )
    with sheets.column(half + 4.0, half):
        ax = sheets.axes(height_mm, left_mm=LABELS_MM)
        figures.spread_over_sessions(points, ax, header.spread_limit_tenths)
        if forecast is not None:
            figures_skills.forecast_mark(forecast, ax)
    sheets.skip(height_mm + 10.0)
    named = f" “{header.criterion}”" if header.criterion else ""
    band = f" Shaded: inside the criterion{named}." if header.spread_limit_tenths is not None else ""
    sheets.caption(f"Each session with its 95 % interval; open where readings are too few for one.{band}")
    if forecast is not None:
        sheets.paragraph(forecast_words(forecast), size_pt=SMALL_PT, colour=SOFT)


def session_points(answers: "pd.DataFrame", shown: Readings) -> list[figures.SessionPoint]:
    """Return the bias and spread of each session, oldest first."""
    if "session" not in answers or len(shown.sessions) < 2:
        return []
    named = answers[answers["session"].notna()]
    frame = named.assign(person=named["session"].astype(str))
    scores = {score.person: score for score in score_people(frame).people}
    return [
        figures.SessionPoint(name, s.used, s.bias_tenths, s.spread_tenths)
        for name, s in ((name, scores[name]) for name in shown.sessions if name in scores)
        if s.used
    ]


def forecast_of(points: list[figures.SessionPoint], limit_tenths: float | None) -> LearningForecast | None:
    """Return when the spread is expected to reach the limit; None without a limit, or once it is kept.

    It is kept where the last session's spread lies within the limit.
    """
    known = [p for p in points if p.spread.value is not None]
    if limit_tenths is None or not known:
        return None
    last = known[-1].spread.value
    assert last is not None  # only those with a spread were kept
    if last <= limit_tenths:
        return None
    spread = np.array([np.nan if p.spread.value is None else p.spread.value for p in points])
    used = np.array([float(p.readings) for p in points])
    return learning_forecast(spread, spread_df(used, np.full(len(used), 3.0)), limit_tenths)


def forecast_words(forecast: LearningForecast) -> str:
    """Return the forecast as sentences, or why there is none."""
    when, limit = forecast.sessions_to_limit, in_tenths(forecast.limit_tenths)
    if when.value is None or when.low is None or when.high is None:
        return f"No forecast of when the spread reaches {limit}: {forecast.reason}."
    told = (
        f"At this pace the spread reaches {limit} in session {when.value:.0f} "
        f"(80 % interval {when.low:.0f} to {when.high:.0f}); a forecast is no sign-off."
    )
    if forecast.may_never is not None and forecast.may_never >= 0.1:
        told += f" With {percent(forecast.may_never, 0)} probability practice alone ends above it."
    return told


def bench(sheets: Sheets, transfer: "Transfer") -> None:
    """Set what the person does on a real instrument beside what pictures say of them."""
    sheets.heading("On a real instrument against the screen", keep_mm=32.0)
    for sentence in transfer.sentences():
        sheets.paragraph(f"{sentence[:1].upper()}{true_minus(sentence[1:])}.", after_mm=0.8)
    rows = []
    for name, side in (("screen", transfer.screen), ("bench", transfer.bench)):
        few = "" if side.used >= FEWEST_FOR_SPREAD else " (few)"
        rows.append(
            [
                f"{name}{few}", str(side.used), str(side.misreads), str(side.sessions),
                fixed(side.bias, sign=True), fixed(side.sd), NONE,
            ]
        )  # fmt: skip
    for name, value, sign in (
        ("bench less screen, bias", transfer.bias_difference_tenths, True),
        ("the same across sessions", transfer.across_sessions_tenths, True),
    ):
        if value is not None:
            cells = [fixed(value.value, sign=sign), NONE, ends(value, sign=sign)]
            rows.append([name, NONE, NONE, NONE, *cells])
    if transfer.spread_ratio is not None:
        ratio = transfer.spread_ratio
        rows.append(["bench over screen, spread", NONE, NONE, NONE, NONE, fixed(ratio.value), ends(ratio)])
    headings = [("readings", 18.0), ("misreads", 18.0), ("sessions", 18.0), ("bias", 18.0)]
    headings += [("spread", 18.0), ("95 % interval", 30.0)]
    columns = [Column(name, width, "right") for name, width in headings]
    sheets.table(
        [Column("tenths", sheets.width_mm - sum(c.width_mm for c in columns)), *columns], rows, size_pt=7.5
    )
    where = f"{title(transfer.instrument)}. " if transfer.instrument else ""
    notes = " ".join(f"{note[:1].upper()}{note[1:]}." for note in transfer.notes)
    taken = "The reference's resolution is taken out of the bench spread before it is compared."
    sheets.caption(f"{where}{taken} {notes}".strip())
