"""The section of a person's report on habits: last digits, misreads by kind, parts of the error."""

from trainer.reports import figures
from trainer.reports.house import MM_PER_IN
from trainer.reports.lettering import POINTS_PER_IN
from trainer.reports.sheet import Column, Sheets
from trainer.reports.wording import KIND_WORDS, percent
from trainer.scoring.person import PersonScore

FIGURE_MM = 42.0
SIZE_PT = 7.5
ROW_MM = SIZE_PT * 1.75 * MM_PER_IN / POINTS_PER_IN  # of a table, as `Sheets.table` sets it
MOST_KINDS = 4  # of misreads in their table: what stands beside the figure of digits


def habits(sheets: Sheets, score: PersonScore) -> None:
    """Set digits used on the left, misreads by kind and the parts of the error on the right."""
    kinds, parts = slips(score) or [["none", "0"]], _shares(score)
    beside_mm = ROW_MM * (len(kinds) + len(parts) + 2) + 6.0
    height_mm = max(sheets.tall(FIGURE_MM), beside_mm - 10.0)
    sheets.heading("Habits and slips", keep_mm=height_mm + 20.0)
    half = round(sheets.width_mm * 0.53)
    with sheets.column(half + 6.0, sheets.width_mm - half - 6.0):
        _pairs(sheets, "misreads by kind", kinds)
        _pairs(sheets, "share of the mean square error", parts)
    with sheets.column(0.0, half):
        figures.digits_used(score.digit_preference, sheets.axes(height_mm))
    sheets.skip(height_mm + 10.0)
    p, expected = score.digit_preference.p_value, score.digit_preference.expected
    bars = " Bars: expected of a smooth reader at the same positions." if expected else ""
    test = "" if p is None else f" Preference for 0 and 5: p {f'= {p:.2g}' if p >= 0.001 else '< 0.001'}."
    sheets.caption(f"Boxes: answers by last digit.{bars}{test}")


def slips(score: PersonScore) -> list[list[str]]:
    """Return misreads by kind, the commonest first; beyond what the column holds they are taken together."""
    kinds = sorted(((n, kind) for kind, n in score.misreads.by_kind.items() if n), key=lambda one: -one[0])
    shown = kinds if len(kinds) <= MOST_KINDS else kinds[: MOST_KINDS - 1]
    rows = [[KIND_WORDS.get(kind, kind), str(n)] for n, kind in shown]
    if rest := sum(n for n, _ in kinds[len(shown) :]):
        rows.append(["other kinds", str(rest)])
    return rows


def _pairs(sheets: Sheets, heading: str, rows: list[list[str]]) -> None:
    if rows:
        columns = [Column(heading, sheets.width_mm - 16.0), Column("", 16.0, "right")]
        sheets.table(columns, rows, size_pt=SIZE_PT)


def _shares(score: PersonScore) -> list[list[str]]:
    """Return the parts of the mean square error as percentages."""
    split = score.mean_square_split
    parts = (
        ("constant bias", split.bias),
        ("place within the division", split.profile),
        ("rounding to the tenth", split.rounding),
        ("chance", split.random),
    )
    known = [(name, part) for name, part in parts if part is not None]
    whole = sum(part for _, part in known)
    return [[name, percent(part / whole, 0)] for name, part in known] if whole else []
