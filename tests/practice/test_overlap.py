"""The overlap drills: what overlaps how much, judgements, sizes, and offsets placed where they teach."""

import numpy as np
import pytest

from trainer.instrument import catalogue
from trainer.instrument.typed import UnreadableAnswer
from trainer.practice.asking import asked
from trainer.practice.deal import deal
from trainer.practice.items import Answer, Item
from trainer.practice.overlap import judged, overlap_share, read_judgement, read_size, truth_of
from trainer.practice.placement import judgements
from trainer.practice.results import rows, trials
from trainer.practice.session import Begun, Edited, Entered, start, step
from trainer.practice.telling import told, told_of
from trainer.scoring import judgement

METRIC, INCH = catalogue.load("metric"), catalogue.load("inch")
AT = "2026-01-05T08:00:00Z"


def test_edge_contact_is_two_micrometres_and_half_overlap_one():
    # 0.2 mm lines on a 1.005 mm division of 10 µm: common practice, no source
    width_tenths = METRIC.sizes.line_width_mm / METRIC.division_arc_mm * 10
    assert width_tenths * METRIC.tenth_um == pytest.approx(2.0, abs=0.02)
    assert overlap_share(width_tenths, METRIC) == pytest.approx(0.0)
    assert overlap_share(-width_tenths / 2, METRIC) == pytest.approx(0.5)
    assert overlap_share(0.0, METRIC) == 1.0
    assert overlap_share(4.0, METRIC) == 0.0


@pytest.mark.parametrize(
    ("text", "said"),
    [("in", "in"), (" OUT ", "out"), ("y", "in"), ("n", "out"), ("within", "in"), ("No", "out")],
)
def test_judgements_in_words(text, said):
    assert judged(text) == said


@pytest.mark.parametrize("text", ["", "  ", "maybe", "1", "inn"])
def test_what_is_no_judgement_is_refused(text):
    with pytest.raises(UnreadableAnswer, match="type in or out"):
        judged(text)


def test_a_judgement_is_recorded_as_typed_and_has_no_position(plan):
    item = Item(1, 102.5, "judge", {"line_tenths": 100.0, "offset_tenths": 2.5, "tolerance_tenths": 2.0})
    session = step(start(plan("judge", range_tenths=4.0), [item]), Begun(0.0))
    assert (
        asked(session).question
        == "Does line 10 lie within 2.0 µm of the index line, either way? Type in or out."
    )
    refused = step(step(session, Edited("2")), Entered(1.0, AT))
    assert refused.answers == ()
    session = step(step(session, Edited("y")), Entered(1.0, AT))
    assert session.answers == (Answer(1, "y", 102.0, "answered", 1.0, AT),)
    assert told(session).lines == (
        "The offset is +2.5 µm, the tolerance 2.0 µm either way.",
        "The lines' edges do not overlap at all.",
        "A false accept.",
    )
    assert rows("metric", session.items, session.answers) == []
    assert trials(session.items, session.answers) == [
        {"item": 1, "offset_tenths": 2.5, "tolerance_tenths": 2.0, "beyond_tenths": 0.5, "said_out": False,
         "seconds": 1.0, "at": AT}
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("offset", "text", "error"),
    [(2.5, "in", -0.5), (2.5, "out", 0.0), (-1.5, "out", -0.5), (-1.5, "in", 0.0), (-2.5, "in", 0.5)],
)
def test_the_error_of_a_judgement_is_how_far_beyond_the_limit_it_went(offset, text, error):
    extra = {"line_tenths": 100.0, "offset_tenths": offset, "tolerance_tenths": 2.0}
    answered = read_judgement(text, Item(1, 100 + offset, "judge", extra), METRIC, False)
    assert answered - (100 + offset) == pytest.approx(error)


def test_on_the_limit_itself_is_within():
    extra = {"offset_tenths": -2.0, "tolerance_tenths": 2.0}
    assert truth_of(Item(1, 98.0, "judge", extra)) == "in"


@pytest.mark.parametrize(
    ("text", "micrometer", "offset"),
    [
        ("+1.5", METRIC, 1.5),
        ("−2 µm", METRIC, -2.0),
        ("1,5um", METRIC, 1.5),
        ("0", METRIC, 0.0),
        ("2", INCH, 2.0),
        ("-1.5", INCH, -1.5),
        ("0.0002", INCH, 2.0),
        ("-.00015 in", INCH, -1.5),
    ],
)
def test_sizes_in_micrometres_and_ten_thousandths(text, micrometer, offset):
    item = Item(1, 100.3, "size-it", {"line_tenths": 100.0, "offset_tenths": 0.3})
    assert read_size(text, item, micrometer, False) == pytest.approx(100.0 + offset)


@pytest.mark.parametrize(
    ("text", "micrometer", "why"),
    [
        ("6", METRIC, "more than half a division"),
        ("0.0006", INCH, "more than half a division"),
        ("0.0002 in", METRIC, "type the offset in µm"),
        ("2 um", INCH, "type the offset in ten-thousandths or in inches"),
        ("", METRIC, "nothing was typed"),
    ],
)
def test_sizes_refused(text, micrometer, why):
    with pytest.raises(UnreadableAnswer, match=why):
        read_size(text, Item(1, 100.3, "size-it", {"line_tenths": 100.0}), micrometer, False)


def test_a_size_is_told_with_its_overlap():
    item = Item(1, 101.0, "size-it", {"line_tenths": 100.0, "offset_tenths": 1.0})
    feedback = told_of(item, Answer(1, "2", 102.0, "answered", 1.0, AT), METRIC)
    assert feedback.truth == "+1.0 µm"
    assert feedback.lines == ("50 % of the lines' width overlaps.", "You judged it 1.0 tenths (1.0 µm) high.")


@pytest.mark.parametrize("drill", ["judge", "size-it"])
def test_a_check_spreads_its_offsets_evenly_on_both_sides(drill, plan, chance):
    items = deal(plan(drill, items=80, feedback=False, for_record=True), METRIC, chance)
    offsets = np.array([item.extra["offset_tenths"] for item in items])
    assert sorted(np.floor(np.abs(offsets) / 0.05).astype(int)) == list(range(80))
    assert (offsets > 0).sum() == 40
    for item in items:
        assert item.position_tenths == pytest.approx(item.extra["line_tenths"] + item.extra["offset_tenths"])


def person(chance, threshold, width, lapse=0.02):
    """A simulated person of known threshold, width and lapse rate."""

    def read(session):
        size = abs(session.item.extra["offset_tenths"])
        out = size + width * chance.normal() > threshold
        return "out" if out != (chance.random() < lapse) else "in"

    return read


def test_adaptive_offsets_gather_near_the_threshold_with_easy_ones_between(plan, take, chance):
    wanted = plan("judge", items=70, placement="adaptive")
    session = take(wanted, person(chance, 2.5, 0.4), chance)
    sizes = np.array([abs(item.extra["offset_tenths"]) for item in session.items])
    assert len(sizes) == 70
    easy = sizes[9::10]
    assert np.all((easy < 0.06) | (easy > 3.94))
    assert np.mean(np.abs(sizes - 2.5) < 1.0) > 0.7  # evenly spread it would be half
    signs = [item.extra["offset_tenths"] > 0 for item in session.items]
    assert 20 < sum(signs) < 50


def test_scoring_gets_the_threshold_of_a_simulated_person_back(plan, take, chance):
    # 12 people at 70 adaptive trials each: the mean misses by less than 4 of its standard errors
    # (sd of one estimate about 0.1 tenth, tests/benchmarks/bench_placement.py)
    missed = []
    for _ in range(12):
        session = take(plan("judge", items=70, placement="adaptive"), person(chance, 2.3, 0.4), chance)
        given = trials(session.items, session.answers)
        fitted = judgement.fit([t["beyond_tenths"] for t in given], [t["said_out"] for t in given], 0.4)
        missed.append(2.0 + fitted.threshold_tenths.value - 2.3)
    assert abs(np.mean(missed)) < 4 * 0.11 / 12**0.5
    assert np.std(missed) < 0.25


def test_earlier_sittings_start_the_placing(plan, take, chance):
    wanted = plan("judge", items=5, placement="adaptive")
    past = judgements(take(plan("judge", items=70, placement="adaptive"), person(chance, 3.0, 0.3), chance))
    session = take(wanted, person(chance, 3.0, 0.3), chance, past)
    assert all(abs(abs(item.extra["offset_tenths"]) - 3.0) < 0.8 for item in session.items)


def test_sizing_deals_more_of_the_offsets_that_go_wrong(plan, take, chance):
    def reader(session):
        offset = session.item.extra["offset_tenths"]
        wrong = 1.5 if 2.4 < offset < 3.2 else 0.0
        return f"{round(min(offset + wrong + 0.3 * chance.normal(), 5.0), 1):+.1f}"

    session = take(plan("size-it", items=100, placement="adaptive"), reader, chance)
    offsets = np.array([item.extra["offset_tenths"] for item in session.items])
    assert np.abs(offsets).max() <= 4.0
    assert np.mean((offsets > 2.4) & (offsets < 3.2)) > 0.2  # evenly spread it would be 0.1
