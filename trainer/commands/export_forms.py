"""Exports as a spreadsheet with explained columns, or as Parquet."""

import importlib.util
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.commands.output import whole_file
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd

    from trainer.records.archive import Archive

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
    "conditions": ("Viewing conditions; empty for clear sight.", ""),
    "for_record": ("True for a check for the record, false for practice.", ""),
    "started_at": ("When the session began, ISO 8601 UTC.", ""),
    "ended_at": ("When it ended, ISO 8601 UTC.", ""),
    "ended_how": ("finished, left or closed.", ""),
    "items": ("Items dealt.", ""),
    "answers": ("Answers kept.", ""),
    "station": ("Computer on which it was taken.", ""),
    "seed": ("Seed from which the items were dealt.", ""),
    "program_version": ("Version of the program.", ""),
    "drawing_version": ("Version of the drawing.", ""),
    "px_per_mm": ("Scale of the picture.", "pixels per mm"),
    "division_arcmin": ("Angle under which one division was seen.", "minutes of arc"),
}


def write_form(archive: "Archive", what: str, out: Path, **wanted: Any) -> int:
    """Write answers, sessions or people as out's ending says (.xlsx or .parquet); return how many rows.

    The file appears whole or not at all. Raises a Refusal where the form cannot hold the rows or a library
    for it is missing.
    """
    frame = _frame(archive, what, wanted)
    if out.suffix.lower() == ".parquet":
        _parquet(frame, out)
    else:
        _workbook(frame, what, out)
    if not archive.read_only:
        filters = {key: value for key, value in wanted.items() if value is not None and key != "person"}
        archive.act("export", detail={"what": what, "rows": len(frame), "filters": filters})
    return len(frame)


def _frame(archive: "Archive", what: str, wanted: dict[str, Any]) -> "pd.DataFrame":
    import pandas as pd

    if what == "answers":
        return archive.answers(**wanted)
    if what == "sessions":
        return archive.sessions(**wanted)
    rows = [(p.name, p.id, p.added_at, p.archived_at) for p in archive.people(include_archived=True)]
    return pd.DataFrame.from_records(rows, columns=["person", "id", "added_at", "archived_at"])


def _parquet(frame: "pd.DataFrame", out: Path) -> None:
    if importlib.util.find_spec("pyarrow") is None:
        raise Refusal(f"{out}: Parquet needs the library pyarrow; install tenthwise[parquet]")
    with whole_file(out) as temporary:
        frame.to_parquet(temporary, engine="pyarrow", index=False)


def _workbook(frame: "pd.DataFrame", what: str, out: Path) -> None:
    from trainer.reports.workbook import Field, Table, write

    fields = [Field(str(name), *MEANINGS[str(name)]) for name in frame.columns]
    rows = frame.astype(object).to_numpy().tolist()
    write(out, [Table(what, fields, rows)], title=f"Tenthwise {what}")
