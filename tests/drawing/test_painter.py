"""The picture is an instrument too: it is measured before any person is."""

import math

import numpy as np
import pytest
import reference
from hypothesis import given, settings, strategies

import reader
from trainer.drawing import bow, layout, numeral_ink, numerals
from trainer.drawing.painter import Painter, geometry
from trainer.drawing.viewing import Viewing, vernier_roll_deg
from trainer.instrument import catalogue, scale
from trainer.instrument.micrometer import Faults, State

LIMITS = {3.78: 0.008, 7.56: 0.002, 20.0: 0.0003}  # divisions: the study's targets for the final picture


def measured_errors(name, px_per_mm, plain, readings, chance):
    """Return by how many divisions pictures of random readings are off, as the reader measures them."""
    micrometer = catalogue.load(name)
    size = max(math.ceil(9 * px_per_mm), 64), max(math.ceil(18.4 * px_per_mm), 64)
    painter = Painter(micrometer, None, Viewing(px_per_mm, plain=plain), size)
    bare = None
    if not plain:
        bare = reader.bare_metal(painter.paint(1000 + 97.3 * step).copy() for step in range(24))
    near = math.ceil(2.2 * micrometer.division_arc_mm * px_per_mm)
    rows = slice(max(size[1] // 2 - near, 0), size[1] // 2 + near)
    axis = size[1] / 2 - rows.start
    edge = painter.frame.edge_px
    errors = []
    for position in chance.uniform(0, micrometer.travel_tenths, readings):
        picture = painter.paint(position)[rows]
        dark = reader.darkness(picture, None if bare is None else bare[rows])
        fraction = reader.fraction_below_index(dark, micrometer, px_per_mm, axis, edge, axis)
        errors.append((fraction - position / 10 + 0.5) % 1 - 0.5)
    return np.array(errors)


@pytest.mark.parametrize("px_per_mm", LIMITS)
@pytest.mark.parametrize("plain", [True, False])
def test_the_picture_stands_where_it_was_told_to(px_per_mm, plain, chance):
    """Errors of the final 8-bit picture over random readings, by an estimator that knows no painter."""
    errors = measured_errors("metric", px_per_mm, plain, 1000, chance)
    assert np.abs(errors).max() <= LIMITS[px_per_mm]
    assert abs(errors.mean()) <= LIMITS[px_per_mm] / 4


def test_an_inch_picture_stands_where_it_was_told_to(chance):
    errors = measured_errors("inch", 20.0, False, 200, chance)
    assert np.abs(errors).max() <= LIMITS[20.0]


@pytest.mark.parametrize("name", catalogue.names())
def test_a_plain_picture_can_be_read_whole_without_being_told_the_position(name, chance):
    micrometer = catalogue.load(name)
    roll = vernier_roll_deg(micrometer)
    painter = Painter(micrometer, None, Viewing(20.0, plain=True, roll_deg=roll))
    for position in chance.uniform(0, micrometer.travel_tenths, 12):
        found = reader.read(painter.paint(position), micrometer, 20.0, roll)
        assert found.position_tenths == pytest.approx(position, abs=0.02)
        assert found.edge_x_px == painter.frame.edge_px


@pytest.mark.parametrize("name", catalogue.names())
@pytest.mark.parametrize("plain", [True, False])
@pytest.mark.parametrize(("px_per_mm", "size"), [(20.0, (640, 390)), (3.78, (200, 90)), (34.0, (900, 300))])
def test_the_fast_picture_is_within_a_grey_level_of_the_reference_everywhere(
    name, plain, px_per_mm, size, chance
):
    micrometer = catalogue.load(name)
    viewing = Viewing(px_per_mm, plain=plain, roll_deg=vernier_roll_deg(micrometer))
    painter = Painter(micrometer, None, viewing, size)
    position = chance.uniform(0, micrometer.travel_tenths)
    expected = reference.picture(State(micrometer, position), viewing, size)
    past_bow = 0 if plain else bow.width_px(painter.frame, State(micrometer, position))
    apart = np.abs(painter.paint(position).astype(int) - expected)[:, past_bow:]
    assert apart.max() <= 1
    assert (apart == 0).mean() > 0.97


def test_painting_step_by_step_is_the_same_as_painting_afresh(chance):
    micrometer = catalogue.load("metric")
    viewing, size = Viewing(14.0), (520, 300)
    stepping = Painter(micrometer, None, viewing, size)
    for position in [*chance.uniform(0, micrometer.travel_tenths, 6), 0.0, micrometer.travel_tenths]:
        afresh = Painter(micrometer, None, viewing, size)
        np.testing.assert_array_equal(stepping.paint(position), afresh.paint(position))


def test_only_the_rectangles_named_are_changed():
    micrometer = catalogue.load("metric")
    painter = Painter(micrometer, None, Viewing(14.0), (520, 300))
    before = painter.paint(7374.2).copy()
    assert painter.changed == ((0, 0, 520, 300),)
    after = painter.paint(7391.0)
    outside = np.ones((300, 520), dtype=bool)
    for left, top, width, height in painter.changed:
        outside[top : top + height, left : left + width] = False
    assert outside.any()
    assert (before == after).all(axis=2)[outside].all()
    assert painter.paint(7391.0) is after
    assert painter.changed == ()


def test_the_array_is_what_the_window_needs():
    picture = Painter(catalogue.load("inch"), None, Viewing(10.0), (400, 200)).paint(2785)
    assert picture.dtype == np.uint8
    assert picture.shape == (200, 400, 3)
    assert picture.flags.c_contiguous


def test_a_plain_picture_has_bare_metal_of_one_level():
    picture = Painter(catalogue.load("metric"), None, Viewing(20.0, plain=True), (800, 400)).paint(7374.2)
    metal = picture[60:75, :400]  # sleeve above the numerals' place
    assert np.unique(metal).size == 1
    assert metal[0, 0, 0] > 200
    assert picture[200, 100, 0] < 80  # the index line


def test_the_zero_offset_of_a_faulty_instrument_is_seen_on_the_thimble():
    micrometer = catalogue.load("metric")
    painter = Painter(micrometer, Faults(zero_tenths=23.0), Viewing(20.0, plain=True))
    found = reader.read(painter.paint(5000.0), micrometer, 20.0)
    assert found.position_tenths == pytest.approx(5023.0, abs=0.02)


def test_an_edge_offset_moves_the_sleeve_lines_and_not_the_thimble():
    micrometer = catalogue.load("metric")
    straight = Painter(micrometer, None, Viewing(20.0, plain=True)).paint(5480.0)
    offset = Painter(micrometer, Faults(edge_offset_mm=0.05), Viewing(20.0, plain=True)).paint(5480.0)
    edge = round(straight.shape[1] * 0.6)
    np.testing.assert_array_equal(straight[:, edge:], offset[:, edge:])
    dark = [reader.darkness(picture, None) for picture in (straight, offset)]
    travel = [reader.travel_from_sleeve(d, micrometer, 20.0, d.shape[0] / 2, edge)[0] for d in dark]
    assert travel[1] - travel[0] == pytest.approx(0.05, abs=0.002)


def test_geometry_says_where_the_lines_are():
    """By hand: at 7.3742 mm line 37 stands 0.42 division below the index line on a radius of 8 mm."""
    placed = geometry(State(catalogue.load("metric"), 7374.2), Viewing(20.0), (1280, 720))
    assert placed.edge_x_px == 768
    assert placed.index_y_px == 360
    assert placed.division_px == pytest.approx(math.pi * 16 / 50 * 20)
    assert [line.number for line in placed.lines] == [36, 37, 38, 39]
    y = {line.number: line.y_px for line in placed.lines}
    assert y[37] == pytest.approx(360 + 160 * math.sin(0.42 * 2 * math.pi / 50), abs=1e-9)


def test_geometry_of_a_depth_micrometer_runs_the_other_way():
    placed = geometry(State(catalogue.load("depth-metric"), 7374.2), Viewing(20.0), (1280, 720))
    y = {line.number: line.y_px for line in placed.lines}
    assert y[37] < placed.index_y_px < y[38]


def test_a_vernier_line_meets_the_graduation_that_the_reading_names():
    """0.2862 in: vernier line 2 coincides, Army TM 9-243, p. 7-5."""
    micrometer = catalogue.load("inch-vernier")
    state = State(micrometer, 2862.0)
    roll = math.radians(vernier_roll_deg(micrometer))
    lines = [line.angle_rad for line in layout.thimble_lines(state, roll)]
    gaps = {
        line.number: min(abs(line.angle_rad - angle) for angle in lines)
        for line in layout.vernier_lines(micrometer, roll)
    }
    assert len(gaps) == 10
    assert min(gaps, key=gaps.get) == 2 == scale.showing(state).vernier_line
    assert gaps[2] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("name", ["metric", "depth-metric", "inch-vernier"])
@pytest.mark.parametrize("conditions", [{}, {"blur_mm": 0.05}])
def test_a_prepared_painter_has_drawn_every_numeral_and_paints_the_same(name, conditions, monkeypatch):
    micrometer, viewing = catalogue.load(name), Viewing(12.0, **conditions)
    positions = np.linspace(0, micrometer.travel_tenths, 23)
    plain_way = Painter(micrometer, viewing=viewing, size_px=(400, 260))
    pictures = [plain_way.paint(position).copy() for position in positions]
    prepared = Painter(micrometer, viewing=viewing, size_px=(400, 260))
    numeral_ink._down.cache_clear()
    prepared.prepare()
    monkeypatch.setattr(numerals, "ink", None)  # a numeral drawn from here on is a fault
    for position, picture in zip(positions, pictures, strict=True):
        np.testing.assert_array_equal(prepared.paint(position), picture)


def test_preparing_ends_when_the_painter_is_not_wanted_any_more():
    asked = []
    painter = Painter(catalogue.load("metric"), viewing=Viewing(10.0), size_px=(200, 150))
    painter.prepare(lambda: asked.append(1) or len(asked) < 3)
    assert len(asked) == 3


@settings(max_examples=40, deadline=None)
@given(
    name=strategies.sampled_from(catalogue.names()),
    log_scale=strategies.floats(-0.3, 2.6),
    size=strategies.tuples(strategies.integers(64, 400), strategies.integers(64, 300)),
    roll=strategies.floats(-80, 80),
    share=strategies.floats(0, 1),
    plain=strategies.booleans(),
    drop=strategies.floats(-300, 300),
)
def test_any_instrument_is_painted_in_any_frame_the_same_after_any_other(
    name, log_scale, size, roll, share, plain, drop
):
    micrometer = catalogue.load(name)
    viewing = Viewing(10**log_scale, plain=plain, roll_deg=roll)
    position = share * micrometer.travel_tenths
    stepping = Painter(micrometer, Faults(zero_tenths=drop), viewing, size)
    stepping.paint(micrometer.travel_tenths / 3)
    afresh = Painter(micrometer, Faults(zero_tenths=drop), viewing, size)
    np.testing.assert_array_equal(stepping.paint(position), afresh.paint(position))
