"""The result that `tenthwise drill` prints at the end of a sitting without a window."""

from typing import TYPE_CHECKING

from trainer.commands.output import counted
from trainer.practice import conditions
from trainer.practice.results import family, trials

if TYPE_CHECKING:
    from trainer.commands.sitting import Sitting
    from trainer.practice.coaching import Coaching


def print_result(sitting: "Sitting", as_json: bool) -> None:
    """Print the score of the sitting: of its readings, settings or sizes, or the curve of its judgements."""
    from trainer.commands.output import print_json
    from trainer.scoring.table import score_people

    session = sitting.session
    if session.plan.drill == "judge":
        _print_judgement(sitting, as_json)
        return
    skill = family(session.items[0].asks)
    numbers = [item.number for item in session.items if family(item.asks) == skill]
    answers = sitting.archive.answers(session=sitting.session_id)
    scores = score_people(answers[answers["item"].isin(numbers)])
    words = str(answers["conditions"].iloc[0])
    if as_json:
        under = {} if words == conditions.CLEAR else {"conditions": words}
        people = [{**entry, **under} for entry in scores.to_dict()["people"]]
        print_json({"people": people}, one_line=True)
        return
    from trainer.commands.score import print_scores

    print()
    if words != conditions.CLEAR:
        print(f"Conditions: {words}; these readings are never pooled with clear ones")
    print_scores(scores)
    advice = _skill_advice(sitting)
    if advice is None and scores.people:
        from trainer.practice.coaching import coach

        advice = coach(scores.people[0], session.plan.name)
    if advice is not None:
        print()
        print(*advice.sentences, f"Next: tenthwise drill {advice.next_plan}", sep="\n")


def _skill_advice(sitting: "Sitting") -> "Coaching | None":
    """Return the coaching of a drill that is no reading, None for one that is."""
    from trainer.practice.coaching_skills import coach_skill
    from trainer.practice.skills import KeptSitting

    session, plan = sitting.session, sitting.session.plan
    kept = KeptSitting(
        sitting.session_id, plan.drill, plan.instrument, plan.for_record, "", "",
        session.items, session.answers,
    )  # fmt: skip
    return coach_skill(kept, plan.name)


def _print_judgement(sitting: "Sitting", as_json: bool) -> None:
    from trainer.commands.output import print_json
    from trainer.commands.score_numbers import number
    from trainer.practice.coaching import coach_judging
    from trainer.scoring import judgement

    session = sitting.session
    given = trials(session.items, session.answers)
    fitted = judgement.fit([t["beyond_tenths"] for t in given], [t["said_out"] for t in given])
    if as_json:
        print_json({"people": [], "judgement": fitted.to_dict()}, one_line=True)
        return
    wrong = {
        "false accept": sum(t["beyond_tenths"] > 0 and not t["said_out"] for t in given),
        "false reject": sum(t["beyond_tenths"] <= 0 and t["said_out"] for t in given),
    }
    print()
    print(", ".join(counted(count, name) for name, count in wrong.items()) + f" of {len(given)} judgements")
    if fitted.threshold_tenths is not None:
        at = fitted.threshold_tenths
        value, low, high = (number(end, signed=True) for end in (at.value, at.low, at.high))
        print(f"threshold {value} tenths from the tolerance (95 %: {low} to {high})")
    print(" ".join(coach_judging(fitted, session.plan.name).sentences))
