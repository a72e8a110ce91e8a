"""What to say after a sitting and what to take next: the coaching of its skill, from practice.coaching."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from trainer.practice.coaching import Coaching, coach, coach_judging
from trainer.practice.path import next_on_path, plan_name, stem_of

if TYPE_CHECKING:
    from trainer.desktop.results import SittingLine
    from trainer.desktop.sittings import Sitting
    from trainer.scoring.person import PersonScore


def coaching(sitting: "Sitting", score: "PersonScore | None") -> Coaching:
    """Return the coaching of a sitting; a skill without rules of its own leads on along the path."""
    from trainer.practice.coaching_skills import coach_skill
    from trainer.practice.results import family, trials
    from trainer.practice.skills import KeptSitting

    skill, name = family(sitting.plan.drill), sitting.plan.name
    if skill == "judging":
        from trainer.scoring import judgement

        given = trials(sitting.items, sitting.answers)
        fitted = judgement.fit([t["beyond_tenths"] for t in given], [t["said_out"] for t in given])
        return coach_judging(fitted, name)
    if skill == "reading" and score is not None:
        return coach(score, name)
    plan = sitting.plan
    kept = KeptSitting(
        str(sitting.session_id), plan.drill, plan.instrument, plan.for_record, "", "",
        tuple(sitting.items), tuple(sitting.answers),
    )  # fmt: skip
    found = coach_skill(kept, name)
    return Coaching((), plan_name(next_on_path(stem_of(name)), name)) if found is None else found


def last_told(store: Any, lines: "Sequence[SittingLine]") -> tuple[str, Coaching | None]:
    """Return the plan of the last sitting with an answer, and what its coaching says."""
    from trainer.desktop.benches import DRILL
    from trainer.desktop.sittings import sitting_of

    last = next((line for line in reversed(lines) if line.given and line.drill != DRILL), None)
    if last is None:
        return "", None
    sitting = sitting_of(store.session(last.session_id))
    return sitting.plan.name, coaching(sitting, last.score)
