"""Every shipped plan is taken by a simulated person without a window, from dealing to rows for scoring."""

import json

import numpy as np
import pytest

from tests.practice.people import eye
from trainer.drawing.viewing import Viewing
from trainer.practice import plans
from trainer.practice.asking import asked, sight
from trainer.practice.items import Answer, Item
from trainer.practice.kinds import KINDS
from trainer.practice.plan import Plan
from trainer.practice.results import family, rows, trials
from trainer.practice.session import start
from trainer.practice.telling import told


@pytest.mark.parametrize("name", plans.shipped_files())
def test_a_shipped_plan_is_taken_to_its_end(name, take, chance):
    wanted = plans.find(name)
    heard = []
    reader = eye(chance)

    def seen_and_read(session):
        json.dumps(asked(session).to_dict())
        assert sight(session).viewing(Viewing(20.0)).px_per_mm == 20.0
        return reader(session)

    session = take(wanted, seen_and_read, chance, told=lambda s: heard.append(told(s)))
    assert session.phase == "done"
    assert all(answer.outcome == "answered" for answer in session.answers)
    expected = [item for item in session.items if KINDS[item.asks].tells] if wanted.feedback else []
    assert [feedback.item for feedback in heard] == [item.number for item in expected]
    for feedback in heard:
        json.dumps(feedback.figures)
        assert all(line and "None" not in line and "nan" not in line for line in feedback.lines)
    for row in rows(wanted.instrument, session.items, session.answers):
        if family(row["drill"]) in ("reading", "setting", "vernier", "sizing"):
            assert abs(row["answer_tenths"] - row["truth_tenths"]) < 3.5, row
    if wanted.drill == "judge":
        wrong = [t["said_out"] != (t["beyond_tenths"] > 0) for t in trials(session.items, session.answers)]
        assert len(wrong) == wanted.items
        assert np.mean(wrong) < 0.5


@pytest.mark.parametrize("name", [n for n in plans.shipped_files() if n.endswith("-metric")])
def test_a_shipped_plan_goes_on_from_what_is_stored(name, take, chance):
    wanted = plans.find(name)
    session = take(wanted, eye(chance), chance)
    half = len(session.answers) // 2
    stored = json.loads(
        json.dumps(
            {
                "plan": wanted.to_dict(),
                "items": [item.to_dict() for item in session.items[: half + 1]],
                "answers": [answer.to_dict() for answer in session.answers[:half]],
            }
        )
    )
    again = start(
        Plan.from_dict(stored["plan"]),
        [Item.from_dict(item) for item in stored["items"]],
        [Answer.from_dict(answer) for answer in stored["answers"]],
    )
    assert (again.phase, again.item.number) == ("ready", half + 1)
    assert again.items == session.items[: half + 1]
    assert again.answers == session.answers[:half]
