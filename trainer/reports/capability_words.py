"""The verdict on a capability in words."""

from trainer.reports.capability import LEAST_RATIO, Capability
from trainer.reports.wording import UM_PER_TEN_THOUSANDTH_IN, percent, to_match

UM_PER_IN = 10_000 * UM_PER_TEN_THOUSANDTH_IN


def sentence(capability: Capability, who: str, *, inch: bool = False) -> str:
    """Return the verdict in one sentence, and what it presumes of the items.

    With `inch` the tolerance is told in inches as well, as it stands on an inch drawing.
    """
    c, demand = capability, capability.demand
    limit = tolerance_words(demand.tolerance_um, inch=inch)
    drawn = f"acceptance limits drawn in to ± {_plain(demand.tolerance_um - c.guard_um, 3)} µm"
    guarded = f" with {drawn}" if c.guard_um else ""
    wrong = f"false accept {_risk(c.risks.false_accept)}, false reject {_risk(c.risks.false_reject)}"
    allowed = f"{_risk(demand.false_accept)} and {_risk(demand.false_reject)} allowed"
    presumed = f" This presumes that {100 * c.risks.conforming:.3g} % of the items conform."
    match c.answer:
        case "yes":
            mean = "" if c.readings == 1 else f" with the mean of {c.readings} readings"
            joined = f"{mean} and {drawn}" if mean and guarded else mean + guarded
            doubt = ""
            if c.risks_high is not None and not demand.met(c.ratio, c.risks_high):
                doubt = ", though not surely: at the upper end of the spread's interval they would be above"
            return f"{who} can verify {limit}{joined}: {wrong} ({allowed}){doubt}.{presumed}"
        case "with averaging":
            also = f" and {drawn}" if c.guard_um else ""
            return (
                f"{who} can verify {limit} with the mean of {c.readings_needed} readings of each position"
                f"{also}, not with {c.readings}: {wrong} ({allowed}), ratio {c.ratio:.2g} to 1.{presumed}"
            )
        case "with a guard band":
            needed = _plain(demand.tolerance_um - (c.guard_needed_um or 0.0), 3)
            lost = _risk(c.risks_guarded.false_reject if c.risks_guarded else 0.0)
            without = (
                f"with ± {_plain(demand.tolerance_um - c.guard_um, 3)} µm" if c.guard_um else "without them"
            )
            return (
                f"{who} can verify {limit} only with acceptance limits drawn in to ± {needed} µm "
                f"(false reject then {lost}); {without}: {wrong} ({allowed}).{presumed}"
            )
        case _:
            why = f"{wrong} ({allowed})"
            if c.ratio < LEAST_RATIO:
                expanded = _plain(c.expanded_um)
                why = f"the expanded uncertainty, {expanded} µm, is larger than the tolerance"
            vain = "neither averaging nor a guard band helps enough"
            return f"{who} cannot verify {limit}{guarded}: {why}; {vain}."


def tolerance_words(tolerance_um: float, *, inch: bool = False) -> str:
    """Return a tolerance on both sides, with inches beside it where they are asked for.

    >>> tolerance_words(2.0), tolerance_words(2.54, inch=True)
    ('± 2 µm', '± 2.54 µm (0.0001 in)')
    """
    inches = f" ({decimal(tolerance_um / UM_PER_IN)} in)" if inch else ""
    return f"± {to_match(tolerance_um, None)} µm{inches}"


def decimal(value: float) -> str:
    """Return a small number with at most seven decimals, without an exponent or idle noughts.

    >>> decimal(0.0001), decimal(0.000015)
    ('0.0001', '0.000015')
    """
    return f"{value:.7f}".rstrip("0").rstrip(".")


def _risk(share: float) -> str:
    """Return a chance with two significant figures; near certainty with one decimal.

    >>> _risk(0.0141), _risk(0.02), _risk(0.999)
    ('1.4 %', '2 %', '99.9 %')
    """
    return f"{100 * share:.2g} %" if share < 0.995 else percent(share)


def _plain(value: float, figures: int = 2) -> str:
    """Return a length with so many significant figures, a large one as a whole number without an exponent.

    >>> _plain(0.553), _plain(4.0), _plain(127.0), _plain(1269.4, 3)
    ('0.55', '4', '127', '1269')
    """
    text = f"{value:.{figures}g}"
    return f"{value:.0f}" if "e+" in text else text


def what_stays(capability: Capability) -> str:
    """Return what averaging cannot remove, in a sentence."""
    r = capability.reading
    parts = (
        ("bias left in", abs(r.bias)),
        ("place in the division and rounding, and people's differences", r.remaining),
        ("other components", r.other),
    )
    stays = ", ".join(f"{name} {_plain(value)} µm" for name, value in parts if value > 0)
    if not stays:
        whole = f"the whole of the chance part, {_plain(r.chance)} µm"
        return f"Averaging readings of one position lowers {whole}."
    return (
        f"Averaging readings of one position lowers the chance part only ({_plain(r.chance)} µm for one); "
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
