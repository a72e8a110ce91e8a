"""Printed sheets: their numbers survive copying, their answers are read as any other."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.practice import sheets
from trainer.practice.sheets import LETTERS, UnusableSheet, check_letter, checked_number, make, read_answers

AT = "2031-03-04T08:00:00.000+00:00"
BODIES = st.text(alphabet=LETTERS, min_size=6, max_size=6)


@settings(max_examples=60, deadline=None)
@given(BODIES, st.integers(0, 6), st.sampled_from(LETTERS))
def test_one_wrong_letter_shows(body, place, letter):
    number = body + check_letter(body)
    wrong = number[:place] + letter + number[place + 1 :]
    if wrong == number:
        assert checked_number(wrong).replace("-", "") == number
    else:
        with pytest.raises(UnusableSheet, match="slip"):
            checked_number(wrong)


@settings(max_examples=60, deadline=None)
@given(BODIES, st.integers(0, 4))
def test_two_swapped_neighbours_show(body, place):
    swapped = body[:place] + body[place + 1] + body[place] + body[place + 2 :]
    if swapped != body:
        with pytest.raises(UnusableSheet, match="slip"):
            checked_number(swapped + check_letter(body))


def test_a_number_is_read_with_or_without_hyphen_and_case():
    sheet = make("metric", 20, np.random.default_rng(1))
    assert checked_number(sheet.number.lower().replace("-", " ")) == sheet.number
    with pytest.raises(UnusableSheet, match="no sheet number"):
        checked_number("ABC")


def test_a_sheet_is_dealt_as_a_drill_is_and_survives_the_archive():
    sheet = make("inch", 20, np.random.default_rng(2))
    tenths = [int(item.position_tenths % 10) for item in sheet.items]
    assert [tenths.count(tenth) for tenth in range(10)] == [2] * 10
    assert sheets.Sheet.from_dict(sheet.to_dict()) == sheet
    assert make("inch", 20, np.random.default_rng(2)) == sheet
    with pytest.raises(UnusableSheet, match="12 to 40"):
        make("inch", 50, np.random.default_rng(2))


@pytest.mark.parametrize("dash", ["-", "–", "—", "−", " ", "SKIP"])
def test_whatever_dash_an_editor_makes_is_a_reading_skipped(dash):
    sheet = make("metric", 12, np.random.default_rng(5))
    assert {a.outcome for a in read_answers(sheet, [dash] * 12, AT)} == {"skipped"}


def test_answers_are_read_in_order_and_skips_kept():
    sheet = make("metric", 12, np.random.default_rng(3))
    texts = ["7,384", "", "-", *["1.5"] * 9]
    answers = read_answers(sheet, texts, AT)
    assert [a.outcome for a in answers[:4]] == ["answered", "skipped", "skipped", "answered"]
    assert answers[0].answer_tenths == 7384.0
    with pytest.raises(UnusableSheet, match="has 12 readings, but 11"):
        read_answers(sheet, texts[:-1], AT)
    with pytest.raises(UnusableSheet, match="reading 12: 'x' is not a"):
        read_answers(sheet, [*texts[:-1], "x"], AT)
