"""Comparing people on one instrument: from a table of answers to precision, screening and pairs.

Terms are those of ISO 5725-2:1994, with a person in the place of a laboratory.
"""

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.instrument.refusal import Refusal
from trainer.scoring.consistency import (
    Screening,
    cochran,
    grubbs,
    grubbs_pair,
    h_critical,
    h_values,
    k_critical,
    k_values,
)
from trainer.scoring.errors import Floats, or_none
from trainer.scoring.intervals import Interval
from trainer.scoring.pairs import PairComparison, sides
from trainer.scoring.pairs import compare as compare_sides
from trainer.scoring.precision import Precision, of_statistics
from trainer.scoring.table import PeopleScores, score_people

if TYPE_CHECKING:
    import pandas as pd

FEWEST_FOR_SCREENING = 3


class UnusableComparison(Refusal):
    """The answers do not allow the comparison asked for."""


@dataclass(frozen=True, slots=True)
class ComparedPerson:
    """One person beside the others; `h` and `k` are Mandel's statistics, in deviations and as a ratio."""

    person: str
    used: int
    misreads: int
    bias_tenths: Interval
    spread_tenths: Interval
    h: float | None
    k: float | None
    finding: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everybody's biases and spreads side by side; misreads are set apart and counted."""

    instrument: str | None
    people: tuple[ComparedPerson, ...]
    precision: Precision
    screenings: tuple[Screening, ...]
    critical: dict[str, float | None]
    reasons: dict[str, str]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the values by name, ready for JSON."""
        return {
            "instrument": self.instrument,
            "people": [asdict(person) for person in self.people],
            "precision": self.precision.to_dict(),
            "screenings": [self._named(s) for s in self.screenings],
            "critical": dict(self.critical),
            "reasons": dict(self.reasons),
            "notes": list(self.notes),
        }

    def summary(self) -> "pd.DataFrame":
        """Return one row a person."""
        import pandas as pd

        rows = [
            (p.used, p.misreads, p.bias_tenths.value, p.bias_tenths.low, p.bias_tenths.high,
             p.spread_tenths.value, p.spread_tenths.low, p.spread_tenths.high, p.h, p.k, p.finding)
            for p in self.people
        ]  # fmt: skip
        columns = ["used", "misreads", "bias_tenths", "bias_low", "bias_high", "spread_tenths", "spread_low",
                   "spread_high", "h", "k", "finding"]  # fmt: skip
        index = pd.Index([p.person for p in self.people], name="person")
        return pd.DataFrame(rows, columns=columns, index=index, dtype=object)

    def _named(self, screening: Screening) -> dict[str, Any]:
        return screening.to_dict() | {"person": self._taking_part()[screening.which].person}

    def _taking_part(self) -> list[ComparedPerson]:
        return [p for p in self.people if p.used > 1]


def compare_people(answers: "pd.DataFrame", *, instrument: str | None = None) -> Comparison:
    """Compare everybody in a table of answers (columns as for `score_people`) on one instrument.

    Raises UnusableComparison when two instruments are mixed or fewer than two people have readings.
    """
    scores = score_people(answers, instrument=instrument)
    which = _one_instrument(scores)
    c = scores.columns
    used = c["used"].astype(np.int64)
    taking_part = np.flatnonzero(used > 0)
    if len(taking_part) < 2:
        told = "1 person has" if len(taking_part) == 1 else "nobody has"
        raise UnusableComparison(f"{told} readings left; a comparison needs at least 2 people")
    precision = of_statistics(
        used[taking_part], c["bias"][taking_part], np.nan_to_num(c["sd"][taking_part]) ** 2
    )
    shown = np.flatnonzero(used > 1)
    means, sds = c["bias"][shown], c["sd"][shown]
    reasons: dict[str, str] = {}
    h, k, critical = _mandel(means, sds, used[shown], reasons)
    people = _people(scores, used, dict(zip(shown.tolist(), zip(h, k, strict=True), strict=True)), critical)
    screenings = _screen(means, sds, used[shown], reasons)
    return Comparison(
        which, people, precision, screenings, critical, reasons, _notes(scores, shown, critical)
    )


def compare_pair(
    answers: "pd.DataFrame", first: str, second: str, *, instrument: str | None = None
) -> PairComparison:
    """Compare two people on one instrument: second less, or over, the first."""
    if first == second:
        raise UnusableComparison(f"{first} was named twice; name two people")
    frame = _rows_of(answers, first, second)
    scores = score_people(frame, instrument=instrument)
    _one_instrument(scores)
    return _sides_compared(scores, first, second)


def before_and_after(
    answers: "pd.DataFrame", person: str, since: str, *, instrument: str | None = None
) -> PairComparison:
    """Compare one person's readings before a time with those from it on (ISO 8601; needs the column `at`)."""
    import pandas as pd

    frame = _rows_of(answers, person)
    if "at" not in frame.columns or frame["at"].isna().all():
        raise UnusableComparison(
            f"the readings of {person} carry no time (column at); before and after are unknown"
        )
    start = pd.to_datetime(since, errors="coerce", utc=True, format="ISO8601")
    if pd.isna(start):
        raise UnusableComparison(f'"{since}" is not a date; write it as 2026-03-01')
    times = pd.to_datetime(frame["at"], errors="coerce", utc=True, format="ISO8601")
    if times.isna().any():
        raise UnusableComparison(
            f"a reading of {person} has no readable time; write times as 2026-03-01T09:30:00Z"
        )
    names = (f"{person} before", f"{person} after")
    labels = pd.Series(np.where(times < start, *names), index=frame.index)
    for name, word in zip(names, ("before", "from"), strict=True):
        if not (labels == name).any():
            raise UnusableComparison(f"{person} has no readings {word} {since}; choose another date")
    scores = score_people(frame.assign(person=labels), instrument=instrument)
    _one_instrument(scores)
    return _sides_compared(scores, *names)


def _rows_of(answers: "pd.DataFrame", *names: str) -> "pd.DataFrame":
    """Return the rows of the people named; refuse a name without any."""
    if "person" not in answers.columns:
        raise UnusableComparison('the answers have no column "person"; nobody can be told apart')
    person = answers["person"].astype(str)
    for name in names:
        if not (person == name).any():
            known = ", ".join(sorted(person[answers["person"].notna()].unique())[:8])
            raise UnusableComparison(f'nobody is named "{name}"; the answers are by {known}')
    return answers[person.isin(names)]


def _one_instrument(scores: PeopleScores) -> str | None:
    kinds = sorted({str(name) for name in scores.instruments if name is not None})
    if len(kinds) > 1 or (kinds and None in scores.instruments):
        listed = ", ".join(kinds) + (" and one not named" if None in scores.instruments else "")
        raise UnusableComparison(
            f"the answers are on different instruments ({listed}); choose one with --instrument"
        )
    return kinds[0] if kinds else None


def _sides_compared(scores: PeopleScores, first: str, second: str) -> PairComparison:
    known = sides(scores)
    a, b = (known[scores.names.index(name)] for name in (first, second))
    return compare_sides(a, b)


def _mandel(
    means: Floats, sds: Floats, counts: Any, reasons: dict[str, str]
) -> tuple[tuple[float | None, ...], tuple[float | None, ...], dict[str, float | None]]:
    """Return h and k of each person, and the critical values at 5 % and 1 %."""
    nothing: tuple[float | None, ...] = (None,) * len(means)
    critical: dict[str, float | None] = dict.fromkeys(("h_5", "h_1", "k_5", "k_1"))
    if len(means) < FEWEST_FOR_SCREENING:
        who = "1 person" if len(means) == 1 else f"{len(means)} people"
        reasons["screening"] = f"{who} with 2 or more readings; screening needs {FEWEST_FOR_SCREENING}"
        return nothing, nothing, critical
    h, k = nothing, nothing
    if np.ptp(means) > 0:
        h = h_values(means.tolist())
        critical |= {"h_5": h_critical(len(means), 0.05), "h_1": h_critical(len(means), 0.01)}
    else:
        reasons["h"] = "every bias is the same"
    if sds.max() > 0:
        k = k_values(sds.tolist())
        usual = _usual(counts)
        critical |= {"k_5": k_critical(len(sds), usual, 0.05), "k_1": k_critical(len(sds), usual, 0.01)}
    else:
        reasons["k"] = "nobody's readings vary"
    return h, k, critical


def _usual(counts: Any) -> int:
    """Return the number of readings that the tests take for everybody: the lower median, at least 2."""
    return max(2, int(np.sort(counts)[(len(counts) - 1) // 2]))


def _screen(means: Floats, sds: Floats, counts: Any, reasons: dict[str, str]) -> tuple[Screening, ...]:
    done: list[Screening] = []
    if len(means) < FEWEST_FOR_SCREENING:
        return ()
    if sds.max() > 0:
        done.append(cochran(sds.tolist(), _usual(counts)))
    if np.ptp(means) > 0:
        done.append(grubbs(means.tolist()))
        if len(means) > FEWEST_FOR_SCREENING:
            done += [grubbs_pair(means.tolist(), low=low) for low in (True, False)]
        else:
            reasons["grubbs_pair"] = "the test for a pair of odd people needs 4 people"
    return tuple(done)


def _people(
    scores: PeopleScores,
    used: Any,
    mandel: dict[int, tuple[float | None, float | None]],
    critical: dict[str, float | None],
) -> tuple[ComparedPerson, ...]:
    c = scores.columns

    def three(row: int, *names: str) -> Interval:
        return Interval(*(or_none(c[name][row]) for name in names))

    people = []
    for row, name in enumerate(scores.names):
        h, k = mandel.get(row, (None, None))
        people.append(
            ComparedPerson(
                name, int(used[row]), int(c["misreads"][row]),
                three(row, "bias", "bias_low", "bias_high"), three(row, "sd", "sd_low", "sd_high"),
                h, k, _finding(h, k, critical),
            )
        )  # fmt: skip
    return tuple(people)


def _finding(h: float | None, k: float | None, critical: dict[str, float | None]) -> str:
    """Return what stands out about a person, in words."""
    words = []
    for value, name, what in ((h, "h", "bias"), (k, "k", "spread")):
        one, five = critical[f"{name}_1"], critical[f"{name}_5"]
        if value is None or one is None or five is None:
            continue
        if abs(value) > one:
            words.append(f"{what} stands out (1 %)")
        elif abs(value) > five:
            words.append(f"{what} is unusual (5 %)")
    return "; ".join(words)


def _notes(scores: PeopleScores, shown: Any, critical: dict[str, float | None]) -> tuple[str, ...]:
    notes = []
    used = scores.columns["used"].astype(np.int64)
    left_out = len(used) - len(shown)
    if (scores.columns["sessions"][shown] < 2).any():
        notes.append("some people have one session; shifts from day to day count as spread between people")
    if left_out:
        told = (
            "1 person with fewer than 2 readings is"
            if left_out == 1
            else (f"{left_out} people with fewer than 2 readings are")
        )
        notes.append(f"{told} not screened")
    if critical["k_5"] is not None:
        if len(set(used[shown].tolist())) > 1:
            notes.append(
                f"people have unequal numbers of readings; k and Cochran take {_usual(used[shown])} for all"
            )
        notes.append(
            "k and Cochran suppose normal errors; habits and heavy tails can make them give false alarms"
        )
    return tuple(notes)
