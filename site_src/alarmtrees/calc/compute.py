"""The formula as a function of Python.

Numbers that agree to nine digits count as equal, and what is a whole number but for that is one: an edge that was
turned into another unit must stay an edge.

Its arithmetic is that of IEEE 754, as a browser's is: where Python would raise an exception, a result is
infinite or no number at all, and then nothing is shown.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Set
from dataclasses import dataclass

from .expression import Call, Comparison, Either, Logic, Name, Negative, Node, Not, Number, Operation, names
from .formula import MOST_ROWS, Formula, Line, Step

Value = float | str | bool
Values = Mapping[str, Value]

NAN = float("nan")

DAY = 24 * 60
"""Minutes of a day."""

SAME = 1e-9
"""The part by which two numbers may differ and still count as equal."""


@dataclass(frozen=True, slots=True)
class Result:
    """What came out, in SI units.

    Attributes:
        values: every step and output by its name; no number where it leans on what may stay empty and does, or where
            its own condition does not hold.
        refuse: which of the formula's reasons to give no number hold, by their index.
        warn: which warnings hold.
        reads: which readings hold.
        plan: for each row of the plan: the index of its row in the formula, its place, what it shows (None
            where it shows nothing), in the order of the places.
        sound: whether every result that is there is a number. If not, nothing may be shown.
    """

    values: Mapping[str, float]
    refuse: tuple[int, ...]
    warn: tuple[int, ...]
    reads: tuple[int, ...]
    plan: tuple[tuple[int, float, float | None], ...]
    sound: bool


def compute(formula: Formula, entered: Values, local: Values | None = None) -> Result:
    """Work a formula out.

    Args:
        formula: one without faults.
        entered: the inputs, as `entry.read` gives them. Where some are missing there is no number and no plan, but
            each line with a condition that needs only those that are there is judged.
        local: values in SI units that count in place of the hospital's.

    Returns:
        All results. Nothing is hidden here: who shows them looks at `refuse` and `sound` first.
    """
    known: dict[str, Value] = dict(entered)
    known |= {key: NAN if fixed.value is None else fixed.value for key, fixed in formula.fixed.items()}
    known |= local or {}
    away = {key for key, field in formula.fields.items() if field.optional and key not in known}
    known |= dict.fromkeys(away, NAN)
    missing = formula.fields.keys() - known.keys()
    for key, step in formula.steps.items():
        lacking = bool(missing) and bool(missing & (needs(formula, step.node) | _asked(formula, step.when)))
        is_there = not lacking and (step.when is None or truth(step.when, known))
        known[key] = number(step.node, known) if is_there else NAN
        if not is_there or leans(step) & away:
            away.add(key)
    values = {key: float(known[key]) for key in formula.steps}
    plan = None if missing else _plan(formula, known)
    finite = not missing and all(key in away or math.isfinite(value) for key, value in values.items())
    return Result(
        values=values,
        refuse=_holding(formula, formula.refuse, known, missing),
        warn=_holding(formula, formula.warn, known, missing),
        reads=_holding(formula, formula.reads, known, missing),
        plan=plan or (),
        sound=finite and plan is not None,
    )


def needs(formula: Formula, node: Node | None) -> frozenset[str]:
    """The inputs that must be there for an expression, also by way of the steps; for a line without a condition, all
    that must."""
    if node is None:
        return frozenset(formula.asked)
    found: set[str] = set()
    for name in names(node):
        if name.id in formula.fields:
            found.add(name.id)
        elif step := formula.steps.get(name.id):
            found |= needs(formula, step.node) | _asked(formula, step.when)
    return frozenset(found & {*formula.asked})


def _asked(formula: Formula, when: Node | None) -> frozenset[str]:
    return needs(formula, when) if when is not None else frozenset()


def leans(step: Step) -> frozenset[str]:
    """The names in a step's formula and in its condition."""
    return frozenset(name.id for node in (step.node, step.when) if node is not None for name in names(node))


def _holding(formula: Formula, lines: tuple[Line, ...], known: Values, missing: Set[str]) -> tuple[int, ...]:
    judged = (pair for pair in enumerate(lines) if not missing or not missing & needs(formula, pair[1].when))
    return tuple(index for index, line in judged if line.when is None or truth(line.when, known))


def _plan(formula: Formula, known: Values) -> tuple[tuple[int, float, float | None], ...] | None:
    """The rows of the plan; None where they cannot be counted or are too many."""
    found: list[tuple[int, float, float | None]] = []
    for index, row in enumerate(formula.plan.rows if formula.plan else ()):
        count = number(row.count, known) if row.count else 1.0
        if not count <= MOST_ROWS:
            return None
        for k in range(1, math.floor(count) + 1):
            here = {**known, row.counter: float(k)} if row.counter else known
            if row.when is None or truth(row.when, here):
                shows = number(row.shows.node, here) if row.shows else None
                found.append((index, number(row.at, here), shows))
    if len(found) > MOST_ROWS or not all(math.isfinite(at) and math.isfinite(shows or 0) for _, at, shows in found):
        return None
    return tuple(sorted(found, key=lambda row: row[1]))


def truth(node: Node, known: Values) -> bool:
    """A condition: whether it holds."""
    match node:
        case Name():
            return bool(known[node.id])
        case Not():
            return not truth(node.part, known)
        case Logic(word="and"):
            return all(truth(part, known) for part in node.parts)
        case Logic():
            return any(truth(part, known) for part in node.parts)
        case Comparison(sign="==" | "!="):
            left, right = node.left, node.right
            assert isinstance(left, Name) and isinstance(right, Name)
            return (known[left.id] == right.id) == (node.sign == "==")
        case Comparison():
            return _COMPARED[node.sign](number(node.left, known), number(node.right, known))
    raise TypeError(f"{type(node).__name__} is no condition")


def number(node: Node, known: Values) -> float:
    """A formula's number, in SI units; infinite or NaN where there is none."""
    match node:
        case Number():
            return node.value
        case Name():
            return float(known[node.id])
        case Negative():
            return -number(node.value, known)
        case Operation():
            return _WORKED[node.sign](number(node.left, known), number(node.right, known))
        case Call():
            return _FUNCTIONS[node.function](*(number(value, known) for value in node.values))
        case Either():
            return number(node.yes if truth(node.condition, known) else node.no, known)
    raise TypeError(f"{type(node).__name__} is no number")


def _divided(left: float, right: float) -> float:
    if right:
        return left / right
    if not left or math.isnan(left) or math.isnan(right):
        return NAN
    return math.copysign(math.inf, left) * math.copysign(1.0, right)


def _power(base: float, exponent: float) -> float:
    if math.isnan(exponent) or (abs(base) == 1 and math.isinf(exponent)):
        return NAN
    try:
        return math.pow(base, exponent)
    except OverflowError:
        return -math.inf if base < 0 and exponent % 2 == 1 else math.inf
    except ValueError:
        return math.inf if base == 0 else NAN


def _exponential(value: float) -> float:
    try:
        return math.exp(value)
    except OverflowError:
        return math.inf


def _logarithm(value: float) -> float:
    return math.log(value) if value > 0 else (-math.inf if value == 0 else NAN)


def _root(value: float) -> float:
    return math.sqrt(value) if value >= 0 else NAN


def _room(left: float, right: float) -> float:
    return SAME * max(abs(left), abs(right))


def _floor(value: float) -> float:
    return float(math.floor(value + _room(value, 1.0))) if math.isfinite(value) else value


def _ceil(value: float) -> float:
    return float(math.ceil(value - _room(value, 1.0))) if math.isfinite(value) else value


def _until(first: float, second: float) -> float:
    """Seconds from one time of day to the next of another; both in minutes after midnight."""
    return (second - first) % DAY * 60 if math.isfinite(first) and math.isfinite(second) else NAN


def _least(*values: float) -> float:
    return NAN if any(map(math.isnan, values)) else min(values)


def _most(*values: float) -> float:
    return NAN if any(map(math.isnan, values)) else max(values)


_WORKED: dict[str, Callable[[float, float], float]] = {
    "+": lambda left, right: left + right,
    "-": lambda left, right: left - right,
    "*": lambda left, right: left * right,
    "/": _divided,
    "**": _power,
}
_COMPARED: dict[str, Callable[[float, float], bool]] = {
    "<": lambda left, right: left - right < -_room(left, right),
    "<=": lambda left, right: left - right <= _room(left, right),
    ">": lambda left, right: left - right > _room(left, right),
    ">=": lambda left, right: left - right >= -_room(left, right),
}
_FUNCTIONS: dict[str, Callable[..., float]] = {
    "min": _least,
    "max": _most,
    "exp": _exponential,
    "log": _logarithm,
    "sqrt": _root,
    "floor": _floor,
    "ceil": _ceil,
    "abs": abs,
    "until": _until,
}
