"""Criteria: what is wrong in a file is told with file, line, field and remedy."""

import pytest

from trainer.instrument.refusal import Refusal
from trainer.signoff import criteria, criterion

SHIPPED = criteria.find("first-level-metric")


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


def test_a_limit_that_no_drill_feeds_is_refused_rather_than_blamed_on_the_person(tmp_path):
    path, _ = written(
        tmp_path, "[scope]", "[judgement]\noffset_tenths = 3.0\nfalse_accept_rate = 0.05\n\n[scope]"
    )
    with pytest.raises(Refusal, match="false_accept_rate.*cannot be shown yet"):
        criterion.load(path)


def test_the_shipped_criteria_load():
    assert SHIPPED.confidence == 0.95
