"""The formula as a function of JavaScript, made from the same tree as the function of Python.

The arithmetic is the same on both sides: IEEE 754, in SI units, operation by operation, and equal is
what agrees to nine digits.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable

from .compute import DAY, SAME, leans, needs
from .expression import Call, Comparison, Either, Logic, Name, Negative, Node, Not, Number, Operation
from .formula import MOST_ROWS, Formula, Line, Row

# In the order in which they are put in front of the rest: the others lean on the last.
_HELPERS = {
    "ceil": "const ceil = (a) => Math.ceil(a - room(a, 1));",
    "floor": "const floor = (a) => Math.floor(a + room(a, 1));",
    "known": "const known = (...keys) => keys.every((key) => v[key] !== undefined);",
    "until": f"const until = (a, b) => ((b - a + {DAY}) % {DAY}) * 60;",
    "room": f"const room = (a, b) => {SAME!r} * Math.max(Math.abs(a), Math.abs(b));",
}
_COMPARED = {"<": "< -", "<=": "<= ", ">": "> ", ">=": ">= -"}
_WORDS = {"and": "&&", "or": "||"}


def function(formula: Formula) -> str:
    """A function of one object of entries that gives what `compute.Result` holds.

    Args:
        formula: one without faults.

    Returns:
        JavaScript of one expression, without a blank line. Numbers of the entries are in SI units; a choice is a
        text, yes or no is true or false.
    """
    lines = [f"const {_name(key)} = v.{key};" for key in formula.fields]
    lines += [
        f"const {_name(key)} = {'NaN' if fixed.value is None else _number(fixed.value)};"
        for key, fixed in formula.fixed.items()
    ]
    lines += _worked(formula)
    lines += ["const rows = [];", f"const whole = {_has(formula.asked)};", "let fits = whole;"]
    for index, row in enumerate(formula.plan.rows if formula.plan else ()):
        lines += _row(index, row)
    lines += [
        f"if (rows.length > {MOST_ROWS}) fits = false;",
        "if (!rows.every((row) => isFinite(row[1]) && (row[2] === null || isFinite(row[2])))) fits = false;",
        "rows.sort((one, other) => one[1] - other[1]);",
        f"const values = {{{', '.join(f'{key}: {_name(key)}' for key in formula.steps)}}};",
        "const sound = fits && Object.keys(values).every((key) => away[key] || isFinite(values[key]));",
        "const held = (all) => all.map((one, index) => (one ? index : -1)).filter((index) => index >= 0);",
        "return {",
        "values,",
        *(f"{part}: held({_conditions(formula, getattr(formula, part))})," for part in ("refuse", "warn", "reads")),
        "plan: fits ? rows : [],",
        "sound,",
        "};",
        "}",
    ]
    for name, helper in _HELPERS.items():
        if any(re.search(rf"(?<![.\w]){name}\(", line) for line in lines):
            lines.insert(0, helper)
    return "\n".join(["(v) => {", '"use strict";', *lines])


def _worked(formula: Formula) -> list[str]:
    """Each step; `away` tells which of them need not be a number, because what they lean on is not there."""
    lines = ["const away = {};"]
    may = {key for key, field in formula.fields.items() if field.optional}
    lines += [f"away.{key} = v.{key} === undefined;" for key in formula.fields if key in may]
    for key, step in formula.steps.items():
        worked = expression(step.node)
        # In the order of the page, so that the same text is made each time.
        away = [f"away.{one}" for one in (*formula.fields, *formula.steps) if one in may and one in leans(step)]
        if step.when is not None:
            when = expression(step.when)
            worked, away = f"({when} ? {worked} : NaN)", [*away, f"!{when}"]
        lines.append(f"const {_name(key)} = {worked};")
        if away:
            may.add(key)
            lines.append(f"away.{key} = {' || '.join(away)};")
    return lines


def _conditions(formula: Formula, lines: tuple[Line, ...]) -> str:
    return f"[{', '.join(_condition(formula, line) for line in lines)}]"


def _condition(formula: Formula, line: Line) -> str:
    needed = needs(formula, line.when)
    # In the order of the page, so that the same text is made each time.
    keys = [key for key in formula.fields if key in needed]
    return "whole" if line.when is None else f"{_has(keys)} && {expression(line.when)}"


def _has(keys: Iterable[str]) -> str:
    """Whether some entries are there."""
    return f"known({', '.join(json.dumps(key) for key in keys)})"


def _row(index: int, row: Row) -> list[str]:
    shows = expression(row.shows.node) if row.shows else "null"
    push = f"rows.push([{index}, {expression(row.at)}, {shows}]);"
    if row.when is not None:
        push = f"if ({expression(row.when)}) {push}"
    if row.count is None:
        return [push]
    count, counter = f"count{index}", _name(row.counter)
    loop = f"for (let {counter} = 1; {counter} <= Math.floor({count}); {counter} += 1) {{ {push} }}"
    return [
        f"const {count} = {expression(row.count)};",
        f"if (!({count} <= {MOST_ROWS})) fits = false;",
        f"else {loop}",
    ]


def _name(key: str) -> str:
    """A name that no word of JavaScript can be."""
    return f"${key}"


def _number(value: float) -> str:
    return f"({value!r})" if value < 0 else repr(value)


def expression(node: Node) -> str:
    """One formula, fully in brackets.

    >>> expression(Operation("+", Name("a"), Number(2.0)))
    '($a + 2.0)'
    """
    match node:
        case Number():
            return _number(node.value)
        case Name():
            return _name(node.id)
        case Negative():
            return f"(-{expression(node.value)})"
        case Operation(sign="**"):
            return f"Math.pow({expression(node.left)}, {expression(node.right)})"
        case Operation():
            return f"({expression(node.left)} {node.sign} {expression(node.right)})"
        case Call(function="floor" | "ceil" | "until"):
            return f"{node.function}({', '.join(map(expression, node.values))})"
        case Call():
            return f"Math.{node.function}({', '.join(map(expression, node.values))})"
        case Comparison(sign="==" | "!=") if isinstance(node.left, Name) and isinstance(node.right, Name):
            return f'({_name(node.left.id)} {node.sign}= "{node.right.id}")'
        case Comparison():
            left, right = expression(node.left), expression(node.right)
            return f"({left} - {right} {_COMPARED[node.sign]}room({left}, {right}))"
        case Logic():
            return f"({f' {_WORDS[node.word]} '.join(map(expression, node.parts))})"
        case Not():
            return f"(!{expression(node.part)})"
        case Either():
            return f"({expression(node.condition)} ? {expression(node.yes)} : {expression(node.no)})"
