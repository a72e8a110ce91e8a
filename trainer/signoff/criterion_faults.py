"""What is wrong with a criterion's values, each alone and then together."""

from collections.abc import Mapping
from typing import Any

CONFIDENCES = (0.90, 0.95)  # those whose risk the campaign in docs/methods/signoff.md has shown
Key = tuple[str, str]
Faults = list[tuple[Key, str]]
LIMITS = ("bias_tenths", "spread_tenths", "misread_rate")
JUDGEMENT = ("tolerance_tenths", "offset_tenths", "false_accept_rate", "inside_tenths", "false_reject_rate")
JUDGE = "judge"  # the drill that gives judgements

RANGES: dict[str, tuple[float, float, str]] = {  # field: lowest, highest, unit in the sentence
    "bias_tenths": (0.1, 5.0, "tenths"),
    "spread_tenths": (0.1, 5.0, "tenths"),
    "misread_rate": (0.005, 0.25, "(0.05 is 5 %)"),
    "tolerance_tenths": (0.1, 4.0, "tenths"),
    "inside_tenths": (0.05, 4.0, "tenths"),
    "false_reject_rate": (0.005, 0.25, "(0.1 is 10 %)"),
    "false_accept_rate": (0.005, 0.25, "(0.05 is 5 %)"),
    "seconds": (1.0, 600.0, "seconds"),
    "slow_rate": (0.005, 0.25, "(0.1 is 10 %)"),
    "sittings_at_least": (1, 20, "sittings"),
    "sittings_apart_hours": (0.0, 24.0 * 14, "hours"),
    "readings_a_session": (10, 100, "readings"),
    "readings_at_most": (40, 2000, "readings"),
    "waiting_days": (0, 365, "days"),
    "valid_days": (30, 1825, "days"),
    "monitor_days": (1, 365, "days"),
    "grace_days": (0, 90, "days"),
}


def value_faults(values: Mapping[str, Any], key: Mapping[str, Key]) -> Faults:
    """Return what is wrong with values whose types are right; `key` is each field's section and name."""
    faults: Faults = []
    for field in ("title", "protects", "plan"):
        if not values[field].strip():
            faults.append((key[field], "is empty; write what it is"))
    if values["confidence"] not in CONFIDENCES:
        choices = ", ".join(f"{one:g}" for one in CONFIDENCES)
        faults.append((key["confidence"], f"is {values['confidence']:g}; choose one of {choices}"))
    for field, (low, high, unit) in RANGES.items():
        if values[field] is not None and not low <= values[field] <= high:
            faults.append((key[field], f"is {values[field]:g}; it must be {low:g} to {high:g} {unit}"))
    for missing, there in (("seconds", "slow_rate"), ("slow_rate", "seconds")):
        if values[missing] is None and values[there] is not None:
            faults.append((key[there], f"is given without {missing}; give both or neither"))
    faults += _kind_faults(values, key)
    if values["unit"] not in ("mm", "in"):
        faults.append((key["unit"], f"is {values['unit']!r}; write 'mm' or 'in'"))
    for field in ("kinds", "drills"):
        if not values[field]:
            faults.append((key[field], "is empty; a sign-off speaks of at least one"))
    if wrong := sorted(set(values["kinds"]) - {"outside", "depth"}):
        faults.append((key["kinds"], f"holds {wrong[0]!r}; choose from outside, depth"))
    low, high = values["viewing_deg"]
    if not -80 <= low <= high <= 80:
        faults.append(
            (key["viewing_deg"], f"is {low:g} to {high:g}; write lowest, highest, within -80 to 80")
        )
    return faults


def _kind_faults(values: Mapping[str, Any], key: Mapping[str, Key]) -> Faults:
    """Return what keeps a criterion from being either about readings or about judging."""
    judging = JUDGE in values["drills"]
    wanted, other = (JUDGEMENT, LIMITS) if judging else (LIMITS, JUDGEMENT)
    about = 'drills = ["judge"]' if judging else "readings"
    if judging and len(values["drills"]) > 1:
        fault = "holds 'judge' beside others; what is judged is another thing than what is read: two criteria"
        return [(key["drills"], fault)]
    missing = [(key[field], f"is missing; a criterion for {about} needs it") for field in wanted]
    faults = [fault for field, fault in zip(wanted, missing, strict=True) if values[field] is None]
    faults += [
        (key[field], f"does not go with a criterion for {about}; leave it out")
        for field in other
        if values[field] is not None
    ]
    return faults or (_window_faults(values, key) if judging else [])


def _window_faults(values: Mapping[str, Any], key: Mapping[str, Key]) -> Faults:
    """Return what is wrong with the offsets at which judgements count."""
    tolerance, inside, (low, high) = (
        values["tolerance_tenths"],
        values["inside_tenths"],
        values["offset_tenths"],
    )
    faults: Faults = []
    if not tolerance < low < high <= 5.0:
        fault = f"is {low:g} to {high:g}; write two offsets outside the tolerance of {tolerance:g}, up to 5"
        faults.append((key["offset_tenths"], fault))
    if not inside < tolerance:
        fault = f"is {inside:g}; it must be less than the tolerance of {tolerance:g}"
        faults.append((key["inside_tenths"], fault))
    return faults
