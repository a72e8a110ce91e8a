"""Everybody's screen against their bench, as a table to be exported."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.records.archive import Archive
    from trainer.reports.workbook import Table
    from trainer.scoring.intervals import Interval
    from trainer.scoring.transfer import Transfer

TENTHS = "tenths of a division"
COLUMNS = (
    ("person", "", "Name of the person."),
    ("instrument", "", "Name of the instrument in the catalogue."),
    ("screen_readings", "", "Usable readings on the screen."),
    ("bench_readings", "", "Usable readings on the bench."),
    ("screen_bias_tenths", TENTHS, "Mean error on the screen."),
    ("bench_bias_tenths", TENTHS, "Mean error on the bench."),
    ("bias_difference_tenths", TENTHS, "Bench less screen, in these sessions."),
    (
        "bias_difference_low_tenths",
        TENTHS,
        "Lower end of its 95 % interval, the reference's common part in it.",
    ),
    ("bias_difference_high_tenths", TENTHS, "Upper end of the same."),
    ("bias_difference_p", "", "Its two-sided p-value."),
    ("bias_differs", "", "True where a difference is shown, false where none is; empty without an interval."),
    ("alike_within_tenths", TENTHS, "Smallest limit within which both biases are shown to agree (5 % risk)."),
    ("across_sessions_tenths", TENTHS, "Difference that speaks of other days too."),
    ("across_sessions_low_tenths", TENTHS, "Lower end of its 95 % interval."),
    ("across_sessions_high_tenths", TENTHS, "Upper end of its 95 % interval."),
    ("screen_spread_tenths", TENTHS, "Standard deviation on the screen, rounding included."),
    ("bench_spread_tenths", TENTHS, "The same on the bench, the reference's resolution taken out."),
    ("bench_spread_observed_tenths", TENTHS, "The same as observed."),
    ("spread_ratio", "", "Bench over screen, the reference's resolution taken out."),
    ("spread_ratio_low", "", "Lower end of its 95 % interval."),
    ("spread_ratio_high", "", "Upper end of its 95 % interval."),
    (
        "spread_differs",
        "",
        "True where a difference is shown, false where none is; empty without an interval.",
    ),
    ("reference_u_tenths", TENTHS, "Standard uncertainty of one reference value."),
    ("finding_bias", "", "What was found of the bias, in a sentence."),
    ("finding_spread", "", "What was found of the spread, in a sentence."),
    ("notes", "", "What is to be kept in mind."),
)


def table(archive: "Archive", wanted: dict[str, Any]) -> "Table":
    """Return one row for everybody and instrument with readings for the record on screen and bench."""
    from trainer.commands import transfer
    from trainer.commands.evidence import Wanted
    from trainer.practice.results import BENCH
    from trainer.reports.workbook import Field, Table

    span = {name: wanted.get(name) for name in ("since", "until")}
    sessions = archive.sessions(
        drill=BENCH, team=wanted.get("team"), instrument=wanted.get("instrument"), **span
    )
    pairs = sessions[["person", "instrument"]].drop_duplicates().sort_values(["person", "instrument"])
    rows = []
    for person, instrument in pairs.itertuples(index=False):
        asked = Wanted(instrument, span["since"], until=span["until"])
        if (found := transfer.found_if_any(archive, person, asked)) is not None:
            rows.append(_row(found))
    fields = [Field(name, meaning, unit) for name, unit, meaning in COLUMNS]
    about = "One row a person and instrument: the bench held against the screen (docs/methods/transfer.md)."
    return Table("transfer", fields, rows, about)


def _row(found: "Transfer") -> list[Any]:
    bias, days, ratio = found.bias_difference_tenths, found.across_sessions_tenths, found.spread_ratio
    return [
        found.person, found.instrument, found.screen.used, found.bench.used, found.screen.bias,
        found.bench.bias, *_three(bias), found.p_value, found.bias_differs, found.alike_within_tenths,
        *_three(days), found.screen.sd, found.bench.sd, found.observed_bench_sd, *_three(ratio),
        found.spread_differs, found.reference.u_tenths, *found.sentences(), "; ".join(found.notes),
    ]  # fmt: skip


def _three(part: "Interval | None") -> tuple[float | None, float | None, float | None]:
    return (None, None, None) if part is None else (part.value, part.low, part.high)
