"""Tallies are the sums of the answers, whoever adds them up, and can be added to each other."""

from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.records.conftest import HEADER, PLAN, answer
from trainer.records import tally
from trainer.records.archive import Archive

END = "2026-03-02T10:00:00Z"


def fill(archive: Archive, name: str, rng: np.random.Generator, sessions: int = 3, end: bool = True) -> None:
    """Give a person sessions with errors of all sizes, skipped items and one unanswered item each."""
    archive.add_person(name)
    for _ in range(sessions):
        truth = rng.uniform(0, 25_000, 30)
        items = [{"number": n, "position_tenths": t, "asks": "x"} for n, t in enumerate(truth, 1)]
        session = archive.begin_session(name, PLAN, items, HEADER)
        for n, t in enumerate(truth[:-1], 1):
            if n % 10 == 0:
                archive.save_answer(session, answer(n, None, answer_tenths=None, outcome="skipped"))
            else:
                error = rng.normal(0.3, 0.8) + (100 if n % 13 == 0 else 0)
                archive.save_answer(session, answer(n, float(np.rint(t + error))))
        if end:
            archive.end_session(session, "finished", END)


@pytest.mark.parametrize("end", [True, False])
def test_a_team_view_is_what_the_answers_give(
    archive: Archive, chance: np.random.Generator, end: bool
) -> None:
    """Judge: numpy on the exported answers."""
    fill(archive, "Ana", chance, end=end)
    fill(archive, "Bo", chance, end=end)
    archive.add_person("Cy")
    frame = archive.answers()
    for row in archive.team().to_dict("records")[:2]:
        own = frame[(frame["person"] == row["person"]) & (frame["outcome"] == "answered")]
        error = (own["answer_tenths"] - own["truth_tenths"]).to_numpy()
        near = error[np.abs(error) <= tally.FAR_TENTHS]
        assert (row["sessions"], row["answers"], row["answered"], row["skipped"]) == (3, 87, len(own), 6)
        assert row["far"] == len(error) - len(near) == 6
        assert row["bias_tenths"] == pytest.approx(near.mean(), abs=1e-9)
        assert row["spread_tenths"] == pytest.approx(near.std(ddof=1), abs=1e-9)
    assert np.isnan(archive.team()["bias_tenths"].iloc[2])


def test_digits_and_tenths_are_counted(archive: Archive, chance: np.random.Generator) -> None:
    fill(archive, "Ana", chance)
    frame = archive.answers()
    own = frame[frame["outcome"] == "answered"]
    with archive.store.read() as connection:
        (row,) = tally.people_rows(connection)
    digits = np.bincount(np.floor(own["answer_tenths"] + 0.5).astype(int) % 10, minlength=10)
    assert [row[name] for name in tally.BY_DIGIT] == digits.tolist()
    error = own["answer_tenths"] - own["truth_tenths"]
    near = error.abs() <= tally.FAR_TENTHS
    tenth = np.floor(own["truth_tenths"]).astype(int) % 10
    assert [row[name] for name in tally.BY_TENTH] == np.bincount(tenth[near], minlength=10).tolist()
    sums = np.bincount(tenth[near], weights=error[near], minlength=10)
    np.testing.assert_allclose([row[name] for name in tally.ERROR_BY_TENTH], sums, atol=1e-9)


def test_the_tally_of_one_person_is_their_row_of_all(archive: Archive, chance: np.random.Generator) -> None:
    for name in ("Ana", "Bo"):
        fill(archive, name, chance)
    with archive.store.read() as connection:
        every = tally.people_rows(connection)
        assert [row["person"] for row in every] == ["Ana", "Bo"]
        assert tally.people_rows(connection, person="bo") == every[1:]
        counts = (*tally.BY_DIGIT, *tally.BY_TENTH)
        assert {type(row[name]) for row in every for name in counts} == {int}


def test_people_come_in_pages_without_a_gap(archive: Archive) -> None:
    names = sorted(f"Person {n:02d}" for n in range(7))
    archive.add_people(reversed(names))
    found: list[str] = []
    after = ""
    with archive.store.read() as connection:
        while page := tally.people_rows(connection, after=after, limit=3):
            found.extend(row["person"] for row in page)
            after = page[-1]["key"]
    assert found == names


def test_a_sitting_beside_the_index_counts_to_digit_zero(archive: Archive) -> None:
    """A truth a little below zero (a zero error) and an answer of half a tenth have a digit as well."""
    archive.add_person("Ana")
    items = [
        {"number": 1, "position_tenths": -0.4, "asks": "x"},
        {"number": 2, "position_tenths": 9.7, "asks": "x"},
    ]
    session = archive.begin_session("Ana", PLAN, items, HEADER)
    archive.save_answer(session, answer(1, -0.4))
    archive.save_answer(session, answer(2, 9.5))
    with archive.store.read() as connection:
        (row,) = tally.people_rows(connection)
    assert (row["digit_0"], row["tenth_9"]) == (2, 2)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.tuples(st.floats(-4, 4), st.floats(0, 25_000)), min_size=2, max_size=40), st.integers(1, 39)
)
def test_tallies_add_up(rows: list[tuple[float, float]], cut: int) -> None:
    """The moments of the sum of two tallies are those of all answers together."""

    def tallied(part: list[tuple[float, float]]) -> dict[str, Any]:
        errors = [error for error, _ in part]
        return {"near": len(part), "sum_error": sum(errors), "sum_square": sum(e * e for e in errors)}

    one, two = tallied(rows[:cut]), tallied(rows[cut:])
    bias, spread = tally.moments({key: one[key] + two[key] for key in one})
    errors = np.array([error for error, _ in rows])
    assert bias == pytest.approx(errors.mean(), abs=1e-9)
    assert spread == pytest.approx(errors.std(ddof=1), abs=1e-6)
