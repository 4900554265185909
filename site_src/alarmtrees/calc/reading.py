"""Reads a calculator's file and the hospital's values into a `Formula`; what does not hold becomes a fault."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from ..model import Calculator, Map, Setting
from ..model.finding import Place
from . import dimension
from .cases import CaseReader
from .entry import short
from .expression import RESERVED, Node
from .formula import Field, Fixed, Formula, Line, Plan, Row, Step
from .plausible import implausible
from .reader import NUMBER
from .units import Unit, UnitError, say, unit

YES_NO = {"yes": "Yes", "no": "No"}


def read_formula(calculator: Calculator, settings: Mapping[str, Setting]) -> Formula:
    """The formula of a calculator.

    Args:
        calculator: one whose file fits its schema.
        settings: the hospital's values.

    Returns:
        The formula; its `faults` say what is wrong with it, the dimensions only once all else can be read.
    """
    return _Reader(calculator, settings).formula()


class _Reader(CaseReader):
    """Reads inputs, values, steps, conditions and the plan, and puts all parts together."""

    def formula(self) -> Formula:
        """All parts in order, for a name may be used only below the place where it is made."""
        fields = {key: self._field(key) for key in self.raw["inputs"]}
        fixed = {key: self._local(key) for key in self._keys("local")}
        fixed |= {key: self._constant(key) for key in self._keys("constants")}
        steps = {key: self._step(key, "steps", False) for key in self._keys("steps")}
        steps |= {key: self._step(key, "outputs", True) for key in self.raw["outputs"]}
        formula = Formula(
            calculator=self.calculator,
            fields=fields,
            fixed=fixed,
            steps=steps,
            refuse=self._conditions("refuse"),
            warn=self._conditions("warn"),
            reads=self._conditions("reads"),
            plan=self._plan(fields),
            table=None,
            plot=None,
            checks=tuple(self._check(raw, fields, fixed, steps) for raw in self.raw.get("checks", ())),
        )
        if not any(fault.rule == "formula" for fault in self.faults):
            self._all_used(formula)
        table = self._table(fields, steps)
        plot = self._plot(fields, steps)
        if not self.faults:
            self.faults += dimension.faults(formula, self._inside)
        return replace(formula, table=table, plot=plot, faults=tuple(self.faults))

    def _field(self, key: str) -> Field:
        raw: Map = self.raw["inputs"][key]
        place = self._name(key, self.raw["inputs"], raw)
        kind = "number" if "unit" in raw else "choice" if "choose" in raw else raw["answer"]
        choices = dict(raw["choose"]) if kind == "choice" else YES_NO if kind == "yes-no" else {}
        self.choices |= set(choices)
        written = [raw["unit"]] if isinstance(raw.get("unit"), str) else raw.get("unit", [])
        units = tuple(self._unit(name, self._at(raw, "unit")) for name in written)
        if len({one.dimension for one in units}) > 1:
            self._fault("formula-dimension", self._at(raw, "unit"), "the units of one input measure different things")
        low, high = self._range(raw) if kind == "number" else (0.0, 0.0)
        field = Field(
            id=key,
            say=raw["say"],
            sign=raw.get("sign", key),
            hint=raw.get("hint", ""),
            kind=kind,
            units=units,
            low=low,
            high=high,
            choices=choices,
            default=None,
            setting=None,
            example="",
            optional="optional" in raw,
            fold=raw.get("fold", ""),
            place=place,
        )
        return self._filled(field, raw)

    def _filled(self, field: Field, raw: Map) -> Field:
        """The field with its default and its example."""
        default, setting = raw.get("default"), None
        if isinstance(default, Map):
            default, setting = self._from_setting(field, default)
        example = raw.get("example") if default is None else default
        if example is None:
            example = {"choice": next(iter(field.choices), ""), "yes-no": "no", "clock": "08:00"}.get(field.kind)
        if example is None and field.optional:
            example = ""
        if example is None:
            message = f"`{field.id}` needs an `example`: tables and plots count with it, and it is never filled in"
            self._fault("formula-range", field.place, message)
            example = short(field.low)
        full = replace(field, default=default, setting=setting, example=example)
        for key, entered in (("default", default), ("example", raw.get("example"))):
            if entered is not None:
                place = setting.place if setting and key == "default" else self._at(raw, key)
                self._entered(full, entered, place, f"the setting `{setting.id}`" if setting else f"`{key}`")
        return full

    def _from_setting(self, field: Field, raw: Map) -> tuple[str | None, Setting | None]:
        """The hospital's value as typed in the field's first unit."""
        setting = self._setting(raw)
        if setting is None or setting.value is None or not field.units:
            return None, setting
        value = self._in_si(setting, field.units[0])
        return (None if value is None else short(field.units[0].from_si(value))), setting

    def _local(self, key: str) -> Fixed:
        raw: Map = self.raw["local"][key]
        place = self._name(key, self.raw["local"], raw)
        wanted = self._unit(raw["unit"], self._at(raw, "unit"))
        low, high = self._range(raw)
        setting = self._setting(raw)
        value = self._in_si(setting, wanted) if setting and setting.value is not None else None
        if setting and value is not None and not low <= round(wanted.from_si(value), 9) <= high:
            message = f"`{key}` of {self.calculator.file} counts with {short(low)} to {short(high)} {wanted.label}"
            self._fault("formula-range", setting.place, f"the value of `{setting.id}` is out of range: {message}")
        return Fixed(
            id=key,
            say=setting.say if setting else key,
            sign=raw.get("sign", key),
            unit=wanted,
            value=value,
            shown=setting.shown if setting else "not set here",
            setting=setting,
            sources=(),
            place=place,
        )

    def _setting(self, raw: Map) -> Setting | None:
        """The setting that a map names; a name that does not exist is for the rule `unknown-setting`."""
        return self.settings.get(raw["setting"])

    def _in_si(self, setting: Setting, wanted: Unit) -> float | None:
        """A setting's value in SI units; None where it is none, or the rule `setting-range` speaks of it already."""
        assert setting.value is not None
        if implausible(setting):
            return None
        if not NUMBER.fullmatch(setting.value):
            message = f"`{setting.id}` is “{setting.value[:30]}”; {self.calculator.file} counts with it: write a number"
            self._fault("formula-range", setting.place, message)
            return None
        try:
            own = unit(setting.unit or "none")
        except UnitError as fault:
            self._fault("formula-dimension", setting.place, f"`{setting.id}`, counted with in a calculator: {fault}")
            return None
        if own.dimension != wanted.dimension:
            told = f"`{setting.id}` is {say(own.dimension)}; {self.calculator.file} counts with "
            self._fault("formula-dimension", setting.place, told + say(wanted.dimension))
            return None
        return own.to_si(float(setting.value))

    def _constant(self, key: str) -> Fixed:
        raw: Map = self.raw["constants"][key]
        place = self._name(key, self.raw["constants"], raw)
        one = self._unit(raw["unit"], self._at(raw, "unit"))
        value = self._number(raw["value"], self._at(raw, "value"))
        return Fixed(
            id=key,
            say=raw["say"],
            sign=raw.get("sign", key),
            unit=one,
            value=one.to_si(value),
            shown=f"{raw['value']}\u00a0{one.label}".rstrip("\u00a0").replace("-", "\u2212"),
            setting=None,
            sources=tuple(raw["sources"]),
            place=place,
        )

    def _step(self, key: str, part: str, output: bool) -> Step:
        raw: Map = self.raw[part][key]
        node = self._expression(raw, "is")
        when = self._expression(raw, "when") if "when" in raw else None
        place = self._name(key, self.raw[part], raw)
        return replace(self._result(key, raw, node, output, self._at(raw, "is"), place), when=when)

    def _result(self, key: str, raw: Map, node: Node, output: bool, at: Place, named: Place) -> Step:
        written = [raw["unit"]] if isinstance(raw["unit"], str) else raw["unit"]
        spot = self._at(raw, "unit") if "unit" in raw.value_at else named
        units = tuple(self._unit(name, spot) for name in written)
        like = raw.get("like", "")
        if like:
            self.used.add(like)
        other = self.raw["inputs"].get(like, {}).get("unit", "") if like else ""
        if len(units) != (1 if isinstance(other, str) else len(other)):
            message = f"`{key}` has {len(units)} units; with `like` it has as many as that input, without it one"
            self._fault("formula-dimension", spot, message)
        if len({one.dimension for one in units}) > 1:
            self._fault("formula-dimension", spot, "the units of one result measure different things")
        return Step(
            id=key,
            say=raw["say"],
            sign=raw.get("sign", key),
            unit=units[0],
            digits=int(raw.get("digits", 0)),
            down=raw.get("round") == "down",
            output=output,
            note=raw.get("note", ""),
            units=units,
            like=like,
            beside=self._beside(raw, spot),
            when=None,
            node=node,
            place=at,
        )

    def _beside(self, raw: Map, spot: Place) -> str:
        name: str = raw.get("beside", "")
        if name and name not in self.raw["outputs"]:
            self._fault("formula", spot, f"there is no output `{name}` to show beside this one")
        return name

    def _conditions(self, part: str) -> tuple[Line, ...]:
        return tuple(
            Line(
                when=self._expression(raw, "when") if "when" in raw else None,
                say=raw["say"],
                place=self._at(raw, "when") if "when" in raw else self._place(raw.at),
            )
            for raw in self.raw.get(part, ())
        )

    def _plan(self, fields: Mapping[str, Field]) -> Plan | None:
        raw: Map | None = self.raw.get("plan")
        if raw is None:
            return None
        start = raw.get("start", "")
        if start:
            self.used.add(start)
            if start not in fields or fields[start].kind != "clock":
                self._fault("formula", self._at(raw, "start"), f"`{start}` is no input with `answer: clock`")
        return Plan(
            say=raw["say"],
            unit=self._unit(raw.get("unit", "min"), self._at(raw, "unit")),
            start=start,
            rows=tuple(self._row(row) for row in raw["rows"]),
            stops=tuple(stop["say"] for stop in raw.get("stops", ())),
            write=tuple(raw.get("write", ())),
            counts=self.settings.get(raw.get("counts", "")),
        )

    def _row(self, raw: Map) -> Row:
        counter = raw.get("each", "")
        also = frozenset({counter}) if counter else frozenset()
        if counter in self.known or counter in RESERVED:
            self._fault("formula", self._at(raw, "each"), f"the name `{counter}` is taken; choose another")
        shows = None
        if "shows" in raw:
            part: Map = raw["shows"]
            node = self._expression(part, "is", also)
            shows = self._result("shows", part, node, False, self._at(part, "is"), self._place(part.at))
        return Row(
            counter=counter,
            count=self._expression(raw, "to") if "to" in raw else None,
            at=self._expression(raw, "at", also),
            when=self._expression(raw, "when", also) if "when" in raw else None,
            say=raw["say"],
            look="look" in raw,
            shows=shows,
            place=self._at(raw, "at"),
        )

    def _all_used(self, formula: Formula) -> None:
        """What nothing uses was forgotten in a formula, or takes a reader's time for nothing."""
        for key, place in self.known.items():
            if key not in self.used and not (key in formula.steps and formula.steps[key].output):
                self._fault("formula", place, f"nothing uses `{key}`; use it, or leave it out")
