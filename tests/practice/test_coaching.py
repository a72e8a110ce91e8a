"""Coaching: simulated readers with one known habit each hear about it, and are sent to what trains it."""

import re
from dataclasses import replace

import numpy as np
import pytest

from trainer.practice import plans
from trainer.practice.coaching import coach, coach_judging, found_in
from trainer.practice.path import PATH, next_on_path, not_ready, plan_name
from trainer.practice.strata import graduations, stratified_tenths
from trainer.scoring import judgement
from trainer.scoring.person import Misreads
from trainer.scoring.table import score_people


def scored(chance, reader, n=200, outcome=None):
    """Return the score of a reader, a function of positions that gives answers, on n stratified items."""
    import pandas as pd

    from trainer.instrument import catalogue

    truth = (
        10.0 * graduations(n, catalogue.load("metric"), chance)
        + stratified_tenths(n, chance)
        + chance.random(n)
    )
    answers = pd.DataFrame(
        {
            "person": "Ada Example",
            "truth_tenths": truth,
            "answer_tenths": np.rint(reader(truth)),
            "instrument": "metric",
            "session": np.repeat(np.arange(n // 20), 20).astype(str),
            "item": np.tile(np.arange(1, 21), n // 20),
            "outcome": "answered",
        }
    )
    if outcome is not None:
        answers.loc[: n // 4, "outcome"] = outcome
        answers.loc[: n // 4, "answer_tenths"] = np.nan
    return score_people(answers).people[0]


def steady(chance, spread=0.4):
    return lambda truth: truth + spread * chance.normal(size=truth.size)


def test_a_steady_reader_is_sent_onwards():
    fixed = np.random.default_rng(7)  # one in twenty hears of something by chance; this one does not
    told = coach(scored(fixed, steady(fixed)), "full-reading-inch")
    assert told.sentences == ("Nothing stands out; go on to the next drill.",)
    assert told.next_plan == "half-line-inch"


def test_few_readings_are_called_few():
    fixed = np.random.default_rng(7)
    told = coach(scored(fixed, steady(fixed), n=20), "full-reading-metric")
    assert told.sentences == ("Nothing stands out in 20 readings; with 50 or more the figures become firm.",)
    assert told.next_plan == "full-reading-metric"


def test_a_reader_who_reads_low_between_six_and_nine_tenths_hears_just_that(chance):
    def reader(truth):
        low = (truth % 10 >= 6) & (truth % 10 < 9)
        return truth - 0.9 * low + 0.3 * chance.normal(size=truth.size)

    told = coach(scored(chance, reader, n=400), "full-reading-metric")
    said = " ".join(told.sentences)
    assert "tenths low between 6 and 9 tenths" in said
    assert told.next_plan == "weak-tenths-metric"


def test_a_constant_bias_is_told_with_its_size_and_way(chance):
    reader = steady(chance)
    told = coach(scored(chance, lambda truth: reader(truth) + 0.8), "check-metric")
    assert re.fullmatch(
        r"You read 0\.[789] tenths high on the whole: where you waver, take the lower\.", told.sentences[0]
    )


def test_slips_come_first_with_their_remedy(chance):
    reader = steady(chance)

    def slips(truth):
        return reader(truth) + np.where(np.arange(truth.size) % 25 == 0, 500.0, 0.0)

    told = coach(scored(chance, slips), "full-reading-metric")
    assert told.sentences[0].startswith("Of 200, 8 readings were slips (")
    assert told.sentences[0].endswith(" line.")
    assert told.next_plan == "half-line-metric"


def test_favouring_digits_is_told_with_its_share_of_the_spread(chance):
    def favours(truth):
        pulled = chance.random(truth.size) < 0.4
        rounded = 5 * np.rint(truth / 5)
        return np.where(pulled, rounded, truth + 0.4 * chance.normal(size=truth.size))

    said = " ".join(coach(scored(chance, favours, n=400), "check-metric").sentences)
    assert "of your spread is favouring 0 and 5: decide between the two tenths beside it" in said


def test_a_small_share_of_the_spread_is_not_told(chance):
    some = scored(chance, steady(chance))
    habit = replace(some.digit_preference, p_value=1e-4, favoured=(0,), spread_cost_tenths=0.03)
    (said,) = [p.sentence for p in found_in(replace(some, digit_preference=habit)) if "favour" in p.sentence]
    assert said == "You are favouring 0: decide between the two tenths beside it each time."


@pytest.mark.parametrize(("way", "word"), [(1.0, "up"), (-1.0, "down")])
def test_a_drift_within_the_sittings_is_told_with_its_size_and_way(way, word, chance):
    reader = steady(chance)
    moved = 8 * (np.arange(200) % 20) / 100  # eight tenths in a hundred readings, over sittings of twenty
    found = [p.sentence for p in found_in(scored(chance, lambda truth: reader(truth) + way * moved))]
    (said,) = [sentence for sentence in found if sentence.startswith("Within a sitting")]
    assert re.match(rf"Within a sitting your readings move {word} by [6-9]\.\d tenths in a hundred", said)
    assert not [p for p in found_in(scored(chance, reader)) if p.sentence.startswith("Within a sitting")]


def test_a_wide_spread_and_missed_items_are_told(chance):
    wide = [p.sentence for p in found_in(scored(chance, steady(chance, 1.6)))]
    assert any(said.startswith("Your readings scatter by 1.") for said in wide)
    missed = [p.sentence for p in found_in(scored(chance, steady(chance), outcome="timed-out"))]
    assert "51 items have no answer: answer each, even when unsure, since only answers teach." in missed


def test_one_missed_item_is_told_of_as_one(chance):
    score = replace(scored(chance, steady(chance)), readings=5, skipped=1)
    said = [p.sentence for p in found_in(score)]
    assert "One item has no answer: answer each, even when unsure, since only answers teach." in said


def test_a_steady_reader_rarely_hears_of_a_weakness_that_is_not_there(chance):
    # a handful of tests at 5 % each, and many at 1 %: a rate of 0.2 of 60 would be 0.36 at 3 sigma
    heard = [bool(found_in(scored(chance, steady(chance)))) for _ in range(60)]
    assert np.mean(heard) < 0.2


@pytest.mark.parametrize(
    ("threshold", "said"),
    [
        (0.6, "beyond the tolerance, so you accept what should be rejected."),
        (-0.6, "within the tolerance, so you reject what should be accepted."),
        (0.0, "Your threshold agrees with the tolerance."),
    ],
)
def test_judging_is_coached_by_threshold(threshold, said, chance):
    offsets = 4 * chance.random(200) - 2
    out = offsets + 0.3 * chance.normal(size=200) > threshold
    told = coach_judging(judgement.fit(offsets, out), "judge-metric")
    assert told.sentences[0].endswith(said)
    assert told.next_plan == ("calibration-metric" if threshold == 0 else "size-it-metric")


def test_too_few_judgements_are_called_too_few():
    told = coach_judging(judgement.fit([0.1, 0.2], [True, False]), "judge-inch")
    assert told.sentences[0].startswith("No threshold yet: 2 trials")
    assert told.next_plan == "judge-inch"


def test_every_plan_that_coaching_can_name_is_shipped(chance):
    shipped = plans.shipped_files()
    for unit in ("metric", "inch"):
        assert {plan_name(stem, f"x-{unit}") for stem in (*PATH, "judge", "size-it")} <= set(shipped)
    ordered = [name.rpartition("-")[0] for name in shipped if name.endswith("-metric")]
    assert [stem for stem in ordered if stem in PATH] == list(PATH)


def test_the_path_ends_at_the_check():
    stem, seen = PATH[0], []
    while stem != "check":
        seen.append(stem)
        stem = next_on_path(stem)
    assert seen == list(PATH[:-1])


def test_what_speaks_against_a_check_is_listed(chance):
    assert not_ready(scored(chance, steady(chance))) == ()
    reader = steady(chance, 1.3)
    against = " / ".join(not_ready(scored(chance, lambda truth: reader(truth) + 0.9, n=40)))
    assert re.match(
        r"there are \d\d readings; the figures are firm from 50 on / the bias is \+[01]\.\d", against
    )
    slip = replace(scored(chance, steady(chance)), readings=60, misreads=Misreads(1, {"turn": 1}))
    assert not_ready(slip) == ("1 of 60 readings was a slip; practise until none is",)
    assert not_ready(replace(slip, readings=100)) == ()  # one in a hundred: nothing stands against a check
    assert re.search(r"the spread is 1\.\d tenths; a sign-off usually asks for less than 1", against)
