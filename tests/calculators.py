"""The shipped calculators, ready to be worked out, and random entries for them."""

from __future__ import annotations

import random
from functools import cache

from alarmtrees.calc.compute import Result, Value, compute
from alarmtrees.calc.entry import read
from alarmtrees.calc.formula import Formula
from alarmtrees.calc.reading import read_formula
from small_library import shipped_library


@cache
def shipped() -> dict[str, Formula]:
    lib = shipped_library()
    return {key: read_formula(one, lib.settings) for key, one in lib.calculators.items()}


def worked(calculator: str, **given: object) -> Result:
    """The result of a shipped calculator for entries as typed; those left out are its examples."""
    formula = shipped()[calculator]
    entered = {**formula.examples, **{key: str(value) for key, value in given.items()}}
    return compute(formula, {key: read(text, formula.fields[key]) for key, text in entered.items()})


def value(calculator: str, name: str, **given: object) -> float:
    """One result of a shipped calculator, in its unit."""
    step = shipped()[calculator].steps[name]
    return step.unit.from_si(worked(calculator, **given).values[name])


def random_entries(formula: Formula, seed: int, count: int) -> list[dict[str, Value]]:
    """Entries all over the ranges, as the formula takes them."""
    dice = random.Random(seed)
    found = []
    for _ in range(count):
        entered: dict[str, Value] = {}
        for key, field in formula.fields.items():
            if field.optional and dice.random() < 0.5:
                continue
            if field.kind == "number":
                number = dice.uniform(field.low, field.high)
                # Whole numbers meet each other and the limits, where "less" and "less or equal" part.
                entered[key] = field.units[0].to_si(float(round(number)) if dice.random() < 0.6 else number)
            elif field.kind == "clock":
                entered[key] = float(dice.randrange(24 * 60))
            else:
                entered[key] = read(dice.choice(list(field.choices)), field)
        found.append(entered)
    return found
