"""Viewing conditions: visual angles and parallax by hand values, and what a screen cannot carry."""

import pytest

from trainer.drawing.eyesight import parallax_tenths, visual_angle_arcmin
from trainer.drawing.viewing import Viewing
from trainer.instrument import catalogue
from trainer.instrument.micrometer import Micrometer
from trainer.practice.conditions import faults, warnings, words
from trainer.practice.items import Item
from trainer.practice.session import Begun, Edited, Entered, Paused, Resumed, start, step

METRIC = catalogue.load("metric")


@pytest.mark.parametrize(
    ("size_mm", "distance_mm", "arcmin"),
    [
        (0.8, 250, 11.0008),  # recomputed by hand: 2 atan(0.4/250)
        (0.8, 350, 7.8577),
        (0.07272, 250, 1.0),  # 1' at 250 mm
        (0.14544, 500, 1.0),
        (0.00606, 250, 5 / 60),  # 5"
    ],
)
def test_visual_angles(size_mm, distance_mm, arcmin):
    assert visual_angle_arcmin(size_mm, distance_mm) == pytest.approx(arcmin, rel=1e-3)


def seen(micrometer: Micrometer, eye_offset_mm: float) -> float:
    """Return the parallax from 350 mm, in tenths."""
    return parallax_tenths(micrometer, Viewing(20.0, eye_offset_mm=eye_offset_mm, distance_mm=350.0))


def test_the_conditions_of_a_viewing_are_said_in_the_same_words_whatever_plan_set_them():
    assert words({}, {}) == words(Viewing(20.0, plain=True, distance_mm=300.0).to_dict(), {}) == "clear"
    every = dict.fromkeys(("blur_mm", "contrast", "glare", "wear", "dirt"), 0.5)
    every |= {"magnification": 3.0, "eye_offset_mm": -40.0}
    said = words(Viewing(20.0, **every).to_dict(), {"exposure_seconds": 2.0, "seconds_each": 12})
    assert said == (
        "loupe 3x, blur 0.5 mm, contrast 0.5, glare 0.5, wear 0.5, dirt 0.5, eye off by -40 mm, "
        "seen for 2 s, 12 s each"
    )
    assert said.count(",") + 1 == len(Viewing(20.0, **every).conditions) + 2


def test_parallax_of_a_depth_micrometer_has_the_other_sign():
    """Its numbers run the other way, so what reads high on an outside micrometer reads low on it."""
    assert seen(METRIC, 50) > 0 > seen(catalogue.load("depth-metric"), 50)


def test_parallax_by_hand():
    # step 0.4 mm, eye 50 mm aside at 350 mm: 0.0571 mm, on the metric thimble's 1.0053 mm division 0.57 tenth
    assert (METRIC.sizes.thimble_edge_diameter_mm - METRIC.sizes.sleeve_diameter_mm) / 2 == pytest.approx(0.4)
    shift_mm = seen(METRIC, 50) / 10 * METRIC.division_arc_mm
    assert shift_mm == pytest.approx(0.0571, abs=5e-5)
    assert seen(METRIC, 50) == pytest.approx(0.568, abs=0.001)
    assert seen(METRIC, -50) == -seen(METRIC, 50)


def test_the_vernier_lies_in_the_thimbles_plane_so_that_the_eyes_angle_hardly_matters():
    # a step of 0.02 mm instead of 0.4: under 0.03 tenth, far less than half a vernier line
    vernier = catalogue.load("metric-vernier")
    assert abs(seen(vernier, 50)) < 0.03
    stepped: Micrometer = METRIC
    assert abs(seen(stepped, 50)) > 0.5, "with the usual step it would be another line"


def test_every_faulty_condition_is_told():
    assert faults({}) == []
    assert faults({"blur_mm": 0.2, "contrast": 0.4, "eye_offset_mm": -40}) == []
    told = dict(faults({"blur_mm": -1, "fog": 1, "px_per_mm": 20, "plain": "yes", "contrast": "low"}))
    assert set(told) == {"blur_mm", "fog", "px_per_mm", "plain", "contrast"}
    assert told["blur_mm"] == "is -1; it must be a number from 0 to 2"
    assert told["plain"] == "is 'yes'; it must be true or false"


def test_a_division_below_a_pixel_is_warned_of_with_the_number(plan):
    (said,) = warnings(plan("full-reading"), METRIC, 0.9)
    assert said.startswith("a division is 0.90 pixels, less than one: nothing between two lines can be seen")
    (said,) = warnings(plan("full-reading"), METRIC, 5.0)
    assert said.startswith("a division is 5.0 pixels, so a tenth of it is less than one")
    assert warnings(plan("full-reading"), METRIC, 12.0) == ()


def test_a_loupe_makes_a_division_larger_and_distance_makes_it_smaller_to_the_eye(plan):
    assert warnings(plan("full-reading", viewing={"magnification": 3.0}), METRIC, 5.0) == ()
    (said,) = warnings(plan("full-reading", viewing={"distance_mm": 5000}), METRIC, 20.0)
    assert said.startswith("from 5000 mm a division is seen under 0.69 minutes of arc, less than the 1")
    (said,) = warnings(plan("full-reading"), METRIC, 20.0, distance_mm=4000)
    assert "from 4000 mm" in said


def test_a_tolerance_below_the_displays_resolution_is_warned_of(plan):
    (said,) = warnings(plan("judge", tolerance_tenths=0.4), METRIC, 20.0)
    assert said.startswith("the tolerance of 0.4 µm is 0.80 pixels on this screen, less than it resolves")
    assert warnings(plan("judge"), METRIC, 20.0) == ()


def test_after_a_short_exposure_the_scale_is_hidden_and_a_pause_does_not_use_it_up(plan):
    wanted = plan("full-reading", exposure_seconds=1.5)
    session = step(start(wanted, [Item(1, 100.0, "full-reading")]), Begun(10.0))
    assert session.in_view(11.4)
    assert not session.in_view(11.5)
    paused = step(session, Paused(11.0))
    assert not paused.in_view(11.1)
    resumed = step(paused, Resumed(50.0))
    assert resumed.in_view(50.4)
    assert not resumed.in_view(50.6)


def test_during_feedback_the_picture_is_seen_again_however_short_the_exposure_was(plan):
    wanted = plan("full-reading", exposure_seconds=1.5)
    session = step(start(wanted, [Item(1, 100.0, "full-reading")]), Begun(10.0))
    session = step(step(session, Edited("0.1")), Entered(15.0, "2026-01-05T08:00:00Z"))
    assert session.phase == "feedback"
    assert session.in_view(99.0)
    assert not step(session, Paused(100.0)).in_view(100.0)


def test_the_angle_warned_of_is_that_of_the_picture_and_not_of_the_instrument(plan):
    # ten times as large as the instrument, a division of 1.0053 mm from 9 m is 3.8 minutes, not 0.38
    assert warnings(plan("full-reading"), METRIC, 40.0, 9000.0, 4.0) == ()
    (said,) = warnings(plan("full-reading"), METRIC, 40.0, 9000.0, 40.0)
    assert "0.38 minutes of arc" in said


def test_a_picture_smaller_than_the_true_size_asked_for_is_warned_of(plan):
    (said,) = warnings(plan("full-reading", true_size=True), METRIC, 20.0, 400.0, 25.0)
    assert "the picture is 80 % of true size; enlarge the window" in said
    assert warnings(plan("full-reading", true_size=True), METRIC, 20.0, 400.0, 20.0) == ()
