"""Small, wrong and enormous data: a value or None with its reason, never NaN, a warning or an exception."""

import json

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.instrument.refusal import Refusal
from trainer.scoring.errors import UnscorableAnswers
from trainer.scoring.table import score_people, score_readings


def table(truth, answer, **columns):
    return pd.DataFrame({"person": "one", "truth_tenths": truth, "answer_tenths": answer} | columns)


def plain(score):
    return json.loads(json.dumps(score.to_dict(), allow_nan=False))


def test_one_reading_has_a_bias_and_nothing_else():
    score = score_readings([12.3], [12.0])
    assert score.bias_tenths.value == pytest.approx(-0.3)
    assert (score.bias_tenths.low, score.spread_tenths.value, score.u_reading.tenths) == (None, None, None)
    assert score.u_reading.df is None
    assert "two readings" in score.reasons["spread_tenths"]
    plain(score)


@pytest.mark.parametrize("n", [2, 5, 19])
def test_below_twenty_readings_a_spread_has_no_interval(n, chance):
    truth = 100 * chance.random(n)
    score = score_readings(truth, truth + chance.normal(0, 0.5, n))
    assert score.spread_tenths.value > 0
    assert score.spread_tenths.low is None
    assert score.reasons["spread_tenths interval"].endswith(f"there are {n}")
    assert score.u_reading.df <= n - 1
    assert score.provisional


def test_from_twenty_readings_on_it_has_one_and_from_fifty_it_is_firm(chance):
    for n, provisional in ((20, True), (49, True), (50, False)):
        truth = 10 * np.arange(n) + chance.random(n)
        score = score_readings(truth, np.rint(truth + 0.5 * chance.standard_normal(n)))
        assert score.spread_tenths.low < score.spread_tenths.value < score.spread_tenths.high
        assert score.provisional is provisional


def test_all_misreads_leave_only_their_rate():
    truth = np.arange(0.0, 300, 10) + 3.3
    score = score_readings(truth, truth + 500)
    assert (score.used, score.misreads.total, score.misread_rate.value) == (0, 30, 1.0)
    assert score.bias_tenths.value is None
    assert score.reasons["bias_tenths"] == "all 30 readings are misreads"
    assert score.cautions == ()  # nothing is said of a spread that there is not
    assert list(score.reasons) == sorted(score.reasons)  # told in the same order every time
    assert "misread_rate" not in score.reasons
    plain(score)


def test_equal_errors_have_no_intervals():
    truth = np.arange(100.0)
    score = score_readings(truth, truth)
    assert (score.bias_tenths.value, score.spread_tenths.value) == (0.0, 0.0)
    assert score.bias_tenths.low is None
    assert score.spread_tenths.high is None
    assert score.u_reading.tenths is None
    assert "every error is the same" in score.reasons["u_reading"]
    plain(score)


def test_errors_equal_but_for_binary_rounding_count_as_equal():
    truth = 7383.1 + 10 * np.arange(60)
    score = score_readings(truth, truth + 0.7)
    assert score.spread_tenths.value == 0.0
    assert score.spread_tenths.low is None


def test_the_same_answer_every_time_is_no_exception():
    written = plain(score_readings(np.arange(100.0), np.full(100, 5.0)))
    assert written["misreads"]["total"] == 89  # beyond 5 tenths on either side: all but 0 to 10
    assert written["digit_preference"]["counts"] == [0] * 5 + [11] + [0] * 4


def test_missing_and_infinite_numbers_are_counted_not_scored():
    score = score_people(table([1.0, np.inf, 3.0, np.nan, 5.0], [1.2, 2.0, np.nan, 4.0, -np.inf])).people[0]
    assert (score.readings, score.skipped, score.unusable) == (1, 1, 3)
    plain(score)


def test_nobody_answered():
    score = score_people(table([1.0, 2.0], [np.nan, np.nan])).people[0]
    assert (score.readings, score.skipped) == (0, 2)
    assert score.misread_rate.value is None
    assert score.reasons["misread_rate"] == "there is no answered reading"
    plain(score)


def test_an_empty_table_has_no_people():
    assert score_people(table([], [])).to_dict() == {"people": []}


def test_skipped_and_late_answers_are_set_apart_and_counted():
    outcome = ["answered", "skipped", "timed-out", "answered"]
    score = score_people(table([1.0, 2, 3, 4], [1.0, np.nan, 9.0, 4.4], outcome=outcome)).people[0]
    assert (score.readings, score.skipped, score.timed_out) == (2, 1, 1)
    assert score.bias_tenths.value == pytest.approx(0.2)


def test_an_unknown_outcome_is_refused():
    with pytest.raises(UnscorableAnswers, match="'guessed'"):
        score_people(table([1.0], [1.0], outcome=["guessed"]))


@pytest.mark.parametrize("size", [1e9, 1e15, 1e300, 1.7e308])
def test_enormous_values_are_misreads_or_measured_never_nan(size):
    truth = np.array([size, -size, size, 3.0, 5.5])
    score = score_readings(truth, np.array([-size, size, size, size, 5.0]))
    plain(score)
    assert score.misreads.total + score.used == score.readings
    assert score.misreads.total >= 2


def test_a_large_offset_does_not_spoil_small_errors(chance):
    inside = chance.random(200) * 10
    near, far = inside + 50, inside + 1e9
    noise = np.rint(inside + 0.6 * chance.standard_normal(200)) - inside
    a, b = score_readings(near, near + noise), score_readings(far, far + noise)
    assert b.spread_tenths.value == pytest.approx(a.spread_tenths.value, abs=1e-6)


def test_two_instruments_of_one_person_are_refused_with_a_sentence():
    mixed = table([1.0, 2.0], [1.0, 2.0], instrument=["metric", "inch"])
    with pytest.raises(Refusal) as refusal:
        score_people(mixed)
    text = str(refusal.value)
    assert "one has answers on 2 instruments (inch, metric)" in text
    assert "--by-instrument" in text


def test_two_instruments_can_be_scored_apart_or_one_chosen():
    mixed = table([1.0, 2.0, 3.0], [1.0, 2.0, 3.5], instrument=["metric", "inch", "inch"])
    both = score_people(mixed, by_instrument=True).people
    assert [(s.person, s.instrument, s.readings) for s in both] == [("one", "metric", 1), ("one", "inch", 2)]
    (chosen,) = score_people(mixed, instrument="inch").people
    assert (chosen.instrument, chosen.readings) == ("inch", 2)
    with pytest.raises(Refusal, match="no answers on instrument 'depth-inch'; .* on inch, metric"):
        score_people(mixed, instrument="depth-inch")


def test_different_people_may_use_different_instruments():
    rows = table([1.0, 2.0], [1.0, 2.0], instrument=["metric", "inch"]).assign(person=["a", "b"])
    assert [s.instrument for s in score_people(rows).people] == ["metric", "inch"]


def test_repeated_rows_are_reported():
    rows = table([1.0, 2.0, 2.0], [1.0, 2.0, 2.0], session=[1, 1, 1], item=[1, 2, 2])
    assert score_people(rows).people[0].repeated == 1
    assert score_people(rows.assign(item=[1, 2, 3])).people[0].repeated == 0
    assert score_people(rows.drop(columns=["item", "session"])).people[0].repeated == 1
    two = table([1.0, 2.0, 2.0], [1.0, 2.0, 2.0]).assign(person=["a", "a", "b"])
    assert [score.repeated for score in score_people(two).people] == [0, 0]


def test_a_missing_column_and_a_nameless_row_are_refused():
    with pytest.raises(Refusal, match="no column 'answer_tenths'"):
        score_people(pd.DataFrame({"person": ["a"], "truth_tenths": [1.0]}))
    nameless = table([1.0, 2.0], [1.0, 2.0]).assign(person=["a", None])
    with pytest.raises(Refusal, match="row 2 of the answers names no person"):
        score_people(nameless)


def test_reasons_say_what_is_the_case():
    scattered = table([1.2, 3.4, 5.6, 9.1], [1.0, 4.0, 6.0, 9.0], session=list("abcd"))
    assert (
        score_people(scattered).people[0].reasons["drift"].startswith("drift needs at least three readings")
    )
    alike = table([1.2, 3.4, 5.6, 7.8, 2.1], [1.2, 3.4, 5.6, 7.8, 2.1], session=1)
    assert "all the same" in score_people(alike).people[0].reasons["drift"]
    one = table([1.2], [900.0])
    assert score_people(one).people[0].reasons["bias_tenths"] == "the one reading is a misread"


def test_a_reason_stands_beside_each_value_that_there_is_not_and_beside_no_other(chance):
    truth = 10 * np.arange(60) + 10 * chance.random(60)
    fine = score_readings(truth, truth + chance.normal(0, 0.3, 60)).reasons
    assert fine["noise_tenths"] == fine["digit_preference"] == "answers are not in whole or half tenths"
    for n, told in ((20, None), (19, "an interval for the spread needs at least 20 readings; there are 19")):
        score = score_readings(truth[:n], np.rint(truth[:n] + chance.normal(0, 0.6, n)))
        assert score.reasons.get("spread_tenths interval") == told
        assert (score.spread_tenths.low is None) == (told is not None)
        assert ("mean_square_split" in score.reasons) == (score.mean_square_split.bias is None)
    alone = score_readings(truth[:1], np.rint(truth[:1])).reasons
    assert (
        alone["spread_tenths interval"] == "an interval for the spread needs at least 20 readings; there is 1"
    )
    assert alone["digit_preference"].endswith("there is 1")


def test_text_among_numbers_is_refused():
    with pytest.raises(Refusal, match="'answer_tenths'"):
        score_people(pd.DataFrame({"person": ["a"], "truth_tenths": [1.0], "answer_tenths": ["about 3"]}))


NUMBERS = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True),
    st.floats(-20, 20),
    st.integers(-10, 30).map(float),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from("ab"), NUMBERS, NUMBERS), max_size=70))
def test_no_input_gives_nan_a_warning_or_an_exception(rows):
    """Warnings are errors in this suite, so a warning would fail here too."""
    frame = pd.DataFrame(rows, columns=["person", "truth_tenths", "answer_tenths"])
    scores = score_people(frame)
    for score in scores.people:
        written = plain(score)
        value, low, high = (written["bias_tenths"][key] for key in ("value", "low", "high"))
        assert low is None or low <= value <= high
        missing = [key for key in ("bias_tenths", "spread_tenths", "rms_tenths") if written[key] is None]
        assert all(key in score.reasons for key in missing)
        for key, reason in (
            ("spread_tenths", written["spread_tenths"]["value"]),
            ("drift", written["drift"]["p_value"]),
        ):
            assert reason is not None or key in score.reasons
