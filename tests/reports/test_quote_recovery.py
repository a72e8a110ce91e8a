"""Quotes of simulated readers with known bias and spread say, on average, what was put in."""

import math

import numpy as np
import pandas as pd
import pytest

from trainer.reports.quote import of_person
from trainer.reports.quote_team import of_team
from trainer.reports.readings import readings
from trainer.scoring.precision import of_groups
from trainer.scoring.table import score_people

ROUNDING = 1 / 12  # variance of rounding to a tenth, JCGM 100:2008, F.2.2.1; exact for continuous truths


def simulated(chance, biases, sd, each=100):
    """Return answers of readers who round to whole tenths; truths spread evenly over the tenths."""
    people, count = len(biases), len(biases) * each
    tenths = np.concatenate([chance.permutation(np.arange(each) % 10) for _ in range(people)])
    truth = chance.integers(5, 2400, count) * 10 + tenths + chance.random(count)
    answer = np.rint(truth + np.repeat(biases, each) + chance.normal(0, sd, count))
    return pd.DataFrame(
        {
            "person": np.repeat([f"r{i}" for i in range(people)], each),
            "truth_tenths": truth,
            "answer_tenths": answer,
            "session": np.tile(np.arange(each) // 25, people).astype(str),
            "instrument": "metric",
            "drill": "full-reading",
        }
    )


def test_the_uncertainty_of_a_reading_is_the_spread_that_was_put_in(chance):
    bias, sd, people = 0.3, 0.6, 400
    frame = simulated(chance, np.full(people, bias), sd)
    scores = score_people(frame).people
    groups = dict(list(frame.groupby("person", sort=False)))
    quotes = [of_person(score, readings(groups[score.person])) for score in scores[:100]]
    square = np.array([q.u.tenths**2 for q in quotes])
    truth = bias**2 + sd**2 + ROUNDING
    assert square.mean() == pytest.approx(truth, abs=4 * square.std() / math.sqrt(len(square)))
    corrected = np.array([q.u_corrected.tenths**2 for q in quotes])
    without = (sd**2 + ROUNDING) * 1.01
    assert corrected.mean() == pytest.approx(without, abs=4 * corrected.std() / math.sqrt(len(corrected)))


def test_the_degrees_of_freedom_describe_how_much_the_uncertainty_varies(chance):
    # JCGM 100:2008, E.4.3: the relative standard deviation of u is about 1/sqrt(2 df)
    frame = simulated(chance, np.full(400, 0.3), 0.6)
    scores = score_people(frame).people
    u = np.array([s.u_reading.tenths for s in scores])
    df = np.median([s.u_reading.df for s in scores])
    assert u.std() / u.mean() == pytest.approx(1 / math.sqrt(2 * df), rel=4 / math.sqrt(2 * len(u)))


def test_a_team_has_the_reproducibility_that_was_put_in(chance):
    between, sd, team, teams = 0.4, 0.6, 6, 60
    squares, dfs = [], []
    for _ in range(teams):
        frame = simulated(chance, chance.normal(0, between, team), sd, each=60)
        shown = [readings(rows) for _, rows in frame.groupby("person", sort=False)]
        precision = of_groups([one.kept_tenths.tolist() for one in shown])
        quote = of_team(score_people(frame).people, shown, precision)
        squares.append(quote.spread.tenths**2)
        dfs.append(quote.spread.df)
    square = np.array(squares)
    truth = between**2 + sd**2 + ROUNDING
    assert square.mean() == pytest.approx(truth, abs=4 * square.std() / math.sqrt(teams))
    # var(s^2)/s^4 = 2/df (G.4.2), to the accuracy of 60 teams
    assert square.std() / truth == pytest.approx(math.sqrt(2 / np.median(dfs)), rel=4 / math.sqrt(2 * teams))
