"""The shipped plans: each loads and deals; finding one by name or by path."""

import numpy as np
import pytest

from trainer.instrument import catalogue
from trainer.practice import plans
from trainer.practice.deal import deal
from trainer.practice.plan import UnusablePlan


def test_there_are_shipped_plans_in_both_units_and_a_check_of_each():
    units = {(catalogue.load(plan.instrument).unit, plan.for_record) for plan in plans.shipped()}
    assert units == {("mm", False), ("mm", True), ("in", False), ("in", True)}


@pytest.mark.parametrize("name", plans.shipped_files())
def test_every_shipped_plan_loads_and_deals(name):
    plan = plans.find(name)
    assert plan.name == name
    assert plan.note, "a shipped plan says what it is for"
    items = deal(plan, catalogue.load(plan.instrument), np.random.default_rng(1))
    assert len(items) == plan.items


def test_a_plan_is_found_by_its_path(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text('title = "Mine"\ndrill = "tenths"\ninstrument = "inch"\nitems = 3\n')
    assert plans.find(str(file)).title == "Mine"


def test_an_unknown_name_is_refused_with_a_near_one():
    with pytest.raises(UnusablePlan, match="there is no plan 'chekc-metric'; did you mean check-metric"):
        plans.find("chekc-metric")
    with pytest.raises(UnusablePlan, match="there is no plan 'zzz'; the shipped ones are .*check-inch"):
        plans.find("zzz")
    with pytest.raises(UnusablePlan, match="there is no plan 'yyy"):
        plans.find("y" * 5000)
