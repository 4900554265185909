"""Works a calculator out on the command line: entries as `name=value`, results with their units, or clear reasons."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ..calc import trial
from ..calc.compute import Result, Value, compute
from ..calc.entry import (
    WORDS,
    EntryError,
    clock,
    duration,
    in_all_units,
    in_unit,
    read,
    rounded,
    short,
    shown,
    wanted,
)
from ..calc.formula import Field, Formula, Step
from ..calc.reading import read_formula
from ..calc.units import Unit
from ..model import Library
from ..model.wording import fill, nearest
from ..reading.open import open_library

PATIENT = "patient-first"
"""The caution that stands above every result."""

STANDS = "trained-staff-only"
"""The caution that says what stands below every result."""

STANDING = "For trained staff. Reference and teaching, not a medical device; it diagnoses nothing and decides nothing."
"""What stands below every result."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What to print, where to, and the exit status: 0, or 1 where there is a reason to give no number."""

    status: int
    out: str
    err: str


def catalogue(root: Path) -> str:
    """All calculators, one a line, with the names that each takes."""
    library = open_library(root)
    lines = []
    for key, calculator in library.calculators.items():
        lines.append(f"{key}: {calculator.title} ({' '.join(calculator.raw['inputs'])})\n")
    return "".join(lines) or "There is no calculator in kb/calculators/.\n"


def calculate(root: Path, name: str, entries: Sequence[str], as_json: bool = False) -> Answer:
    """Work out one calculator.

    Args:
        root: the library's folder.
        name: the calculator's id.
        entries: `name=value`, the value with one of its units behind it or without. Those left out have their
            default, where they have one.
        as_json: print one object in place of lines.

    Raises:
        ValueError: there is no such calculator, an entry is missing, unknown or no number, or the file has
            faults; the text says all of it.
    """
    library = open_library(root)
    formula = _formula(library, name)
    entered, told, typed = _entered(formula, entries)
    formula = _in_units(formula, typed)
    result = compute(formula, entered)
    reasons = [_said(library, formula, formula.refuse[index].say) for index in result.refuse]
    if not result.sound and not reasons:
        reasons = [f"“{one.say}” is not set here; without it nothing is worked out." for one in formula.unset]
        reasons = reasons or [WORDS["nothing"]]
    if as_json:
        object_ = _object(library, formula, entered, told, result, reasons)
        return Answer(int(bool(reasons)), json.dumps(object_, indent=2, ensure_ascii=False) + "\n", "")
    if reasons:
        patient = _caution(library, PATIENT) if PATIENT in formula.calculator.cautions else ""
        first = f"{patient}\n" if patient else ""
        return Answer(1, "", first + "".join(f"No number: {reason}\n" for reason in reasons))
    return Answer(0, "\n".join(_lines(library, formula, entered, told, result)) + "\n", "")


def _formula(library: Library, name: str) -> Formula:
    calculator = library.calculators.get(name)
    if calculator is None:
        known = ", ".join(library.calculators) or "none"
        close = nearest(name, library.calculators)
        guess = f"; did you mean `{close}`?" if close else "."
        raise ValueError(f"there is no calculator `{name}` that can be read{guess} There are: {known}")
    formula = read_formula(calculator, library.settings)
    faults = formula.faults or tuple(trial.faults(formula))
    if faults:
        lines = [f"{one.place.file}:{one.place.line}:{one.place.column}: {one.message} [{one.rule}]" for one in faults]
        raise ValueError("\n".join(["the calculator has faults, so nothing is worked out", *lines]))
    return formula


def _in_units(formula: Formula, typed: Mapping[str, Unit]) -> Formula:
    """The formula with each result in the unit that was typed for the input that it is like."""
    steps = {}
    for key, step in formula.steps.items():
        field = formula.fields.get(step.like)
        at = field.units.index(typed[step.like]) if field and step.like in typed else 0
        steps[key] = in_unit(step, step.units[at]) if at else step
    return replace(formula, steps=steps)


def _said(library: Library, formula: Formula, say: str) -> str:
    """Words with the hospital's values, each in all units of the inputs that are like it."""
    return in_all_units(fill(say, library.settings), formula)


def _caution(library: Library, key: str) -> str:
    entry = library.cautions.get(key)
    return fill(entry.say, library.settings) if entry else key


def _entered(formula: Formula, entries: Sequence[str]) -> tuple[dict[str, Value], dict[str, str], dict[str, Unit]]:
    """Each entry as the formula takes it, as it was typed, and in which unit."""
    given: dict[str, str] = {}
    faults = []
    for entry in entries:
        name, sign, text = entry.partition("=")
        name = name.strip()
        if not sign:
            faults.append(f"“{entry[:40]}” is no entry; write it as name=value")
        elif name not in formula.fields:
            close = nearest(name, formula.fields)
            guess = f"did you mean `{close}`?" if close else f"there are {', '.join(formula.fields)}"
            faults.append(f"there is no input `{name[:40]}`; {guess}")
        elif name in given:
            faults.append(f"`{name}` is given twice")
        else:
            given[name] = text
    values: dict[str, Value] = {}
    told: dict[str, str] = {}
    typed: dict[str, Unit] = {}
    for key, field in formula.fields.items():
        if field.optional and not given.get(key, "").strip():
            continue
        try:
            if key not in given and field.default is None:
                raise EntryError(f"it is missing ({field.say}). Write {key}={_example(field)}")
            values[key], told[key], one = _read(field, given.get(key, field.default or ""))
            typed |= {key: one} if one else {}
        except EntryError as fault:
            faults.append(f"{key}: {fault}")
    faults += _unclear(formula, given, typed)
    if faults:
        raise ValueError("\n  ".join(["these entries give no number", *faults] if len(faults) > 1 else faults))
    return values, told, typed


def _unclear(formula: Formula, given: Mapping[str, str], typed: Mapping[str, Unit]) -> list[str]:
    """Numbers without a unit beside others of the same kind in a unit that is not the usual one."""
    found = []
    for key, unit in typed.items():
        units = formula.fields[key].units
        bare = key in given and len(units) > 1 and not given[key].strip().endswith(unit.label)
        others = {typed[one].label for one in typed if {*formula.fields[one].units} == {*units}} - {units[0].label}
        if bare and others:
            named = " or ".join(one.label for one in units)
            also = ", ".join(sorted(others))
            found.append(
                f"{key}: {given[key].strip()[:30]} has no unit, and others are in {also}; write {named} behind it"
            )
    return found


def _example(field: Field) -> str:
    if field.kind == "number":
        return f"… with {wanted(field.low, field.high, field.units[0].label)}"
    return " or ".join(field.choices) if field.choices else "14:30"


def _read(field: Field, text: str) -> tuple[Value, str, Unit | None]:
    text = text.strip()
    unit = field.units[0] if field.units else None
    for other in sorted(field.units, key=lambda one: -len(one.label)):
        if other.label and text.endswith(other.label):
            text, unit = text.removesuffix(other.label).rstrip(), other
            break
    value = read(text, field, unit)
    if field.choices:
        return value, field.choices[text.lower()], None
    return value, f"{text} {unit.label}".strip() if unit else text, unit


def _lines(
    library: Library, formula: Formula, entered: dict[str, Value], told: dict[str, str], result: Result
) -> list[str]:
    calculator = formula.calculator
    cautions = [key for key in calculator.cautions if key != STANDS]
    lines = [calculator.title, ""]
    if PATIENT in cautions:
        lines += [_caution(library, PATIENT), ""]
    lines += [f"  {field.say}: {told[key]}" for key, field in formula.fields.items() if key in told]
    lines += [f"  {one.say}: {in_all_units(one.shown, formula)}" for one in formula.fixed.values() if one.setting]
    lines += [
        "",
        *(
            _result(library, formula, step, result)
            for step in _there(formula, result)
            if step.id not in {one.beside for one in formula.outputs}
        ),
        "",
    ]
    lines += [f"! {_said(library, formula, formula.warn[index].say)}" for index in result.warn]
    lines += [f"- {_said(library, formula, formula.reads[index].say)}" for index in result.reads]
    lines += [f"{at}  {say}" for at, say in rows(library, formula, entered, result)]
    if formula.plan and formula.plan.stops:
        lines += ["", "Leave the plan:", *(f"- {fill(stop, library.settings)}" for stop in formula.plan.stops)]
    for title, part in (("When it holds:", "valid"), ("It breaks with:", "breaks")):
        lines += ["", title, *(f"- {_said(library, formula, note['say'])}" for note in calculator.raw[part])]
    lines += ["", "Always:", *(f"- {_caution(library, key)}" for key in cautions if key != PATIENT)]
    return [*lines, "", STANDING]


def _result(library: Library, formula: Formula, step: Step, result: Result) -> str:
    """One result with its note, and with the one that stands on its line."""
    line = f"{fill(step.say, library.settings)}: {shown(step, result.values[step.id])}"
    for other in _there(formula, result):
        if other.id == step.beside:
            line += f" {fill(other.note, library.settings)} {shown(other, result.values[other.id])}"
    return f"{line} ({fill(step.note, library.settings).rstrip('.')})" if step.note else line


def _there(formula: Formula, result: Result) -> list[Step]:
    """The outputs that there are; of those that lean on what was left out there is none."""
    return [step for step in formula.outputs if math.isfinite(result.values[step.id])]


def rows(library: Library, formula: Formula, entered: dict[str, Value], result: Result) -> list[tuple[str, str]]:
    """The rows of a plan: where each stands, and what it says."""
    plan = formula.plan
    if plan is None:
        return []
    found = []
    for index, at, number in result.plan:
        row = plan.rows[index]
        beside = f" {row.shows.say}: {shown(row.shows, number)}." if row.shows and number is not None else ""
        found.append((_stands(formula, entered, at), _said(library, formula, row.say) + beside))
    return found


def _stands(formula: Formula, entered: dict[str, Value], at: float) -> str:
    plan = formula.plan
    assert plan is not None
    if plan.start:
        return clock(float(entered[plan.start]), at)
    is_time = plan.unit.label in ("s", "min", "h")
    return duration(at) if is_time else f"{short(plan.unit.from_si(at))} {plan.unit.label}"


def _object(
    library: Library,
    formula: Formula,
    entered: dict[str, Value],
    told: dict[str, str],
    result: Result,
    reasons: list[str],
) -> dict[str, Any]:
    results = {
        step.id: {
            "say": fill(step.say, library.settings),
            "value": rounded(step, result.values[step.id]),
            "unit": step.unit.label,
        }
        for step in _there(formula, result)
    }
    return {
        "calculator": formula.calculator.id,
        "given": told,
        "refused": reasons,
        "results": {} if reasons else results,
        "warnings": [] if reasons else [_said(library, formula, formula.warn[index].say) for index in result.warn],
        "reads": [] if reasons else [_said(library, formula, formula.reads[index].say) for index in result.reads],
        "plan": [] if reasons else [{"at": at, "say": say} for at, say in rows(library, formula, entered, result)],
        "valid": [_said(library, formula, note["say"]) for note in formula.calculator.raw["valid"]],
        "breaks": [_said(library, formula, note["say"]) for note in formula.calculator.raw["breaks"]],
        "cautions": [_caution(library, key) for key in formula.calculator.cautions],
        "standing": STANDING,
    }
