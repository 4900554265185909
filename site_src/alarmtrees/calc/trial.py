"""Holds a formula against its own ranges and its check values."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping

from .compute import SAME, Result, Value, compute
from .entry import read, short
from .formula import Case, Fault, Field, Formula

MOST_CORNERS = 1000


def faults(formula: Formula) -> Iterator[Fault]:
    """Where a formula gives no number inside its ranges, and every check value that it misses.

    Args:
        formula: one without faults so far.
    """
    if formula.unset:
        return  # nothing is worked out then, and the rule `unset` says so
    yield from _corners(formula)
    for case in formula.checks:
        yield from _check(formula, case)


def result_of(formula: Formula, given: Mapping[str, str], local: Mapping[str, float] | None = None) -> Result:
    """The result for entries as typed, those left out being the examples; `local` as in `compute`."""
    entered = {**formula.examples, **given}
    return compute(formula, {key: read(text, formula.fields[key]) for key, text in entered.items()}, local)


def _corners(formula: Formula) -> Iterator[Fault]:
    """Every input at both ends and in the middle of its range: a number, or a reason why there is none."""
    ways = [_edges(field, 3) for field in formula.fields.values()]
    if math.prod(map(len, ways)) > MOST_CORNERS:
        ways = [_edges(field, 2) for field in formula.fields.values()]
    for entered in itertools.islice(itertools.product(*ways), MOST_CORNERS):
        told = dict(zip(formula.fields, entered, strict=True))
        result = compute(formula, {key: value for key, (value, _) in told.items() if value is not None})
        if not result.sound and not result.refuse:
            bad = [key for key, value in result.values.items() if not math.isfinite(value)]
            what = f"`{bad[0]}` is no number" if bad else "the plan cannot be made, or is too long"
            at = formula.steps[bad[0]].place if bad else formula.calculator.at("plan")
            theirs = [f"`{fixed.setting.id}` {fixed.shown}" for fixed in formula.fixed.values() if fixed.setting]
            where = ", ".join([f"{key} {words}" for key, (_, words) in told.items()] + theirs)
            yield Fault("formula-range", at, f"{what} at {where}; narrow a range, or refuse such values with a reason")
            return


def _edges(field: Field, count: int) -> list[tuple[Value | None, str]]:
    """Both ends of a range, and the middle where three are wanted; every answer to a choice: value and words. What may
    stay empty is tried empty, and in the middle."""
    if field.optional and field.kind == "number":
        middle = (field.low + field.high) / 2
        return [(None, "left out"), (field.units[0].to_si(middle), short(middle))]
    if field.kind != "number":
        return [(read(text, field), text) for text in field.choices or [field.example]]
    between = [(field.low + field.high) / 2] if count == 3 else []
    return [(field.units[0].to_si(edge), short(edge)) for edge in (field.low, *between, field.high)]


def _check(formula: Formula, case: Case) -> Iterator[Fault]:
    result = result_of(formula, case.given, case.local)
    refused = bool(result.refuse) or not result.sound
    if refused != case.refused:
        told = "gives no number" if refused else "gives numbers, and was to be refused"
        yield Fault("formula-check", case.place, f"the formula {told} here")
        return
    for key, wanted in case.gives.items():
        found = formula.steps[key].unit.from_si(result.values[key])
        if not abs(found - wanted) <= case.within + SAME * abs(wanted):
            label = formula.steps[key].unit.label
            told = f"`{key}` is {found:.7g} {label}".strip()
            message = f"{told}, and was to be {wanted:.7g} within {case.within:g}; one of them is wrong"
            yield Fault("formula-check", case.place, message)
