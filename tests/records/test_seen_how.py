"""What a statement says of how the pictures of its checks were seen."""

import math

import pytest

from trainer.drawing.eyesight import division_arcmin
from trainer.drawing.viewing import Viewing
from trainer.instrument import catalogue
from trainer.records.seen_how import remarks
from trainer.records.values import Person, SessionHeader, StoredSession


def check(instrument="metric", **viewing):
    header = SessionHeader(instrument, "full-reading", True, 1, "test", "1", viewing=viewing)
    return StoredSession("s1", Person("p1", "Kim Vale", ""), header, {}, (), (), (), None, None)


def seen(distance_mm, **more):
    return Viewing.from_dict({"px_per_mm": 4.0, "distance_mm": distance_mm, **more}).to_dict()


def test_the_size_of_a_division_is_told_with_its_range():
    angle = division_arcmin(catalogue.load("metric"), Viewing.from_dict(seen(500.0)), 4.0)
    told = remarks([check(**seen(500.0)), check(**seen(1000.0))])
    assert told[0] == "Only pictures of these instruments of the catalogue were read: metric."
    assert told[1] == f"A division was seen {told[1].split()[4]} to {angle:.1f} minutes of arc wide."
    # twice as far is half as large, to the first order of the tangent
    assert float(told[1].split()[4]) == pytest.approx(angle / 2, abs=0.1)
    # 60 * 180 / pi minutes of arc in a radian: a division of 16 pi / 50 mm at half a metre, at true size
    assert angle == pytest.approx(math.pi * 16 / 50 / 500.0 * 60 * 180 / math.pi, rel=1e-3)


def test_what_is_not_known_is_said():
    told = remarks([check(px_per_mm=20.0, plain=True), check(**seen(500.0))])
    assert "How large a division was seen is not known of 1 of 2 checks." in told
    assert "1 of 2 checks had plain pictures, without texture and numerals." in told
    assert "1 of 1 check had plain pictures, without texture and numerals." in remarks([check(plain=True)])
    assert remarks([]) == ()
