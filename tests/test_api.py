"""The public names are what they were; a change here is a change for every user of the library."""

import subprocess
import sys

import pytest

from trainer import api

PINNED = [
    "Refusal",
    "Micrometer",
    "Faults",
    "State",
    "instrument_names",
    "load_instrument",
    "showing",
    "position_from",
    "read_typed",
    "Viewing",
    "Painter",
    "geometry",
    "scene",
    "write_png",
    "write_pdf",
    "Plan",
    "load_plan",
    "find_plan",
    "deal",
    "start_session",
    "step_session",
    "score_people",
    "score_readings",
    "PersonScore",
    "Interval",
    "compare_people",
    "fit_judgement",
    "Archive",
    "read_answers",
]


def test_the_list_of_public_names_is_pinned():
    assert list(api.NAMES) == PINNED


@pytest.mark.parametrize("name", PINNED)
def test_every_public_name_is_there_and_explained(name):
    assert (getattr(api, name).__doc__ or "").strip()


def test_an_unknown_name_is_an_attribute_that_is_not_there():
    with pytest.raises(AttributeError, match="trainer.api has no 'guess'"):
        _ = api.guess


def test_asking_for_one_name_loads_no_database():
    code = (
        "import sys; from trainer.api import load_instrument; load_instrument('metric');"
        "print('sqlalchemy' in sys.modules, 'scipy' in sys.modules)"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "False False"
