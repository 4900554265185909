"""What a calculator holds once its file and the hospital's values are read. `reading.py` makes it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from ..model import Calculator, Map, Setting
from ..model.finding import Place
from .expression import Node
from .units import Unit

MOST_ROWS = 200
"""A plan that would be longer is no plan: nothing is worked out."""


def counted(calculator: Calculator) -> Iterator[tuple[Map, str]]:
    """The settings that a calculator counts with: the mapping that names each, and its name."""
    raws = [*calculator.raw.get("local", {}).values()]
    raws += [raw["default"] for raw in calculator.raw["inputs"].values() if isinstance(raw.get("default"), Map)]
    yield from ((raw, raw["setting"]) for raw in raws)


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong with a calculator: the rule it breaks, where, and why."""

    rule: str
    place: Place
    message: str


@dataclass(frozen=True, slots=True)
class Field:
    """What a person fills in.

    Attributes:
        id: its name in the formulas, and on the command line.
        say: the question or the label.
        sign: its letter in the written formula, as "p_now".
        hint: a short word of help; empty where there is none.
        kind: "number", "choice", "yes-no" or "clock".
        units: of a number: those it may be given in. Range, default and example are in the first.
        low: the least number allowed.
        high: the greatest number allowed.
        choices: of a choice: what each one says.
        default: what stands in the field at first, as typed; None where a person must say it.
        setting: the hospital's value that the default comes from.
        example: what tables, plots and tests count with; the default where there is one; empty where an optional one
            has none.
        optional: whether it may stay empty. Then each comparison with it is false.
        fold: words over this one and the optional ones behind it, shown when asked for; empty where they stand open.
    """

    id: str
    say: str
    sign: str
    hint: str
    kind: str
    units: tuple[Unit, ...]
    low: float
    high: float
    choices: Mapping[str, str]
    default: str | None
    setting: Setting | None
    example: str
    optional: bool
    fold: str
    place: Place


@dataclass(frozen=True, slots=True)
class Fixed:
    """A constant, or a value of the hospital's: `value` is in SI units, None where the hospital has not set it."""

    id: str
    say: str
    sign: str
    unit: Unit
    value: float | None
    shown: str
    setting: Setting | None
    sources: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Step:
    """A named result: one on the way, or an output. `node` is its formula, `digits` those behind the point.

    Where `when` does not hold there is none, and what is made of it is not there either. `units` are those it may be
    shown in, by the unit chosen for the input `like`; `unit` is the first. `beside` is another output that is
    shown on the same line.
    """

    id: str
    say: str
    sign: str
    unit: Unit
    digits: int
    down: bool
    output: bool
    note: str
    units: tuple[Unit, ...]
    like: str
    beside: str
    when: Node | None
    node: Node
    place: Place


@dataclass(frozen=True, slots=True)
class Line:
    """Words that stand where a condition holds; always, where there is none."""

    when: Node | None
    say: str
    place: Place


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a plan, or one repeated for a counter from 1 on."""

    counter: str
    count: Node | None
    at: Node
    when: Node | None
    say: str
    look: bool
    shows: Step | None
    place: Place


@dataclass(frozen=True, slots=True)
class Plan:
    """Rows in the order of their place, which is a time from the start, or any other quantity.

    `write` names columns to write in. `counts` is the hospital's warning of a long rest, where the balloon stands still
    from the start on.
    """

    say: str
    unit: Unit
    start: str
    rows: tuple[Row, ...]
    stops: tuple[str, ...]
    write: tuple[str, ...]
    counts: Setting | None


@dataclass(frozen=True, slots=True)
class Case:
    """Inputs as typed; those left out are the examples. With `gives`, a check value: output, number, tolerance.

    `local` holds, in SI units, what a check counts with in place of the hospital's values.
    """

    say: str
    given: Mapping[str, str]
    gives: Mapping[str, float]
    within: float
    refused: bool
    sources: tuple[str, ...]
    place: Place
    local: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Table:
    """A table for paper: for each row, and for each column where there are some, what `show` names."""

    say: str
    rows: tuple[Case, ...]
    columns: tuple[Case, ...]
    show: tuple[str, ...]
    of: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Curve:
    """One line of a plot: an output, over one input, with others held."""

    say: str
    show: str
    given: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Plot:
    """A drawing: curves over one input (`across`), levels of some inputs, or a plan as stairs. `beside` are the same
    inputs of another time, drawn beside the levels where they are given."""

    say: str
    across: str
    low: float
    high: float
    curves: tuple[Curve, ...]
    levels: tuple[str, ...]
    beside: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Formula:
    """A calculator ready to be checked, computed and shown. With faults, nothing else may be relied on."""

    calculator: Calculator
    fields: Mapping[str, Field]
    fixed: Mapping[str, Fixed]
    steps: Mapping[str, Step]
    refuse: tuple[Line, ...]
    warn: tuple[Line, ...]
    reads: tuple[Line, ...]
    plan: Plan | None
    table: Table | None
    plot: Plot | None
    checks: tuple[Case, ...]
    faults: tuple[Fault, ...] = field(default=())

    @property
    def outputs(self) -> tuple[Step, ...]:
        """The results that are shown, in order."""
        return tuple(step for step in self.steps.values() if step.output)

    @property
    def unset(self) -> tuple[Fixed, ...]:
        """Values that the hospital has not set: without them nothing is worked out."""
        return tuple(fixed for fixed in self.fixed.values() if fixed.value is None)

    @property
    def examples(self) -> dict[str, str]:
        """All inputs as tables and plots take them, as typed; without the optional ones that have no example."""
        return {key: one.example for key, one in self.fields.items() if one.example}

    @property
    def asked(self) -> tuple[str, ...]:
        """The inputs without which nothing is worked out."""
        return tuple(key for key, one in self.fields.items() if not one.optional)
