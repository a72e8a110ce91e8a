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
