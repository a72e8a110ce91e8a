"""Answers of many people as arrays: read from a DataFrame, sorted by person and session, misreads told."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trainer.scoring.errors import Floats, UnscorableAnswers, within_division
from trainer.scoring.misreads import KINDS, Signatures, is_misread, kinds, signatures
from trainer.scoring.stacks import Bools, Ints

NEEDED = ("person", "truth_tenths", "answer_tenths")


@dataclass(frozen=True, eq=False)
class Population:
    """Answered readings, sorted by person and session; `names[i]` and `instruments[i]` belong to person i."""

    names: tuple[str, ...]
    instruments: tuple[str | None, ...]
    person: Ints
    sitting: Ints
    order: Ints
    truth: Floats
    answer: Floats
    seconds: Floats | None
    tenths_drill: Bools | None  # whether answers could not leave their pair of lines; None where not recorded
    skipped: Ints
    timed_out: Ints
    unusable: Ints
    repeated: Ints


def population(answers: pd.DataFrame, instrument: str | None, *, by_instrument: bool = False) -> Population:
    """Return the answers as arrays; refuse what cannot be grouped.

    `instrument` keeps only its rows (or names the instrument where no column does). A person with two
    instruments is refused unless `by_instrument` makes a group of each.
    """
    for name in NEEDED:
        if name not in answers.columns:
            raise UnscorableAnswers(f"the answers have no column {name!r}; needed are {', '.join(NEEDED)}")
    answers = _of_instrument(answers, instrument)
    codes, names, instruments = _groups(answers, instrument, by_instrument=by_instrument)
    truth, answer = _numbers(answers, "truth_tenths"), _numbers(answers, "answer_tenths")
    answered, skipped, timed_out = _outcomes(answers, answer)
    finite = np.isfinite(truth) & np.isfinite(answer)
    people = len(names)

    def count(rows: Bools) -> Ints:
        return np.bincount(codes[rows], minlength=people) if rows.any() else np.zeros(people, np.int64)

    order = _order(answers, codes)
    sorted_codes, sorted_sittings, place = _sittings(answers, codes, order)
    scored = answered & finite
    keep = scored if order is None else scored[order]

    def pick(values: NDArray[Any]) -> NDArray[Any]:
        values = values if order is None else values[order]
        return values if keep.all() else values[keep]

    whole = keep.all()
    drill = _clipped_rows(answers)
    seconds = _numbers(answers, "seconds") if "seconds" in answers.columns else None
    return Population(
        names=names,
        instruments=instruments,
        person=sorted_codes if whole else sorted_codes[keep],
        sitting=sorted_sittings if whole else sorted_sittings[keep],
        order=place if whole else place[keep],
        truth=np.asarray(pick(truth), float),
        answer=np.asarray(pick(answer), float),
        seconds=None if seconds is None else np.asarray(pick(seconds), float),
        tenths_drill=None if drill is None else np.asarray(pick(drill), bool),
        skipped=count(skipped),
        timed_out=count(timed_out),
        unusable=count(answered & ~finite),
        repeated=count(_repeated(answers, codes, truth, answer)),
    )


def _of_instrument(answers: pd.DataFrame, instrument: str | None) -> pd.DataFrame:
    if instrument is None or "instrument" not in answers.columns or answers["instrument"].isna().all():
        return answers
    rows = answers[answers["instrument"] == instrument]
    if rows.empty and not answers.empty:
        present = ", ".join(sorted(str(name) for name in answers["instrument"].dropna().unique()))
        raise UnscorableAnswers(f"no answers on instrument {instrument!r}; the answers are on {present}")
    return rows


def _groups(
    answers: pd.DataFrame, instrument: str | None, *, by_instrument: bool
) -> tuple[Ints, tuple[str, ...], tuple[str | None, ...]]:
    """Return each row's group number, and the groups' names and instruments, by first appearance."""
    codes, labels = pd.factorize(answers["person"])
    if (codes < 0).any():
        raise UnscorableAnswers(f"row {int(np.argmax(codes < 0)) + 1} of the answers names no person")
    codes = codes.astype(np.int64)
    names = tuple(str(label) for label in labels)
    if "instrument" not in answers.columns or answers["instrument"].isna().all():
        return codes, names, (instrument,) * len(names)
    tools, tool_labels = pd.factorize(answers["instrument"])
    if len(tool_labels) == 1 and (tools >= 0).all():
        return codes, names, (str(tool_labels[0]),) * len(names)
    both, pairs = pd.factorize(codes * (len(tool_labels) + 1) + tools + 1)
    owner, tool = np.divmod(pairs, len(tool_labels) + 1)
    if not by_instrument:
        _refuse_mixed(owner, tool, names, tool_labels)
    return (
        both.astype(np.int64),
        tuple(names[i] for i in owner),
        tuple(None if t == 0 else str(tool_labels[t - 1]) for t in tool),
    )


def _refuse_mixed(owner: Ints, tool: Ints, names: tuple[str, ...], labels: pd.Index) -> None:
    instruments_each = np.bincount(owner, minlength=len(names))
    if (instruments_each <= 1).all():
        return
    person = int(np.argmax(instruments_each > 1))
    mixed = ["none named" if t == 0 else str(labels[t - 1]) for t in tool[owner == person]]
    raise UnscorableAnswers(
        f"{names[person]} has answers on {len(mixed)} instruments ({', '.join(sorted(mixed))}), whose "
        "tenths are not the same; choose one with --instrument or score each apart with --by-instrument"
    )


def _numbers(answers: pd.DataFrame, column: str) -> Floats:
    try:
        return answers[column].to_numpy(dtype=float, na_value=np.nan)
    except (TypeError, ValueError) as fault:
        raise UnscorableAnswers(
            f"column {column!r} of the answers holds what is not a number: {fault}"
        ) from None


def _outcomes(answers: pd.DataFrame, answer: Floats) -> tuple[Bools, Bools, Bools]:
    """Return which rows are answered, skipped and timed out; without outcomes, no answer is a skip."""
    missing = np.isnan(answer)
    if "outcome" not in answers.columns:
        return ~missing, missing, np.zeros(len(missing), bool)
    codes, labels = pd.factorize(answers["outcome"])
    meaning = np.array(
        [_OUTCOME.get(str(label).strip(), 3) for label in labels] + [0]
    )  # -1 (empty) is the last
    outcome = meaning[codes]
    if (outcome == 3).any():
        odd = next(str(label) for label in labels if str(label).strip() not in _OUTCOME)
        raise UnscorableAnswers(f"outcome {odd!r} is none of answered, skipped, timed-out")
    skipped = (outcome == 1) | ((outcome == 0) & missing)
    return (outcome == 0) & ~missing, skipped, outcome == 2


_OUTCOME = {"answered": 0, "": 0, "skipped": 1, "timed-out": 2}


def _order(answers: pd.DataFrame, codes: Ints) -> Ints | None:
    """Return the order by person, session and place in it, or None where the rows already are so."""
    keys: list[NDArray[Any]] = [codes]
    if "session" in answers.columns:
        keys.append(pd.factorize(answers["session"])[0].astype(np.int64))
    place = _place_key(answers)
    if place is not None:
        keys.append(place)
    sorted_so_far, equal = np.ones(max(len(codes) - 1, 0), bool), np.ones(max(len(codes) - 1, 0), bool)
    for key in keys:
        sorted_so_far &= ~equal | (key[1:] >= key[:-1])
        equal &= key[1:] == key[:-1]
    if sorted_so_far.all():
        return None
    return np.lexsort(keys[::-1]) if len(keys) > 1 else np.argsort(codes, kind="stable")


def _place_key(answers: pd.DataFrame) -> NDArray[Any] | None:
    """Return what orders the readings of a session: `item`, else `at`, else None (as the rows stand)."""
    if "item" in answers.columns:
        items = pd.to_numeric(answers["item"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
        return None if np.isnan(items).any() else items
    if "at" in answers.columns:
        at = pd.to_datetime(answers["at"], errors="coerce", utc=True, format="ISO8601")
        return None if at.isna().any() else at.astype("int64").to_numpy()
    return None


def _sittings(answers: pd.DataFrame, codes: Ints, order: Ints | None) -> tuple[Ints, Ints, Ints]:
    """Return person, number of the sitting and place in it of each row in sorted order."""
    person = codes if order is None else codes[order]
    changes = np.r_[True, person[1:] != person[:-1]] if len(person) else np.zeros(0, bool)
    if "session" in answers.columns:
        session = pd.factorize(answers["session"])[0]
        session = session if order is None else session[order]
        changes[1:] |= session[1:] != session[:-1]
    sitting = np.cumsum(changes) - 1
    starts = np.flatnonzero(changes)
    return person, sitting, np.arange(len(person)) - starts[sitting]


CLIPPED = ("tenths", "estimate")  # what asks for tenths beyond a given line


def _clipped_rows(answers: pd.DataFrame) -> Bools | None:
    """Return which rows come from a question whose answers stay within the pair of lines, where recorded."""
    found: Bools | None = None
    for column in ("drill", "asks"):  # what an item asked tells more than the name of its drill
        if column not in answers.columns or answers[column].isna().all():
            continue
        codes, labels = pd.factorize(answers[column])
        said = np.array([str(label) != "" for label in labels] + [False])[codes]
        clipped = np.array([str(label) in CLIPPED for label in labels] + [False])[codes]
        found = np.asarray(clipped if found is None else np.where(said, clipped, found), bool)
    return found


def _repeated(answers: pd.DataFrame, codes: Ints, truth: Floats, answer: Floats) -> Bools:
    """Return which rows repeat an earlier one: person, truth, answer and, if given, session, item, time."""
    parts = [codes, truth.view(np.int64), answer.view(np.int64)]
    parts += [pd.factorize(answers[name])[0] for name in ("session", "item", "at") if name in answers.columns]
    mark = np.zeros(len(codes), np.uint64)
    for part in parts:  # 64 mixed bits: of ten million rows two are confused once in 400,000 files
        mark = (mark ^ part.astype(np.int64).view(np.uint64)) * np.uint64(0x9E3779B97F4A7C15)
        mark ^= mark >> np.uint64(29)
    ranked = np.sort(mark)  # the common case, no repetition at all, needs no more than this
    if (ranked[1:] != ranked[:-1]).all():
        return np.zeros(len(codes), bool)
    return np.asarray(pd.Series(mark).duplicated().to_numpy(), bool)


def misread_rows(group: Population) -> tuple[Bools, NDArray[np.int64], Floats]:
    """Return which readings are misreads, how many of each kind each person has, and all errors.

    The counts have shape (people, kinds).
    """
    error = group.answer - group.truth
    flagged = np.zeros(len(error), bool)
    counts = np.zeros((len(group.names), len(KINDS)), np.int64)
    for instrument in dict.fromkeys(group.instruments):
        rows = _rows_of(group, instrument)
        signature = signatures(instrument)
        wrong = is_misread(error[rows], within_division(group.truth[rows]), vernier=signature.vernier)
        flagged[rows] = wrong
        counts += _counted(group, rows, wrong, signature)
    return flagged, counts, error


def _rows_of(group: Population, instrument: str | None) -> slice | Bools:
    if len(set(group.instruments)) == 1:
        return slice(None)
    return np.array([name == instrument for name in group.instruments])[group.person]


def _counted(
    group: Population, rows: slice | Bools, wrong: Bools, signature: Signatures
) -> NDArray[np.int64]:
    people = len(group.names)
    if not wrong.any():
        return np.zeros((people, len(KINDS)), np.int64)
    code = kinds(group.truth[rows][wrong], group.answer[rows][wrong], signature)
    flat = group.person[rows][wrong] * len(KINDS) + code
    return np.bincount(flat, minlength=people * len(KINDS)).reshape(people, len(KINDS))
