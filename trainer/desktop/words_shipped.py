"""Entries for what is shipped: titles and notes of plans, criteria and instruments, and kinds of drill.

They are read from files and kinds only where a translation is loaded; English is what stands there. What
somebody changes in a copy of their own is their own text, and shown as it is.
"""


def shipped_words() -> dict[str, str]:
    """Return the English texts by entry, such as `plan.first-tenths-metric.title`."""
    from trainer.instrument import catalogue
    from trainer.practice import plans
    from trainer.practice.kinds import KINDS
    from trainer.signoff import criteria

    found: dict[str, str] = {}
    for plan in plans.shipped():
        found[f"plan.{plan.name}.title"] = plan.title
        found[f"plan.{plan.name}.note"] = plan.note
    for one in criteria.shipped():
        found[f"criterion.{one.name}.title"] = one.title
        found[f"criterion.{one.name}.protects"] = one.protects.strip()
        for number, condition in enumerate(one.conditions, 1):
            found[f"criterion.{one.name}.condition.{number}"] = condition
    for name in catalogue.names():
        found[f"instrument.{name}.title"] = catalogue.load(name).title
    for kind in KINDS.values():
        found[f"kind.{kind.name}.summary"] = kind.summary
        found[f"kind.{kind.name}.question"] = kind.question
    return {entry: text for entry, text in found.items() if text}
