"""Misreads: the fixed rule, the names of slips on each instrument, and what the rule costs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.instrument import catalogue
from trainer.scoring.errors import within_division
from trainer.scoring.misreads import KINDS, UNNAMED, is_misread, kinds, signatures
from trainer.scoring.simulated import SimulatedReader, slip, stratified_positions

METRIC, INCH, VERNIER = signatures("metric"), signatures("inch"), signatures("metric-vernier")


def name(truth, answer, signature):
    return KINDS[int(kinds([truth], [answer], signature)[0])]


def flagged(truth, answer, *, vernier=False):
    inside = within_division([truth])
    return bool(is_misread(np.array([answer - truth]), inside, vernier=vernier)[0])


@pytest.mark.parametrize(
    ("truth", "answer", "signature", "kind"),
    [
        (7383.6, 7394, METRIC, "graduation"),
        (7383.6, 7374, METRIC, "graduation"),
        (7383.6, 7884, METRIC, "half-millimetre"),  # 7.38 read 7.88: a half line that is not there yet
        (7883.6, 7384, METRIC, "half-millimetre"),  # 7.88 read 7.38: the half line overlooked
        (7383.6, 6884, METRIC, "turn"),  # 7.38 read 6.88: into the millimetre before
        (7883.6, 8384, METRIC, "turn"),
        (7383.6, 8384, METRIC, "turn"),  # a whole millimetre: two turns
        (2783.6, 3034, INCH, "turn"),  # 0.2784 read 0.3034: one line of 0.025 in
        (2783.6, 2534, INCH, "turn"),
        (7382.1, 7388, METRIC, "wrong-side"),
        (7389.0, 7381, METRIC, "wrong-side"),
        (7374.2, 7347, METRIC, "swapped-digits"),
        (7374.2, 7734, METRIC, "swapped-digits"),  # 7.374 read 7.734
        (7374.2, 73740, METRIC, "decimal-or-unit"),
        (7374.2, 737, METRIC, "decimal-or-unit"),
        (7374.2, 290.3, METRIC, "decimal-or-unit"),  # 7.374 mm as 0.2903 in
        (7374.2, 9911, METRIC, "unexplained"),
        (7376.0, 7372, VERNIER, "vernier-line"),
        (7373.0, 7377, VERNIER, "wrong-side"),
        (7383.6, 7633.6, UNNAMED, "turn"),  # no instrument named: turns of either kind
        (7383.6, 7883.6, UNNAMED, "turn"),
    ],
)
def test_a_slip_is_named_by_its_signature(truth, answer, signature, kind):
    assert flagged(truth, answer, vernier=signature.vernier)
    assert name(truth, answer, signature) == kind


def test_a_unit_slip_counts_the_base_of_the_instrument():
    """30.374 mm on a 25-50 mm micrometer taken for inches of a tenth of the size: 303.74."""
    high = signatures("metric-25-50")
    assert high.base_tenths == 25_000
    assert name(5374.2, 10 * (25_000 + 5374) - 25_000, high) == "decimal-or-unit"
    assert name(5374.2, 10 * (25_000 + 5374) - 25_000, METRIC) == "unexplained"


def test_digits_are_swapped_in_the_reading_and_not_in_the_position():
    """32.374 mm typed as 33.274 on a 25-50 mm micrometer; 7.374 and 8.274 have no digits exchanged."""
    high = signatures("metric-25-50")
    assert name(7374.2, 33_274 - 25_000, high) == "swapped-digits"
    assert name(7374.2, 8274.0, METRIC) == "unexplained"


def test_a_position_a_hair_below_a_graduation_stands_on_it():
    assert within_division([-1e-13, 9.999_999_999_9, 10.0, 20.0 - 1e-12]).tolist() == [0.0, 0.0, 0.0, 0.0]
    assert within_division([9.999_999]).tolist() == [9.999_999]


@pytest.mark.parametrize(
    ("error", "inside", "misread"),
    [
        (5.01, 5.0, True),  # more than half a division, wherever the line stands
        (-5.01, 5.0, True),
        (5.0, 9.0, False),
        (3.5, 4.0, False),  # not above 3.5
        (3.6, 4.0, True),  # counting from the wrong side would give 10 - 8 = 2, within 2.5
        (3.6, 7.0, False),  # would give -4
        (-4.0, 7.0, True),
        (-4.0, 2.0, False),
    ],
)
def test_the_fixed_rule(error, inside, misread):
    assert bool(is_misread(np.array([error]), np.array([inside]))[0]) is misread


def test_on_a_vernier_any_error_above_three_and_a_half_lines_is_a_misread():
    assert flagged(7376.0, 7380.0, vernier=True)
    assert not flagged(7376.0, 7373.0, vernier=True)


def test_every_instrument_of_the_catalogue_has_signatures():
    for instrument in catalogue.names():
        micrometer = catalogue.load(instrument)
        found = signatures(instrument)
        assert found.turn_tenths == micrometer.turn_tenths
        assert (found.millimetre_tenths is not None) == (micrometer.pitch_mm == 0.5)


def test_an_instrument_outside_the_catalogue_has_general_signatures():
    assert signatures("the old one in the tool room") == UNNAMED


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["graduation", "turn", "half-millimetre", "decimal-or-unit"]),
    st.floats(1000, 24_000),
    st.floats(-1.2, 1.2),
    st.sampled_from([-1.0, 1.0]),
)
def test_a_slip_put_in_is_found_and_never_unexplained(kind, truth, noise, sign):
    """Names may cross where two slips give the same answer, but a known slip has a name."""
    truth_, good = np.array([truth]), np.array([truth + noise])
    answer = slip(kind, good, truth_, np.array([sign]), METRIC)
    assert flagged(truth, float(answer[0]))
    assert name(truth, float(answer[0]), METRIC) != "unexplained"


def false_flags_per_thousand(reader, chance, readings=1_000_000):
    inside = 10 * (np.arange(readings) + chance.random(readings)) / readings
    error = reader.answers(inside, chance) - inside
    return 1000 * np.mean(is_misread(error, inside))


@pytest.mark.parametrize(
    ("reader", "expected", "within"),
    [
        # False flags per 1000 of the study behind the rule (design study); tolerance 5 SE of
        # a million readings or the rounding of the print, whichever is more.
        (SimulatedReader("good", sigma_tenths=0.6), 0.0, 0.005),
        (SimulatedReader("at the limit", sigma_tenths=0.957), 0.18, 0.08),
        (SimulatedReader("poor", sigma_tenths=1.5), 7.3, 0.45),
        (SimulatedReader("cyclic", sigma_tenths=0.6, exponent=0.75), 0.0, 0.03),
        (SimulatedReader("long tails", sigma_tenths=0.8, tails_df=4), 1.8, 0.25),
        (SimulatedReader("digit habit", sigma_tenths=0.6, pull=0.25), 0.0, 0.03),
    ],
    ids=lambda value: getattr(value, "name", None),
)
def test_good_readings_are_seldom_flagged(reader, expected, within, chance):
    assert false_flags_per_thousand(reader, chance) == pytest.approx(expected, abs=within)


def test_large_slips_are_always_found(chance):
    """Sensitivity 100 % for graduation and turn slips of a good reader (the same study)."""
    reader = SimulatedReader("slips", sigma_tenths=0.6, misread_rates={"graduation": 0.02, "turn": 0.02})
    truth = stratified_positions(50_000, chance)
    plain = SimulatedReader("none", sigma_tenths=0.6)
    seed = int(chance.integers(2**31))
    slipped = reader.answers(truth, np.random.default_rng(seed))
    honest = plain.answers(truth, np.random.default_rng(seed))
    was_slip = slipped != honest
    found = is_misread(slipped - truth, within_division(truth))
    assert was_slip.sum() > 1500
    assert found[was_slip].all()
    assert not found[~was_slip].any()


def test_counting_from_the_wrong_side_is_found_where_it_matters(chance):
    """93.5 to 100 % where the slip moves the reading by more than 5 tenths (the same study)."""
    inside = 10 * chance.random(40_000)
    good = np.rint(inside + 0.6 * chance.standard_normal(40_000))
    error = (10 - good) - inside
    far = np.abs(10 - 2 * inside) > 5
    assert np.mean(is_misread(error, inside)[far]) > 0.99
