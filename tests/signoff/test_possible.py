"""Criteria that nobody could meet are refused with what could be asked, worked by hand; and their defaults.

Whoever only rounds has errors spread evenly over a tenth: a standard deviation of 1/sqrt(12) (JCGM 100:2008,
4.3.7) and a kurtosis of 9/5 (of a uniform distribution, exactly).
"""

import dataclasses
import math

import pytest
from scipy import stats

from trainer.signoff.criteria import find
from trainer.signoff.criterion import FIELDS, Criterion, UnusableCriterion, parse

FIRST, JUDGING = find("first-level-metric"), find("judging-metric")


def refused(text, *changes):
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    with pytest.raises(UnusableCriterion) as found:
        parse(text, "own", where="own.toml")
    return str(found.value)


def accepted(*changes):
    text = FIRST.text
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return parse(text, "own")


def most(readings):
    return ("readings_at_most = 260", f"readings_at_most = {readings}")


def test_a_spread_below_what_rounding_alone_would_show_is_refused_with_the_least_that_can_be_asked():
    n, z, sd = 260, stats.norm.ppf(0.995), 12**-0.5
    c = n / (n - z)
    se = c * math.sqrt((stats.uniform.stats(moments="k") + 3 - (n - 3) / n) / (n - 1))
    least = math.sqrt(math.exp(math.log(c * sd**2) + z * se))  # Bonett's 99.5 % bound of a perfect reader
    rounded = math.ceil(100 * least) / 100
    assert f"at least {rounded:.2f} can be asked" in refused(
        FIRST.text, ("spread_tenths = 1.0", "spread_tenths = 0.3")
    )
    assert accepted(("spread_tenths = 1.0", f"spread_tenths = {rounded}"))
    below = ("spread_tenths = 1.0", f"spread_tenths = {rounded - 0.01:.2f}")
    assert f"at least {rounded:.2f} can be asked" in refused(FIRST.text, below)


def test_too_few_readings_for_the_points_or_the_sittings_are_refused_with_how_many_it_takes():
    said = refused(FIRST.text, most(79))
    assert "is 79; a misread rate below 5 % needs at least 65 readings and 4 sittings of 20, so ask" in said
    assert said.endswith("for 80 or more")
    assert accepted(most(80))
    second = refused(find("second-level-metric").text, ("readings_at_most = 460", "readings_at_most = 179"))
    assert "a misread rate below 2 % needs at least 165 readings" in second
    assert "ask for 180 or more" in second
    judged = refused(JUDGING.text, ("readings_at_most = 800", "readings_at_most = 299"))
    assert "is 299; 3 sittings of 100 take 300 or more" in judged


def test_a_pace_that_cannot_be_shown_within_the_attempt_is_refused():
    # Points.of(0.01, 0.95) needs 332 readings without a slow one
    paced = ("[scope]", "[pace]\nseconds = 10\nslow_rate = 0.01\n\n[scope]")
    said = refused(FIRST.text, paced, most(331))
    assert "pace.slow_rate: needs 332 without a fault, and readings_at_most is 331" in said
    assert accepted(paced, most(332))


def test_a_bias_limit_that_the_most_readings_cannot_show_is_refused():
    """Only for very few readings: t(0.99) sd / sqrt(n) of a perfect reader, at n = 40 of one sitting."""
    few = (
        most(40),
        ("sittings_at_least = 4", "sittings_at_least = 1"),
        ("misread_rate = 0.05", "misread_rate = 0.25"),
    )
    least = stats.t.ppf(0.99, 39) * 12**-0.5 / math.sqrt(40)
    assert 0.1 < least < 0.12
    narrow = ("bias_tenths = 0.5", "bias_tenths = 0.1")
    assert f"limits.bias_tenths: is 0.1; 40 readings show at best {least:.2f}" in refused(
        FIRST.text, *few, narrow
    )
    assert accepted(*few, ("bias_tenths = 0.5", "bias_tenths = 0.12"))


def test_an_unknown_field_is_told_with_the_one_that_was_meant_or_with_all():
    assert "limits.bias_tenth: is not a field of a criterion; did you mean limits.bias_tenths?" in refused(
        FIRST.text, ("bias_tenths = 0.5", "bias_tenth = 0.5")
    )
    assert "is not a field of a criterion; a criterion knows title, protects," in refused(
        FIRST.text, ("[limits]", "[limits]\nqwertyuiop = 1")
    )


def test_a_missing_field_is_told_at_its_section_and_at_no_other():
    said = refused(FIRST.text, ("readings_at_most = 260\n", ""))
    heading = FIRST.text.split("\n").index("[evidence]") + 1
    assert said == f"own.toml, line {heading}: evidence.readings_at_most: is missing; a criterion needs it"


def test_all_faults_are_told_one_a_line():
    said = refused(
        FIRST.text, ("confidence = 0.95", "confidence = 0.5"), ("valid_days = 365", "valid_days = 0")
    )
    assert [line.split(": ")[1] for line in said.splitlines()] == ["confidence", "standing.valid_days"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("viewing_deg = [-15, 15]", "viewing_deg = [15, -15]"), "write lowest, highest, within -80 to 80"),
        (("viewing_deg = [-15, 15]", "viewing_deg = [-15, 81]"), "within -80 to 80"),
        (('kinds = ["outside"]', 'kinds = ["inside"]'), "holds 'inside'; choose from outside, depth"),
        (("[scope]", "[pace]\nseconds = 10\n\n[scope]"), "is given without slow_rate; give both or neither"),
        (("attended = true", "attended = 1"), "is 1; write true or false"),
        (("valid_days = 365", "valid_days = 365.5"), "is 365.5; write a whole number"),
        (("valid_days = 365", "valid_days = true"), "is True; write a whole number"),
        (("misread_rate = 0.05", "misread_rate = nan"), "is nan; write a number"),
        (('plan = "check-metric"', 'plan = " "'), "is empty; write what it is"),
    ],
)
def test_values_that_make_no_sense_are_refused(change, words):
    assert words in refused(FIRST.text, change)


def test_a_field_left_out_has_the_default_of_its_record():
    """The record's own defaults and those of the file are the same, wherever both have one."""
    own = {field.name: field.default for field in dataclasses.fields(Criterion)}
    both = [name for _, name in FIELDS if own.get(name, dataclasses.MISSING) is not dataclasses.MISSING]
    defaults = {name: default for (_, name), (_, default) in FIELDS.items() if default is not ...}
    shared = [name for name in both if name in defaults]
    assert len(shared) > 10
    assert {name: own[name] for name in shared} == {name: defaults[name] for name in shared}
