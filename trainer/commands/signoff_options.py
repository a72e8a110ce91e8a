"""Arguments and options that the sign-off's commands share."""

from typing import Annotated

import typer

CriterionOption = Annotated[
    str, typer.Option("--criterion", "-c", metavar="NAME|FILE", help="A criterion's name or file.")
]
Person = Annotated[str, typer.Argument(help="The person's name.")]
Reason = Annotated[str, typer.Option("--reason", help="Why; it is kept for good.")]
Statement = Annotated[str, typer.Argument(help="The statement's number.")]
FIRST = "first-level-metric"
