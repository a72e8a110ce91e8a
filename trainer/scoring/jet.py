"""Numbers that carry their own derivatives, exact to the third order in two directions.

A `Jet` is a polynomial in two small steps, cut off above the third order. Evaluating a formula with jets in
place of two of its inputs gives the partial derivatives to rounding error: no step size, no cancellation.
The third order is needed by the second-order terms of JCGM 100, 5.1.2, Note.
"""

import math
from collections.abc import Callable
from typing import Any, Union

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
ORDER = 3
KEPT = np.add.outer(np.arange(ORDER + 1), np.arange(ORDER + 1)) <= ORDER

Number = Union["Jet", float]


class Jet:
    """A value and its derivatives: `c[i, j] * i! * j!` is the i-th by the first and j-th by the second."""

    __slots__ = ("c",)
    __array_ufunc__ = None  # numpy numbers leave arithmetic with jets to the jet

    def __init__(self, c: Floats) -> None:
        self.c = c

    @classmethod
    def of(cls, value: float, direction: int | None = None) -> "Jet":
        """Return a constant, or an input that steps in direction 0 or 1."""
        c = np.zeros((ORDER + 1, ORDER + 1))
        c[0, 0] = value
        if direction is not None:
            c[(1, 0) if direction == 0 else (0, 1)] = 1.0
        return cls(c)

    @property
    def value(self) -> float:
        """The value itself."""
        return float(self.c[0, 0])

    def derivative(self, first: int, second: int) -> float:
        """Return the partial derivative of the given orders; their sum is at most 3."""
        return float(self.c[first, second]) * math.factorial(first) * math.factorial(second)

    def __add__(self, other: Number) -> "Jet":
        return Jet(self.c + _jet(other).c)

    def __sub__(self, other: Number) -> "Jet":
        return Jet(self.c - _jet(other).c)

    def __rsub__(self, other: Number) -> "Jet":
        return Jet(_jet(other).c - self.c)

    def __neg__(self) -> "Jet":
        return Jet(-self.c)

    def __mul__(self, other: Number) -> "Jet":
        if not isinstance(other, Jet):
            return Jet(self.c * other)
        product = np.zeros_like(self.c)
        for i, j in zip(*np.nonzero(self.c), strict=True):
            product[i:, j:] += self.c[i, j] * other.c[: ORDER + 1 - i, : ORDER + 1 - j]
        return Jet(np.where(KEPT, product, 0.0))

    def __truediv__(self, other: Number) -> "Jet":
        return self * _jet(other).power(-1.0)

    def __rtruediv__(self, other: Number) -> "Jet":
        return _jet(other) * self.power(-1.0)

    def __pow__(self, other: Number) -> "Jet":
        if isinstance(other, Jet) and np.count_nonzero(other.c) > int(other.c[0, 0] != 0):
            product: Jet = apply("exp", other * apply("log", self))
            return product
        return self.power(other.value if isinstance(other, Jet) else other)

    def __rpow__(self, other: Number) -> "Jet":
        return _jet(other) ** self

    __radd__, __rmul__ = __add__, __mul__

    def power(self, exponent: float) -> "Jet":
        """Return a constant power; whole ones are allowed at and below zero."""
        terms, factor = [], 1.0
        for k in range(ORDER + 1):
            # 0 * 0**negative: a factor of exactly 0 ends the series of a whole power
            terms.append(factor * self.value ** (exponent - k) if factor else 0.0)
            factor *= (exponent - k) / (k + 1)
        if any(isinstance(term, complex) for term in terms):
            raise ValueError("a fractional power of a negative number")
        return self.compose(terms)

    def compose(self, terms: list[float]) -> "Jet":
        """Return a function of this jet, given its Taylor coefficients at the value."""
        step = Jet(self.c.copy())
        step.c[0, 0] = 0.0
        result = Jet.of(terms[ORDER])
        for k in range(ORDER - 1, -1, -1):
            result = result * step + terms[k]
        return result


def _jet(number: Number) -> Jet:
    return number if isinstance(number, Jet) else Jet.of(number)


def _circular(f: float, g: float, sign: float) -> list[float]:
    """Taylor terms of a function whose derivative is g and whose second derivative is sign * f."""
    return [f, g, sign * f / 2, sign * g / 6]


def _tan(x: float) -> list[float]:
    t = math.tan(x)
    s = 1 + t * t
    return [t, s, t * s, s * (1 + 3 * t * t) / 3]


def _tanh(x: float) -> list[float]:
    t = math.tanh(x)
    s = 1 - t * t
    return [t, s, -t * s, s * (3 * t * t - 1) / 3]


def _asin(x: float) -> list[float]:
    r = 1 / math.sqrt(1 - x * x)
    return [math.asin(x), r, x * r**3 / 2, (1 + 2 * x * x) * r**5 / 6]


def _acos(x: float) -> list[float]:
    _, first, second, third = _asin(x)
    return [math.acos(x), -first, -second, -third]


def _atan(x: float) -> list[float]:
    r = 1 / (1 + x * x)
    return [math.atan(x), r, -x * r * r, (3 * x * x - 1) * r**3 / 3]


def _log(x: float) -> list[float]:
    return [math.log(x), 1 / x, -1 / (2 * x * x), 1 / (3 * x**3)]


def _exp(x: float) -> list[float]:
    e = math.exp(x)
    return [e, e, e / 2, e / 6]


def _abs(x: float) -> list[float]:
    if x == 0:
        raise ValueError("abs has no slope at 0")
    return [abs(x), math.copysign(1.0, x), 0.0, 0.0]


TERMS: dict[str, Callable[[float], list[float]]] = {
    "exp": _exp,
    "log": _log,
    "ln": _log,
    "log10": lambda x: [t / math.log(10) for t in _log(x)],
    "sin": lambda x: _circular(math.sin(x), math.cos(x), -1.0),
    "cos": lambda x: _circular(math.cos(x), -math.sin(x), -1.0),
    "tan": _tan,
    "asin": _asin,
    "acos": _acos,
    "atan": _atan,
    "sinh": lambda x: _circular(math.sinh(x), math.cosh(x), 1.0),
    "cosh": lambda x: _circular(math.cosh(x), math.sinh(x), 1.0),
    "tanh": _tanh,
    "abs": _abs,
}

ARRAYS: dict[str, Callable[[Any], Any]] = {
    "exp": np.exp, "log": np.log, "ln": np.log, "log10": np.log10, "sqrt": np.sqrt,
    "sin": np.sin, "cos": np.cos, "tan": np.tan, "asin": np.arcsin, "acos": np.arccos, "atan": np.arctan,
    "sinh": np.sinh, "cosh": np.cosh, "tanh": np.tanh, "abs": np.abs,
}  # fmt: skip


def apply(name: str, argument: Any) -> Any:
    """Return a named function of a jet, a float or an array."""
    if not isinstance(argument, Jet):
        value = ARRAYS[name](argument)
        return float(value) if isinstance(argument, float) else value
    if name == "sqrt":
        return argument.power(0.5)
    return argument.compose(TERMS[name](argument.value))
