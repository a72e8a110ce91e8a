"""The feedback picture: truth and answer stand where they should among ten parts."""

import numpy as np
import pytest

from trainer.drawing.closeup import ANSWER_CODE, TRUTH_CODE, closeup
from trainer.instrument import catalogue
from trainer.instrument.micrometer import State


def middle_of(picture, code, x_from):
    """Return the mean row of the pixels of a colour to the right of a column."""
    found = (np.abs(picture[:, x_from:].astype(int) - code) < 6).all(axis=2)
    return np.flatnonzero(found.any(axis=1)).mean() + 0.5


def by_kind(shown):
    return {(anchor.what, anchor.text): anchor for anchor in shown.anchors}


@pytest.mark.parametrize("name", ["metric", "inch", "depth-metric"])
def test_truth_and_answer_stand_among_the_ten_parts(name):
    shown = closeup(State(catalogue.load(name), 2784.2), 2787.0)
    anchors = by_kind(shown)
    zero, ten = anchors["tenth", "0"].y_px, anchors["tenth", "10"].y_px
    right = round(0.76 * shown.picture.shape[1])
    for code, tenths in ((TRUTH_CODE, 4.2), (ANSWER_CODE, 7.0)):
        part = (middle_of(shown.picture, code, right) - zero) / (ten - zero)
        assert part == pytest.approx(tenths / 10, abs=0.004)  # a pixel is 0.0035 of the interval
    larger_above = ten < zero
    assert larger_above == (name != "depth-metric")


def test_the_graduations_are_named():
    anchors = by_kind(closeup(State(catalogue.load("metric"), 499.0), None))
    assert ("line-below", "49") in anchors
    assert ("line-above", "0") in anchors  # after 49 comes 0
    assert not any(what == "answer" for what, _ in anchors)


def test_labels_keep_apart_where_truth_and_answer_meet():
    for answer in (7374.0, 7374.2, 7374.4, 7373.9):
        shown = closeup(State(catalogue.load("metric"), 7374.2), answer, label_px=30.0)
        labels = [anchor.y_px for anchor in shown.anchors if anchor.what in ("truth", "answer")]
        assert abs(labels[0] - labels[1]) >= 30.0 - 1e-9


def test_an_answer_outside_the_picture_is_said_to_be_beyond():
    shown = closeup(State(catalogue.load("metric"), 7374.2), 7874.0)
    answer = next(anchor for anchor in shown.anchors if anchor.what == "answer")
    assert answer.beyond
    assert 0 <= answer.y_px < 60
