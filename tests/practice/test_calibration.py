"""The calibration run: blocks, repeats, the worksheet, and what reading error does to a verdict."""

import math
from dataclasses import asdict

import numpy as np
import pytest

from trainer.instrument import catalogue
from trainer.instrument.micrometer import Faults, State
from trainer.instrument.scale import showing
from trainer.instrument.typed import UnreadableAnswer
from trainer.practice.asking import asked
from trainer.practice.calibration import (
    BLOCKS_INCH,
    BLOCKS_MM,
    blocks_tenths,
    draw_faults,
    read_verdict,
    verdict,
)
from trainer.practice.items import Answer, Item
from trainer.practice.results import rows
from trainer.practice.session import Begun, start, step
from trainer.practice.telling import told
from trainer.practice.worksheet import accept_chance, normal_within, population_risk, runs

METRIC, INCH = catalogue.load("metric"), catalogue.load("inch")
AT = "2026-01-05T08:00:00Z"


def exact(session):
    """Read what the scale shows to a tenth; reject by the recorded errors."""
    item = session.item
    if item.asks == "verdict":
        run = runs(session.items, session.answers, session.micrometer)[-1]
        return run.recorded
    return session.micrometer.format_reading(item.position_tenths, session.micrometer.decimals)


def test_the_block_series_samples_the_thimble_all_round(plan):
    # DIN 863-1 / ISO 3611:1978 annex series, from memory; positions recomputed (reference values, 2)
    lines = [showing(State(METRIC, METRIC.position_of(str(mm)))).thimble_line for mm in BLOCKS_MM[:-1]]
    assert lines == [0, 10, 20, 30, 40, 0, 10, 20, 30]
    # the inch equivalents take the same fifths of a turn (common practice, no source)
    lines = [showing(State(INCH, INCH.position_of(str(inch)))).thimble_line for inch in BLOCKS_INCH[:-1]]
    assert lines == [5, 10, 15, 20, 0, 5, 10, 15, 20]
    assert blocks_tenths(plan("calibration"), METRIC)[:3] == (2500.0, 5100.0, 7700.0)


def test_larger_ranges_stand_on_their_base(plan):
    wanted = plan("calibration", "metric-25-50")
    assert blocks_tenths(wanted, catalogue.load("metric-25-50"))[0] == 2500.0
    own = plan("calibration", "metric-25-50", blocks=[27.5, 50.0])
    assert blocks_tenths(own, catalogue.load("metric-25-50")) == (2500.0, 25000.0)


def test_a_run_is_ten_blocks_and_a_verdict(plan, take, chance):
    session = take(plan("calibration", items=2), exact, chance)
    assert [item.asks for item in session.items] == (["block-reading"] * 10 + ["verdict"]) * 2
    assert len({str(item.extra["faults"]) for item in session.items}) == 2
    assert [item.extra["block_tenths"] / 1000 for item in session.items[:10]] == list(BLOCKS_MM)
    assert len(rows("metric", session.items, session.answers)) == 20


def test_the_number_of_items_is_not_known_beforehand(plan, chance):
    session = step(start(plan("calibration", items=1), ()), Begun(0.0))
    assert (session.phase, session.total, session.wants_item) == ("dealing", None, True)


def test_a_block_is_seated_again_on_request_five_times_at_most(plan, take, chance):
    def repeats(session):
        text = exact(session)
        return f"{text} again" if session.item.extra.get("block") == 2 else text

    session = take(plan("calibration", items=1), repeats, chance)
    third = [item for item in session.items if item.extra.get("block") == 2]
    assert [item.extra["reading"] for item in third] == [1, 2, 3, 4, 5]
    assert len({item.position_tenths for item in third}) == 5, "each seating is another"
    (run,) = runs(session.items, session.answers, METRIC)
    assert len(run.rows) == 10
    assert len(run.rows[2].reading_errors_tenths) == 5
    given = [
        a.answer_tenths - 7700 for i, a in zip(session.items, session.answers, strict=True) if i in third
    ]
    assert run.rows[2].recorded_error_tenths == pytest.approx(np.mean(given))


@pytest.mark.parametrize("by_hand", [False, True])
def test_a_block_is_seated_again_only_as_often_as_asked(by_hand, plan, take, chance):
    def once_more(session):
        item = session.item
        text = "+1" if item.asks == "block-error" else exact(session)
        asks = item.extra.get("block") == 4 and item.extra["reading"] == 1 and item.asks == "block-reading"
        return f"{text} Again" if asks else text

    session = take(plan("calibration", items=1, errors_by_hand=by_hand), once_more, chance)
    readings = [i.extra["block"] for i in session.items if i.asks == "block-reading"]
    assert readings == [0, 1, 2, 3, 4, 4, 5, 6, 7, 8, 9]


def test_errors_can_be_worked_out_by_hand(plan, take, chance):
    def by_hand(session):
        item = session.item
        if item.asks == "block-error":
            return f"{session.answers[-1].answer_tenths - item.extra['block_tenths']:+.0f}"
        return exact(session)

    session = take(plan("calibration", items=1, errors_by_hand=True), by_hand, chance)
    assert [item.asks for item in session.items] == ["block-reading", "block-error"] * 10 + ["verdict"]
    (run,) = runs(session.items, session.answers, METRIC)
    for row in run.rows:
        assert row.by_hand_tenths == pytest.approx(row.recorded_error_tenths)
    assert len(rows("metric", session.items, session.answers)) == 10


def test_hidden_curves_conform_about_half_the_time_and_have_all_three_parts(chance):
    blocks = [METRIC.position_of(str(mm)) for mm in BLOCKS_MM]
    drawn = [draw_faults(4.0, blocks, METRIC, chance) for _ in range(400)]
    largest = [max(abs(f.offset_tenths(b, 500.0)) for b in blocks) for f in drawn]
    assert min(largest) >= 0.4 * 4 - 1e-9
    assert max(largest) <= 1.6 * 4 + 1e-9
    assert np.mean(np.array(largest) <= 4.0) == pytest.approx(0.5, abs=4 * 0.5 / 400**0.5)
    assert all(f.zero_tenths and f.progressive_tenths_per_turn and f.periodic_tenths for f in drawn)


def test_truth_and_record_are_told_after_the_verdict_and_not_before(plan, take, chance):
    seen = []
    session = take(plan("calibration", items=1), exact, chance, told=lambda s: seen.append(told(s)))
    (feedback,) = seen
    (run,) = runs(session.items, session.answers, METRIC)
    assert feedback.truth == run.truth
    assert len(feedback.figures["rows"]) == 10
    assert abs(feedback.figures["bias_tenths"]) < 0.5
    assert 0.1 < feedback.figures["spread_tenths"] < 0.5  # rounding alone: 0.29
    assert "Its largest error at the blocks is" in feedback.lines[1]


def worked_run(true_zero, recorded, said):
    """Two blocks of an instrument with a constant error, read as given; None was skipped."""
    faults = asdict(Faults(zero_tenths=true_zero))
    shared = {"run": 1, "mpe_tenths": 4.0, "faults": faults}
    items, answers = [], []
    for number, (block, error) in enumerate(zip((2500.0, 5100.0), recorded, strict=True), 1):
        extra = {**shared, "block": number - 1, "block_tenths": block, "reading": 1}
        items.append(Item(number, block + true_zero, "block-reading", extra))
        said_tenths, outcome = (None, "skipped") if error is None else (block + error, "answered")
        answers.append(Answer(number, "", said_tenths, outcome, 1.0, AT))
    items.append(Item(3, 0.0, "verdict", shared))
    answers.append(Answer(3, said, None, "answered", 1.0, AT))
    return runs(items, answers, METRIC)[0]


@pytest.mark.parametrize(
    ("true_zero", "recorded", "said", "effect"),
    [
        (3.0, (3.0, 3.0), "accept", "The instrument conforms, and so says the verdict."),
        (5.0, (5.0, 6.0), "r", "The instrument does not conform, and so says the verdict."),
        (5.0, (4.0, 4.0), "accept", "A false accept: the instrument does not conform, but reading "
         "errors moved it across the limit."),
        (3.6, (5.0, 4.0), "reject", "A false reject: the instrument conforms, but reading errors "
         "moved it across the limit."),
        (5.0, (5.0, 5.0), "accept", "A false accept: the instrument does not conform and the recorded "
         "errors show it; the rule was misapplied."),
        (3.0, (5.0, 3.0), "accept", "The instrument conforms, and so says the verdict, although the recorded "
         "errors called for the other verdict."),
        (4.0, (4.0, 4.0), "accept", "The instrument conforms, and so says the verdict."),
        (5.0, (5.0, None), "accept", "A false accept: the instrument does not conform; a block without a "
         "reading leaves a verdict to chance."),
    ],
)  # fmt: skip
def test_what_reading_error_did_to_the_verdict(true_zero, recorded, said, effect):
    assert worked_run(true_zero, recorded, said).effect() == effect


@pytest.mark.parametrize(("text", "said"), [("accept", "accept"), ("A", "accept"), (" rej", "reject")])
def test_verdicts_in_words(text, said):
    assert verdict(text) == said


@pytest.mark.parametrize(
    ("largest", "said", "error"), [(5.0, "accept", -1.0), (5.0, "reject", 0.0), (3.0, "reject", 1.0)]
)
def test_the_error_of_a_verdict_is_how_far_beyond_the_limit_it_went(largest, said, error):
    item = Item(3, largest, "verdict", {"mpe_tenths": 4.0})
    assert read_verdict(said, item, METRIC, False) - largest == error


@pytest.mark.parametrize("text", ["", "ok", "acceptable", "1"])
def test_what_is_no_verdict_is_refused(text):
    said = f"{text!r} is no verdict" if text else "nothing was typed"
    with pytest.raises(UnreadableAnswer, match=f"^{said}; type accept or reject"):
        verdict(text)


def test_the_chance_of_accepting_is_the_product_over_the_blocks():
    # one error on the limit: half (by symmetry); two: a quarter; a spread of nothing: yes or no.
    # 1.96 standard deviations of room on both sides: 95 % (normal table)
    within = normal_within(4.0)
    assert accept_chance([4.0], 0.0, 0.5, within) == pytest.approx(0.5, abs=1e-12)
    assert accept_chance([4.0, -4.0], 0.0, 0.5, within) == pytest.approx(0.25, abs=1e-12)
    assert accept_chance([0.0], 0.0, 4 / 1.959964, within) == pytest.approx(0.95, abs=1e-6)
    assert accept_chance([3.0, 5.0], 0.0, 0.0, within) == 0.0
    assert accept_chance([3.5], 0.5, 0.0, within) == 1.0


def test_chances_agree_with_reading_again_and_again(chance):
    errors, bias, spread = np.array([3.2, -2.0, 3.7, 0.5]), 0.2, 0.6
    recorded = errors + bias + spread * chance.normal(size=(20_000, 4))
    simulated = np.mean(np.all(np.abs(recorded) <= 4.0, axis=1))
    worked_out = accept_chance(list(errors), bias, spread, normal_within(4.0))
    assert simulated == pytest.approx(worked_out, abs=4 * math.sqrt(0.25 / 20_000))


def test_risks_over_instruments_grow_with_the_spread(chance):
    blocks = [METRIC.position_of(str(mm)) for mm in BLOCKS_MM]
    sharp = population_risk(4.0, blocks, METRIC, 0.0, 1e-6, np.random.default_rng(1), 300)
    dull = population_risk(4.0, blocks, METRIC, 0.0, 1.0, np.random.default_rng(1), 300)
    assert sharp.false_accept == pytest.approx(0, abs=1e-12)
    assert sharp.false_reject == pytest.approx(0, abs=1e-12)
    assert dull.false_reject > 0.02
    assert 0 < dull.false_accept < dull.conforming
    assert sharp.conforming == dull.conforming == pytest.approx(0.5, abs=0.12)


def test_prompts_name_block_and_limit(plan, take, chance):
    asked_for = []

    def reader(session):
        asked_for.append(asked(session).question)
        return exact(session)

    take(plan("calibration", "inch", 1, mpe_tenths=1.0), reader, chance)
    assert asked_for[0] == "Reading on the block of 0.1050 in?"
    assert asked_for[-1] == "Accept or reject, every error to lie within ±0.00010 in?"


def test_after_a_verdict_the_risk_of_such_verdicts_is_told(plan, take, chance):
    """The same figures as by `population_risk` itself, for the mean and spread of the readings just made."""
    seen = []
    take(plan("calibration", items=1, feedback=True), exact, chance, told=lambda s: seen.append(told(s)))
    verdict_told = next(one for one in seen if one is not None and "rows" in one.figures)
    figures = verdict_told.figures
    own = population_risk(
        4.0,
        blocks_tenths(plan("calibration"), METRIC),
        METRIC,
        figures["bias_tenths"],
        figures["spread_tenths"],
        np.random.default_rng(5),
        4000,
    )
    risk = figures["risk"]
    # four standard errors of a share among 1000 instruments
    for name in ("false_accept", "false_reject", "conforming"):
        share = getattr(own, name)
        assert risk[name] == pytest.approx(share, abs=4 * math.sqrt(max(share, 0.01) / 1000))
    words = verdict_told.lines[-1]
    assert f"accept {100 * risk['false_accept']:.1f} % of all wrongly" in words
    assert "invented instruments" in words
