"""A check read in poor light is no evidence for a criterion that says nothing of it."""

from dataclasses import replace

import pytest

from trainer.drawing.viewing import Viewing
from trainer.signoff import criteria
from trainer.signoff.evidence import not_evidence
from trainer.signoff.sight import SIGHT

CRITERION = criteria.find("first-level-metric")


def why(criterion, viewing):
    return not_evidence(
        criterion,
        instrument="metric",
        drill="full-reading",
        for_record=True,
        plan={"feedback": False},
        viewing=viewing.to_dict(),
    )


def test_clear_sight_is_evidence():
    assert why(CRITERION, Viewing(20.0)) == ""


@pytest.mark.parametrize(
    ("field", "value", "word"),
    [
        ("magnification", 2.5, "loupe"),
        ("blur_mm", 0.1, "blur"),
        ("contrast", 0.5, "low contrast"),
        ("glare", 0.4, "glare"),
        ("wear", 0.5, "worn lines"),
        ("dirt", 0.5, "dirt"),
        ("eye_offset_mm", 30.0, "parallax"),
    ],
)
def test_every_other_sight_is_refused_unless_the_criterion_names_it(field, value, word):
    viewing = Viewing(20.0, distance_mm=400.0, **{field: value})
    assert f"read with {word}," in why(CRITERION, viewing)
    assert why(replace(CRITERION, conditions=(f"With {word} only",)), viewing) == ""


@pytest.mark.parametrize("told", ["no glare", "Without any glare", "free of dirt and glare; with the loupe"])
def test_a_sight_that_a_condition_keeps_out_is_refused(told):
    criterion = replace(CRITERION, conditions=(told,))
    assert "read with glare," in why(criterion, Viewing(20.0, glare=0.4))


def test_what_is_named_beside_what_is_kept_out_is_let_in():
    criterion = replace(CRITERION, conditions=("without glare, with the loupe",))
    assert why(criterion, Viewing(20.0, distance_mm=400.0, magnification=2.5)) == ""


def test_no_condition_of_the_drawing_room_is_forgotten():
    everything = Viewing(
        20.0, distance_mm=400.0, magnification=2.0, blur_mm=0.1, contrast=0.5, glare=0.3, wear=0.3, dirt=0.3,
        eye_offset_mm=20.0,
    )  # fmt: skip
    assert set(everything.conditions) == set(SIGHT)
