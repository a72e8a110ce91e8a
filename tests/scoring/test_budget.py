"""Budgets: formulas read safely, derivatives exact, faults refused in a sentence."""

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.differentiate import derivative

from trainer.instrument.refusal import Refusal
from trainer.scoring import budget, component, expression, jet, propagation


def simple(**changes: Any) -> dict[str, Any]:
    data: dict[str, Any] = {
        "model": "a * b",
        "inputs": {"a": {"value": 2.0, "u": 0.1}, "b": {"value": 3.0, "u": 0.2}},
    }
    return data | changes


# --- Formulas ----------------------------------------------------------------------------------------

EVIL = [
    "__import__('os').system('true')",
    "().__class__.__bases__[0]",
    "a.real",
    "a[0]",
    "[a for a in b]",
    "lambda: a",
    "a if b else c",
    "a and b",
    "a < b",
    "f'{a}'",
    "'text'",
    "True",
    "None",
    "1j",
    "eval(a)",
    "exp(a, b)",
    "exp(*a)",
    "exp(x=a)",
    "a := 3",
    "a = 3",
    "a; b",
    "a // b",
    "a % b",
    "a @ b",
    "~a",
    "not a",
    "_a",
    "exp",
    "await a",
    "a +",
    "(a",
    "",
    "   ",
    "a b",
    "\x00",
    "9" * 400,
    "1" + "+1" * 1500,
    "(" * 150 + "a" + ")" * 150 + "(",
    "-" * 1500 + "a",
    "+".join(["(a"] * 250) + ")" * 250,
    "foo(" + "-" * 1500 + "a)",
    "é.x + 'ß'",
]


@pytest.mark.parametrize("text", EVIL, ids=range(len(EVIL)))
def test_what_is_not_a_formula_is_refused_in_one_sentence(text):
    with pytest.raises(expression.UnusableExpression) as refused:
        expression.parse(text)
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) < 400


def test_a_formula_keeps_its_names_and_the_usual_order_of_operations():
    formula = expression.parse("-a ** 2 + 3 * b / (c - 1) ^ 2 + pi")
    assert formula.names == ("a", "b", "c")
    assert formula({"a": 2.0, "b": 8.0, "c": 3.0}) == pytest.approx(-4 + 6 + math.pi)


NUMBER = st.floats(0.1, 3.0).map(lambda v: round(v, 3))
LEAF = st.one_of(st.sampled_from(["x", "y"]), NUMBER.map(str))
FORMULA = st.recursive(
    LEAF,
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})"),
        st.tuples(st.sampled_from(["sin", "cos", "exp", "atan", "tanh"]), inner).map(
            lambda t: f"{t[0]}({t[1]})"
        ),
        inner.map(lambda t: f"({t}) ** 2"),
    ),
    max_leaves=6,
)


@given(FORMULA, NUMBER, NUMBER)
@settings(max_examples=60, deadline=None)
def test_a_formula_gives_what_python_gives(text, x, y):
    names = {name: getattr(math, name) for name in ("sin", "cos", "exp", "atan", "tanh")} | {"x": x, "y": y}
    try:
        theirs = eval(text, {"__builtins__": {}}, names)
    except (OverflowError, ZeroDivisionError):
        assume(False)  # said aloud, so that a test that finds nothing to compare fails
    with np.errstate(all="ignore"):
        mine = expression.parse(text)({"x": x, "y": y})
    assert mine == pytest.approx(theirs, rel=1e-12, abs=1e-12)


def test_a_long_sum_is_a_formula():
    names = [f"x{i}" for i in range(150)]
    assert expression.parse(" + ".join(names))(dict.fromkeys(names, 1.0)) == 150


# --- Derivatives -------------------------------------------------------------------------------------

SMOOTH = [
    ("exp", 0.3), ("log", 0.7), ("ln", 2.0), ("log10", 0.7), ("sqrt", 0.7), ("sin", 0.4), ("cos", 0.4),
    ("tan", 0.4), ("asin", 0.3), ("acos", 0.3), ("atan", 0.8), ("sinh", 0.5), ("cosh", 0.5), ("tanh", 0.5),
    ("abs", -0.5),
]  # fmt: skip


@pytest.mark.parametrize(("name", "at"), SMOOTH, ids=[name for name, _ in SMOOTH])
def test_every_function_has_exact_derivatives_to_the_third_order(name, at):
    def nth(order):
        return lambda x: np.vectorize(
            lambda v: jet.apply(name, jet.Jet.of(float(v), 0)).derivative(order, 0), otypes=[float]
        )(x)

    for order in (1, 2, 3):
        below = jet.ARRAYS[name] if order == 1 else nth(order - 1)
        numeric = derivative(below, at, initial_step=0.05).df  # scipy's own finite differences
        exact = jet.apply(name, jet.Jet.of(at, 0)).derivative(order, 0)
        assert exact == pytest.approx(numeric, rel=1e-7, abs=1e-8)


@given(FORMULA, NUMBER, NUMBER)
@settings(max_examples=60, deadline=None)
def test_mixed_derivatives_agree_with_complex_and_finite_steps(text, x, y):
    formula = expression.parse(text)
    with np.errstate(all="ignore"):
        try:
            both = formula({"x": jet.Jet.of(x, 0), "y": jet.Jet.of(y, 1)})
        except (ZeroDivisionError, OverflowError):
            assume(False)
        assume(isinstance(both, jet.Jet) and np.isfinite(both.c).all() and np.abs(both.c).max() <= 1e4)
        # complex step: exact to rounding for the first order of a smooth formula
        step = formula({"x": complex(x, 1e-200), "y": complex(y)})
        assert both.derivative(1, 0) == pytest.approx(np.imag(step) / 1e-200, rel=1e-9, abs=1e-9)
        h = 1e-5
        along = [formula({"x": complex(x, 1e-200), "y": complex(y + s * h)}) for s in (1, -1)]
        mixed = (np.imag(along[0]) - np.imag(along[1])) / 1e-200 / (2 * h)
        scale = max(1.0, float(np.abs(both.c).max()))
        assert both.derivative(1, 1) == pytest.approx(mixed, rel=1e-4, abs=1e-5 * scale)


def test_powers_have_derivatives_where_they_exist():
    x = jet.Jet.of(0.0, 0)
    assert [(x**2).derivative(k, 0) for k in (0, 1, 2, 3)] == [0, 0, 2, 0]
    assert (jet.Jet.of(-2.0, 0) ** 3).derivative(2, 0) == -12
    assert (2 ** jet.Jet.of(3.0, 0)).derivative(1, 0) == pytest.approx(8 * math.log(2))
    with pytest.raises(ZeroDivisionError):
        x**0.5
    with pytest.raises(ValueError, match="fractional power"):
        jet.Jet.of(-1.0, 0) ** 0.5


@given(FORMULA, NUMBER, NUMBER)
@settings(max_examples=60, deadline=None)
def test_inputs_called_untangled_have_no_mixed_slope(text, x, y):
    formula = expression.parse(f"{text} + 0 * x + 0 * y")
    with np.errstate(all="ignore"):
        try:
            both = formula({"x": jet.Jet.of(x, 0), "y": jet.Jet.of(y, 1)})
        except (ZeroDivisionError, OverflowError, ValueError):
            assume(False)
    assume(np.isfinite(both.c).all())
    assume(frozenset("xy") not in expression.tangle(formula, {})[1])
    mixed = [both.derivative(i, j) for i, j in ((1, 1), (1, 2), (2, 1))]
    assert mixed == pytest.approx([0, 0, 0], abs=1e-12 * max(1.0, float(np.abs(both.c).max())))


def test_a_sum_of_terms_tangles_only_within_them():
    made = budget.from_dict(
        {
            "model": "p + q - e / 2",
            "terms": {"p": "a * b", "q": "2 * c"},
            "inputs": {n: {"value": 1.0, "u": 0.1} for n in "abce"},
        }
    )
    assert made.tangled() == {frozenset("ab")}


# --- Propagation --------------------------------------------------------------------------------------


def test_a_product_by_hand():
    # JCGM 100, 5.1.2: u^2 = (b u_a)^2 + (a u_b)^2; second order adds (u_a u_b)^2 exactly for a product
    result = propagation.evaluate(budget.from_dict(simple()))
    assert result.estimate == 6
    assert result.u == pytest.approx(math.hypot(0.3, 0.4))
    assert result.u_second == pytest.approx(math.sqrt(0.25 + 0.02**2))
    assert [row.share for row in result.lines] == pytest.approx([0.36, 0.64])
    assert result.df is None
    assert result.k == pytest.approx(1.959964, abs=1e-6)


def test_second_order_equals_the_exact_variance_of_a_square():
    # y = x^2, x normal: var y = 4 mu^2 s^2 + 2 s^4 exactly
    made = budget.from_dict({"model": "x ** 2", "inputs": {"x": {"value": 1.5, "u": 0.4}}})
    result = propagation.evaluate(made)
    assert result.u_second**2 == pytest.approx(4 * 1.5**2 * 0.4**2 + 2 * 0.4**4)
    assert result.notes == ()
    flat = propagation.evaluate(
        budget.from_dict({"model": "x ** 2", "inputs": {"x": {"value": 0.1, "u": 0.4}}})
    )
    assert any("the model is bent" in note for note in flat.notes)


@given(st.floats(-1, 1), st.floats(0.1, 5), st.floats(0.1, 5))
@settings(max_examples=60, deadline=None)
def test_correlation_by_hand(r, first, second):
    # JCGM 100, 5.2.2, equation 13
    made = budget.from_dict(
        {
            "model": "a - 2 * b",
            "inputs": {"a": {"value": 1.0, "u": first}, "b": {"value": 2.0, "u": second}},
            "correlations": [{"between": ["a", "b"], "r": r}],
        }
    )
    result = propagation.evaluate(made)
    expected = first**2 + 4 * second**2 - 4 * r * first * second
    assert result.u**2 == pytest.approx(expected, rel=1e-9, abs=1e-9)
    if r and result.u > 1e-6:
        assert sum(row.share for row in result.lines) == pytest.approx(1)
        assert result.u_second is None
        assert "independent" in result.reasons["u_second"]


def test_ten_resistors_with_full_correlation():
    # JCGM 100, 5.2.2, example: ten resistors of one calibration, u = 0.1 ohm each: 1 ohm, not 0.32
    names = [f"r{i}" for i in range(10)]
    data = {
        "model": " + ".join(names),
        "inputs": {name: {"value": 1000.0, "u": 0.1} for name in names},
    }
    pairs = [{"between": [a, b], "r": 1.0} for i, a in enumerate(names) for b in names[i + 1 :]]
    assert propagation.evaluate(budget.from_dict(data | {"correlations": pairs})).u == pytest.approx(1.0)
    assert propagation.evaluate(budget.from_dict(data)).u == pytest.approx(0.32, abs=0.005)


def test_correlated_inputs_take_the_fewest_degrees_of_freedom_and_say_so():
    made = budget.from_dict(
        {
            "model": "a + b + c",
            "inputs": {
                "a": {"value": 0, "u": 1.0, "df": 5},
                "b": {"value": 0, "u": 1.0, "df": 50},
                "c": {"value": 0, "u": 1.0},
            },
            "correlations": [{"between": ["a", "b"], "r": 0.5}],
        }
    )
    result = propagation.evaluate(made)
    assert result.u**2 == pytest.approx(4)
    assert result.df == pytest.approx(5 * (4 / 3) ** 2)
    assert any("fewest degrees of freedom" in note for note in result.notes)


def test_a_budget_of_certainties_has_no_uncertainty_and_no_nan():
    made = budget.from_dict({"model": "a", "inputs": {"a": {"value": 1.0, "distribution": "constant"}}})
    result = propagation.evaluate(made)
    assert (result.u, result.expanded, result.df) == (0, 0, None)
    assert result.lines[0].share is None


def test_terms_are_used_in_the_order_they_need():
    made = budget.from_dict(simple(model="s", terms={"s": "t + a", "t": "a * b"}))
    assert list(made.terms) == ["t", "s"]
    assert propagation.evaluate(made).estimate == 8


FAULTS = [
    (simple(model="a * c"), 'the model uses "c"'),
    (simple(model=3), "no model"),
    (simple(model="a"), "b is defined but not used"),
    (simple(model="s * a * b", terms={"s": "t", "t": "s"}), "circle: s -> t -> s"),
    (simple(model="s * a * b", terms={"s": "s + 1"}), "circle: s -> s"),
    (simple(terms={"a": "b"}), "both a term and an input"),
    (simple(terms={"1x": "b"}), "not a usable name"),
    (simple(inputs={}), "no inputs"),
    (simple(inputs={"a": 3, "b": {"value": 1, "u": 1}}), "must be a table"),
    (simple(inputs={"sqrt": {"value": 1, "u": 1}}), "not a usable name"),
    (
        simple(inputs={"a": {"value": 1, "u": -0.1}, "b": {"value": 1, "u": 1}}),
        "u = -0.1; it cannot be negative",
    ),
    (simple(inputs={"a": {"u": 0.1}, "b": {"value": 1, "u": 1}}), "no value"),
    (simple(inputs={"a": {"value": 1}, "b": {"value": 1, "u": 1}}), "no u"),
    (simple(inputs={"a": {"value": "x", "u": 1}, "b": {"value": 1, "u": 1}}), "a number is needed"),
    (simple(inputs={"a": {"value": math.inf, "u": 1}, "b": {"value": 1, "u": 1}}), "finite"),
    (simple(inputs={"a": {"value": True, "u": 1}, "b": {"value": 1, "u": 1}}), "a number is needed"),
    (
        simple(inputs={"a": {"value": 1, "u": 1, "sigma": 2}, "b": {"value": 1, "u": 1}}),
        'unknown field "sigma"',
    ),
    (
        simple(inputs={"a": {"value": 1, "distribution": "gauss"}, "b": {"value": 1, "u": 1}}),
        'distribution "gauss"',
    ),
    (simple(inputs={"a": {"value": 1, "distribution": "t", "u": 1}, "b": {"value": 1, "u": 1}}), "no df"),
    (simple(inputs={"a": {"value": 1, "u": 1, "df": 0}, "b": {"value": 1, "u": 1}}), "df = 0"),
    (simple(inputs={"a": {"value": 1, "expanded": 1}, "b": {"value": 1, "u": 1}}), "no coverage factor"),
    (
        simple(inputs={"a": {"value": 1, "u": 1, "expanded": 4, "k": 2}, "b": {"value": 1, "u": 1}}),
        "u beside expanded",
    ),
    (simple(inputs={"a": {"value": 1, "u": 1, "k": 2}, "b": {"value": 1, "u": 1}}), "k without expanded"),
    (
        simple(inputs={"a": {"value": 1, "distribution": "constant", "u": 1}, "b": {"value": 1, "u": 1}}),
        "has u but is constant",
    ),
    (
        simple(inputs={"a": {"value": 1, "u": 1, "half_width": 3}, "b": {"value": 1, "u": 1}}),
        "has half_width but is normal",
    ),
    (simple(model="0,5 * a + b"), "has a comma"),
    (
        simple(inputs={"\u00b5": {"value": 1, "u": 1}, "\u03bc": {"value": 1, "u": 1}}),
        "differ in form only",
    ),
    (simple(probability=95), "probability"),
    (simple(modle="a"), 'unknown entry "modle"'),
    (simple(correlations="a b"), "must be a list"),
    (simple(correlations=[{"between": ["a", "b"]}]), "r = "),
    (simple(correlations=[{"between": ["a", "c"], "r": 0.5}]), '"c", which is not an input'),
    (simple(correlations=[{"between": ["a", "a"], "r": 0.5}]), "with itself"),
    (simple(correlations=[{"between": ["a", "b"], "r": 1.5}]), "give -1 to 1"),
    (simple(correlations=[{"between": ["a", "b"], "r": 0.5}] * 2), "given twice"),
]


@pytest.mark.parametrize(("data", "said"), FAULTS, ids=[said for _, said in FAULTS])
def test_a_faulty_budget_is_refused_in_a_sentence_that_names_the_fault(data, said):
    with pytest.raises(Refusal) as refused:
        budget.from_dict(data)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("micro", ["\u00b5", "\u03bc"], ids=["micro sign", "Greek letter"])
def test_a_name_may_hold_the_micro_sign_as_keyboards_write_it(micro):
    data = {
        "model": f"2 * d_{micro}m + t",
        "terms": {"t": f"d_{micro}m * e"},
        "inputs": {f"d_{micro}m": {"value": 1.5, "u": 0.1}, "e": {"value": 1.0, "u": 0.1}},
        "correlations": [{"between": [f"d_{micro}m", "e"], "r": 0.5}],
    }
    assert propagation.evaluate(budget.from_dict(data)).estimate == pytest.approx(4.5)


def test_a_matrix_that_no_quantities_could_have_is_refused():
    inputs = {name: {"value": 1.0, "u": 1.0} for name in "abc"}
    contradiction = [
        {"between": ["a", "b"], "r": 0.9},
        {"between": ["b", "c"], "r": 0.9},
        {"between": ["a", "c"], "r": -0.9},
    ]
    with pytest.raises(budget.UnusableBudget, match="positive semi-definite"):
        budget.from_dict({"model": "a + b + c", "inputs": inputs, "correlations": contradiction})
    possible = [c | {"r": abs(c["r"])} for c in contradiction]
    assert budget.from_dict({"model": "a + b + c", "inputs": inputs, "correlations": possible})


@pytest.mark.parametrize(
    "model",
    [
        "a / (b - 3)",
        "sqrt(a - 2)",
        "log(a - 2)",
        "(a - 3) ** 0.5 * b",
        "a * exp(1000 * b)",
        "abs(a - 2) + b",
        "acos(a) + b",
    ],
)
def test_a_model_without_value_or_slope_is_refused_without_warning(model):
    made = budget.from_dict(simple(model=f"{model} + 0 * b"))
    with pytest.raises(budget.UnusableBudget, match="check"):
        propagation.evaluate(made)


def test_second_order_asked_for_where_it_is_not_defined_is_refused():
    made = budget.from_dict(simple(correlations=[{"between": ["a", "b"], "r": 0.5}]))
    with pytest.raises(budget.UnusableBudget, match="second order was asked for"):
        propagation.evaluate(made, second_order=True)


def test_certificates_are_taken_apart():
    # JCGM 100, 4.3.3
    made = component.component("block", {"value": 0, "expanded": 0.1, "k": 2, "df": math.inf})
    assert made.u == pytest.approx(0.05)


def test_views_hold_plain_values_and_none():
    result = propagation.evaluate(budget.from_dict(simple()))
    table = result.summary()
    assert list(table.index) == ["a", "b"]
    assert table.loc["a", "df"] is None
    assert result.to_dict()["lines"][0]["contribution"] == pytest.approx(0.3)


def one_sentence(refusal):
    assert str(refusal)
    assert "\n" not in str(refusal)


# --- Anything at all -----------------------------------------------------------------------------------

SCALAR = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**30), 10**30), st.floats(), st.text(max_size=8),
    st.sampled_from(["a", "b", "a * b", "exp(a)", "a / b", "normal", "t", "arcsine", "rectangular"]),
)  # fmt: skip
FIELDS = st.dictionaries(
    st.sampled_from(["value", "u", "df", "distribution", "half_width", "expanded", "k", "top_ratio", "zz"]),
    SCALAR,
    max_size=5,
)
ANYTHING = st.fixed_dictionaries(
    {"model": st.one_of(SCALAR, st.just("a * b"), st.just("log(a) / b"))},
    optional={
        "inputs": st.one_of(
            SCALAR, st.dictionaries(st.sampled_from(["a", "b", "c"]), st.one_of(SCALAR, FIELDS))
        ),
        "terms": st.one_of(SCALAR, st.dictionaries(st.sampled_from(["b", "c", "d"]), SCALAR)),
        "probability": SCALAR,
        "correlations": st.one_of(
            SCALAR,
            st.lists(
                st.one_of(
                    SCALAR, st.fixed_dictionaries({"between": st.lists(SCALAR, max_size=3), "r": SCALAR})
                ),
                max_size=3,
            ),
        ),
    },
)


@given(ANYTHING)
@settings(max_examples=60, deadline=None)
def test_whatever_is_read_is_a_budget_or_one_sentence(data):
    try:
        result = propagation.evaluate(budget.from_dict(data))
    except Refusal as refusal:
        one_sentence(refusal)
        return
    numbers = [result.estimate, result.u, result.k, result.expanded]
    assert all(math.isfinite(n) for n in numbers)


SOUND = st.fixed_dictionaries(
    {"value": st.floats(-1e300, 1e300)},
    optional={"u": st.floats(0, 1e300), "df": st.floats(1e-3, 1e6)},
)


@given(
    st.sampled_from(["a * b", "a / b", "exp(a) + b", "a ** b", "sqrt(a) - b", "a - a + b * 0"]), SOUND, SOUND
)
@settings(max_examples=60, deadline=None)
def test_enormous_numbers_are_handled_or_refused_never_shown_wrong(model, a, b):
    try:
        result = propagation.evaluate(budget.from_dict({"model": model, "inputs": {"a": a, "b": b}}))
    except Refusal as refusal:
        one_sentence(refusal)
        return
    for number in (result.estimate, result.u, result.expanded, *(row.contribution for row in result.lines)):
        assert math.isfinite(number)
    assert result.u_second is None or math.isfinite(result.u_second)


def test_tiny_uncertainties_do_not_vanish():
    # 1e-200 squared is 0 in a double
    made = budget.from_dict({"model": "a + b", "inputs": {n: {"value": 1.0, "u": 3e-200} for n in "ab"}})
    result = propagation.evaluate(made)
    assert result.u == pytest.approx(3e-200 * math.sqrt(2))
    assert [row.share for row in result.lines] == pytest.approx([0.5, 0.5])


def test_the_budget_in_the_documentation_works():
    page = (Path(__file__).parents[2] / "docs" / "methods" / "uncertainty.md").read_text(encoding="utf-8")
    (text,) = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    result = propagation.evaluate(budget.from_dict(tomllib.loads(text)))
    # by hand: 0.7, 0.5, 1.0 um and 12.3456 mm * 11.5e-6 / K * 1 K / sqrt 3
    by_hand = math.hypot(0.0007, 0.0005, 0.001, 12.3456 * 11.5e-6 / math.sqrt(3))
    assert result.u == pytest.approx(by_hand)
    for name in component.NEEDS:
        assert f"`{name}`" in page
    for name in jet.ARRAYS:
        assert re.search(rf"(?<![a-z]){name}(?![a-z0-9])", page), (
            name
        )  # a word of its own, not "sin" of "using"
