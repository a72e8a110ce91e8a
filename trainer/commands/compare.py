"""`tenthwise compare`: people on the same instrument side by side, or two of them, or before and after."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import JsonOption
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd

    from trainer.scoring.compare import Comparison
    from trainer.scoring.pairs import PairComparison


class UnusableRequest(Refusal):
    """The people named do not make a comparison."""


def compare(
    answers: Annotated[
        Path, typer.Argument(metavar="ANSWERS.csv", help="person,truth_tenths,answer_tenths,…")
    ],
    people: Annotated[
        list[str] | None,
        typer.Argument(metavar="[PERSON PERSON]", help="Two people; nobody compares everybody."),
    ] = None,
    as_json: JsonOption = False,
    instrument: Annotated[
        str | None,
        typer.Option("--instrument", metavar="NAME", help="Compare answers on this instrument only."),
    ] = None,
    since: Annotated[
        str | None,
        typer.Option("--since", metavar="DATE", help="With one PERSON: before against from this date on."),
    ] = None,
) -> None:
    """Compare people who read the same instrument: repeatability, between people, reproducibility.

    With two names: the difference of their biases and the ratio of their spreads. With one name and --since:
    that person before and after. Terms are those of ISO 5725-2; intervals are 95 %; misreads are set apart.

    Example: tenthwise compare answers.csv --json
    """
    from trainer.commands.output import print_json

    named = list(people or [])
    _check(named, since)
    result = _compared(answers, named, instrument, since)
    if as_json:
        print_json(result.to_dict())
        return
    from trainer.commands import compare_text

    compare_text.show(result)


def _check(named: list[str], since: str | None) -> None:
    if since is not None and len(named) != 1:
        raise UnusableRequest(f"--since compares one person before and after; {len(named)} were named")
    if since is None and len(named) not in (0, 2):
        one = "1 person was" if len(named) == 1 else f"{len(named)} people were"
        raise UnusableRequest(f"{one} named; name two to compare, or nobody for everybody")


def _compared(
    answers: Path, named: list[str], instrument: str | None, since: str | None
) -> "Comparison | PairComparison":
    """Return the comparison asked for; what is refused names the file."""
    from trainer.records import answers_csv

    frame = answers_csv.read(answers)
    try:
        return _of_frame(frame, named, instrument, since)
    except Refusal as refusal:
        raise UnusableRequest(f"{answers.name}: {refusal}") from None


def _of_frame(
    frame: "pd.DataFrame", named: list[str], instrument: str | None, since: str | None
) -> "Comparison | PairComparison":
    from trainer.scoring.compare import before_and_after, compare_pair, compare_people

    if since is not None:
        return before_and_after(frame, named[0], since, instrument=instrument)
    if named:
        return compare_pair(frame, named[0], named[1], instrument=instrument)
    return compare_people(frame, instrument=instrument)
