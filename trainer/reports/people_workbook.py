"""Everybody's figures as a workbook: one row a person, every column explained, and a figure."""

from collections.abc import Sequence
from typing import Any

from trainer.reports.workbook import Field, Table
from trainer.scoring.person import PersonScore

TENTHS = "tenths"
FIELDS: tuple[tuple[Field, str], ...] = tuple(
    (Field(name, meaning, unit), path)
    for name, path, unit, meaning in (
        ("person", "person", "", "Name of the person."),
        ("instrument", "instrument", "", "Name of the instrument in the catalogue."),
        ("readings", "readings", "", "Answers given."),
        ("used", "used", "", "Answers that are no misreads; bias and spread are of these."),
        ("misreads", "misreads.total", "", "Gross slips, set apart."),
        ("misread_rate", "misread_rate.value", "share", "Misreads over answers, from 0 to 1."),
        ("misread_rate_low", "misread_rate.low", "share", "Lower end of its exact 95 % interval."),
        ("misread_rate_high", "misread_rate.high", "share", "Upper end of its exact 95 % interval."),
        ("bias_tenths", "bias_tenths.value", TENTHS, "Mean error, answer minus truth; positive reads high."),
        ("bias_low_tenths", "bias_tenths.low", TENTHS, "Lower end of its 95 % interval."),
        ("bias_high_tenths", "bias_tenths.high", TENTHS, "Upper end of its 95 % interval."),
        ("spread_tenths", "spread_tenths.value", TENTHS, "Standard deviation, rounding included."),
        ("spread_low_tenths", "spread_tenths.low", TENTHS, "Lower end of its 95 % interval (Bonett)."),
        ("spread_high_tenths", "spread_tenths.high", TENTHS, "Upper end of its 95 % interval (Bonett)."),
        ("spread_df", "spread_tenths.df", "", "Degrees of freedom of the spread."),
        ("rms_tenths", "rms_tenths", TENTHS, "Root mean square error."),
        ("within_one_tenth", "within_one_tenth.value", "share", "Readings within one tenth, from 0 to 1."),
        ("digit_z", "digit_preference.statistic", "", "Test of preference for 0 and 5: normal statistic."),
        ("digit_p", "digit_preference.p_value", "", "Its one-sided p-value."),
        (
            "drift_tenths_per_100",
            "drift.slope_tenths_per_100",
            "tenths per 100 readings",
            "Drift in a session.",
        ),
        ("drift_p", "drift.p_value", "", "Its p-value."),
        (
            "u_reading_tenths",
            "u_reading.tenths",
            TENTHS,
            "Standard uncertainty of one reading, bias left in.",
        ),
        ("u_reading_df", "u_reading.df", "", "Its degrees of freedom."),
        (
            "u_corrected_tenths",
            "u_reading.corrected_tenths",
            TENTHS,
            "The same, readings corrected for bias.",
        ),
        ("u_corrected_df", "u_reading.corrected_df", "", "Its degrees of freedom."),
        ("u_reading_um", "u_reading.um", "µm", "Standard uncertainty of one reading, bias left in."),
        ("skipped", "skipped", "", "Items left out."),
        ("timed_out", "timed_out", "", "Items out of time."),
        ("provisional", "provisional", "", "True where the readings are fewer than 50."),
    )
)


def table(scores: Sequence[PersonScore]) -> Table:
    """Return everybody's figures as one sheet; what cannot be had is an empty cell."""
    rows = [[_value(score, path) for _, path in FIELDS] for score in scores]
    about = "One row a person (and instrument). Errors are answer minus truth, misreads set apart."
    return Table("people", [field for field, _ in FIELDS], rows, about)


def _value(score: PersonScore, path: str) -> Any:
    value: Any = score
    for part in path.split("."):
        value = getattr(value, part)
    return value


def people_png(scores: Sequence[PersonScore], *, bias_limit: float | None = None) -> bytes:
    """Return everybody's bias and spread, side by side, as a PNG picture."""
    from trainer.reports.figures_team import team_bias, team_spread
    from trainer.reports.house import figure_to_png, manner, new_figure

    known = [score for score in scores if score.bias_tenths.value is not None][:60]
    rows_mm = 6.0 + 5.2 * max(len(known), 1)
    width, height = 174.0, rows_mm + 16.0
    with manner():
        figure = new_figure(width, height)
        bottom, tall = 11.0 / height, rows_mm / height
        team_bias(known, figure.add_axes((42 / width, bottom, 70 / width, tall)), bias_limit)
        team_spread(known, figure.add_axes((118 / width, bottom, 52 / width, tall)))
        return figure_to_png(figure)
