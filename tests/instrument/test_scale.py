"""What the scales show, against worked readings of manuals and textbooks."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.instrument import catalogue, typed
from trainer.instrument.micrometer import Faults, State
from trainer.instrument.scale import Showing, coincidence_tenths, position_from, showing

# (instrument, printed reading, sleeve lines from zero, thimble line, tenths, vernier line, source)
WORKED = [
    ("inch", ".712", 28, 12, 0.0, None, "Navy training course 14001, ch. 2, figs 2-23/2-24"),
    ("inch-vernier", "0.2862", 11, 11, 2.0, 2, "Army TM 9-243 p. 7-5"),
    ("inch", "0.241", 9, 16, 0.0, None, "Army subcourse OD1642 fig. 37"),
    ("metric", "22.36", 44, 36, 0.0, None, "Army TM 9-243 p. 7-6"),
    ("inch", ".4915", 19, 16, 5.0, None, "Machine Shop Work (early 20th c.), Micrometers, Fig. 21"),
    ("metric", "16.66", 33, 16, 0.0, None, "school class page, Riverside Secondary"),
    ("depth-inch", "0.435", 17, 10, 0.0, None, "Navy 14310 fig. 2-30 (0.400 + 0.025 covered + 0.010)"),
    ("inch", "0.4815", 19, 6, 5.0, None, "licence examination figure: 0.475 + 0.006 + 0.0005"),
]


@pytest.mark.parametrize(("name", "text", "sleeve", "line", "tenths", "vernier", "source"), WORKED)
def test_worked_readings(name, text, sleeve, line, tenths, vernier, source):
    micrometer = catalogue.load(name)
    position_tenths = typed.reading(text, micrometer)
    shown = showing(State(micrometer, position_tenths))
    assert shown == Showing(sleeve, line, tenths, vernier), source
    assert position_from(shown, micrometer) == position_tenths
    assert float(text) == float(micrometer.reading_of(position_tenths))


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(catalogue.names()), st.floats(0, 1, exclude_max=True))
def test_showing_and_position_are_each_others_inverse(name, share):
    micrometer = catalogue.load(name)
    position_tenths = share * micrometer.travel_tenths
    back = position_from(showing(State(micrometer, position_tenths)), micrometer)
    assert back == pytest.approx(position_tenths, abs=1e-8)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 9999))
def test_the_vernier_line_that_coincides_is_the_tenth(tenths):
    inch = catalogue.load("inch-vernier")
    state = State(inch, float(tenths))
    best = min(range(11), key=lambda line: abs(coincidence_tenths(state, line)))
    assert best % 10 == tenths % 10
    assert coincidence_tenths(state, tenths % 10) == pytest.approx(0, abs=1e-9)
    # one line further is a tenth of a division off: 0.0001 in (TM 9-243 p. 7-5)
    assert abs(coincidence_tenths(state, tenths % 10 + 1)) == pytest.approx(1, abs=1e-9)


@pytest.mark.parametrize("tenths", range(10))
def test_the_vernier_line_shown_is_the_tenth(tenths):
    assert showing(State(catalogue.load("inch-vernier"), 2860.0 + tenths)).vernier_line == tenths
    assert showing(State(catalogue.load("inch"), 2860.0 + tenths)).vernier_line is None


def test_without_a_vernier_nothing_coincides():
    with pytest.raises(ValueError, match="inch has no vernier"):
        coincidence_tenths(State(catalogue.load("inch"), 2862.0), 2)


def test_both_ends_of_the_travel_belong_to_it():
    metric = catalogue.load("metric")
    held = [metric.holds(at) for at in (-0.1, 0.0, 25_000.0, 25_000.1)]
    assert held == [False, True, True, False]


def test_a_zero_error_is_shown_and_not_hidden():
    metric = catalogue.load("metric")
    assert State(metric, 1000.0, Faults(zero_tenths=-3.0)).shown_tenths == 997.0


def test_a_hair_below_nought_is_nought_without_a_sign():
    metric = catalogue.load("metric")
    assert (metric.format_reading(-0.001), metric.format_reading(-0.1)) == ("0.0000", "-0.0001")


def test_a_periodic_fault_comes_back_every_turn():
    metric = catalogue.load("metric")
    faults = Faults(periodic_tenths=2.0)
    assert State(metric, 125.0, faults).shown_tenths == pytest.approx(127.0)
    assert State(metric, 625.0, faults).shown_tenths == pytest.approx(627.0)


def test_a_sleeve_line_comes_early_when_the_edge_stands_back():
    metric = catalogue.load("metric")
    just_below = State(metric, 4990.0)  # 4.990 mm: the 5 mm line is still hidden
    assert showing(just_below).sleeve_line == 9
    assert showing(State(metric, 4990.0, Faults(edge_offset_mm=0.02))).sleeve_line == 10
    depth = catalogue.load("depth-metric")
    assert showing(State(depth, 4990.0)).sleeve_line == 9
    assert showing(State(depth, 4990.0, Faults(edge_offset_mm=-0.02))).sleeve_line == 10


def test_the_gauge_block_series_samples_the_thimble_all_round():
    # DIN 863-1 / ISO 3611:1978 annex series, from memory; thimble positions recomputed
    metric = catalogue.load("metric")
    series = ["2.5", "5.1", "7.7", "10.3", "12.9", "15.0", "17.6", "20.2", "22.8"]
    lines = [showing(State(metric, metric.position_of(text))).thimble_line for text in series]
    assert lines == [0, 10, 20, 30, 40, 0, 10, 20, 30]


def test_on_a_depth_micrometer_the_edge_moves_the_other_way():
    depth = catalogue.load("depth-metric")
    assert State(depth, 0.0).edge_mm == pytest.approx(25.0)
    assert State(depth, 4000.0).edge_mm == pytest.approx(21.0)
    assert State(depth, 0.0).sleeve_line_mm(0) == pytest.approx(25.0)
