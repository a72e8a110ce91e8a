"""The score of whole populations: one row of numbers a person, computed in stacks, viewed as values."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from os import cpu_count

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trainer.scoring.central import central
from trainer.scoring.errors import HAIR_TENTHS, Floats, UnscorableAnswers, within_division
from trainer.scoring.habits import digit_columns
from trainer.scoring.intervals import clopper_pearson, mean_t
from trainer.scoring.person import PersonScore
from trainer.scoring.population import Population, misread_rows, population
from trainer.scoring.rows import person_scores
from trainer.scoring.sittings import sitting_columns
from trainer.scoring.split import split_columns
from trainer.scoring.stacks import Bools, Ints, Stack, stack, stacked

Columns = dict[str, Floats]
COUNTS = {"tenth_n", "digits", "halves"}  # 0, not unknown, for a person without readings


@dataclass(frozen=True, eq=False)
class PeopleScores:
    """Scores of people as columns (one entry a person); `people`, `summary` and `to_dict` are views."""

    names: tuple[str, ...]
    instruments: tuple[str | None, ...]
    columns: Columns

    @cached_property
    def people(self) -> tuple[PersonScore, ...]:
        """Return the people as values, in the order of first appearance."""
        return person_scores(self.names, self.instruments, self.columns)

    def person(self, name: str) -> PersonScore | None:
        """Return the first score under that name, or None."""
        return next((score for score in self.people if score.person == name), None)

    def to_dict(self) -> dict[str, list[dict[str, object]]]:
        """Return the `score --json` contract: {"people": [...]}, None for what cannot be had."""
        return {"people": [score.to_dict() for score in self.people]}

    def summary(self) -> pd.DataFrame:
        """Return one row a person with the main figures; NaN for what cannot be had."""
        c = self.columns
        frame = {"person": list(self.names), "instrument": list(self.instruments)}
        whole = ("readings", "used", "misreads")
        numbers = {name: c[column] for name, column in SUMMARY.items()}
        counted = {name: c[name].astype(np.int64) for name in whole}
        return pd.DataFrame(frame | counted | numbers)


SUMMARY = {
    "misread_rate": "misread_rate",
    "misread_low": "misread_low",
    "misread_high": "misread_high",
    "bias_tenths": "bias",
    "bias_low": "bias_low",
    "bias_high": "bias_high",
    "spread_tenths": "sd",
    "spread_low": "sd_low",
    "spread_high": "sd_high",
    "rms_tenths": "rms",
    "within_one_tenth": "within",
    "digit_z": "digit_z",
    "digit_p": "digit_p",
    "drift_slope_tenths_per_100": "drift_slope",
    "drift_p": "drift_p",
    "u_reading_tenths": "u",
    "u_reading_df": "u_df",
}


def score_people(
    answers: pd.DataFrame, *, instrument: str | None = None, by_instrument: bool = False
) -> PeopleScores:
    """Score every person in a table of answers.

    `answers` has columns person, truth_tenths, answer_tenths and optionally session, item, at, instrument,
    drill, outcome. Rows without an answer are counted, not scored; infinite or missing numbers likewise.
    `instrument` keeps its rows only, or names the instrument where the table does not. Raises
    `UnscorableAnswers` for a missing column, a person with two instruments (unless `by_instrument`) or
    an unnamed person.
    """
    return _scored(population(answers, instrument, by_instrument=by_instrument))


def score_readings(
    truth_tenths: Floats, answer_tenths: Floats, *, person: str = "one reader", instrument: str | None = None
) -> PersonScore:
    """Score the readings of one person, in the order in which they were made."""
    frame = pd.DataFrame(
        {
            "person": person,
            "truth_tenths": np.asarray(truth_tenths, float),
            "answer_tenths": np.asarray(answer_tenths, float),
        }
    )
    if frame.empty:
        raise UnscorableAnswers("there are no readings to score")
    return score_people(frame, instrument=instrument).people[0]


def _scored(group: Population) -> PeopleScores:
    people = len(group.names)
    with np.errstate(all="ignore"):  # what cannot be had is NaN here and None in every view
        flagged, by_kind, error = misread_rows(group)
        columns = _counts(group, by_kind) | {"sd_all": _spread_of_all(group, error)}
        columns |= _used_columns(group, ~flagged, error, people)
    return PeopleScores(group.names, group.instruments, columns)


def _counts(group: Population, by_kind: NDArray[np.int64]) -> Columns:
    people = len(group.names)
    readings = np.bincount(group.person, minlength=people).astype(float)
    misreads = by_kind.sum(axis=1).astype(float)
    low, high = clopper_pearson(misreads, readings)
    return {
        "readings": readings,
        "used": readings - misreads,
        "misreads": misreads,
        "by_kind": by_kind.astype(float),
        "misread_rate": np.where(readings > 0, misreads / np.maximum(readings, 1), np.nan),
        "misread_low": low,
        "misread_high": high,
        "skipped": group.skipped.astype(float),
        "timed_out": group.timed_out.astype(float),
        "unusable": group.unusable.astype(float),
        "repeated": group.repeated.astype(float),
    }


def _spread_of_all(group: Population, error: Floats) -> Floats:
    """Return the standard deviation of all errors of each person, misreads among them."""
    people = len(group.names)
    n = np.bincount(group.person, minlength=people).astype(float)
    mean = np.bincount(group.person, weights=error, minlength=people) / n
    squares = np.bincount(group.person, weights=(error - mean[group.person]) ** 2, minlength=people)
    return np.asarray(np.sqrt(np.where(n > 1, squares / (n - 1), np.nan)))


def _used_columns(group: Population, used: Bools, error: Floats, people: int) -> Columns:
    """Return the columns computed of the readings that are not misreads."""
    error, person = error[used], group.person[used]
    inside = within_division(group.truth[used])
    counts = np.bincount(person, minlength=people)
    starts = np.cumsum(counts) - counts
    clipped = _clipped_people(group, used, error + inside, person, people)

    def one(people_of_stack: Ints) -> tuple[Ints, Columns]:
        return people_of_stack, _stack_columns(
            stack(people_of_stack, error, inside, starts, counts), clipped[people_of_stack]
        )

    with ThreadPoolExecutor(min(4, cpu_count() or 1)) as pool:  # numpy lets threads run side by side
        columns = _merged(list(pool.map(one, stacked(counts))), people)
    columns["clipped"] = (clipped & (group.tenths_drill is not None)).astype(float)
    columns |= sitting_columns(error, group.order[used], person, group.sitting[used], people)
    return columns


def _stack_columns(part: Stack, clipped: Bools) -> Columns:
    with np.errstate(all="ignore"):  # a thread has its own setting
        columns = central(part) | digit_columns(part, clipped)
        return columns | split_columns(part.n.astype(float), columns) | _profile_ends(columns)


def _clipped_people(group: Population, used: Bools, relative: Floats, person: Ints, people: int) -> Bools:
    """Return whose answers cannot leave their pair of lines: as recorded, else as the answers show."""
    if group.tenths_drill is not None:
        free = np.bincount(person, weights=~group.tenths_drill[used], minlength=people)
    else:
        free = np.bincount(
            person, weights=(relative < -HAIR_TENTHS) | (relative > 10 + HAIR_TENTHS), minlength=people
        )
    return np.asarray(free == 0, bool)


def _profile_ends(columns: Columns) -> Columns:
    """Return Student's interval of the mean error in every tenth, from that tenth's own readings."""
    n = columns["tenth_n"]
    variance = columns["tenth_squares"] / np.maximum(n - 1, 1)
    low, high = mean_t(columns["tenth_mean"], variance, n, n - 1)
    return {"tenth_low": low, "tenth_high": high}


def _merged(parts: list[tuple[Ints, Columns]], people: int) -> Columns:
    """Return the columns of all stacks, put back into the order of people; NaN for people in none."""
    if not parts:  # a stack of one reading tells which columns there are
        nothing = np.zeros((1, 1))
        example = _stack_columns(Stack(np.array([0]), np.array([1]), nothing, nothing), np.array([False]))
        parts = [(np.zeros(0, np.int64), {name: column[:0] for name, column in example.items()})]
    merged: Columns = {}
    for name, first in parts[0][1].items():
        column = np.full((people, *first.shape[1:]), 0.0 if name in COUNTS else np.nan)
        for who, columns in parts:
            column[who] = columns[name]
        merged[name] = column
    return merged
