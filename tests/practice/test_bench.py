"""The bench check keeps its order, whoever types, and keeps what it doubts only when told twice."""

from decimal import Decimal

import pytest

from trainer.practice import bench
from trainer.practice.bench import Entered, Left, Reference, Withdrawn, ZeroSet, start, step

AT = "2031-03-04T08:00:00.000+00:00"
DISPLAY = Reference("display", Decimal("0.00005"), Decimal("0.0001"))


def slowly(text, at_s=10.0):
    return Entered(text, at_s - 2.0, at_s, AT)


def by_display(text, at_s=10.0):
    return Entered(text, at_s - 0.01, at_s, AT)


def zeroed(*zeros, wanted=2):
    check = start("inch", DISPLAY, wanted, 0.0)
    for text in zeros or ("0", "0", "0.00005", "0", "-0.00005"):
        check = step(check, by_display(text))
    return step(check, ZeroSet(1.0))


def test_the_zero_comes_first_and_often_enough():
    check = start("inch", DISPLAY, 2, 0.0)
    check = step(check, slowly("0.0001"))
    refused = step(check, ZeroSet(1.0))
    assert refused.phase == "zero"
    assert refused.complaint is not None
    assert "1 of at least 5 observations of the zero so far" in refused.complaint
    far = step(check, slowly("0.2500"))
    assert far.zeros_tenths == check.zeros_tenths
    assert "far from zero" in (far.complaint or "")


def test_a_reference_is_corrected_for_the_mean_of_the_zeros():
    check = zeroed("0.0001", "0.0001", "0.0001", "0.0001", "0.0001")
    assert check.zero_tenths == pytest.approx(1.0)
    assert check.zero_u_tenths == pytest.approx(0.0)
    check = step(step(check, slowly(".2785")), by_display("0.27865"))
    assert check.pairs[0].reference_tenths == pytest.approx(2785.5)
    assert check.pairs[0].estimate_tenths == 2785.0


def test_what_the_display_types_never_lands_in_the_estimate():
    check = step(zeroed(), by_display("0.2785"))
    assert check.phase == "estimate"
    assert "from the display" in (check.complaint or "")
    # even typed slowly, more decimals than an estimate can have are the display's
    check = step(check, slowly("0.27865"))
    assert check.phase == "estimate"
    assert "as only the reference shows" in (check.complaint or "")


def test_the_estimate_is_locked_before_the_reference():
    check = step(zeroed(), slowly(".2785 in"))
    assert check.phase == "reference"
    assert check.pairs == ()
    done = step(step(step(check, by_display("0.27855")), slowly("0,5001")), by_display("0.50015"))
    assert done.phase == "done"
    assert [pair.typed for pair in done.pairs] == [".2785 in", "0,5001"]


def test_a_moved_thimble_gives_up_the_estimate_and_that_is_counted():
    check = step(step(zeroed(), slowly(".2785")), Withdrawn(12.0))
    assert (check.phase, check.withdrawn, check.pairs) == ("estimate", 1, ())


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("7.0750", "other unit"),  # 0.2785 in as millimetres
        ("1.2785", "outside the instrument's travel"),
        ("0.27857", "no multiple of the reference's step"),
        ("0.278", "fewer digits than the display shows"),
    ],
)
def test_a_doubtful_reference_is_asked_for_again(text, why):
    check = step(zeroed(), slowly(".2785"))
    doubted = step(check, by_display(text))
    assert doubted.phase == "reference"
    assert why in (doubted.complaint or "")
    assert step(doubted, by_display(text)).pairs[0].reference_typed == text


def test_on_a_metric_instrument_a_reference_read_in_inches_is_doubted():
    check = start("metric", Reference("display", Decimal("0.001")), 1, 0.0)
    assert check.reference.accuracy == 0
    for _ in range(5):
        check = step(check, by_display("0.000"))
    check = step(step(check, ZeroSet(1.0)), slowly("7.075"))
    doubted = step(check, by_display("0.2785"))  # 7.0739 mm
    assert doubted.phase == "reference"
    assert "other unit" in (doubted.complaint or "")


def test_an_estimate_outside_the_travel_is_doubted_once_and_then_kept():
    doubted = step(zeroed(), slowly("2.785"))
    assert doubted.phase == "estimate"
    assert doubted.complaint == (
        "2.785 lies outside 0 to 1.000 in; read it again, or enter the same value once more to keep it"
    )
    assert step(doubted, slowly("2.785")).phase == "reference"
    assert step(doubted, slowly(".2785")).estimate[1] == 2785.0


def test_a_larger_range_has_its_zero_where_it_begins():
    check = start("metric-25-50", Reference("display", Decimal("0.001")), 1, 0.0)
    far = step(check, slowly("0.001"))
    assert far.zeros_tenths == ()
    assert far.complaint == (
        "0.001 is far from 25 mm, where this range begins; set the zero graduation on the index line there, "
        "set the display to 25 mm, and read again"
    )
    for text in ("25.001", "25.001", "25.001", "25,001 mm", "25.001"):
        check = step(check, by_display(text))
    check = step(step(step(check, ZeroSet(1.0)), slowly("30.124")), by_display("30.125"))
    assert check.phase == "done"
    assert check.pairs[0].reference_tenths == pytest.approx(5124.0)


def test_a_vernier_needs_a_vernier_instrument_and_no_zero_of_its_own():
    vernier = Reference("vernier", Decimal("0.0001"))
    assert start("inch-vernier", vernier, 3, 0.0).phase == "estimate"
    with pytest.raises(bench.UnusableReference, match="inch has no vernier"):
        start("inch", vernier, 3, 0.0)


@pytest.mark.parametrize(
    ("kind", "step_", "accuracy", "why"),
    [
        ("laser", "0.001", "0", "display or vernier"),
        ("display", "0", "0", "smallest step"),
        ("display", "0.001", "-1", "half-width"),
    ],
)
def test_an_unusable_reference_is_refused(kind, step_, accuracy, why):
    with pytest.raises(bench.UnusableReference, match=why):
        Reference(kind, Decimal(step_), Decimal(accuracy))


def test_leaving_keeps_the_pairs():
    check = step(step(zeroed(wanted=5), slowly(".2785")), by_display("0.27855"))
    left = step(check, Left(20.0))
    assert (left.phase, len(left.pairs)) == ("left", 1)
    assert step(left, slowly(".5")) == left
