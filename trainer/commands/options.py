"""Options that several commands share, so that they are spelt and explained alike."""

from pathlib import Path
from typing import Annotated

import typer

ArchiveOption = Annotated[
    str | None,
    typer.Option(
        "--archive",
        envvar="TENTHWISE_ARCHIVE",
        metavar="URL-or-path",
        help="The archive; the default is a file in your data folder.",
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
OutOption = Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write to this file.")]

SheetKeysOption = Annotated[
    Path | None,
    typer.Option(
        "--key-file",
        metavar="FILE",
        help="A file of the sheets' keys, sealed under a passphrase, in place of the archive.",
    ),
]

# Whose readings, and which of them: of `quote`, `report` and `capability`.
InstrumentOption = Annotated[
    str | None,
    typer.Option("--instrument", metavar="NAME", help="The instrument; needed where several were read."),
]
SinceOption = Annotated[
    str | None,
    typer.Option("--since", metavar="DATE", help="Only sessions begun on this date or later (UTC)."),
]
UntilOption = Annotated[
    str | None, typer.Option("--until", metavar="DATE", help="Only sessions begun before this date (UTC).")
]
SettingOption = Annotated[
    str | None,
    typer.Option("--from", metavar="SETTING", help="bench, sheet or screen; the strongest unless named."),
]
PracticeOption = Annotated[bool, typer.Option("--practice", help="Count practice as well as checks.")]
ProvisionalOption = Annotated[
    bool, typer.Option("--provisional", help="Take 20 readings for enough, marked as provisional.")
]
