"""The catalogue against the government manuals' description of these scales."""

import math

import pytest

from trainer.instrument import catalogue


def test_an_unknown_instrument_is_refused_with_the_known_ones():
    with pytest.raises(catalogue.UnknownInstrument, match="'verner'.*metric-vernier"):
        catalogue.load("verner")


@pytest.mark.parametrize("name", catalogue.names())
def test_every_instrument_is_consistent(name):
    micrometer = catalogue.load(name)
    assert micrometer.sleeve_lines * micrometer.sleeve_line_tenths == micrometer.travel_tenths
    assert all(micrometer.sleeve.rule_of(line) for line in range(micrometer.sleeve_lines + 1))
    assert micrometer.high - micrometer.low == micrometer.pitch * micrometer.turns
    assert micrometer.sizes.sleeve_diameter_mm < micrometer.sizes.thimble_edge_diameter_mm


def test_inch_scale():
    # Navy training course 14001, ch. 2: 40 threads per inch, sleeve lines of 0.025 in numbered every
    # 0.100, thimble of 25 divisions of 0.001 in
    inch = catalogue.load("inch")
    assert (inch.pitch_mm, inch.divisions, inch.division_um) == (0.635, 25, 25.4)
    assert inch.sleeve_line_tenths == 250
    numerals = [inch.sleeve.rule_of(line).numeral(line) for line in range(0, 41, 4)]
    assert numerals == ["0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "0"]
    assert inch.tenths_per_unit == 10_000


def test_metric_scale():
    # Army TM 9-243 p. 7-6: one turn 0.5 mm, 50 divisions of 1/100 mm
    metric = catalogue.load("metric")
    assert (metric.pitch_mm, metric.divisions, metric.division_um) == (0.5, 50, 10.0)
    assert metric.sleeve.rule_of(10).numeral(10) == "5"
    assert metric.tenths_per_unit == 1000


@pytest.mark.parametrize("name", ["inch-vernier", "metric-vernier"])
def test_ten_vernier_spaces_take_nine_divisions(name):
    # Navy 14003; TM 9-243 p. 7-5: each vernier unit is 0.0009 in, the difference 0.0001 in
    vernier = catalogue.load(name).vernier
    assert vernier is not None
    assert vernier.lines * vernier.spacing_divisions == pytest.approx(9)
    assert 1 - vernier.spacing_divisions == pytest.approx(0.1)


def test_divisions_have_their_real_length_on_the_thimble():
    # common practice, no source: about 1 mm metric, 2 mm inch; a line about a fifth of a metric division
    metric, inch = catalogue.load("metric"), catalogue.load("inch")
    assert metric.division_arc_mm == pytest.approx(1.0, abs=0.02)
    assert inch.division_arc_mm == pytest.approx(2.0, abs=0.03)
    assert metric.sizes.line_width_mm / metric.division_arc_mm == pytest.approx(0.2, abs=0.01)
    # so a line is worth about 2 um, half a line about 1 um
    worth_um = metric.sizes.line_width_mm / metric.division_arc_mm * metric.division_um
    assert math.isclose(worth_um, 2.0, abs_tol=0.05)
