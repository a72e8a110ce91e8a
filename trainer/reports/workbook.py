"""Spreadsheets with real numbers: notes on columns, a sheet that explains them, a figure; no cell can run."""

import contextlib
import io
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.reports.files import UnusableReport, write_whole

if TYPE_CHECKING:
    from xlsxwriter.format import Format
    from xlsxwriter.workbook import Workbook
    from xlsxwriter.worksheet import Worksheet

MOST_ROWS = 1_048_575  # below the headings: a sheet of the XLSX format ends at 2**20
LONGEST_TEXT = 32_767  # characters a cell of the XLSX format can hold
EXACT_WHOLE = 2**53  # a cell holds a double; larger whole numbers would lose digits and are kept as text
MANY_ROWS = 20_000  # from here on rows go to disk as they come
RISKY = "=+-@\t\r\n＝＋－＠'"  # what a spreadsheet may take for a formula when a cell is edited or pasted on
UNDATED = datetime(2000, 1, 1)  # noqa: DTZ001 - the format has no time zone; equal data give equal files


@dataclass(frozen=True, slots=True)
class Field:
    """A column: its name as in every other output, what it means, and its unit."""

    name: str
    meaning: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """One sheet: a name, its columns, and rows of text, numbers, booleans or None."""

    name: str
    fields: Sequence[Field]
    rows: Iterable[Sequence[Any]]
    about: str = ""


def write(
    path: Path,
    tables: Sequence[Table],
    *,
    title: str = "",
    figure_png: bytes | None = None,
    prepared_at: datetime | None = None,
) -> Path:
    """Write an XLSX file with one sheet a table, a sheet "figure" if given, and a sheet "columns".

    Raises UnusableReport where the format cannot hold the data, OSError where the file cannot be written.
    """
    return write_whole(
        path, workbook_bytes(tables, title=title, figure_png=figure_png, prepared_at=prepared_at)
    )


def workbook_bytes(
    tables: Sequence[Table],
    *,
    title: str = "",
    figure_png: bytes | None = None,
    prepared_at: datetime | None = None,
) -> bytes:
    """Return the XLSX file as bytes; see `write`."""
    from xlsxwriter.workbook import Workbook

    sheet = io.BytesIO()
    settings = {
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
        "constant_memory": any(len(t.rows) > MANY_ROWS for t in tables if isinstance(t.rows, Sequence)),
        "in_memory": True,
    }
    if settings["constant_memory"]:
        del settings["in_memory"]
    book = Workbook(sheet, settings)
    book.worksheet_class = _exact_worksheet()
    book.set_properties({"title": title, "author": "Tenthwise", "created": prepared_at or UNDATED})
    try:
        _fill(book, tables, title, figure_png)
    except BaseException:
        _abandon(book)
        raise
    book.close()
    return sheet.getvalue()


def _fill(book: "Workbook", tables: Sequence[Table], title: str, figure_png: bytes | None) -> None:
    styles = _Styles(book)
    used: set[str] = set()
    for table in tables:
        _table(book.add_worksheet(_sheet_name(table.name, used)), table, styles)
    if figure_png is not None:
        drawn = book.add_worksheet(_sheet_name("figure", used))
        drawn.hide_gridlines(2)
        drawn.insert_image("A1", "figure.png", {"image_data": io.BytesIO(figure_png), "description": title})
    _dictionary(book.add_worksheet(_sheet_name("columns", used)), tables, styles)


def _abandon(book: "Workbook") -> None:
    """Close and remove the library's own temporary files, which it keeps while rows go to disk."""
    for sheet in book.worksheets():
        if sheet.row_data_fh is not None:
            sheet.row_data_fh.close()
        if sheet.row_data_filename:
            with contextlib.suppress(OSError):
                Path(sheet.row_data_filename).unlink()
    book.fileclosed = True


def _exact_worksheet() -> type["Worksheet"]:
    """Return a sheet that writes numbers with all their digits; the library's own stop at sixteen."""
    from xlsxwriter.worksheet import Worksheet

    class Exact(Worksheet):  # type: ignore[misc]  # the library has no types
        def _xml_number_element(self, number: float, attributes: Sequence[tuple[str, Any]] = ()) -> None:
            named = "".join(f' {key}="{self._escape_attributes(value)}"' for key, value in attributes)
            self.fh.write(f"<c{named}><v>{number!r}</v></c>")

    return Exact


class _Styles:
    """The few formats of a workbook."""

    def __init__(self, book: "Workbook") -> None:
        self.head: Format = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.text: Format = book.add_format({"num_format": "@"})
        # the quote prefix keeps such a text a text even when the cell is edited; the value stays as it was
        self.risky: Format = book.add_format({"num_format": "@", "quote_prefix": True})
        self.wrapped: Format = book.add_format({"text_wrap": True, "valign": "top"})


def _table(sheet: "Worksheet", table: Table, styles: _Styles) -> None:
    for column, field in enumerate(table.fields):
        sheet.write_string(0, column, field.name, styles.head)
        unit = f" Unit: {field.unit}." if field.unit else ""
        sheet.write_comment(0, column, field.meaning + unit, {"x_scale": 2, "author": "Tenthwise"})
        sheet.set_column(column, column, max(10, min(len(field.name) + 2, 32)))
    sheet.freeze_panes(1, 0)
    for number, row in enumerate(table.rows, start=1):
        if number > MOST_ROWS:
            raise UnusableReport(
                f"{table.name} has more than {MOST_ROWS} rows, which a spreadsheet cannot hold; "
                "export it as CSV or Parquet, or filter it"
            )
        for column, value in enumerate(row):
            _cell(sheet, number, column, value, styles)


def _cell(sheet: "Worksheet", row: int, column: int, value: Any, styles: _Styles) -> None:
    """Write a value as what it is; None and NaN leave the cell empty."""
    if hasattr(value, "item"):  # numpy's own kinds of number
        value = value.item()
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return
    if isinstance(value, bool):
        sheet.write_boolean(row, column, value)
    elif (isinstance(value, int) and abs(value) <= EXACT_WHOLE) or (
        isinstance(value, float) and math.isfinite(value)
    ):
        sheet.write_number(row, column, value)
    else:
        _text(sheet, row, column, str(value), styles)


def _text(sheet: "Worksheet", row: int, column: int, text: str, styles: _Styles) -> None:
    if len(text) > LONGEST_TEXT:
        raise UnusableReport(
            f"a text of {len(text)} characters is too long for a spreadsheet cell ({LONGEST_TEXT}); "
            "export it as CSV or JSON"
        )
    sound = text.encode("utf-8", "replace").decode("utf-8")
    sheet.write_string(row, column, sound, styles.risky if sound[:1] in RISKY and sound else styles.text)


def _dictionary(sheet: "Worksheet", tables: Sequence[Table], styles: _Styles) -> None:
    """Write the sheet that says what every column means."""
    for column, (name, width) in enumerate((("sheet", 16), ("column", 28), ("unit", 14), ("meaning", 80))):
        sheet.write_string(0, column, name, styles.head)
        sheet.set_column(column, column, width, styles.wrapped)
    row = 1
    for table in tables:
        if table.about:
            sheet.write_string(row, 0, table.name)
            sheet.write_string(row, 3, table.about, styles.wrapped)
            row += 1
        for field in table.fields:
            for column, text in enumerate((table.name, field.name, field.unit, field.meaning)):
                if text:
                    sheet.write_string(row, column, text, styles.wrapped)
            row += 1
    sheet.freeze_panes(1, 0)


def _sheet_name(name: str, used: set[str]) -> str:
    """Return a name that the format allows and that is not used yet."""
    base = re.sub(r"[\[\]:*?/\\']", " ", name).strip()[:28] or "sheet"
    chosen, number = base, 2
    while chosen.lower() in used:
        chosen, number = f"{base} {number}", number + 1
    used.add(chosen.lower())
    return chosen
