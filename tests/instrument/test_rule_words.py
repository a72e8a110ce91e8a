"""Every sentence that a rule asks for is in the catalogue of its room, with a value for each blank."""

import ast
import string
from itertools import chain
from pathlib import Path

import pytest

from trainer.instrument import sentence, typed_words
from trainer.practice import turning
from trainer.practice import words as practice_words
from trainer.practice.coaching import SLIP_REMEDY
from trainer.records import words as records_words
from trainer.scoring import words as scoring_words
from trainer.scoring.misreads import KINDS
from trainer.signoff import forecast, monitoring, roles, standing
from trainer.signoff import words as signoff_words
from trainer.signoff.sight import SIGHT

PACKAGE = Path(sentence.__file__).parents[1]
ROOMS = ("instrument", "scoring", "practice", "signoff", "records", "commands")
EVERY = {
    **typed_words.WORDS, **scoring_words.WORDS, **practice_words.WORDS, **signoff_words.WORDS,
    **records_words.WORDS,
}  # fmt: skip
DYNAMIC = [
    *(f"act.{act}" for act in set(chain(*roles.MAY.values(), standing.KINDS))),
    *(f"role.{role}" for role in roles.ROLES),
    *(f"limit.{name}" for name in forecast.NAMES if name != "all"),
    *(
        f"state.{state}"
        for state in (
            standing.VALID, standing.DUE, standing.SUSPENDED, standing.WITHDRAWN, standing.EXPIRED
        )
    ),
    *(f"chart.{name}" for name in (*monitoring.CHARTS, *monitoring.JUDGING_CHARTS)),
    *(f"sight.{name}" for name in SIGHT),
    *(f"slip.{kind}" for kind in KINDS),
    *(f"slip.words.{kind}" for kind in KINDS),
    *(f"coach.remedy.{kind}" for kind in (*SLIP_REMEDY, "other")),
    *(f"told.way.{way}" for way in turning.WAYS.values()),
]  # fmt: skip
"""Entries that rules put together from a name."""


def asked():
    """Yield each literal entry that is asked for, with the names of its values and where."""
    for path in (p for room in ROOMS for p in (PACKAGE / room).glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (
                isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "tell"
            ):
                continue
            entry = node.args[0]
            choices = [entry.body, entry.orelse] if isinstance(entry, ast.IfExp) else [entry]
            for one in choices:
                if isinstance(one, ast.Constant):
                    yield one.value, {value.arg for value in node.keywords}, f"{path.name}:{node.lineno}"


def blanks(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def test_every_entry_asked_for_is_there_with_its_values():
    found = list(asked())
    assert len(found) > 150
    for entry, given, where in found:
        assert entry in EVERY, (entry, where)
        assert blanks(EVERY[entry]) <= given, (entry, where)


@pytest.mark.parametrize("entry", DYNAMIC)
def test_every_entry_put_together_from_a_name_is_there(entry):
    assert blanks(EVERY[entry]) <= {"times"}
