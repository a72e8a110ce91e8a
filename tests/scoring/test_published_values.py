"""Every published value in `authorities` is reproduced by the shipped code to every printed digit."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from trainer.scoring import indices

AUTHORITIES = Path(__file__).parent / "authorities"


def _module(name: str) -> ModuleType:
    """Load a plain script beside the data; it is no package."""
    spec = importlib.util.spec_from_file_location(f"authorities_{name}", AUTHORITIES / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


make_table = _module("make_table")
recompute = _module("recompute")
_module("recompute_reading").register(recompute.METHODS)
ENTRIES = make_table.published()


@pytest.mark.parametrize("entry", ENTRIES, ids=[f"{e.file}:{e.id}" for e in ENTRIES])
def test_the_shipped_code_reproduces_it(entry):
    numbers = recompute.computed(entry)
    assert len(numbers) == len(entry.expected)
    if entry.tolerance:
        for printed, number, tolerance in zip(entry.expected, numbers, entry.tolerance, strict=True):
            assert number == pytest.approx(float(printed), abs=tolerance)
        return
    missed = [
        f"{printed} printed, {number!r} computed"
        for printed, number in zip(entry.expected, numbers, strict=True)
        if not make_table.shows_every_digit(printed, number)
    ]
    assert not missed


def test_at_least_sixty_numbers_are_reproduced_to_every_digit():
    assert make_table.exact(ENTRIES) >= 60


@pytest.mark.parametrize("entry", ENTRIES, ids=[f"{e.file}:{e.id}" for e in ENTRIES])
def test_it_names_its_source_and_provenance(entry):
    assert entry.source
    assert entry.provenance.startswith(make_table.PROVENANCE)
    assert entry.why or not entry.tolerance


def test_digits_are_their_own_wherever_the_count_begins():
    """Myers' blending is for this: a population whose values end twice as often in 3."""
    counts = np.where(np.arange(130) % 10 == 3, 2.0, 1.0)
    for first in (10, 13, 23, 28):
        shares = indices.myers_shares(counts, first=first, last=first + 79)
        assert shares == pytest.approx([2 / 11 if digit == 3 else 1 / 11 for digit in range(10)])


def test_ids_are_their_own():
    names = [e.id for e in ENTRIES]
    assert len(names) == len(set(names))


def test_the_page_of_published_values_is_current():
    assert make_table.TABLE.read_text(encoding="utf-8") == make_table.table(), (
        "run python tests/scoring/authorities/make_table.py"
    )


@pytest.mark.parametrize(
    ("printed", "number", "shown"),
    [
        ("1.49", 1.4888445, True),
        ("1.48", 1.4888445, False),
        ("16", 16.49, True),
        ("2.146E-01", 0.21456, True),
        ("2.146E-01", 0.21466, False),
        ("0.5", 0.45, True),  # a tie may be printed either way
        ("0.4", 0.45, True),
        ("-0.04", -0.0449, True),
    ],
)
def test_printed_digits_are_compared_as_printed(printed, number, shown):
    assert make_table.shows_every_digit(printed, number) is shown
