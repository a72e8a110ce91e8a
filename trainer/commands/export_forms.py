"""Exports as a spreadsheet with explained columns, or as Parquet."""

import importlib.util
import math
import sys
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from trainer.commands import export_tables
from trainer.commands.output import whole_file
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd

    from trainer.records.archive import Archive
    from trainer.reports.workbook import Table

FORMS = (".xlsx", ".parquet")
MEANINGS = {  # column: (meaning, unit)
    "person": ("Name of the person.", ""),
    "id": ("The person's number in the archive.", ""),
    "added_at": ("When the person was added, ISO 8601 UTC.", ""),
    "archived_at": ("When the person was put away, ISO 8601 UTC; empty for who is there.", ""),
    "truth_tenths": ("True position from the zero of the scale.", "tenths of a division"),
    "answer_tenths": ("Answer, on the same scale; the error is answer minus truth.", "tenths of a division"),
    "session": ("Number of the session.", ""),
    "item": ("Number of the item in the session.", ""),
    "at": ("Moment of the answer, ISO 8601 UTC.", ""),
    "seconds": ("Time taken.", "s"),
    "instrument": ("Name of the instrument in the catalogue.", ""),
    "drill": ("Kind of drill.", ""),
    "outcome": ("answered, skipped or timed-out.", ""),
    "typed": ("What was typed, as it was.", ""),
    "asks": ("What the item asked for.", ""),
    "extra": ("Further facts of the answer, as JSON.", ""),
    "conditions": ("Viewing conditions in words; clear for none, empty where nobody knows.", ""),
    "for_record": ("1 (true) for a check for the record, 0 (false) for practice.", ""),
    "started_at": ("When the session began, ISO 8601 UTC.", ""),
    "ended_at": ("When it ended, ISO 8601 UTC; empty while it can be gone on with.", ""),
    "ended_how": ("finished, left or closed; empty while it can be gone on with.", ""),
    "items": ("Items dealt.", ""),
    "answers": ("Answers kept.", ""),
    "station": ("Computer on which it was taken.", ""),
    "seed": ("Seed from which the items were dealt.", ""),
    "program_version": ("Version of the program.", ""),
    "drawing_version": ("Version of the drawing.", ""),
    "px_per_mm": ("Scale of the picture.", "pixels per mm"),
    "division_arcmin": ("Angle under which one division was seen.", "minutes of arc"),
}


def write_form(archive: "Archive", what: str, out: Path, *, who: str = "", **wanted: Any) -> int:
    """Write an export as out's ending says (.xlsx or .parquet); return how many rows.

    The file appears whole or not at all. Raises a Refusal where the form cannot hold the rows or a library
    for it is missing.
    """
    parquet = out.suffix.lower() == ".parquet"
    if parquet and importlib.util.find_spec("pyarrow") is None:
        raise Refusal(f"{out}: Parquet needs the library pyarrow; install tenthwise[parquet]")
    if parquet:
        frame = _frame(archive, what, wanted)
        with whole_file(out) as temporary:
            frame.to_parquet(temporary, engine="pyarrow", index=False)
        return _told(archive, what, len(frame), wanted, who)
    from trainer.reports.workbook import write

    table, figure = _table(archive, what, wanted)
    write(out, [table], title=f"Tenthwise {what}", figure_png=figure)
    return _told(archive, what, len(list(table.rows)), wanted, who)


def write_text(
    archive: "Archive", what: str, out: Path | None, *, as_json: bool, who: str = "", **wanted: Any
) -> int:
    """Write statistics or sign-offs as CSV or JSON, to a file or to standard output; return how many rows."""
    from trainer.records import export

    made, _ = export_tables.table(archive, what, wanted)
    names = [field.name for field in made.fields]
    rows = [[_plain(value) for value in row] for row in made.rows]

    def put(file: IO[str]) -> None:
        if as_json:
            export.write_json(file, what, names, rows)
        else:
            export.write_csv(file, what, names, rows, made=archive.store.now())

    if out is None:
        put(sys.stdout)
    else:
        with whole_file(out) as temporary, temporary.open("w", encoding="utf-8", newline="") as file:
            put(file)
    return _told(archive, what, len(rows), wanted, who)


def _told(archive: "Archive", what: str, rows: int, wanted: dict[str, Any], who: str) -> int:
    """Keep that something was exported; return how many rows."""
    if not archive.read_only:
        named = {key: value for key, value in wanted.items() if value is not None and key != "team"}
        archive.act("export", who=who, detail={"what": what, "rows": rows, "filters": named})
    return rows


def _table(archive: "Archive", what: str, wanted: dict[str, Any]) -> "tuple[Table, bytes | None]":
    """Return any export as a table, and its figure where there is one."""
    from trainer.reports.workbook import Field, Table

    if what in export_tables.WORKED_OUT:
        return export_tables.table(archive, what, wanted)
    frame = _frame(archive, what, wanted)
    fields = [Field(str(name), *MEANINGS[str(name)]) for name in frame.columns]
    figure = export_tables.figure(archive, wanted) if what == "answers" else None
    return Table(what, fields, frame.astype(object).to_numpy().tolist()), figure


def _frame(archive: "Archive", what: str, wanted: dict[str, Any]) -> "pd.DataFrame":
    import pandas as pd

    if what == "answers":
        return archive.answers(**wanted)
    if what == "sessions":
        return archive.sessions(**wanted)
    if what in export_tables.WORKED_OUT:
        return _frame_of(export_tables.table(archive, what, wanted)[0])
    from trainer.records.export import columns, people_rows

    with archive.store.read() as connection:
        rows = list(people_rows(connection, wanted.get("team")))
    return pd.DataFrame.from_records(rows, columns=list(columns("people")))


def _frame_of(table: "Table") -> "pd.DataFrame":
    """Return a table as a frame whose columns keep the kind of their values."""
    import pandas as pd

    names = [field.name for field in table.fields]
    rows = [[_plain(value) for value in row] for row in table.rows]
    return pd.DataFrame(rows, columns=names, dtype=object).infer_objects()


def _plain(value: Any) -> Any:
    """Return numpy's own numbers as plain ones, and NaN as nothing."""
    value = value.item() if hasattr(value, "item") else value
    return None if isinstance(value, float) and math.isnan(value) else value
