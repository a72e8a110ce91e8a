"""`tenthwise compare`: people on the same instrument side by side, or two of them, or before and after."""

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import ArchiveOption, JsonOption
from trainer.instrument.refusal import Refusal

if TYPE_CHECKING:
    import pandas as pd

    from trainer.scoring.compare import Comparison
    from trainer.scoring.judged import JudgedPeople
    from trainer.scoring.pairs import PairComparison


MOST_TENTHS = 1000.0  # of a tolerance that is judged from the overlap of two lines


class UnusableRequest(Refusal):
    """The people named do not make a comparison."""


def compare(
    answers: Annotated[
        Path | None,
        typer.Argument(metavar="[ANSWERS.csv]", help="person,truth_tenths,answer_tenths,…; not with --bench"),
    ] = None,
    people: Annotated[
        list[str] | None,
        typer.Argument(metavar="PERSON", help="Two people; nobody compares everybody."),
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
    judged: Annotated[
        str | None,
        typer.Option(
            "--judged", metavar="TENTHS", help="Compare in-or-out judgements at this tolerance instead."
        ),
    ] = None,
    bench: Annotated[
        str | None,
        typer.Option(
            "--bench", metavar="PERSON", help="This person's bench checks in the archive against the screen."
        ),
    ] = None,
    practice: Annotated[
        bool, typer.Option("--practice", help="With --bench: count practice as well as checks.")
    ] = False,
    archive: ArchiveOption = None,
) -> None:
    """Compare people who read the same instrument: repeatability, between people, reproducibility.

    With two names: the difference of their biases and the ratio of their spreads. With one name and --since:
    that person before and after. Terms are those of ISO 5725-2; intervals are 95 %; misreads are set apart.
    With --judged: false accepts and rejects, threshold, width and kappa of the judge drill's answers.
    With --bench: does what the screen says of a person hold on a real instrument? (from the archive)

    Example: tenthwise compare answers.csv --json
    """
    from trainer.commands.output import print_json, typed_number

    named = list(people or [])
    if bench is not None:
        if answers is not None or named or since is not None or judged is not None:
            raise UnusableRequest(
                "--bench compares one person in the archive; leave file, names and the rest out"
            )
        _bench(bench, instrument, archive, practice=practice, as_json=as_json)
        return
    if answers is None:
        raise typer.BadParameter("name a CSV file of answers, or give --bench PERSON")
    _check(named, since, judged)
    limit = None if judged is None else typed_number(judged, "--judged", 0, MOST_TENTHS)
    result = _compared(answers, named, instrument, since, limit)
    if as_json:
        print_json(result.to_dict())
        return
    if judged is not None:
        from trainer.commands import judged_text

        judged_text.show(result)  # type: ignore[arg-type]
        return
    from trainer.commands import compare_text

    compare_text.show(result)  # type: ignore[arg-type]


def _bench(
    person: str, instrument: str | None, archive: str | None, *, practice: bool, as_json: bool
) -> None:
    """Print one person's bench against their screen."""
    from trainer.commands import transfer
    from trainer.commands.evidence import Wanted
    from trainer.commands.output import print_json
    from trainer.commands.score_text import CAUTION
    from trainer.records.archive import Archive

    with Archive.open(archive, create=False) as opened:
        found = transfer.found(opened, person, Wanted(instrument, practice=practice))
    if as_json:
        print_json(found.to_dict())
        return
    for line in (*transfer.lines(found), CAUTION):
        typer.echo(line)


def _check(named: list[str], since: str | None, judged: str | None) -> None:
    if judged is not None and (named or since is not None):
        raise UnusableRequest("--judged compares everybody's judgements; leave names and --since out")
    if since is not None:
        try:
            datetime.fromisoformat(since.strip())
        except ValueError:
            raise UnusableRequest(f"--since is {since!r}; type a date such as 2026-03-31") from None
    if since is not None and len(named) != 1:
        raise UnusableRequest(f"--since compares one person before and after; {len(named)} were named")
    if since is None and len(named) not in (0, 2):
        one = "1 person was" if len(named) == 1 else f"{len(named)} people were"
        raise UnusableRequest(f"{one} named; name two to compare, or nobody for everybody")


def _compared(
    answers: Path, named: list[str], instrument: str | None, since: str | None, judged: float | None
) -> "Comparison | PairComparison | JudgedPeople":
    """Return the comparison asked for; what is refused names the file."""
    from trainer.practice.results import readings, set_apart, without_bench
    from trainer.records import answers_csv

    frame = answers_csv.read(answers)
    try:
        if judged is not None:
            return _judgements(frame, instrument, judged)
        clear, others = set_apart(without_bench(readings(frame))[0])
        if others:
            told = ", ".join(f"{count} with {words}" for words, count in others.items())
            print(f"readings under viewing conditions are left out ({told})", file=sys.stderr)
        return _of_frame(clear, named, instrument, since)
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


def _judgements(frame: "pd.DataFrame", instrument: str | None, tolerance_tenths: float) -> "JudgedPeople":
    """Return the comparison of the judge drill's answers, typed as in or out."""
    from trainer.practice.overlap import JUDGE, judged
    from trainer.scoring.judged import judge_people

    for column in ("drill", "typed"):
        if column not in frame.columns:
            raise UnusableRequest(f'there is no column "{column}"; judgements need drill and typed')
    rows = frame[(frame["drill"] == JUDGE.name) & frame["typed"].notna()]
    if "outcome" in rows.columns:
        rows = rows[rows["outcome"].isna() | rows["outcome"].isin(["answered", ""])]
    if "instrument" in rows.columns and instrument is not None:
        rows = rows[rows["instrument"] == instrument]
    if rows.empty:
        raise UnusableRequest(f'there are no answers of the drill "{JUDGE.name}"; nothing can be compared')
    if "instrument" in rows.columns and rows["instrument"].nunique() > 1:
        kinds = ", ".join(sorted(rows["instrument"].dropna().unique()))
        raise UnusableRequest(
            f"the judgements are on different instruments ({kinds}); choose one with --instrument"
        )
    said = [judged(str(text)) == "out" for text in rows["typed"]]
    return judge_people(rows.assign(said_out=said, tolerance_tenths=tolerance_tenths))
