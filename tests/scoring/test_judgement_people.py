"""Everybody's in-or-out judgements from a table: wrong decisions, curve, agreement between people."""

import json
import math

import numpy as np
import pandas as pd
import pytest
from scipy.special import ndtr

from trainer.scoring import judged
from trainer.scoring.agreement import UnusableRatings


def sitting(chance, thresholds, items=200):
    """Return the same offsets judged by people of given thresholds and a width of 0.5 tenths."""
    offsets = chance.uniform(-4, 4, items)
    truth = 10.0 * chance.integers(1, 400, items) + offsets
    rows = []
    for name, threshold in thresholds.items():
        out = chance.random(items) < ndtr((np.abs(offsets) - 2.0 - threshold) / 0.5)
        rows += [(name, t, bool(o), 2.0) for t, o in zip(truth, out, strict=True)]
    return pd.DataFrame(rows, columns=["person", "truth_tenths", "said_out", "tolerance_tenths"])


def test_offsets_are_folded_onto_the_limit():
    # 2.5 tenths either side of a graduation, tolerance 2: half a tenth beyond
    assert judged.from_limit([102.5, 97.5, 100.0, 95.0], 2.0) == pytest.approx([0.5, 0.5, -2.0, 3.0])


def test_a_lenient_person_has_a_high_threshold_and_false_accepts(chance):
    found = judged.judge_people(sitting(chance, {"fair": 0.0, "lenient": 0.8}, 1000))
    fair, lenient = found.people
    assert abs(fair.curve.threshold_tenths.value) < 0.2
    assert lenient.curve.threshold_tenths.value == pytest.approx(0.8, abs=0.2)
    assert lenient.curve.width_tenths.value == pytest.approx(0.5, rel=0.4)
    assert lenient.rates.false_accept.low > fair.rates.false_accept.high
    assert lenient.with_truth.kappa.value < fair.with_truth.kappa.value


def test_people_who_judged_the_same_items_are_compared(chance):
    found = judged.judge_people(sitting(chance, {"A": 0.0, "B": 0.1, "C": -0.1}))
    assert found.between.judges == 3
    assert found.between.items == 200
    assert set(found.pairs) == {("A", "B"), ("A", "C"), ("B", "C")}
    by_pair = np.mean([k.kappa.value for k in found.pairs.values()])
    assert found.between.kappa == pytest.approx(by_pair, abs=0.02)  # equal margins: both ask the same
    text = json.dumps(found.to_dict(), allow_nan=False)
    assert json.loads(text)["people"][0]["person"] == "A"


def test_people_with_items_of_their_own_are_told_apart(chance):
    frame = pd.concat([sitting(chance, {"A": 0.0}), sitting(chance, {"B": 0.0})], ignore_index=True)
    found = judged.judge_people(frame)
    assert found.between is None
    assert "fewer than 2 items were judged by everybody" in found.reasons["between"]
    assert found.pairs == {}


def test_a_position_judged_against_another_tolerance_is_another_item(chance):
    first = sitting(chance, {"A": 0.0})
    frame = pd.concat([first, first.assign(person="B", tolerance_tenths=1.0)], ignore_index=True)
    found = judged.judge_people(frame)
    assert found.between is None
    assert found.pairs == {}


def test_few_judgements_give_rates_and_the_reason_for_the_rest(chance):
    found = judged.judge_people(sitting(chance, {"A": 0.0}, 12))
    assert found.people[0].rates.right.value > 0.5
    assert found.people[0].curve.threshold_tenths is None
    assert found.summary().loc["A", "threshold_tenths"] is None
    assert found.reasons["between"].startswith("one person;")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda f: f.drop(columns="said_out"), 'no column "said_out"'),
        (lambda f: f.iloc[:0], "no judgements"),
        (lambda f: f.assign(truth_tenths=math.inf), "missing or not possible"),
        (lambda f: f.assign(tolerance_tenths=0.0), "missing or not possible"),
        (lambda f: f.assign(said_out=None), "true or false"),
    ],
)
def test_unusable_tables_are_refused_in_a_sentence(change, said, chance):
    with pytest.raises(UnusableRatings) as refused:
        judged.judge_people(change(sitting(chance, {"A": 0.0}, 30)))
    assert said in str(refused.value)
