"""Simulated readers and judges of the sign-off's tables are what their names say: spread, slips, rates."""

import numpy as np
import pytest
from scipy import integrate, stats

from trainer.signoff.criteria import find
from trainer.signoff.judges import Judge, rates, simulated_judgements, typical_judges, with_rate
from trainer.signoff.readers import KINDS, Reader, errors, running, session_sums
from trainer.signoff.rules import Rules

SHAPE = (4000, 5, 20)  # people, sittings, readings


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_the_bias_and_the_spread_asked_for(kind, chance):
    """400,000 clean errors: the standard error of the spread is at most 0.2 %, of the bias 0.0016."""
    error, misread = errors(Reader(0.2, 1.0, kind=kind), SHAPE, chance)
    clean = error[~misread]
    assert clean.std() == pytest.approx(1.0, rel=0.012)
    if kind == "cyclic":  # whose curve is even about the middle, and shifted with the bias
        assert clean.mean() == pytest.approx(0.2, abs=0.03)
    else:
        assert clean.mean() == pytest.approx(0.2, abs=0.01)


def test_heavy_tails_are_those_of_student_with_four_degrees_of_freedom(chance):
    error, _ = errors(Reader(0.0, 1.0, kind="heavy tails"), SHAPE, chance)
    plain, _ = errors(Reader(0.0, 1.0), SHAPE, chance)
    far = [(np.abs(one) > 4).mean() for one in (error, plain)]
    assert far[1] < 1e-4  # 6e-5 for a normal distribution
    scale = 1.0 / np.sqrt(
        2
    )  # Student's with 4 df has a variance of 2; its clean spread is 1 or a little more
    assert far[0] == pytest.approx(2 * stats.t.sf(4 / scale, 4), rel=0.6)
    assert far[0] > 20 * far[1]


def test_a_digit_habit_answers_0_or_5_in_a_quarter_of_cases(chance):
    """A fifth of all answers are 0 or 5 without it, and 0.75 x 0.2 + 0.25 with it; 4 standard errors."""
    for kind, share in (("digit habit", 0.4), ("normal", 0.2)):
        error, _ = errors(Reader(0.0, 0.8, kind=kind), (20_000, 20), chance)
        # the place within the tenth is less than half a tenth from its middle, so rounding gives the answer
        answers = np.rint(np.arange(20) % 10 + 0.5 + error)
        wanted = pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / error.size))
        assert np.mean(np.mod(answers, 5) == 0) == wanted


def test_a_cyclic_reader_draws_readings_towards_the_middle(chance):
    """Exponent 0.75 of the power model: too high below the middle, too low above, as its formula gives."""
    error, _ = errors(Reader(0.0, 0.6, kind="cyclic"), (40_000, 20), chance)
    by_tenth = error.reshape(-1, 2, 10).mean(axis=(0, 1))
    share = (np.arange(10)[:, None] + (np.arange(500) + 0.5) / 500) / 10
    curve = share**0.75 / (share**0.75 + (1 - share) ** 0.75) - share
    assert by_tenth == pytest.approx(10 * curve.mean(axis=1), abs=0.03)  # what rounding adds
    assert by_tenth[:5].min() > 0 > by_tenth[5:].max()


def test_slips_are_a_graduation_either_way_at_their_rate(chance):
    error, misread = errors(Reader(0.0, 0.5, misread_rate=0.05), SHAPE, chance)
    assert misread.mean() == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / misread.size))
    up = (error[misread] > 0).mean()
    assert up == pytest.approx(0.5, abs=4 * 0.5 / np.sqrt(misread.sum()))
    assert np.abs(np.abs(error[misread]) - 10).max() < 5


def test_a_drift_moves_people_from_sitting_to_sitting(chance):
    error, _ = errors(Reader(0.0, 0.6, drift_tenths=0.3), SHAPE, chance)
    means = error.mean(axis=2)
    within = 0.6**2 / 20
    assert means.std() == pytest.approx(np.sqrt(0.3**2 + within), rel=0.03)
    assert means.mean(axis=1).std() == pytest.approx(np.sqrt((0.3**2 + within) / 5), rel=0.05)


def test_running_totals_are_the_sums_of_the_clean_errors(chance):
    error, misread = errors(Reader(0.1, 1.2, 0.1), (3, 4, 20), chance)
    totals = running(session_sums(error, misread))
    for person in range(3):
        for end in range(1, 5):
            clean = error[person, :end][~misread[person, :end]]
            assert totals.clean[person, end - 1] == clean.size
            assert totals.misreads[person, end - 1] == misread[person, :end].sum()
            for power, column in enumerate(totals.powers, 1):
                assert column[person, end - 1] == pytest.approx((clean**power).sum(), abs=1e-9)
            means = [e[~m].mean() for e, m in zip(error[person, :end], misread[person, :end], strict=True)]
            assert totals.means[person, end - 1] == pytest.approx(sum(means))
            assert totals.means_squared[person, end - 1] == pytest.approx(sum(m * m for m in means))
            assert totals.sittings[person, end - 1] == end


# --- Judges ---------------------------------------------------------------------------------------------

RULES = Rules.of(find("judging-metric"))  # counts up to 1 and from 3 to 4 tenths; a hundred offsets a sitting


def test_a_judge_accepts_by_the_normal_distribution_function_but_for_lapses():
    judge = Judge(2.0, 0.4, 0.03)
    sizes = np.array([0.0, 1.6, 2.0, 2.4, 4.0])
    expected = 0.03 + 0.94 * stats.norm.cdf((2.0 - sizes) / 0.4)
    assert judge.accepts(sizes) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("accepts", "rate"), [(True, 0.05), (True, 0.15), (False, 0.10), (False, 0.3)])
def test_a_judge_with_a_rate_asked_for_has_it_on_that_side(accepts, rate):
    """By scipy's quadrature of the curve over the window that counts."""
    judge = with_rate(RULES, 2.0, rate, accepts=accepts)
    low, high = (3.0, 4.0) if accepts else (0.0, 1.0)
    said_in = integrate.quad(lambda x: float(judge.accepts(np.array(x))), low, high)[0] / (high - low)
    assert (said_in if accepts else 1 - said_in) == pytest.approx(rate, abs=1e-5)


@pytest.mark.parametrize("judge", [Judge(3.3, 0.4, 0.02), Judge(0.8, 0.4, 0.02)], ids=["lenient", "strict"])
def test_simulated_judgements_have_the_rates_of_their_judge(judge, chance):
    """2,000 people, two sittings; a quarter of a hundred offsets lies in each window. 4 standard errors."""
    found = simulated_judgements(judge, RULES, 2000, 2, chance)
    assert found.judged[:, -1].mean() == pytest.approx(50, abs=0.1)
    assert found.inside[:, -1].mean() == pytest.approx(50, abs=0.1)
    assert (found.judgements[0].tolist(), found.sittings[0].tolist()) == ([100, 200], [1, 2])
    for bad, of, rate in zip(
        (found.false_accepts, found.false_rejects),
        (found.judged, found.inside),
        rates(judge, RULES),
        strict=True,
    ):
        share = bad[:, -1].sum() / of[:, -1].sum()
        assert share == pytest.approx(rate, abs=4 * np.sqrt(rate * (1 - rate) / 100_000) + 1e-4)


def test_the_table_of_typical_judges_says_who_is_at_a_limit():
    found = {name: (judge, at_limit) for name, judge, at_limit in typical_judges(RULES, 2.0)}
    assert {name for name, (_, at_limit) in found.items() if at_limit} == {
        "at the false accept limit", "at the false reject limit",
    }  # fmt: skip
    assert rates(found["at the false accept limit"][0], RULES)[0] == pytest.approx(0.05, abs=1e-6)
    assert rates(found["at the false reject limit"][0], RULES)[1] == pytest.approx(0.10, abs=1e-6)
    assert rates(found["rejects everything"][0], RULES) == pytest.approx((0, 1), abs=1e-9)
