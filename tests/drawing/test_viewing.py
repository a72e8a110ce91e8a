"""Viewing conditions: checked at birth, kept as plain values, and true to their physics in the picture."""

import math
import tracemalloc

import numpy as np
import pytest

import reader
from trainer.drawing import conditions, eyesight, numeral_ink
from trainer.drawing.geometry import geometry
from trainer.drawing.painter import Painter
from trainer.drawing.viewing import UnusableViewing, Viewing, checked_size, fitting_size, vernier_roll_deg
from trainer.instrument import catalogue
from trainer.instrument.micrometer import State

SPOILT = Viewing(
    20.0,
    roll_deg=-3.0,
    distance_mm=400.0,
    magnification=2.5,
    blur_mm=0.1,
    contrast=0.6,
    glare=0.3,
    wear=0.5,
    dirt=0.2,
    eye_offset_mm=-40.0,
)


def test_a_viewing_comes_back_from_its_plain_values():
    assert Viewing.from_dict(SPOILT.to_dict()) == SPOILT
    assert Viewing.from_dict({"px_per_mm": 20.0}) == Viewing(20.0)


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        ({"px_per_mm": 0.1}, "px_per_mm is 0.1; it must be a number from 0.5 to 1000"),
        ({"px_per_mm": math.nan}, "px_per_mm is nan; it must be a number from 0.5 to 1000"),
        ({"px_per_mm": True}, "px_per_mm is True; it must be a number from 0.5 to 1000"),
        ({"px_per_mm": 20, "contrast": 1.5}, "contrast is 1.5; it must be a number from 0.03 to 1"),
        ({"px_per_mm": 20, "blur_mm": "much"}, "blur_mm is much; it must be a number from 0 to 2"),
        ({"px_per_mm": 20, "glare": None}, "glare is None; it must be a number from 0 to 1"),
        ({"px_per_mm": 20, "distance_mm": 5}, "distance_mm is 5; it must be a number from 50 to 5000"),
        ({"px_per_mm": 20, "plain": "yes"}, "plain is 'yes'; it must be true or false"),
        ({"contrast": 1.0}, "viewing needs px_per_mm, the pixels to a millimetre of the instrument"),
    ],
)
def test_a_viewing_that_cannot_be_drawn_is_refused_in_a_sentence(table, sentence):
    with pytest.raises(UnusableViewing) as refused:
        Viewing.from_dict(table)
    assert str(refused.value) == sentence


def test_an_unknown_field_is_named():
    with pytest.raises(UnusableViewing, match="viewing has no field 'fog'; choose from blur_mm, contrast"):
        Viewing.from_dict({"px_per_mm": 20, "fog": 1})


def test_a_size_that_cannot_be_meant_is_refused():
    with pytest.raises(UnusableViewing, match="width is 9000 px; it must be from 64 to 8192"):
        checked_size((9000, 100))
    assert fitting_size(catalogue.load("metric"), 20.0) == (1034, 424)


def test_conditions_name_what_differs_from_clear_sight():
    assert Viewing(20.0, distance_mm=300).conditions == {}
    assert Viewing(20.0, glare=0.4, magnification=2).conditions == {"magnification": 2, "glare": 0.4}


def test_visual_angles_by_hand():
    """By trigonometry: 1 mm at 250 mm is 2 atan(0.002) = 13.7510 minutes; one degree at 57.29 mm is 1 mm."""
    assert eyesight.visual_angle_arcmin(1.0, 250.0) == pytest.approx(13.7510, abs=5e-5)
    assert eyesight.visual_angle_arcmin(1.0, 57.2943) == pytest.approx(60.0, abs=1e-3)
    micrometer = catalogue.load("metric")
    true_size = Viewing(3.78, distance_mm=500.0, magnification=2.0)
    wanted = 2 * math.degrees(math.atan(math.pi * 16 / 50 * 2 / 1000)) * 60
    assert eyesight.division_arcmin(micrometer, true_size) == pytest.approx(wanted, rel=1e-12)
    assert eyesight.division_arcmin(micrometer, Viewing(3.78)) is None


def test_a_division_smaller_than_a_pixel_is_warned_of_with_the_number():
    micrometer = catalogue.load("metric")
    assert eyesight.too_small(micrometer, Viewing(1.0)) is None
    assert "is 0.50 pixels" in eyesight.too_small(micrometer, Viewing(0.5))
    assert Painter(micrometer, None, Viewing(0.5), (120, 64)).paint(7374.2).shape == (64, 120, 3)


def test_parallax_by_hand_and_in_the_picture():
    """Similar triangles: a step of 0.4 mm, an eye 125 mm off at 250 mm: 0.2 mm, 0.199 division."""
    micrometer = catalogue.load("metric")
    viewing = Viewing(20.0, plain=True, distance_mm=250.0, eye_offset_mm=125.0)
    assert eyesight.parallax_mm(micrometer, viewing) == pytest.approx(0.2)
    shift = eyesight.parallax_tenths(micrometer, viewing)
    assert shift == pytest.approx(10 * math.asin(0.2 / 8) / (2 * math.pi / 50))
    found = reader.read(Painter(micrometer, None, viewing).paint(7374.2), micrometer, 20.0)
    straight = geometry(State(micrometer, 7374.2), viewing)
    assert found.index_y_px == pytest.approx(straight.index_y_px, abs=0.005)
    assert found.position_tenths == pytest.approx(7374.2 + shift, abs=0.02)
    assert straight.parallax_tenths == shift


@pytest.mark.parametrize(
    ("tenths", "near"), [(7374.2, [36, 37, 38, 39]), (7370.0, [35, 36, 37, 38, 39]), (2.0, [49, 0, 1, 2])]
)
@pytest.mark.parametrize("roll", [0.0, -15.0])
def test_the_lines_within_two_divisions_stand_where_trigonometry_puts_them(tenths, near, roll):
    """A thimble of 8 mm radius at 20 px/mm in 424 rows: 212 - 160 sin(angle), 7.2 degrees to a division."""
    placed = geometry(State(catalogue.load("metric"), tenths), Viewing(20.0, roll_deg=roll))
    assert sorted(line.number for line in placed.lines) == sorted(near)
    assert placed.index_y_px == pytest.approx(212 - 160 * math.sin(math.radians(roll)))
    for line in placed.lines:
        away = (line.number - tenths / 10 + 25) % 50 - 25
        by_hand = 212 - 160 * math.sin(math.radians(7.2 * away + roll))
        assert line.y_px == pytest.approx(by_hand, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "degrees"), [("metric", 0.0), ("metric-vernier", -32.4), ("inch-vernier", -64.8)]
)
def test_the_turn_to_a_vernier_is_half_of_what_its_lines_span(name, degrees):
    """Nine divisions of 7.2 degrees (14.4 on the inch thimble of 25): half of them on either side."""
    assert vernier_roll_deg(catalogue.load(name)) == pytest.approx(degrees)


def test_parallax_on_a_depth_micrometer_reads_the_other_way():
    viewing = Viewing(20.0, plain=True, eye_offset_mm=60.0)
    micrometer = catalogue.load("depth-metric")
    shift = eyesight.parallax_tenths(micrometer, viewing)
    assert shift < 0
    found = reader.read(Painter(micrometer, None, viewing).paint(7374.2), micrometer, 20.0)
    assert found.position_tenths == pytest.approx(7374.2 + shift, abs=0.02)


def test_turning_the_instrument_makes_no_parallax():
    for name in ("metric", "inch-vernier"):
        micrometer = catalogue.load(name)
        for roll in (-40.0, 25.0, vernier_roll_deg(micrometer)):
            picture = Painter(micrometer, None, Viewing(20.0, plain=True, roll_deg=roll)).paint(4374.2)
            found = reader.read(picture, micrometer, 20.0, roll)
            assert found.fraction_divisions == pytest.approx(0.42, abs=0.002)


def test_a_loupe_shows_what_a_larger_scale_shows():
    micrometer = catalogue.load("inch")
    near = Painter(micrometer, None, Viewing(10.0, magnification=3.0), (500, 300)).paint(2784.3)
    np.testing.assert_array_equal(near, Painter(micrometer, None, Viewing(30.0), (500, 300)).paint(2784.3))


def test_contrast_is_the_share_of_light_that_ink_takes():
    micrometer = catalogue.load("metric")
    for contrast in (1.0, 0.5, 0.1):
        picture = Painter(micrometer, None, Viewing(40.0, plain=True, contrast=contrast)).paint(7374.2)
        taken = reader.darkness(picture, None)[picture.shape[0] // 2, 5]  # in the index line
        assert taken == pytest.approx(0.93 * contrast, abs=0.012)  # a grey level


def test_defocus_spreads_a_point_over_a_disc():
    """A uniform disc of diameter d keeps all light and has second moments of d^2/16 along any axis."""
    light = np.zeros((61, 61), dtype=np.float32)
    light[30, 30] = 1.0
    for diameter in (3.0, 7.3, 21.0):
        disc = conditions.defocused(light, diameter)
        assert disc.sum() == pytest.approx(1.0, abs=2e-3)
        at = np.arange(61) - 30.0
        for axis in (0, 1):
            along = disc.sum(axis=1 - axis)
            assert (along * at).sum() == pytest.approx(0, abs=2e-3)
            assert (along * at**2).sum() == pytest.approx(diameter**2 / 16 + 1 / 12, rel=0.06, abs=0.1)


@pytest.mark.parametrize(
    "spoilt",
    [{"blur_mm": 0.25}, {"contrast": 0.3}, {"wear": 0.8}, {"dirt": 0.8}, {"wear": 0.5, "blur_mm": 0.15}],
)
@pytest.mark.parametrize("plain", [True, False])
def test_conditions_do_not_move_the_lines(spoilt, plain, chance):
    """Only parallax may shift what is read; the rest stays within the picture's own target.

    Rounding to grey levels weighs more the fainter the ink; and where metal is shaded, defocus leans the
    centre of darkness by the disc's variance times the relative slope of the light: under 0.001 division.
    """
    errors = spoilt_errors(spoilt, plain, chance)
    limit = 0.0003 / spoilt.get("contrast", 1.0)
    if "wear" in spoilt or "blur_mm" in spoilt:
        limit = 0.0012
    assert np.abs(errors).max() <= limit
    assert abs(errors.mean()) <= (0.0009 if "blur_mm" in spoilt else 0.0003)


def test_glare_does_not_move_the_lines_that_it_leaves_visible(chance):
    """Glare adds light unevenly: the centre of darkness leans by what the light changes over a line."""
    errors = spoilt_errors({"glare": 0.1}, True, chance)
    assert np.abs(errors).max() <= 0.002


def spoilt_errors(spoilt, plain, chance):
    """Return by how many divisions pictures under a condition are off, past the reach of the edge's blur."""
    micrometer = catalogue.load("metric")
    size = 200, 368
    painter = Painter(micrometer, None, Viewing(20.0, plain=plain, **spoilt), size)
    bare = reader.bare_metal(painter.paint(1000 + 97.3 * step).copy() for step in range(30))
    rows = slice(184 - 46, 184 + 46)
    errors = []
    for position in chance.uniform(0, micrometer.travel_tenths, 120):
        dark = reader.darkness(painter.paint(position)[rows], bare[rows])
        fraction = reader.fraction_below_index(
            dark, micrometer, 20.0, 46.0, painter.frame.edge_px, 46.0, skip_mm=spoilt.get("blur_mm", 0.0)
        )
        errors.append((fraction - position / 10 + 0.5) % 1 - 0.5)
    return np.array(errors)


def test_the_strongest_loupe_at_the_largest_scale_is_painted_in_bounded_memory():
    micrometer = catalogue.load("metric")
    tracemalloc.start()
    try:
        for magnification in (1.0, 2.0, 20.0):  # a numeral is then 1600, 3200 and 32000 pixels tall
            viewing = Viewing(1000.0, magnification=magnification, roll_deg=-30.0)  # a numeral in view
            assert Painter(micrometer, None, viewing, (200, 150)).paint(0.0).shape == (150, 200, 3)
        assert tracemalloc.get_traced_memory()[1] < 1e9
    finally:
        tracemalloc.stop()


def test_large_numerals_are_drawn_with_fewer_samples_and_the_same_ink():
    few = numeral_ink._drawn("5", 1.6, 0.2, 600.0, 0.0)  # 960 pixels tall
    many = numeral_ink._drawn("5", 1.6, 0.2, 400.0, 0.0)  # 640 pixels tall
    shares = [
        drawn.sum() / numeral_ink.fine_per_px(1.6 * scale) / scale**2
        for drawn, scale in ((few, 600.0), (many, 400.0))
    ]
    assert shares[0] == pytest.approx(shares[1], rel=2e-3)
    assert numeral_ink.fine_per_px(960.0) < numeral_ink.fine_per_px(640.0)
