"""Every shipped plan is taken by a simulated person without a window, from dealing to rows for scoring."""

import json

import numpy as np
import pytest

from trainer.drawing.viewing import Viewing
from trainer.practice import plans
from trainer.practice.asking import asked, sight
from trainer.practice.items import Answer, Item
from trainer.practice.kinds import KINDS
from trainer.practice.plan import Plan
from trainer.practice.results import family, rows, trials
from trainer.practice.session import start
from trainer.practice.telling import told
from trainer.practice.worksheet import runs


def eye(chance, spread=0.4):
    """A person who sees only what `sight` shows and hears only what `asked` asks."""
    zero = {"seen": 0}

    def read(session):
        question, seen = asked(session), sight(session)
        micrometer = session.micrometer
        stands = seen.position_tenths + spread * chance.normal()
        beyond = (stands + 5) % 10 - 5
        match question.asks:
            case "tenths" | "estimate":
                lower = 10 * question.particulars["lower_line"]
                away = (stands - lower + micrometer.turn_tenths / 2) % micrometer.turn_tenths
                tenths = np.clip(away - micrometer.turn_tenths / 2, 0, 10)
                return f"{round(2 * tenths) / 2:g}" if session.plan.halves else str(round(tenths))
            case "vernier" | "self-check":
                assert seen.turned_to_vernier
                return str(round(stands) % 10)
            case "zero-look":
                zero["seen"] = round(stands)
                return f"{zero['seen']:+d}"
            case "zero-offset":
                return micrometer.format_reading(round(stands) - zero["seen"], micrometer.decimals)
            case "set-to" | "set-line":
                target = micrometer.position_of(question.particulars["target"])
                return f"{(target - stands) / 10:+.2f}"
            case "judge":
                return "in" if abs(beyond) <= question.particulars["tolerance_tenths"] else "out"
            case "size-it":
                return f"{round(float(np.clip(beyond, -5, 5))):+d}"
            case "block-error":
                return f"{session.answers[-1].answer_tenths - session.item.extra['block_tenths']:+.0f}"
            case "verdict":
                return runs(session.items, session.answers, micrometer)[-1].recorded
        return micrometer.format_reading(round(float(np.clip(stands, 0, None))), micrometer.decimals)

    return read


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
