"""The plan to take next, and why: coaching, the training path, what still speaks against a check."""

from trainer.desktop import results
from trainer.desktop.desk import Desk
from trainer.desktop.screens.answering import PLAIN_READINGS
from trainer.desktop.words import say
from trainer.instrument.sentence import joined
from trainer.practice.path import next_on_path, not_ready, plan_name, stem_of
from trainer.practice.plan import Plan


def next_plan(desk: Desk, history: results.History | None) -> tuple[Plan | None, str]:
    """Return the plan to take next and why: what the last sitting showed, or the next on the path."""
    drills = [plan for plan in desk.plans if not plan.for_record] or list(desk.plans)
    if not drills:
        return None, ""
    if history is None or not history.last_plan:
        return drills[0], say("home.next.first")
    path = plan_name(next_on_path(stem_of(history.last_plan)), history.last_plan)
    told = history.coaching
    wanted = told.next_plan if told is not None and told.next_plan else path
    found = next((plan for plan in desk.plans if plan.name == wanted), None)
    if found is not None and wanted == history.last_plan:
        score = history.score(found.instrument)
        if score is not None and not score.provisional:  # enough of it was read, over all sittings
            found, wanted = next((plan for plan in desk.plans if plan.name == path), found), path
    if found is None:
        return drills[0], say("home.next.path")
    if found.for_record:
        return found, _before(found, desk, history)
    if told is not None and told.sentences and wanted != path:
        return found, desk.sentence(told.sentences[0])
    return found, say("home.next.path")


def _before(check: Plan, desk: Desk, history: results.History) -> str:
    """Return what goes with a check that is next: what still speaks against it, where something does."""
    score = history.score(check.instrument) if check.drill in PLAIN_READINGS else None
    if score is None or not (against := not_ready(score)):
        return say("home.next.check")
    return say("home.next.check.yet", why=desk.sentence(joined(against, "semicolon")))
