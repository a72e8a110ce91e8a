"""Comparing everybody, two people, or before and after, from a table of answers."""

import json
import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trainer.instrument.refusal import Refusal
from trainer.scoring import compare, pairs
from trainer.scoring.errors import UnscorableAnswers
from trainer.scoring.table import score_people


def answers(chance, people, readings=60, sessions=3, instrument="metric"):
    """Return answers of invented readers; `people` maps a name to bias and spread in tenths."""
    rows = []
    for name, (bias, spread) in people.items():
        for session in range(sessions):
            truth = chance.uniform(0, 5000, readings // sessions)
            answer = truth + bias + spread * chance.standard_normal(len(truth))
            rows += [
                (name, t, a, f"{name}-{session}", i + 1, f"2026-0{session + 1}-05T09:{i:02d}:00Z", instrument)
                for i, (t, a) in enumerate(zip(truth, answer, strict=True))
            ]
    columns = ["person", "truth_tenths", "answer_tenths", "session", "item", "at", "instrument"]
    return pd.DataFrame(rows, columns=columns)


def near(interval, truth):
    """Say whether a 95 % interval lies within four standard errors of the truth, so that seeds may roam."""
    return (
        interval.low - 1.1 * (interval.value - interval.low)
        < truth
        < interval.high + 1.1 * (interval.high - interval.value)
    )


SIX = {f"P{i}": (bias, 0.6) for i, bias in enumerate((0.0, 0.1, -0.2, 0.3, -0.1, 0.2))}


def test_everybody_follows_from_the_scores_and_the_analysis_of_variance(chance):
    frame = answers(chance, SIX)
    found = compare.compare_people(frame)
    scores = score_people(frame)
    assert [p.person for p in found.people] == list(scores.names)
    assert [p.bias_tenths.value for p in found.people] == pytest.approx(scores.columns["bias"])
    errors = frame["answer_tenths"] - frame["truth_tenths"]
    groups = [errors[frame["person"] == name] for name in SIX]
    f = stats.f_oneway(*groups).statistic
    within = np.mean([g.var() for g in groups])
    between = within * (f - 1) / 60
    assert found.precision.repeatability_sd.value**2 == pytest.approx(within)
    assert found.precision.between_sd.value**2 == pytest.approx(between)
    assert (
        found.precision.reproducibility_sd.low
        < math.hypot(0.6, 0.2)
        < found.precision.reproducibility_sd.high
    )


def test_an_odd_person_stands_out_by_name(chance):
    found = compare.compare_people(answers(chance, SIX | {"odd": (3.0, 0.6), "wild": (0.1, 2.2)}, 90))
    by_name = {p.person: p.finding for p in found.people}
    assert "bias stands out" in by_name["odd"]
    assert "spread stands out" in by_name["wild"]
    named = {s["name"]: (s["person"], s["finding"]) for s in found.to_dict()["screenings"]}
    assert named["Grubbs"][0] == "odd"
    assert named["Cochran"] == ("wild", "outlier")
    assert any("false alarms" in note for note in found.notes)


def test_mandels_h_and_k_are_their_definitions_however_close_the_people_are(chance):
    """ISO 5725-2, 7.3.1, from memory: h = (mean - mean of all)/sd of the means; k = s/root mean s^2."""
    frame = answers(chance, {name: (bias / 100, spread / 100) for name, (bias, spread) in SIX.items()})
    found = compare.compare_people(frame)
    errors = (frame["answer_tenths"] - frame["truth_tenths"]).groupby(frame["person"])
    means, sds = errors.mean(), errors.std()
    assert [p.h for p in found.people] == pytest.approx(list((means - means.mean()) / means.std()))
    assert [p.k for p in found.people] == pytest.approx(list(sds / math.sqrt((sds**2).mean())))


def test_misreads_are_set_apart_and_counted(chance):
    frame = answers(chance, SIX)
    frame.loc[3, "answer_tenths"] += 10
    found = compare.compare_people(frame)
    assert found.people[0].misreads == 1
    assert found.people[0].used == 59
    assert found.people[0].spread_tenths.value < 1


def test_two_and_three_people_get_what_can_be_had(chance):
    two = compare.compare_people(answers(chance, {"A": (0.0, 0.5), "B": (0.4, 0.5)}))
    assert two.precision.reproducibility_sd.value > 0
    assert two.precision.reproducibility_sd.low is None
    assert two.screenings == ()
    assert "screening needs 3" in two.reasons["screening"]
    assert two.people[0].h is None
    three = compare.compare_people(answers(chance, {"A": (0.0, 0.5), "B": (0.4, 0.5), "C": (0.2, 0.5)}))
    assert {s.name for s in three.screenings} == {"Cochran", "Grubbs"}
    assert "needs 4" in three.reasons["grubbs_pair"]


def test_people_with_one_reading_or_none_are_told_not_dropped_silently(chance):
    frame = answers(chance, SIX)
    one = frame.iloc[[0]].assign(person="newcomer", session="n")
    none = frame.iloc[[0]].assign(person="absent", session="a", answer_tenths=math.nan)
    found = compare.compare_people(pd.concat([frame, one, none], ignore_index=True))
    used = {p.person: p.used for p in found.people}
    assert (used["newcomer"], used["absent"]) == (1, 0)
    assert any("2 people with fewer than 2 readings are" in note for note in found.notes)
    assert found.precision.people == 7
    json.dumps(found.to_dict(), allow_nan=False)
    assert found.summary().loc["absent", "bias_tenths"] is None


def test_answers_all_alike_warn_of_nothing_and_show_nothing(chance):
    frame = answers(chance, SIX)
    frame["answer_tenths"] = frame["truth_tenths"]
    found = compare.compare_people(frame)
    assert found.precision.reproducibility_sd.value == pytest.approx(0, abs=1e-9)
    assert found.reasons["h"] == "every bias is the same"
    assert found.reasons["k"] == "nobody's readings vary"
    json.dumps(found.to_dict(), allow_nan=False)


def test_two_instruments_are_not_compared_unless_one_is_chosen(chance):
    metric, inch = (
        answers(chance, SIX),
        answers(chance, {"Q": (0.0, 0.5), "R": (0.1, 0.5)}, instrument="inch"),
    )
    both = pd.concat([metric, inch], ignore_index=True)
    with pytest.raises(compare.UnusableComparison, match=r"different instruments \(inch, metric\)"):
        compare.compare_people(both)
    assert compare.compare_people(both, instrument="inch").instrument == "inch"


def test_one_person_is_nothing_to_compare(chance):
    with pytest.raises(compare.UnusableComparison, match="at least 2"):
        compare.compare_people(answers(chance, {"A": (0.0, 0.5)}))
    with pytest.raises(UnscorableAnswers, match="no column"):
        compare.compare_people(pd.DataFrame({"person": ["A"]}))


# --- Two people -----------------------------------------------------------------------------------------


def side(name, values, sessions=1):
    """Return a side made by scipy and numpy alone."""
    values = np.asarray(values)
    n, centre = len(values), values - values.mean()
    kurtosis = n * (centre**4).sum() / (centre**2).sum() ** 2
    se = values.std(ddof=1) / math.sqrt(n)
    return pairs.Side(
        name, n, 0, values.mean(), se, n - 1, values.std(ddof=1), kurtosis, sessions, values.mean(), None
    )


def test_the_difference_of_biases_is_welchs(chance):
    first, second = chance.normal(0.0, 0.5, 40), chance.normal(0.2, 0.9, 60)
    found = pairs.compare(side("A", first), side("B", second))
    theirs = stats.ttest_ind(second, first, equal_var=False)
    ends = theirs.confidence_interval(0.95)
    assert found.p_value == pytest.approx(theirs.pvalue)
    assert (found.bias_difference_tenths.low, found.bias_difference_tenths.high) == pytest.approx(tuple(ends))
    near = theirs.confidence_interval(0.90)
    assert found.alike_within_tenths == pytest.approx(max(abs(near.low), abs(near.high)))


def test_the_ratio_of_spreads_covers_for_reading_like_errors(chance):
    # rounded, heavy-tailed errors, true ratio 1.5; the F interval for normal errors would hold 80 %
    runs, held = 400, 0
    for _ in range(runs):
        first, second = (scale * chance.standard_t(6, 60) for scale in (0.5, 0.75))
        ratio = pairs.compare(side("A", first), side("B", second)).spread_ratio
        held += ratio.low <= 1.5 <= ratio.high
    assert held / runs == pytest.approx(0.94, abs=4 * math.sqrt(0.94 * 0.06 / runs))


def test_two_people_from_a_table(chance):
    frame = answers(chance, {"A": (0.0, 0.5), "B": (0.8, 1.0), "C": (9.0, 0.1)}, 120, 4)
    found = compare.compare_pair(frame, "A", "B")
    assert near(found.bias_difference_tenths, 0.8)
    assert near(found.spread_ratio, 2.0)
    assert near(found.across_sessions_tenths, 0.8)
    back = compare.compare_pair(frame, "B", "A")
    assert back.bias_difference_tenths.value == pytest.approx(-found.bias_difference_tenths.value)
    assert back.spread_ratio.value == pytest.approx(1 / found.spread_ratio.value)
    json.dumps(found.to_dict(), allow_nan=False)


def test_the_interval_across_sessions_is_welchs_on_the_means_of_the_sessions(chance):
    first, second = chance.normal(0.0, 0.3, 4), chance.normal(0.2, 0.5, 6)
    sides = [
        replace(
            side(name, chance.normal(0, 0.5, 80), len(means)),
            session_mean=means.mean(),
            session_sd=means.std(ddof=1),
        )
        for name, means in (("A", first), ("B", second))
    ]
    found = pairs.compare(*sides).across_sessions_tenths
    theirs = stats.ttest_ind(second, first, equal_var=False).confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((theirs.low, theirs.high))
    assert found.value == pytest.approx(second.mean() - first.mean())


def test_the_ratio_of_spreads_is_bonetts_formula_for_two(chance):
    """Bonett, Comput. Statist. Data Anal. 50 (2006) 775: ln(c s^2) with se = c sqrt((g - (n - 3)/n)/(n - 1)).

    c = n/(n - z) is his; that the two sides are independent, so that their variances add, is ours.
    """
    a, b = side("A", chance.standard_t(6, 40)), side("B", chance.standard_t(6, 70))
    z = stats.norm.ppf(0.975)
    c = [s.used / (s.used - z) for s in (a, b)]
    se = [
        k * math.sqrt((s.kurtosis - (s.used - 3) / s.used) / (s.used - 1))
        for k, s in zip(c, (a, b), strict=True)
    ]
    middle = math.log(c[1] * b.sd**2) - math.log(c[0] * a.sd**2)
    ends = [math.exp((middle + sign * z * math.hypot(*se)) / 2) for sign in (-1, 1)]
    found = pairs.compare(a, b).spread_ratio
    assert (found.low, found.high) == pytest.approx(tuple(ends))


def test_misreads_set_apart_are_told_of_whose_they_are(chance):
    frame = answers(chance, {"A": (0.0, 0.5), "B": (0.1, 0.5)}, 60)
    frame.loc[3, "answer_tenths"] += 500
    assert "1 misread is set apart for A" in compare.compare_pair(frame, "A", "B").notes
    frame.loc[[70, 71], "answer_tenths"] += 500
    notes = compare.compare_pair(frame, "A", "B").notes
    assert [note for note in notes if "misread" in note] == [
        "1 misread is set apart for A", "2 misreads are set apart for B",
    ]  # fmt: skip


def test_days_that_differ_widen_the_interval_across_sessions(chance):
    frame = answers(chance, {"A": (0.0, 0.5), "B": (0.0, 0.5)}, 200, 4)
    moved = dict(zip(frame["session"].unique(), (0.4, -0.4, 0.3, -0.3) * 2, strict=True))
    frame["answer_tenths"] += frame["session"].map(moved)
    found = compare.compare_pair(frame, "A", "B")
    width = found.across_sessions_tenths.high - found.across_sessions_tenths.low
    assert width > 3 * (found.bias_difference_tenths.high - found.bias_difference_tenths.low)


def test_too_little_for_an_interval_is_none_with_the_reason(chance):
    frame = answers(chance, {"A": (0.0, 0.5), "B": (0.5, 0.5)}, 12, 2)
    found = compare.compare_pair(frame, "A", "B")
    assert found.spread_ratio.low is None
    assert "needs 20" in found.reasons["spread_ratio"]
    assert found.across_sessions_tenths is None
    assert "at least 3" in found.reasons["across_sessions_tenths"]
    single = compare.compare_pair(frame.groupby("person").head(1), "A", "B")
    assert single.bias_difference_tenths.low is None
    assert single.spread_ratio is None
    assert single.reasons["bias_difference_tenths"]
    assert single.summary().loc["spread_ratio", "value"] is None


def test_who_lacks_a_spread_and_why_is_told_whichever_side_it_is(chance):
    frame = answers(chance, {"many": (0.0, 0.5), "single": (0.0, 0.5)})
    frame = frame[(frame["person"] == "many") | ~frame["person"].duplicated()]
    for names in (("many", "single"), ("single", "many")):
        assert compare.compare_pair(frame, *names).reasons["spread_ratio"] == (
            "single has no spread; a ratio needs one"
        )


def test_before_and_after(chance):
    before = answers(chance, {"A": (0.9, 1.0)}, 60, 3)
    after = answers(chance, {"A": (0.1, 0.5)}, 60, 3)
    after["at"] = after["at"].str.replace("2026", "2027")
    after["session"] += "-later"
    found = compare.before_and_after(pd.concat([before, after], ignore_index=True), "A", "2026-12-31")
    assert (found.first.name, found.second.name) == ("A before", "A after")
    assert near(found.bias_difference_tenths, -0.8)
    assert near(found.spread_ratio, 0.5)


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (lambda f: compare.compare_pair(f, "A", "A"), "named twice"),
        (lambda f: compare.compare_pair(f.drop(columns="person"), "A", "B"), 'no column "person"'),
        (lambda f: compare.compare_pair(f, "A", "Z"), 'nobody is named "Z"'),
        (lambda f: compare.before_and_after(f, "Z", "2026-01-01"), "nobody is named"),
        (lambda f: compare.before_and_after(f, "A", "soon"), "not a date"),
        (lambda f: compare.before_and_after(f, "A", "01.03.2026"), "write it as 2026-03-01"),
        (lambda f: compare.before_and_after(f, "A", "03/01/2026"), "write it as 2026-03-01"),
        (lambda f: compare.before_and_after(f, "A", "1999-01-01"), "no readings before"),
        (lambda f: compare.before_and_after(f, "A", "2099-01-01"), "no readings from"),
        (lambda f: compare.before_and_after(f.drop(columns="at"), "A", "2026-02-01"), "carry no time"),
        (lambda f: compare.before_and_after(f.assign(at="noon"), "A", "2026-02-01"), "no readable time"),
    ],
)
def test_comparisons_that_cannot_be_made_are_refused_in_a_sentence(fault, said, chance):
    frame = answers(chance, {"A": (0.0, 0.5), "B": (0.4, 0.5)})
    with pytest.raises(compare.UnusableComparison) as refused:
        fault(frame)
    assert said in str(refused.value)


def test_all_misreads_on_one_side_is_refused(chance):
    frame = answers(chance, {"A": (0.0, 0.5), "B": (0.4, 0.5)})
    frame.loc[frame["person"] == "B", "answer_tenths"] += 500
    with pytest.raises(pairs.UnusablePair, match="B has no readings left"):
        compare.compare_pair(frame, "A", "B")


def test_a_whole_population_is_compared_at_once(chance):
    frame = answers(chance, {f"P{i}": (0.3 * chance.standard_normal(), 0.6) for i in range(400)}, 24, 1)
    found = compare.compare_people(frame)
    assert found.precision.people == 400
    drawn = np.std([p.bias_tenths.value for p in found.people], ddof=1)  # biases as drawn, with reading noise
    expected = math.sqrt(drawn**2 - 0.6**2 / 24)
    assert found.precision.between_sd.value == pytest.approx(expected, rel=0.02)
    assert found.precision.between_sd.low < expected < found.precision.between_sd.high
    pair = next(s for s in found.screenings if s.name == "Grubbs, two lowest")
    assert pair.finding == "not known"


def one_sentence(refusal):
    assert str(refusal)
    assert "\n" not in str(refusal)


ODD = st.one_of(
    st.floats(),
    st.sampled_from([0.0, 1e9, -1e9, 1e300, math.inf, math.nan, 7384.0, 7384.4]),
)


@given(st.lists(st.tuples(st.sampled_from("ABC"), ODD, ODD), min_size=1, max_size=40))
@settings(max_examples=60, deadline=None)
def test_whatever_the_answers_the_result_is_finite_or_one_sentence(rows):
    frame = pd.DataFrame(rows, columns=["person", "truth_tenths", "answer_tenths"])
    for attempt in (lambda: compare.compare_people(frame), lambda: compare.compare_pair(frame, "A", "B")):
        try:
            json.dumps(attempt().to_dict(), allow_nan=False)
        except Refusal as refusal:
            one_sentence(refusal)
