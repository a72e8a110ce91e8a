"""A formula typed by a person, read without running it: names, numbers, + - * / **, and a few functions.

The text is parsed to a tree and every node is checked against a short list of what is allowed; nothing typed
is ever executed as code. The same tree is evaluated with floats, with whole arrays of trials, or with jets
that carry derivatives.
"""

import ast
import math
import operator
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from trainer.instrument.refusal import Refusal
from trainer.scoring.jet import ARRAYS, apply

LONGEST = 2000  # characters; a measurement model on a page is well below
DEEPEST = 200  # nested parentheses and operations; a sum nests once a term
CONSTANTS = {"pi": math.pi}
OPERATORS: dict[type[ast.operator], Callable[[Any, Any], Any]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: lambda base, exponent: _power(base, exponent),
}


class UnusableExpression(Refusal):
    """The formula has something in it that a formula may not have."""


@dataclass(frozen=True, slots=True)
class Expression:
    """A checked formula: its text, the names in it in order of appearance, and how to evaluate it."""

    text: str
    names: tuple[str, ...]
    tree: ast.expr

    def __call__(self, values: Mapping[str, Any]) -> Any:
        """Return the formula's value; `values` holds a float, array or jet for every name."""
        return _evaluate(self.tree, values)


def parse(text: str) -> Expression:
    """Check and return a formula. Raises UnusableExpression with one sentence about the first fault.

    >>> parse("2 * a + sqrt(b)")({"a": 1.0, "b": 9.0})
    5.0
    """
    if not text.strip():
        raise UnusableExpression("the formula is empty; type one such as a + b")
    if len(text) > LONGEST:
        raise UnusableExpression(f"the formula has {len(text)} characters; the most is {LONGEST}")
    source = " ".join(text.replace("^", "**").split())
    try:
        tree = ast.parse(source, mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        raise UnusableExpression(f'"{_short(text)}" is not a formula; check brackets and operators') from None
    names: dict[str, None] = {}
    _check(tree, names, source, 0)
    return Expression(text, tuple(names), tree)


def is_name(text: str) -> bool:
    """Return whether a text can be the name of a quantity."""
    return text.isidentifier() and text not in CONSTANTS and text not in ARRAYS and not text.startswith("_")


def order(definitions: Mapping[str, Expression]) -> tuple[str, ...]:
    """Return the names of definitions such that each comes after those it uses.

    Raises UnusableExpression, naming the ring, when one depends on itself.
    """
    done: dict[str, None] = {}
    for name in definitions:
        _visit(name, definitions, done, ())
    return tuple(done)


def _visit(
    name: str, definitions: Mapping[str, Expression], done: dict[str, None], path: tuple[str, ...]
) -> None:
    if name in done:
        return
    if name in path:
        ring = " -> ".join((*path[path.index(name) :], name))
        raise UnusableExpression(
            f"the terms go round in a circle: {ring}; define one of them without the others"
        )
    if len(path) > DEEPEST:
        raise UnusableExpression(f"terms build on each other more than {DEEPEST} deep; write them shorter")
    for used in definitions[name].names:
        if used in definitions:
            _visit(used, definitions, done, (*path, name))
    done[name] = None


def _check(node: ast.expr, names: dict[str, None], source: str, depth: int) -> None:
    """Refuse whatever is not on the list; collect the names."""
    if depth > DEEPEST:
        raise UnusableExpression(f"the formula is nested more than {DEEPEST} deep; split it into terms")
    match node:
        case ast.Constant(value=bool() | complex()) | ast.Constant(value=str() | bytes() | None):
            raise UnusableExpression(f"{_written(node, source)} is not a number; use names and numbers only")
        case ast.Constant(value=int() | float()):
            _number(node)
        case ast.Name(id=name) if name in CONSTANTS:
            pass
        case ast.Name(id=name) if is_name(name):
            names[name] = None
        case ast.UnaryOp(op=ast.UAdd() | ast.USub(), operand=operand):
            _check(operand, names, source, depth + 1)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in OPERATORS:
            _check(left, names, source, depth + 1)
            _check(right, names, source, depth + 1)
        case ast.Call(func=ast.Name(id=name), args=[argument], keywords=[]) if name in ARRAYS:
            _check(argument, names, source, depth + 1)
        case ast.Tuple():
            raise UnusableExpression(
                f'"{_written(node, source)}" has a comma; write decimals with a point, as in 0.5 * a'
            )
        case _:
            known = ", ".join(sorted(ARRAYS))
            raise UnusableExpression(
                f'"{_written(node, source)}" is not allowed in a formula; use names, numbers, + - * / **, '
                f"brackets and {known}"
            )


Tangle = tuple[frozenset[str], frozenset[frozenset[str]]]


def tangle(formula: Expression, terms: Mapping[str, Tangle]) -> Tangle:
    """Return the inputs of a formula and the pairs of them that may bend each other's effect.

    Sums keep their parts apart; everything else is taken to mix all it holds, which errs on the safe side.
    `terms` holds what is known of the names that are themselves formulas.
    """
    return _tangle(formula.tree, terms)


def _tangle(node: ast.expr, terms: Mapping[str, Tangle]) -> Tangle:
    match node:
        case ast.Name(id=name) if name not in CONSTANTS:
            return terms.get(name, (frozenset({name}), frozenset()))
        case ast.UnaryOp(operand=operand):
            return _tangle(operand, terms)
        case ast.BinOp(left=left, op=op, right=right):
            first, second = _tangle(left, terms), _tangle(right, terms)
            names, pairs = first[0] | second[0], first[1] | second[1]
            scaled = isinstance(op, ast.Mult | ast.Div) and not second[0]
            if isinstance(op, ast.Add | ast.Sub) or scaled or (isinstance(op, ast.Mult) and not first[0]):
                return names, pairs
            return names, _all_pairs(names)
        case ast.Call(args=[argument]):
            names = _tangle(argument, terms)[0]
            return names, _all_pairs(names)
    return frozenset(), frozenset()


def _all_pairs(names: frozenset[str]) -> frozenset[frozenset[str]]:
    return frozenset(map(frozenset, combinations(sorted(names), 2)))


def _power(base: Any, exponent: Any) -> Any:
    result = base**exponent
    if isinstance(result, complex) and not isinstance(base, complex):
        raise ValueError("a fractional power of a negative number")
    return result


def _number(node: ast.Constant) -> float:
    try:
        return float(node.value)  # type: ignore[arg-type]
    except OverflowError:
        raise UnusableExpression("a number in the formula is too large; write it as 1e12, say") from None


def _evaluate(node: ast.expr, values: Mapping[str, Any]) -> Any:
    match node:
        case ast.Constant():
            return _number(node)
        case ast.Name(id=name):
            return CONSTANTS[name] if name in CONSTANTS else values[name]
        case ast.UnaryOp(op=op, operand=operand):
            value = _evaluate(operand, values)
            return -value if isinstance(op, ast.USub) else value
        case ast.BinOp(left=left, op=op, right=right):
            return OPERATORS[type(op)](_evaluate(left, values), _evaluate(right, values))
        case ast.Call(func=ast.Name(id=name), args=[argument]):
            return apply(name, _evaluate(argument, values))
    raise UnusableExpression(f"{type(node).__name__} slipped through the check; please report this formula")


def _written(node: ast.expr, source: str) -> str:
    """Return the part of the formula that a node stands for, as written; columns count bytes."""
    return _short(source.encode()[node.col_offset : node.end_col_offset].decode(errors="replace"))


def _short(text: str) -> str:
    return text if len(text) <= 60 else text[:57] + "..."
