"""`tenthwise score`: a file of answers in, everybody's figures out."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import JsonOption

if TYPE_CHECKING:
    from trainer.scoring.detail import PersonDetail
    from trainer.scoring.table import PeopleScores


def score(
    answers: Annotated[
        Path, typer.Argument(metavar="ANSWERS.csv", help="person,truth_tenths,answer_tenths,…")
    ],
    as_json: JsonOption = False,
    person: Annotated[str | None, typer.Option("--person", help="Score this person only, in detail.")] = None,
    instrument: Annotated[
        str | None,
        typer.Option("--instrument", metavar="NAME", help="Score answers on this instrument only."),
    ] = None,
    by_instrument: Annotated[
        bool, typer.Option("--by-instrument", help="Score each person apart on each instrument.")
    ] = False,
) -> None:
    """Score the answers in a CSV file: bias, spread, misreads, habits, reading uncertainty.

    Errors are answer minus truth in tenths of a division; intervals are 95 %. Misreads are counted and
    set apart, never mixed into bias and spread.

    Example: tenthwise score answers.csv --json
    """
    scores, details = _scores(answers, person, instrument, by_instrument=by_instrument)
    if as_json:
        from trainer.commands.output import print_json

        written = scores.to_dict()
        for entry, detail in zip(written["people"], details, strict=False):
            entry["detail"] = detail.to_dict()
        print_json(written)
        return
    print_scores(scores, details)


def print_scores(scores: "PeopleScores", details: "Sequence[PersonDetail]" = ()) -> None:
    """Print scores as text, as every command does that ends with a result."""
    from trainer.commands import score_text

    score_text.show(scores, details)


def _scores(
    answers: Path, person: str | None, instrument: str | None, *, by_instrument: bool
) -> "tuple[PeopleScores, list[PersonDetail]]":
    """Return the scores asked for, and details if one person is; what is refused names the file."""
    from trainer.practice.results import readings
    from trainer.records import answers_csv
    from trainer.scoring.detail import person_detail
    from trainer.scoring.errors import UnscorableAnswers
    from trainer.scoring.table import score_people

    every = answers_csv.read(answers)
    frame = readings(every)
    if len(frame) < len(every):
        print(
            f"{len(every) - len(frame)} answers of drills that are no readings are left out", file=sys.stderr
        )
    try:
        if person is not None:
            rows = frame[frame["person"] == person]
            if rows.empty:
                names = [str(name) for name in frame["person"].unique()[:8]]
                more = ", …" if frame["person"].nunique() > len(names) else ""
                raise UnscorableAnswers(f"there is no person {person!r}; there are {', '.join(names)}{more}")
            frame = rows
        scores = score_people(frame, instrument=instrument, by_instrument=by_instrument)
        if person is None:
            return scores, []
        if by_instrument and "instrument" in frame and frame["instrument"].notna().any():
            tool = frame["instrument"]
            parts = [frame[tool == s.instrument if s.instrument else tool.isna()] for s in scores.people]
            return scores, [person_detail(part) for part in parts]
        return scores, [person_detail(frame, instrument=instrument)]
    except UnscorableAnswers as refusal:
        raise UnscorableAnswers(f"{answers.name}: {refusal}") from None
