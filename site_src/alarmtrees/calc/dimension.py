"""Proves the dimensions of a formula: like is added to and compared with like, and each result has its unit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from .expression import Call, Comparison, Either, ExpressionError, Logic, Name, Negative, Node, Not, Number, Operation
from .formula import Fault, Formula, Line, Row
from .units import say, unit

TRUTH: Any = object()
"""The kind of a condition, in place of a dimension."""

Kinds = Mapping[str, Any]
"""For each name its dimension, TRUTH, or the choices it may take, as a mapping."""


def faults(formula: Formula, place: Callable[[Any, int], Any]) -> Iterator[Fault]:
    """Every expression of a formula that does not fit together.

    Args:
        formula: one whose names are all known.
        place: the place of a character of the expression at a place.
    """
    time = unit("s").dimension
    kinds: dict[str, Any] = {}
    for field in formula.fields.values():
        by_kind = {"yes-no": TRUTH, "choice": field.choices, "clock": None}
        kinds[field.id] = by_kind[field.kind] if field.kind in by_kind else field.units[0].dimension
    kinds |= {fixed.id: fixed.unit.dimension for fixed in formula.fixed.values()}
    for step in formula.steps.values():
        yield from _held(step.node, kinds, step.unit.dimension, step.place, place)
        if step.when is not None:
            yield from _held(step.when, kinds, TRUTH, step.place, place)
        kinds[step.id] = step.unit.dimension
    for line in (*formula.refuse, *formula.warn, *formula.reads):
        yield from _condition(line, kinds, place)
    plan = formula.plan
    for row in plan.rows if plan else ():
        here = {**kinds, row.counter: unit("none").dimension} if row.counter else kinds
        yield from _condition(row, here, place)
        wanted = [(row.count, unit("none").dimension), (row.at, plan.unit.dimension if plan else time)]
        if row.shows:
            wanted.append((row.shows.node, row.shows.unit.dimension))
        for node, dimension in wanted:
            if node is not None:
                yield from _held(node, here, dimension, row.place, place)


def _condition(line: Line | Row, kinds: Kinds, place: Callable[[Any, int], Any]) -> Iterator[Fault]:
    if line.when is not None:
        yield from _held(line.when, kinds, TRUTH, line.place, place)


def _held(node: Node, kinds: Kinds, wanted: Any, at: Any, place: Callable[[Any, int], Any]) -> Iterator[Fault]:
    try:
        found = kind_of(node, kinds)
    except ExpressionError as fault:
        yield Fault("formula-dimension", place(at, fault.at), str(fault))
        return
    if found is not wanted and (found is TRUTH or wanted is TRUTH or found not in (None, wanted)):
        told = f"this gives {_told(found)}, where {_told(wanted)} is said to stand; put the formula or the unit right"
        yield Fault("formula-dimension", place(at, 0), told)


def kind_of(node: Node, kinds: Kinds) -> Any:
    """The dimension of a formula, TRUTH for a condition, None for a zero, which is of any dimension.

    Raises:
        ExpressionError: what is joined in it does not fit together.
    """
    match node:
        case Number():
            return unit("none").dimension if node.value else None
        case Name():
            return _named(node, kinds)
        case Negative():
            return _quantity(node.value, kinds)
        case Operation(sign="+" | "-"):
            return _same((node.left, node.right), kinds, "added to" if node.sign == "+" else "taken from")
        case Operation():
            return _product(node, kinds)
        case Call(function="min" | "max"):
            return _same(node.values, kinds, "compared with")
        case Call(function="until"):
            return _between(node, kinds)
        case Call():
            return _call(node, kinds)
        case Either():
            _truth(node.condition, kinds)
            return _same((node.yes, node.no), kinds, "put in place of")
        case Comparison(sign="==" | "!="):
            _chosen(node, kinds)
            return TRUTH
        case Comparison():
            _same((node.left, node.right), kinds, "compared with")
            return TRUTH
        case Logic():
            for part in node.parts:
                _truth(part, kinds)
            return TRUTH
        case Not():
            _truth(node.part, kinds)
            return TRUTH


def _named(node: Name, kinds: Kinds) -> Any:
    if node.id not in kinds:
        raise ExpressionError(
            f"`{node.id}` is one of the answers to a choice; ask for it as `input == {node.id}`", node.at
        )
    kind = kinds[node.id]
    if isinstance(kind, Mapping) and kind and all(isinstance(words, str) for words in kind.values()):
        choices = " or ".join(f"`{node.id} == {key}`" for key in kind)
        raise ExpressionError(f"`{node.id}` is a choice and no number; ask for {choices}", node.at)
    if kind is None:
        raise ExpressionError(f"`{node.id}` is a time of day; no formula counts with it", node.at)
    return kind


def _quantity(node: Node, kinds: Kinds) -> Any:
    kind = kind_of(node, kinds)
    if kind is TRUTH:
        raise ExpressionError("a condition stands where a number is needed", node.at)
    return kind


def _truth(node: Node, kinds: Kinds) -> None:
    kind = kind_of(node, kinds)
    if kind is not TRUTH:
        raise ExpressionError(f"{_told(kind)} stands where a condition is needed", node.at)


def _same(nodes: tuple[Node, ...], kinds: Kinds, done: str) -> Any:
    """The one dimension of all; a zero is of any."""
    first: Any = None
    for node in nodes:
        kind = _quantity(node, kinds)
        if first is None:
            first = kind
        elif kind is not None and kind != first:
            raise ExpressionError(f"{_told(kind)} is {done} {_told(first)}", node.at)
    return first


def _product(node: Operation, kinds: Kinds) -> Any:
    pure = unit("none").dimension
    left, right = _quantity(node.left, kinds), _quantity(node.right, kinds)
    left, right = pure if left is None else left, pure if right is None else right
    if node.sign == "*":
        return left * right
    if node.sign == "/":
        return left / right
    if right != pure:
        raise ExpressionError(f"the power is {_told(right)}; it must be a pure number", node.right.at)
    if left == pure:
        return pure
    exponent = node.right
    if not isinstance(exponent, Number) or exponent.value != int(exponent.value):
        raise ExpressionError(f"{_told(left)} is raised to a power that is no whole number", exponent.at)
    return left ** int(exponent.value)


def _call(node: Call, kinds: Kinds) -> Any:
    pure = unit("none").dimension
    inner = _quantity(node.values[0], kinds)
    if node.function == "abs":
        return inner
    if node.function == "sqrt":
        return pure if inner is None else inner**0.5
    if inner is not None and inner != pure:
        why = "; divide by a unit first, for it depends on the unit" if node.function in ("floor", "ceil") else ""
        raise ExpressionError(f"`{node.function}` is given {_told(inner)}, and takes a pure number{why}", node.at)
    return pure


def _between(node: Call, kinds: Kinds) -> Any:
    for value in node.values:
        if not isinstance(value, Name) or kinds.get(value.id, TRUTH) is not None:
            raise ExpressionError("`until` takes the names of two inputs with `answer: clock`", value.at)
    return unit("s").dimension


def _chosen(node: Comparison, kinds: Kinds) -> None:
    left, right = node.left, node.right
    choices = kinds.get(left.id) if isinstance(left, Name) else None
    if not isinstance(choices, Mapping) or not isinstance(right, Name) or right.id not in choices:
        message = f"`{node.sign}` asks for a choice, as `sex == woman`; numbers are compared with < <= > >="
        raise ExpressionError(message, node.at)


def _told(kind: Any) -> str:
    if kind is TRUTH:
        return "a condition"
    return "zero" if kind is None else say(kind)
