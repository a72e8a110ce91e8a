"""`tenthwise score`: a file of answers in, everybody's figures out."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.commands.options import JsonOption
from trainer.commands.output import counted

if TYPE_CHECKING:
    import pandas as pd

    from trainer.scoring.detail import PersonDetail
    from trainer.scoring.table import PeopleScores


def score(
    answers: Annotated[
        Path, typer.Argument(metavar="ANSWERS.csv", help="person,truth_tenths,answer_tenths,…")
    ],
    as_json: JsonOption = False,
    person: Annotated[
        str | None, typer.Option("--person", "-p", help="Score this person only, in detail.")
    ] = None,
    instrument: Annotated[
        str | None,
        typer.Option("--instrument", metavar="NAME", help="Score answers on this instrument only."),
    ] = None,
    by_instrument: Annotated[
        bool, typer.Option("--by-instrument", help="Score each person apart on each instrument.")
    ] = False,
    by_conditions: Annotated[
        bool, typer.Option("--by-conditions", help="Score readings under each viewing condition apart.")
    ] = False,
) -> None:
    """Score the answers in a CSV file: bias, spread, misreads, habits, reading uncertainty.

    Errors are answer minus truth in tenths of a division; intervals are 95 %. Misreads are counted and
    set apart, never mixed into bias and spread. Readings under viewing conditions (blur, glare, a time
    limit) are set apart from clear ones, or scored by themselves with --by-conditions.

    Example: tenthwise score answers.csv --json
    """
    frame = _readings(answers)
    if person is not None:
        frame = _of_person(frame, person, answers.name)
    if instrument is not None and "instrument" in frame and (frame["instrument"] == instrument).any():
        frame = frame[frame["instrument"] == instrument]
    parts = _apart(frame, by_conditions=by_conditions)
    found = [
        (words, *_scores(part, person, instrument, by_instrument=by_instrument, file=answers.name))
        for words, part in parts
    ]
    if as_json:
        from trainer.commands.output import print_json

        print_json({"people": [entry for one in found for entry in _entries(*one)]})
        return
    for words, scores, details in found:
        if words is not None:
            print(f"Conditions: {words}")
        print_scores(scores, details)


def print_scores(scores: "PeopleScores", details: "Sequence[PersonDetail]" = ()) -> None:
    """Print scores as text, as every command does that ends with a result."""
    from trainer.commands import score_text

    score_text.show(scores, details)


def _entries(
    words: str | None, scores: "PeopleScores", details: "list[PersonDetail]"
) -> list[dict[str, object]]:
    """Return the people as JSON prints them, with their details and, scored by conditions, with those."""
    written = scores.to_dict()["people"]
    for entry, detail in zip(written, details, strict=False):
        entry["detail"] = detail.to_dict()
    return written if words is None else [{**entry, "conditions": words} for entry in written]


def _readings(answers: Path) -> "pd.DataFrame":
    """Return the readings of a file; what else it holds is left out, and that is said."""
    from trainer.practice.overlap import JUDGE
    from trainer.practice.results import asked_of, readings
    from trainer.records import answers_csv
    from trainer.scoring.errors import UnscorableAnswers

    every = answers_csv.read(answers)
    frame: pd.DataFrame = readings(every)
    asked = asked_of(frame)
    if asked is not None and len(asked) and (asked == JUDGE.name).all():
        raise UnscorableAnswers(
            f"{answers.name} holds judgements of in or out, which have no bias or spread; "
            f"score them with: tenthwise compare {answers.name} --judged TOLERANCE"
        )
    if len(frame) < len(every):
        left = len(every) - len(frame)
        verb = "is" if left == 1 else "are"
        print(f"{counted(left, 'answer')} of drills that are no readings {verb} left out", file=sys.stderr)
    return frame


def _of_person(frame: "pd.DataFrame", person: str, file: str) -> "pd.DataFrame":
    from trainer.scoring.errors import UnscorableAnswers

    rows = frame[frame["person"] == person]
    if rows.empty:
        names = [str(name) for name in frame["person"].unique()[:8]]
        more = ", …" if frame["person"].nunique() > len(names) else ""
        raise UnscorableAnswers(f"{file}: there is no person {person!r}; there are {', '.join(names)}{more}")
    return rows


def _apart(frame: "pd.DataFrame", *, by_conditions: bool) -> "list[tuple[str | None, pd.DataFrame]]":
    """Return what is to be scored by itself: the clear readings alone, or the readings by their conditions.

    Where no reading is clear they are scored by their conditions, since there is nothing to set apart from.
    """
    from trainer.practice.conditions import CLEAR
    from trainer.practice.results import set_apart, without_bench

    frame, bench = without_bench(frame)
    if bench:
        print(
            f"{counted(bench, 'bench reading')} set apart: a picture and a real instrument are never pooled; "
            "score a file of bench readings alone, or quote the person",
            file=sys.stderr,
        )
    clear, others = set_apart(frame)
    if others and not by_conditions and len(clear):
        told = ", ".join(f"{count} with {words}" for words, count in others.items())
        print(
            f"readings under viewing conditions are set apart ({told}); --by-conditions scores them",
            file=sys.stderr,
        )
    if not by_conditions and (len(clear) or not others):
        return [(None, clear)]
    parts = [(CLEAR, clear)] if len(clear) else []
    return [*parts, *((words, frame[frame["conditions"] == words]) for words in others)]


def _scores(
    frame: "pd.DataFrame", person: str | None, instrument: str | None, *, by_instrument: bool, file: str
) -> "tuple[PeopleScores, list[PersonDetail]]":
    """Return the scores asked for, and details if one person is; what is refused names the file."""
    from trainer.scoring.detail import person_detail
    from trainer.scoring.errors import UnscorableAnswers
    from trainer.scoring.table import score_people

    try:
        scores = score_people(frame, instrument=instrument, by_instrument=by_instrument)
        if person is None:
            return scores, []
        if by_instrument and "instrument" in frame and frame["instrument"].notna().any():
            tool = frame["instrument"]
            parts = [frame[tool == s.instrument if s.instrument else tool.isna()] for s in scores.people]
            return scores, [person_detail(part) for part in parts]
        return scores, [person_detail(frame, instrument=instrument)]
    except UnscorableAnswers as refusal:
        raise UnscorableAnswers(f"{file}: {refusal}") from None
