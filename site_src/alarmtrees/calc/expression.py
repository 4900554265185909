"""The small language of formulas: numbers, names, a few signs and functions. Read, never run.

A text is held against a list of signs first, then read with Python's own grammar, and turned node by node
into the dataclasses below. What is not on the list is refused; nothing is evaluated on the way.
"""

from __future__ import annotations

import ast
import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, field

MAX_LENGTH = 400
MAX_DEPTH = 24
MAX_NODES = 200

FUNCTIONS = {"min": (2, 9), "max": (2, 9), "exp": (1, 1), "log": (1, 1), "sqrt": (1, 1)}
FUNCTIONS |= {"floor": (1, 1), "ceil": (1, 1), "abs": (1, 1), "until": (2, 2)}
"""The functions, and how few and how many values each takes. `log` is the natural logarithm; `until` is the time from
one time of day to the next of another, less than a day."""

RESERVED = frozenset({*FUNCTIONS, "and", "or", "not", "if", "else"})
"""Words with a meaning in the language, which no name may have."""

_SIGN = re.compile(r"[^A-Za-z0-9_ .+\-*/()<>=!,]")
_NUMBER = re.compile(r"[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?")


class ExpressionError(ValueError):
    """A text is no formula: why, and at which of its characters, counted from 0."""

    def __init__(self, message: str, at: int = 0) -> None:
        super().__init__(message)
        self.at = at


@dataclass(frozen=True, slots=True)
class Number:
    """A number as written."""

    value: float
    at: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Name:
    """The name of an input, a constant, a step, or one choice of an input."""

    id: str
    at: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Negative:
    """A value with its sign turned."""

    value: Node
    at: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Operation:
    """Two values and one of + - * / **."""

    sign: str
    left: Node
    right: Node
    at: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Call:
    """A function of FUNCTIONS and its values."""

    function: str
    values: tuple[Node, ...]
    at: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two values and one of < <= > >= == !=: true or false."""

    sign: str
    left: Node
    right: Node
    at: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Logic:
    """Conditions joined by `and` or `or`."""

    word: str
    parts: tuple[Node, ...]
    at: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Not:
    """A condition turned round."""

    part: Node
    at: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Either:
    """One of two values, by a condition."""

    condition: Node
    yes: Node
    no: Node
    at: int = field(default=0, compare=False)


Node = Number | Name | Negative | Operation | Call | Comparison | Logic | Not | Either

_OPERATIONS: dict[type[ast.operator], str] = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "**"}
_COMPARISONS: dict[type[ast.cmpop], str] = {
    ast.Lt: "<",
    ast.LtE: "<=",
    ast.Gt: ">",
    ast.GtE: ">=",
    ast.Eq: "==",
    ast.NotEq: "!=",
}


def parse(text: str) -> Node:
    """Read a formula.

    Args:
        text: as written in the file.

    Returns:
        Its tree.

    Raises:
        ExpressionError: it is too long or too deep, holds a sign or a construct that is not on the list, or
            cannot be read. No other exception comes out of any text.

    >>> parse("a / 2")
    Operation(sign='/', left=Name(id='a', at=0), right=Number(value=2.0, at=4), at=0)
    """
    if len(text) > MAX_LENGTH:
        raise ExpressionError(f"longer than {MAX_LENGTH} characters; name a part of it as a step of its own")
    if strange := _SIGN.search(text):
        raise ExpressionError(f"“{strange.group()}” has no place in a formula", strange.start())
    _refuse_depth(text)
    body = text.strip()
    start = len(text) - len(text.lstrip())
    if not body:
        raise ExpressionError("the formula is empty")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of odd but readable texts; what they hold is judged below
            tree = ast.parse(body, mode="eval")
    except SyntaxError as fault:
        at = start + min(max((fault.offset or 1) - 1, 0), len(body))
        raise ExpressionError("cannot be read as a formula here", at) from None
    except (ValueError, MemoryError, RecursionError, OverflowError):
        raise ExpressionError("cannot be read as a formula") from None
    return _Reader(body, start).node(tree.body, 0)


def _refuse_depth(text: str) -> None:
    depth = 0
    for at, sign in enumerate(text):
        depth += (sign == "(") - (sign == ")")
        if depth > MAX_DEPTH:
            raise ExpressionError(f"more than {MAX_DEPTH} brackets in one another; name a part as a step", at)


class _Reader:
    """Turns the nodes of Python's grammar that are on the list into ours, and refuses all others."""

    def __init__(self, text: str, start: int) -> None:
        self.text = text
        self.start = start
        self.count = 0

    def node(self, raw: ast.expr, depth: int) -> Node:
        """One node and all below it."""
        at = self.start + raw.col_offset
        self.count += 1
        if depth > MAX_DEPTH or self.count > MAX_NODES:
            raise ExpressionError("too long or too deep; name a part of it as a step of its own", at)
        deeper = depth + 1
        match raw:
            case ast.Constant():
                return self._number(raw, at)
            case ast.Name(id=name):
                if name in RESERVED:
                    raise ExpressionError(f"`{name}` is a function; give it its values in brackets", at)
                return Name(name, at)
            case ast.UnaryOp(op=ast.USub(), operand=inner):
                return Negative(self.node(inner, deeper), at)
            case ast.UnaryOp(op=ast.Not(), operand=inner):
                return Not(self.node(inner, deeper), at)
            case ast.BinOp(op=sign) if type(sign) in _OPERATIONS:
                left, right = self.node(raw.left, deeper), self.node(raw.right, deeper)
                return Operation(_OPERATIONS[type(sign)], left, right, at)
            case ast.Compare():
                return self._comparison(raw, deeper, at)
            case ast.BoolOp():
                word = "and" if isinstance(raw.op, ast.And) else "or"
                return Logic(word, tuple(self.node(part, deeper) for part in raw.values), at)
            case ast.IfExp():
                return Either(
                    self.node(raw.test, deeper), self.node(raw.body, deeper), self.node(raw.orelse, deeper), at
                )
            case ast.Call():
                return self._call(raw, deeper, at)
        raise ExpressionError(f"“{self._written(raw)}” is not allowed here; {_ALLOWED}", at)

    def _number(self, raw: ast.Constant, at: int) -> Number:
        written = self.text[raw.col_offset : raw.end_col_offset]
        if type(raw.value) not in (int, float) or not _NUMBER.fullmatch(written):
            raise ExpressionError(f"“{written[:40]}” is no plain number", at)
        try:
            value = float(written)
        except (ValueError, OverflowError):
            value = float("inf")
        if not value < 1e300:
            raise ExpressionError(f"“{written[:40]}” is too large a number", at)
        return Number(value, at)

    def _comparison(self, raw: ast.Compare, depth: int, at: int) -> Node:
        values = [self.node(value, depth) for value in (raw.left, *raw.comparators)]
        pairs = []
        for sign, left, right in zip(raw.ops, values, values[1:], strict=False):
            if type(sign) not in _COMPARISONS:
                raise ExpressionError(f"“{self._written(raw)}” is not allowed here; {_ALLOWED}", at)
            pairs.append(Comparison(_COMPARISONS[type(sign)], left, right, left.at))
        return pairs[0] if len(pairs) == 1 else Logic("and", tuple(pairs), at)

    def _call(self, raw: ast.Call, depth: int, at: int) -> Call:
        name = raw.func.id if isinstance(raw.func, ast.Name) else ""
        if name not in FUNCTIONS:
            known = ", ".join(FUNCTIONS)
            raise ExpressionError(f"“{self._written(raw.func)}” is no function here; there are {known}", at)
        fewest, most = FUNCTIONS[name]
        if raw.keywords or not fewest <= len(raw.args) <= most:
            wanted = "one value" if most == 1 else f"{fewest} to {most} values"
            raise ExpressionError(f"`{name}` takes {wanted}", at)
        return Call(name, tuple(self.node(value, depth) for value in raw.args), at)

    def _written(self, raw: ast.expr) -> str:
        return self.text[raw.col_offset : raw.end_col_offset][:40]


_ALLOWED = "allowed are numbers, names, + - * / ** ( ), comparisons, `and`, `or`, `not`, `a if b else c`, functions"


def names(node: Node) -> Iterator[Name]:
    """All names in a formula, from left to right; those of a choice in the order condition, yes, no."""
    if isinstance(node, Name):
        yield node
    for part in parts(node):
        yield from names(part)


def parts(node: Node) -> tuple[Node, ...]:
    """What a node is made of."""
    match node:
        case Negative():
            return (node.value,)
        case Operation() | Comparison():
            return (node.left, node.right)
        case Call():
            return node.values
        case Logic():
            return node.parts
        case Not():
            return (node.part,)
        case Either():
            return (node.condition, node.yes, node.no)
    return ()
