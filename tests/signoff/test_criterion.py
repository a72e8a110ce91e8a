"""Criteria: what is wrong in a file is told with file, line, field and remedy."""

import pytest

from trainer.instrument.refusal import Refusal
from trainer.practice import plans
from trainer.practice.kinds import SETTINGS
from trainer.signoff import criteria, criterion
from trainer.signoff.evidence import JUDGED, not_evidence

SHIPPED = criteria.find("first-level-metric")
JUDGING = criteria.find("judging-metric")


def written(tmp_path, old, new):
    """Return a copy of the shipped first-level criterion with one text replaced."""
    from trainer.practice.plans import shipped_folder

    text = (shipped_folder() / "criteria" / "10-first-level-metric.toml").read_text(encoding="utf-8")
    assert text.count(old) == 1
    path = tmp_path / "own.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    line = next(
        n
        for n, row in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if new.split("\n")[-1] in row
    )
    return path, line


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("spread_tenths = 1.0", 'spread_tenths = "one"', "spread_tenths"),
        ("bias_tenths = 0.5", "bias_tenths = -0.5", "bias_tenths"),
        ("confidence = 0.95", "confidence = 0.5", "confidence"),
        ('unit = "mm"', 'unit = "cm"', "unit"),
        ('kinds = ["outside"]', "kinds = []", "kinds"),
        ("spread_tenths = 1.0", "spread_tenths = 0.2", "spread_tenths"),  # rounding alone is 0.29
        ("readings_at_most = 260", "readings_at_most = 40", "readings_at_most"),  # too few to pass ever
    ],
)
def test_a_fault_is_told_with_its_line(tmp_path, old, new, field):
    path, line = written(tmp_path, old, new)
    with pytest.raises(Refusal) as refused:
        criterion.load(path)
    sentence = str(refused.value)
    assert f"own.toml, line {line}" in sentence
    assert field in sentence


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("false_accept_rate = 0.05\n", "", "false_accept_rate"),
        ("false_reject_rate = 0.10\n", "", "false_reject_rate"),  # or whoever rejects everything would pass
        ("offset_tenths = [3.0, 4.0]", "offset_tenths = [1.5, 4.0]", "offset_tenths"),
        ("inside_tenths = 1.0", "inside_tenths = 2.5", "inside_tenths"),
        ('drills = ["judge"]', 'drills = ["judge", "full-reading"]', "drills"),
        ("[scope]", "[limits]\nbias_tenths = 0.5\n\n[scope]", "bias_tenths"),
        ("readings_at_most = 800", "readings_at_most = 200", "readings_at_most"),
        # at 1 % 332 without a fault are needed (rules.Points), and of 800 a quarter lies where they count
        ("false_accept_rate = 0.05", "false_accept_rate = 0.01", "false_accept_rate"),
        ("false_reject_rate = 0.10", "false_reject_rate = 0.01", "false_reject_rate"),
    ],
)
def test_a_criterion_of_judging_says_all_that_it_needs(old, new, field):
    text = JUDGING.text
    assert text.count(old) == 1
    with pytest.raises(criterion.UnusableCriterion, match=f"own.*: [a-z]*[.]?{field}: "):
        criterion.parse(text.replace(old, new), "own", where="own")


def test_readings_and_judgements_are_two_criteria():
    with pytest.raises(criterion.UnusableCriterion, match="judgement.false_accept_rate: does not go with"):
        criterion.parse(SHIPPED.text + "[judgement]\nfalse_accept_rate = 0.05\n", "own", where="own")


def test_the_plan_of_every_shipped_criterion_gives_evidence_for_it():
    for one in criteria.shipped():
        plan = plans.find(one.plan)
        why_not = not_evidence(
            one, instrument=plan.instrument, drill=plan.drill, for_record=plan.for_record,
            plan=plan.to_dict(), viewing=plan.viewing,
        )  # fmt: skip
        assert why_not == "", one.name


def test_the_judge_drill_s_own_defaults_are_those_of_its_settings():
    assert {name: SETTINGS[name].default for name in JUDGED} == JUDGED


def test_the_shipped_criteria_load():
    assert SHIPPED.confidence == 0.95
