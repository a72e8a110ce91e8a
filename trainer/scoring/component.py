"""One line of an uncertainty budget: an input quantity, what is known of it, and how to draw it by chance.

Distributions are those of JCGM 101:2008, 6.4. Each knows its standard uncertainty for JCGM 100.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from trainer.instrument.refusal import Refusal
from trainer.scoring import uncertainty
from trainer.scoring.expression import is_name

Floats = npt.NDArray[np.float64]

# What each distribution needs besides a value; `u` may also come as `expanded` and `k`.
NEEDS = {
    "normal": ("u",),
    "t": ("u", "df"),
    "rectangular": ("half_width",),
    "triangular": ("half_width",),
    "arcsine": ("half_width",),
    "trapezoid": ("half_width", "top_ratio"),
    "curvilinear-trapezoid": ("half_width", "half_width_within"),
    "constant": (),
}
FIELDS = ("u", "expanded", "k", "half_width", "top_ratio", "half_width_within", "df")
TEXTS = ("name", "distribution", "unit", "note")


class UnusableComponent(Refusal):
    """An input of the budget is not sound; the text names it and the field."""


@dataclass(frozen=True, slots=True)
class Component:
    """An input quantity; `u` is its standard uncertainty and `df` None when taken as exactly known.

    For "t", `u` is the scale s/sqrt(n), which JCGM 100 takes as the standard uncertainty with its degrees of
    freedom, while the drawn values have the wider spread of Student's t.
    """

    name: str
    value: float
    distribution: str
    u: float
    df: float | None = None
    half_width: float | None = None
    top_ratio: float | None = None
    half_width_within: float | None = None
    unit: str = ""
    note: str = ""

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Return `count` possible values by chance (JCGM 101, 6.4)."""
        a, draw = self.half_width or 0.0, rng.random
        match self.distribution:
            case "normal":
                spread = rng.standard_normal(count) * self.u
            case "t":
                spread = rng.standard_t(self.df or 1.0, count) * self.u
            case "rectangular":
                spread = a * (2 * draw(count) - 1)
            case "triangular":
                spread = a * (draw(count) - draw(count))
            case "arcsine":
                spread = a * np.sin(2 * math.pi * draw(count))
            case "trapezoid":
                top = self.top_ratio or 0.0
                spread = a * ((1 + top) * draw(count) + (1 - top) * draw(count) - 1)
            case "curvilinear-trapezoid":
                within = self.half_width_within or 0.0
                spread = (a + within * (2 * draw(count) - 1)) * (2 * draw(count) - 1)
            case _:
                spread = np.zeros(count)
        return self.value + spread


def component(name: str, fields: Mapping[str, Any]) -> Component:
    """Return the input described by fields as in a budget file.

    `value`, `distribution` (normal unless told) and what that needs: `u` (or `expanded` and `k`), `df`,
    `half_width`, `top_ratio` of a trapezoid, `half_width_within` of limits known to within so much. Raises
    UnusableComponent naming the input, the field and the remedy.

    >>> round(component("scale", {"value": 0, "distribution": "rectangular", "half_width": 0.5}).u, 4)
    0.2887
    """
    if not is_name(name):
        raise UnusableComponent(
            f'input "{name}" is not a usable name; use letters, digits and _, and no function'
        )
    unknown = sorted(set(fields) - {"value", *FIELDS, *TEXTS})
    if unknown:
        raise UnusableComponent(f'input {name} has an unknown field "{unknown[0]}"; known are {_listed()}')
    kind = fields.get("distribution", "normal")
    if not isinstance(kind, str) or kind not in NEEDS:
        raise UnusableComponent(f'input {name} has distribution "{kind}"; use one of {", ".join(NEEDS)}')
    numbers = {field: _number(name, field, fields[field]) for field in FIELDS if field in fields}
    if "value" not in fields:
        raise UnusableComponent(f"input {name} has no value; add value = 0 if it is a correction of zero")
    value = _number(name, "value", fields["value"])
    _nothing_idle(name, kind, numbers)
    if "expanded" in numbers:
        numbers["u"] = _from_certificate(name, numbers)
    for field in NEEDS[kind]:
        if field not in numbers:
            raise UnusableComponent(f"input {name} is {kind} but has no {field}; add {field} = ...")
    _not_negative(name, numbers)
    try:
        u = _standard(kind, numbers)
    except uncertainty.UnusableUncertainty as refusal:
        raise UnusableComponent(f"input {name}: {refusal}") from None
    kept = {f: numbers.get(f) for f in ("df", "half_width", "top_ratio", "half_width_within")}
    texts = {f: str(fields.get(f, "")) for f in ("unit", "note")}
    return Component(name, value, kind, u, **kept, **texts)  # type: ignore[arg-type]


def _standard(kind: str, numbers: Mapping[str, float]) -> float:
    match kind:
        case "normal" | "t":
            return numbers["u"]
        case "rectangular":
            return uncertainty.rectangular(numbers["half_width"])
        case "triangular":
            return uncertainty.triangular(numbers["half_width"])
        case "arcsine":
            return uncertainty.arcsine(numbers["half_width"])
        case "trapezoid":
            return uncertainty.trapezoidal(numbers["half_width"], numbers["top_ratio"])
        case "curvilinear-trapezoid":
            return uncertainty.curvilinear(numbers["half_width"], numbers["half_width_within"])
    return 0.0


def _number(name: str, field: str, given: Any) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float):
        raise UnusableComponent(
            f'input {name} has {field} = "{given}"; a number is needed, without quotes, with a decimal point'
        )
    try:
        number = float(given)
    except OverflowError:
        number = math.inf
    if field == "df" and number == math.inf:
        return number
    if not math.isfinite(number):
        raise UnusableComponent(f"input {name} has {field} = {given}; a finite number is needed")
    return number


def _nothing_idle(name: str, kind: str, numbers: Mapping[str, float]) -> None:
    """Refuse figures that would be passed over: an uncertainty left out makes the result look better."""
    if "u" in numbers and "expanded" in numbers:
        raise UnusableComponent(f"input {name} has u beside expanded; keep the one that is meant")
    if "k" in numbers and "expanded" not in numbers:
        raise UnusableComponent(f"input {name} has k without expanded; add expanded = ... or leave k out")
    used = {*NEEDS[kind], *(("expanded", "k") if "u" in NEEDS[kind] else ())}
    if kind != "constant":
        used.add("df")
    for field in numbers:
        if field not in used:
            raise UnusableComponent(
                f"input {name} has {field} but is {kind}, which does not use it; "
                f"leave {field} out or choose another distribution"
            )


def _from_certificate(name: str, numbers: Mapping[str, float]) -> float:
    k = numbers.get("k")
    if k is None or k <= 0:
        raise UnusableComponent(
            f"input {name} has an expanded uncertainty but no coverage factor; add k = 2, say"
        )
    return numbers["expanded"] / k


def _not_negative(name: str, numbers: Mapping[str, float]) -> None:
    for field, number in numbers.items():
        if number < 0:
            raise UnusableComponent(f"input {name} has {field} = {number:g}; it cannot be negative")
    if numbers.get("df") == 0:
        raise UnusableComponent(
            f"input {name} has df = 0; leave df out when the uncertainty is taken as known"
        )


def _listed() -> str:
    return ", ".join(("value", *FIELDS, *TEXTS[1:]))
