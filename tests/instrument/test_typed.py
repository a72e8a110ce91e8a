"""Typed text: every accepted form, and a sentence for each refused one."""

import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.instrument import catalogue, typed

METRIC, INCH = catalogue.load("metric"), catalogue.load("inch")


@pytest.mark.parametrize(
    ("text", "position_tenths"),
    [
        ("7.384", 7384.0),
        ("7,384", 7384.0),
        ("  7.384  ", 7384.0),
        ("7.384 mm", 7384.0),
        ("7.384mm", 7384.0),
        ("7,384\u00a0mm", 7384.0),
        ("\u20097.384", 7384.0),
        (".384", 384.0),
        ("7.", 7000.0),
        ("+7.3842", 7384.2),
        ("−0.002", -2.0),
        ("70.384", 70384.0),  # outside the travel: a slip to be counted
    ],
)
def test_metric_texts(text, position_tenths):
    assert typed.reading(text, METRIC) == position_tenths


@pytest.mark.parametrize("text", [".3127", "0.3127 in", '0,3127"', "0.3127 Inch", "0.3127″"])
def test_inch_texts(text):
    assert typed.reading(text, INCH) == 3127.0


def test_larger_ranges_count_from_their_own_zero():
    assert typed.reading("32.384", catalogue.load("metric-25-50")) == 7384.0
    assert typed.reading("1.3127", catalogue.load("inch-1-2")) == 3127.0


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "nothing was typed"),
        ("   ", "nothing was typed"),
        ("1,234.5", "more than one decimal sign"),
        ("7 384", "a space between digits"),
        ("seven", "unit"),
        ("7.3e2", "unit"),
        ("7.384 um", "not a unit"),
        ("0.3127 in", "in inches, but this instrument reads in millimetres"),
        (".", "has no digits"),
        ("7..3", "more than one decimal sign"),
        ("--7", "a sign in the wrong place"),
        ("5-", "a sign in the wrong place"),
        ("٧.٣", "not a number"),
        ("7.3½", "not a number"),
        ("9999999", "larger than any reading"),
        ("1" * 41, "41 characters"),
        ("nan", "not a unit"),
        ("7.3\x00", "not a number"),
    ],
)
def test_refusals_say_why(text, why):
    with pytest.raises(typed.UnreadableAnswer, match=why):
        typed.reading(text, METRIC)


@pytest.mark.parametrize(("text", "halves", "value"), [("7", False, 7), ("0", False, 0), ("7,5", True, 7.5)])
def test_tenths(text, halves, value):
    assert typed.tenths(text, halves=halves) == value


@pytest.mark.parametrize(("text", "halves"), [("7.5", False), ("11", False), ("-1", True), ("7.25", True)])
def test_tenths_refused(text, halves):
    with pytest.raises(typed.UnreadableAnswer, match="tenths from 0 to 10"):
        typed.tenths(text, halves=halves)


def test_halves_are_taken_only_where_they_are_asked_for_and_the_refusal_says_which():
    with pytest.raises(typed.UnreadableAnswer, match="whole tenths from 0 to 10"):
        typed.tenths("7.5")
    with pytest.raises(typed.UnreadableAnswer, match="tenths from 0 to 10, halves allowed"):
        typed.tenths("7.25", halves=True)


def test_the_longest_text_and_the_largest_number_are_still_read():
    assert typed.reading("7.384".ljust(40), METRIC) == 7384.0
    assert typed.number("1000000") == 10**6
    with pytest.raises(typed.UnreadableAnswer, match="larger than any reading"):
        typed.number("1000000.1")


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(catalogue.names()), st.integers(0, 250_000))
def test_what_is_printed_is_read_back(name, hundredths):
    micrometer = catalogue.load(name)
    position_tenths = hundredths / 10
    text = micrometer.format_reading(position_tenths)
    assert typed.reading(text, micrometer) == pytest.approx(position_tenths, abs=1e-9)
    assert typed.reading(text.replace(".", ","), micrometer) == pytest.approx(position_tenths, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=50) | st.from_regex(r"\A[+−-]?[0-9]{0,7}[.,]{0,2}[0-9 ]{0,4} ?(mm|in|″|m)?\Z"))
def test_any_text_is_a_number_or_a_sentence(text):
    try:
        position_tenths = typed.reading(text, METRIC)
    except typed.UnreadableAnswer as refusal:
        sentence = str(refusal)
    else:
        assert Decimal(position_tenths).is_finite()
        return
    assert re.search(r"\w+ \w+ \w+", sentence)
    assert "\n" not in sentence
