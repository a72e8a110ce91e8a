"""The verdict on a capability in words."""

from trainer.reports.capability import LEAST_RATIO, Capability


def sentence(capability: Capability, who: str) -> str:
    """Return the verdict in one sentence, and what it presumes of the items."""
    c, demand = capability, capability.demand
    limit = f"± {demand.tolerance_um:.3g} µm"
    wrong = f"false accept {_risk(c.risks.false_accept)}, false reject {_risk(c.risks.false_reject)}"
    allowed = f"{_risk(demand.false_accept)} and {_risk(demand.false_reject)} allowed"
    presumed = f" This presumes that {100 * c.risks.conforming:.3g} % of the items conform."
    match c.answer:
        case "yes":
            mean = "" if c.readings == 1 else f" with the mean of {c.readings} readings"
            doubt = ""
            if c.risks_high is not None and not demand.met(c.ratio, c.risks_high):
                doubt = ", though not surely: at the upper end of the spread's interval they would be above"
            return f"{who} can verify {limit}{mean}: {wrong} ({allowed}){doubt}.{presumed}"
        case "with averaging":
            return (
                f"{who} can verify {limit} with the mean of {c.readings_needed} readings of each position, "
                f"not with {c.readings}: {wrong} ({allowed}), ratio {c.ratio:.2g} to 1.{presumed}"
            )
        case "with a guard band":
            drawn = demand.tolerance_um - (c.guard_needed_um or 0.0)
            lost = _risk(c.risks_guarded.false_reject if c.risks_guarded else 0.0)
            return (
                f"{who} can verify {limit} only with acceptance limits drawn in to ± {drawn:.3g} µm "
                f"(false reject then {lost}); without them: {wrong} ({allowed}).{presumed}"
            )
        case _:
            why = f"{wrong} ({allowed})"
            if c.ratio < LEAST_RATIO:
                why = f"the expanded uncertainty, {c.expanded_um:.2g} µm, is larger than the tolerance"
            return f"{who} cannot verify {limit}: {why}; neither averaging nor a guard band helps enough."


def _risk(share: float) -> str:
    return f"{100 * share:.2g} %"


def what_stays(capability: Capability) -> str:
    """Return what averaging cannot remove, in a sentence."""
    r = capability.reading
    parts = (
        ("bias left in", abs(r.bias)),
        ("place in the division and rounding, and people's differences", r.remaining),
        ("other components", r.other),
    )
    stays = ", ".join(f"{name} {value:.2g} µm" for name, value in parts if value > 0)
    if not stays:
        return f"Averaging readings of one position lowers the whole of the chance part, {r.chance:.2g} µm."
    return (
        f"Averaging readings of one position lowers the chance part only ({r.chance:.2g} µm for one); "
        f"it leaves: {stays}."
    )


FOUR_TO_ONE = 4.0  # what many procedures ask of a measurement (common practice, no source)


def cautions(capability: Capability, *, reading_only: bool) -> list[str]:
    """Return what the verdict must not be taken for, in sentences.

    `reading_only`: the uncertainty is that of a person's reading, without the rest of the measurement.
    """
    said = []
    if capability.answer != "no" and capability.ratio < FOUR_TO_ONE:
        missed = capability.missed
        passed = (
            "" if missed is None else f"; {100 * missed:.0f} % of items out of tolerance would be accepted"
        )
        said.append(
            f"The test uncertainty ratio is {capability.ratio:.2g} to 1, below the {FOUR_TO_ONE:.0f} to 1 "
            f"that many procedures ask for (common practice){passed}. Follow the rule of your own procedure."
        )
    if reading_only and capability.reading.other == 0:
        said.append(
            "Only the reading is counted here: the instrument's own error, its zero, temperature and force "
            "come on top (tenthwise budget, or --other)."
        )
    return said
