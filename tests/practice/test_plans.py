"""The shipped plans: each loads and deals; finding one by name or by path."""

import re

import numpy as np
import pytest

from trainer.drawing.viewing import RANGES
from trainer.instrument import catalogue
from trainer.practice import plans
from trainer.practice.deal import deal
from trainer.practice.kinds import DRILLS, SETTINGS
from trainer.practice.plan import TYPES, UnusablePlan


def test_there_are_shipped_plans_in_both_units_and_a_check_of_each():
    units = {(catalogue.load(plan.instrument).unit, plan.for_record) for plan in plans.shipped()}
    assert units == {("mm", False), ("mm", True), ("in", False), ("in", True)}


@pytest.mark.parametrize("name", plans.shipped_files())
def test_every_shipped_plan_loads_and_deals(name):
    plan = plans.find(name)
    assert plan.name == name
    assert plan.note, "a shipped plan says what it is for"
    items = deal(plan, catalogue.load(plan.instrument), np.random.default_rng(1))
    looks = {"self-check": 2, "zero-offset": 1.25}  # pairs; a look at the zero before four readings
    assert len(items) == (0 if plan.serial else plan.items * looks.get(plan.drill, 1))


def test_every_drill_has_shipped_plans_in_metric_and_inch():
    shipped = {(plan.drill, catalogue.load(plan.instrument).unit) for plan in plans.shipped()}
    assert shipped == {(drill, unit) for drill in DRILLS for unit in ("mm", "in")}


def test_every_shipped_plan_exists_in_both_units():
    stems = {}
    for name in plans.shipped_files():
        stem, _, unit = name.rpartition("-")
        stems.setdefault(stem, set()).add(unit)
    assert {stem: units for stem, units in stems.items() if units != {"metric", "inch"}} == {}


def test_the_readme_names_every_plan_in_the_order_of_the_list_and_every_field():
    text = (plans.shipped_folder() / "plans" / "README.md").read_text(encoding="utf-8")
    table = text[text.index("| 1 |") : text.index("The checks are")]
    named = re.findall(r"`([a-z-]+)`", table)
    shipped = list(dict.fromkeys(name.rpartition("-")[0] for name in plans.shipped_files()))
    assert named == shipped
    fields = set(re.findall(r"`([a-z_]+)`", text[text.index("| field |") :]))
    assert {*TYPES, *SETTINGS} - {"viewing"} <= fields
    assert {*RANGES} - {"px_per_mm"} <= fields


def test_the_plan_of_five_lines_in_the_readme_is_usable(tmp_path):
    text = (plans.shipped_folder() / "plans" / "README.md").read_text(encoding="utf-8")
    file = tmp_path / "mine.toml"
    file.write_text(text.split("```toml\n")[1].split("```")[0])
    assert len(file.read_text().splitlines()) == 5
    assert plans.find(str(file)).seconds_each == 8


def test_a_plan_is_found_by_its_path(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text('title = "Mine"\ndrill = "tenths"\ninstrument = "inch"\nitems = 3\n')
    assert plans.find(str(file)).title == "Mine"


def test_an_unknown_name_is_refused_with_a_near_one():
    with pytest.raises(UnusablePlan, match="there is no plan 'chekc-metric'; did you mean check-metric"):
        plans.find("chekc-metric")
    with pytest.raises(UnusablePlan, match="there is no plan 'zzz'; `tenthwise plans list` shows"):
        plans.find("zzz")
    with pytest.raises(UnusablePlan, match="there is no plan 'yyy"):
        plans.find("y" * 5000)
