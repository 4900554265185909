"""The language of formulas against sympy (what it gives) and pint (what may be added to what), on random formulas."""

from __future__ import annotations

import math
from math import isnan
from typing import Any

import pint
import pytest
import sympy
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from alarmtrees.calc.compute import number
from alarmtrees.calc.dimension import kind_of
from alarmtrees.calc.expression import Call, Either, ExpressionError, Name, Negative, Node, Number, Operation, parse
from alarmtrees.calc.units import _SIGNS, registry, unit
from calculators import random_entries, shipped

NAMES = ["a", "b", "c"]


def texts(depth: int = 4) -> st.SearchStrategy[str]:
    """Formulas as an author might write them, each part in brackets or not."""
    leaf = st.one_of(st.sampled_from(NAMES), st.integers(0, 9).map(str), st.sampled_from(["0.5", "2.25", "1e2"]))

    def more(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
        return st.one_of(
            st.tuples(inner, st.sampled_from(["+", "-", "*", "/"]), inner).map(" ".join),
            st.tuples(inner, st.sampled_from(["+", "-", "*", "/"]), inner).map(lambda three: f"({' '.join(three)})"),
            inner.map(lambda one: f"-{one}"),
            st.tuples(inner, st.sampled_from(["2", "3", "-1"])).map(lambda two: f"({two[0]}) ** {two[1]}"),
            st.tuples(st.sampled_from(["exp", "sqrt", "abs", "log"]), inner).map(lambda two: f"{two[0]}({two[1]})"),
            st.tuples(st.sampled_from(["min", "max"]), inner, inner).map(
                lambda three: f"{three[0]}({three[1]}, {three[2]})"
            ),
        )

    return st.recursive(leaf, more, max_leaves=8)


def as_sympy(node: Node) -> sympy.Expr:
    match node:
        case Number():
            return sympy.Float(node.value, 40)
        case Name():
            return sympy.Symbol(node.id, real=True)
        case Negative():
            return -as_sympy(node.value)
        case Operation():
            left, right = as_sympy(node.left), as_sympy(node.right)
            by_sign = {"+": sympy.Add, "-": lambda one, other: one - other, "*": sympy.Mul, "**": sympy.Pow}
            by_sign["/"] = lambda one, other: sympy.Mul(one, sympy.Pow(other, -1))
            return by_sign[node.sign](left, right)
        case Call():
            function = {"min": sympy.Min, "max": sympy.Max, "abs": sympy.Abs}.get(node.function) or getattr(
                sympy, node.function
            )
            return function(*map(as_sympy, node.values))
    raise TypeError(node)


@settings(max_examples=60, deadline=None)
@given(texts(), st.lists(st.floats(0.1, 9, allow_nan=False), min_size=3, max_size=3))
def test_it_gives_what_sympy_gives(text: str, values: list[float]) -> None:
    try:
        node = parse(text)
    except ExpressionError:  # too deep
        assume(False)
    known = dict(zip(NAMES, values, strict=True))
    ours = number(node, known)
    assume(math.isfinite(ours) and 1e-9 < abs(ours) < 1e9)
    # On the edge of a step or a condition the last digit decides: there the two may differ rightly.
    for nudge in (1 - 1e-11, 1 + 1e-11):
        assume(number(node, {key: value * nudge for key, value in known.items()}) == pytest.approx(ours, rel=1e-6))
    places = {sympy.Symbol(key, real=True): sympy.Float(value, 40) for key, value in known.items()}
    try:
        theirs = as_sympy(node).subs(places).evalf(40)
    except ValueError as fault:  # to sympy 1/0 has no sign, so no place in `min` and `max`
        assume("not comparable" not in str(fault))
        raise
    assume(theirs.is_real and abs(theirs) > 1e-9)
    # Digits that a difference of near equals has lost are no fault of either side: sympy counts with 40.
    if any(step in text for step in ("floor", "ceil")):  # of numbers alone, which no nudge moves
        assume(abs(ours - float(theirs)) < 1e-6 * abs(ours) or abs(ours - round(ours)) > 1e-9)
    assert ours == pytest.approx(float(theirs), rel=1e-6)


def measured(node: Node, known: dict[str, Any]) -> Any:
    """The formula worked out by pint, quantity by quantity."""
    match node:
        case Number():
            return node.value if node.value == 0 else registry().Quantity(node.value)
        case Name():
            return known[node.id]
        case Negative():
            return -measured(node.value, known)
        case Operation():
            left, right = measured(node.left, known), measured(node.right, known)
            match node.sign:
                case "+":
                    return left + right
                case "-":
                    return left - right
                case "*":
                    return left * right
                case "/":
                    return left / right
            return left**right
    raise TypeError(node)


@settings(max_examples=200, deadline=None)
@given(
    st.recursive(
        st.sampled_from(["p", "v", "t", "1", "2.5"]),
        lambda inner: st.one_of(
            st.tuples(inner, st.sampled_from(["+", "-", "*", "/", "*", "/"]), inner).map(
                lambda three: f"({' '.join(three)})"
            ),
            inner.map(lambda one: f"({one}) ** 2"),
        ),
        max_leaves=6,
    )
)
def test_pint_itself_agrees_what_fits_together(text: str) -> None:
    units = {"p": "bar", "v": "mL", "t": "min"}
    known = {
        key: registry().Quantity(1.7, registry().Unit({"bar": "bar", "mL": "milliliter", "min": "minute"}[one]))
        for key, one in units.items()
    }
    node = parse(text)
    try:
        theirs: Any = measured(node, known)
    except ZeroDivisionError:
        assume(False)
    except pint.DimensionalityError:
        with pytest.raises(ExpressionError):
            kind_of(node, {key: unit(one).dimension for key, one in units.items()})
        return
    ours = kind_of(node, {key: unit(one).dimension for key, one in units.items()})
    assert ours == registry().Quantity(theirs).dimensionality


def is_plain(node: Node) -> bool:
    """Whether sympy can be asked without words for the language's own rounding and choices."""
    match node:
        case Call(function="floor" | "ceil" | "until") | Either():
            return False
        case Call():
            return all(map(is_plain, node.values))
        case Negative():
            return is_plain(node.value)
        case Operation():
            return is_plain(node.left) and is_plain(node.right)
    return isinstance(node, Number | Name)


@pytest.mark.parametrize("key", sorted(shipped()))
def test_the_shipped_formulas_give_what_sympy_gives(key: str) -> None:
    from alarmtrees.calc.compute import compute

    formula = shipped()[key]
    for entered in random_entries(formula, 7, 3):
        result = compute(formula, entered)
        known = {name: one for name, one in entered.items() if isinstance(one, float)} | dict(result.values)
        known |= {name: one.value for name, one in formula.fixed.items()}
        for name, step in formula.steps.items():
            if is_plain(step.node):
                theirs = as_sympy(step.node).subs(
                    {sympy.Symbol(k, real=True): sympy.Float(v, 40) for k, v in known.items() if not isnan(v)}
                )
                # A field may stay empty, and of what is divided by nothing a calculator says nothing.
                if theirs.free_symbols or not theirs.is_finite or isnan(result.values[name]):
                    continue
                assert result.values[name] == pytest.approx(float(theirs.evalf(30)), rel=1e-12, abs=1e-12), name


@pytest.mark.parametrize("sign", _SIGNS)
def test_each_unit_is_what_pint_knows_of_it(sign: str) -> None:
    """pint's own list of units, which is compiled from NIST and CODATA, is larger than ours and says the same."""
    theirs = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    theirs.define("billion = 1e9")  # a count has no unit that a list could hold
    known = theirs.parse_units(_SIGNS[sign])
    zero, one = (float(theirs.Quantity(number, known).to_base_units().magnitude) for number in (0, 1))
    ours = unit(sign)
    assert (ours.to_si(0), ours.to_si(1)) == pytest.approx((zero, one), rel=1e-14, abs=1e-30)
    assert str(ours.dimension) == str(known.dimensionality)
