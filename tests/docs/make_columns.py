"""Write docs/columns.md from the program's own explanations: `python tests/docs/make_columns.py`."""

from pathlib import Path

from trainer.commands import export_forms, export_tables
from trainer.commands.export_ import KINDS
from trainer.records.archive import Archive
from trainer.records.export import UNITS, columns

ROOT = Path(__file__).resolve().parent.parent.parent
PAGE = ROOT / "docs" / "columns.md"
SAMPLE = ROOT / "sessions" / "recorded" / "pump-shop.sqlite"
HEAD = """# Columns of the exports

This page is made from the program's own explanations (`python tests/docs/make_columns.py`); a test keeps it
current. The same stand in a spreadsheet's sheet "columns". A value that cannot be had is an empty cell in CSV
and `null` in JSON.
"""


def page() -> str:
    """Return the whole page."""
    parts = [HEAD]
    with Archive.open(SAMPLE, create=False) as archive:
        for kind in KINDS:
            parts += [
                f"## {kind}\n",
                f"`tenthwise export {kind}`. Units: {UNITS[kind]}.\n",
                _table(archive, kind),
            ]
    return "\n".join(parts)


def _table(archive: Archive, kind: str) -> str:
    rows = [f"| `{name}` | {unit} | {meaning} |" for name, meaning, unit in _fields(archive, kind)]
    return "\n".join(["| column | unit | meaning |", "|---|---|---|", *rows]) + "\n"


def _fields(archive: Archive, kind: str) -> list[tuple[str, str, str]]:
    if kind not in export_tables.WORKED_OUT:
        return [(name, *export_forms.MEANINGS[name]) for name in columns(kind)]
    made, _ = export_tables.table(archive, kind, {})
    return [(field.name, field.meaning, field.unit) for field in made.fields]


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
