"""Reads a calculator's file and the hospital's values into a `Formula`; what does not hold becomes a fault."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from ..finding import Place
from ..model import Calculator, Map, Setting
from . import dimension
from .entry import EntryError, read, short
from .expression import RESERVED, ExpressionError, Node, Number, names, parse
from .formula import Case, Curve, Fault, Field, Fixed, Formula, Line, Plan, Plot, Row, Step, Table
from .units import Unit, UnitError, say, unit

YES_NO = {"yes": "Yes", "no": "No"}

_UNKNOWN = Number(float("nan"))
_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?")
_QUOTES = "'\""


def read_formula(calculator: Calculator, settings: Mapping[str, Setting]) -> Formula:
    """The formula of a calculator.

    Args:
        calculator: one whose file fits its schema.
        settings: the hospital's values.

    Returns:
        The formula; its `faults` say what is wrong with it, the dimensions only once all else can be read.
    """
    return _Reader(calculator, settings).formula()


class _Reader:
    """Reads one file; collects faults, never raises."""

    def __init__(self, calculator: Calculator, settings: Mapping[str, Setting]) -> None:
        self.calculator = calculator
        self.settings = settings
        self.raw = calculator.raw
        self.lines = calculator.text.splitlines()
        self.faults: list[Fault] = []
        self.known: dict[str, Place] = {}
        self.signs: dict[str, str] = {}
        self.choices: set[str] = set()
        self.used: set[str] = set()

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
            checks=tuple(self._case(raw, fields, steps) for raw in self.raw.get("checks", ())),
        )
        if not any(fault.rule == "formula" for fault in self.faults):
            self._all_used(formula)
        table = self._table(fields, steps)
        plot = self._plot(fields, steps)
        if not self.faults:
            self.faults += dimension.faults(formula, self._inside)
        parts = {name: getattr(formula, name) for name in formula.__dataclass_fields__}
        return Formula(**{**parts, "table": table, "plot": plot, "faults": tuple(self.faults)})

    # ------------------------------------------------------------------ names and values

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
        if example is None:
            message = f"`{field.id}` needs an `example`: tables and plots count with it, and it is never filled in"
            self._fault("formula-range", field.place, message)
            example = short(field.low)
        parts = {name: getattr(field, name) for name in field.__slots__}
        full = Field(**{**parts, "default": default, "setting": setting, "example": example})
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
        """A setting's value in SI units."""
        assert setting.value is not None
        if not _NUMBER.fullmatch(setting.value):
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
        place = self._name(key, self.raw[part], raw)
        return self._result(key, raw, node, output, self._at(raw, "is"), place)

    def _result(self, key: str, raw: Map, node: Node, output: bool, at: Place, named: Place) -> Step:
        return Step(
            id=key,
            say=raw["say"],
            sign=raw.get("sign", key),
            unit=self._unit(raw["unit"], self._at(raw, "unit") if "unit" in raw.value_at else named),
            digits=int(raw.get("digits", 0)),
            down=raw.get("round") == "down",
            output=output,
            note=raw.get("note", ""),
            node=node,
            place=at,
        )

    def _name(self, key: str, owner: Map, raw: Map) -> Place:
        """Take a name; two of one kind would make a formula that cannot be read."""
        place = self._place(owner.key_at[key])
        if key in RESERVED:
            self._fault("formula", place, f"`{key}` has a meaning in the language of formulas; choose another name")
        if key in self.known:
            self._fault("formula", place, f"the name `{key}` is taken in line {self.known[key].line}; choose another")
        sign = raw.get("sign", key)
        if sign in self.signs and "answer" not in raw and "choose" not in raw:
            other = self.signs[sign]
            self._fault("formula", place, f"“{sign}” stands for `{other}` already; readers could not tell them apart")
        self.known.setdefault(key, place)
        self.signs.setdefault(sign, key)
        return place

    def _range(self, raw: Map) -> tuple[float, float]:
        low, high = (self._number(text, self._at(raw, "range")) for text in raw["range"])
        if not low < high:
            self._fault("formula-range", self._at(raw, "range"), "the range is empty: write the lower number first")
        return low, high

    def _unit(self, text: str, place: Place) -> Unit:
        try:
            return unit(text)
        except UnitError as fault:
            self._fault("formula-dimension", place, str(fault))
            return unit("none")

    def _number(self, text: str, place: Place) -> float:
        if not _NUMBER.fullmatch(text):
            self._fault("formula", place, f"“{text[:30]}” is no number; write it in digits, with a point")
            return 1.0
        return float(text)

    # ------------------------------------------------------------------ expressions

    def _expression(self, raw: Map, key: str, also: frozenset[str] = frozenset()) -> Node:
        place = self._at(raw, key)
        try:
            node = parse(raw[key])
        except ExpressionError as fault:
            self._fault("formula", self._inside(place, fault.at), str(fault))
            return _UNKNOWN
        for name in names(node):
            self.used.add(name.id)
            if name.id in self.known or name.id in also or name.id in self.choices:
                continue
            later = any(name.id in self.raw.get(part, ()) for part in ("local", "constants", "steps", "outputs"))
            why = "is made only below; move it up" if later else "is no name here; is it an input, constant or step?"
            self._fault("formula", self._inside(place, name.at), f"`{name.id}` {why}")
        return node

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

    # ------------------------------------------------------------------ what is counted at fixed values

    def _entered(self, field: Field, entered: str, place: Place, what: str) -> None:
        try:
            read(entered, field)
        except EntryError as fault:
            self._fault("formula-range", place, f"{what} of `{field.id}` is “{entered[:30]}”. {fault}")

    def _given(self, raw: Map, fields: Mapping[str, Field]) -> dict[str, str]:
        given: dict[str, str] = {}
        for key, entered in raw.items():
            place = self._place(raw.value_at[key])
            if key not in fields:
                self._fault("formula", self._place(raw.key_at[key]), f"there is no input `{key}`")
                continue
            given[key] = entered
            self._entered(fields[key], entered, place, "the value")
        return given

    def _case(self, raw: Map, fields: Mapping[str, Field], steps: Mapping[str, Step]) -> Case:
        gives: dict[str, float] = {}
        wanted: Map = raw.get("gives", Map((1, 1)))
        for key, text in wanted.items():
            place = self._place(wanted.key_at[key])
            if key not in steps:
                self._fault("formula", place, f"there is no output or step `{key}`")
            else:
                gives[key] = self._number(text, self._place(wanted.value_at[key]))
        return Case(
            say=raw.get("say", ""),
            given=self._given(raw["given"], fields) if "given" in raw else {},
            gives=gives,
            within=self._number(raw["within"], self._at(raw, "within")) if "within" in raw else 0.0,
            refused="refused" in raw,
            sources=tuple(raw.get("sources", ())),
            place=self._place(raw.at),
        )

    def _table(self, fields: Mapping[str, Field], steps: Mapping[str, Step]) -> Table | None:
        raw: Map | None = self.raw.get("table")
        if raw is None:
            return None
        if "cases" in raw:
            rows = tuple(self._case(case, fields, steps) for case in raw["cases"])
            return Table(raw["say"], rows, (), self._shown(raw, steps), ("",))
        rows, columns = (self._values(raw.get(part), fields) for part in ("rows", "columns"))
        of = tuple(raw[part]["input"] for part in ("rows", "columns") if part in raw)
        return Table(raw["say"], rows, columns, self._shown(raw, steps), of)

    def _shown(self, raw: Map, steps: Mapping[str, Step]) -> tuple[str, ...]:
        for name, spot in zip(raw["show"], raw["show"].item_at, strict=True):
            if name not in steps:
                self._fault("formula", self._place(spot), f"there is no output or step `{name}`")
        return tuple(name for name in raw["show"] if name in steps)

    def _values(self, raw: Map | None, fields: Mapping[str, Field]) -> tuple[Case, ...]:
        """One case for each value of one input."""
        if raw is None:
            return ()
        field = fields.get(raw["input"])
        if field is None:
            self._fault("formula", self._at(raw, "input"), f"there is no input `{raw['input']}`")
            return ()
        cases = []
        for entered, spot in zip(raw["values"], raw["values"].item_at, strict=True):
            self._entered(field, entered, self._place(spot), "the value")
            cases.append(Case(entered, {field.id: entered}, {}, 0.0, False, (), self._place(spot)))
        return tuple(cases)

    def _plot(self, fields: Mapping[str, Field], steps: Mapping[str, Step]) -> Plot | None:
        raw: Map | None = self.raw.get("plot")
        if raw is None:
            return None
        place = self._place(raw.at)
        for name in (raw["across"], *raw.get("levels", ())) if "across" in raw else raw.get("levels", ()):
            if name not in fields or fields[name].kind != "number":
                self._fault("formula", place, f"there is no input `{name}` that is a number")
                return None
        across = raw.get("across", "")
        low, high = (fields[across].low, fields[across].high) if across else (0.0, 0.0)
        if "from" in raw:
            low = self._number(raw["from"], self._at(raw, "from"))
        if "to" in raw:
            high = self._number(raw["to"], self._at(raw, "to"))
        if across and not fields[across].low <= low < high <= fields[across].high:
            self._fault("formula-range", place, f"the plot leaves the range of `{across}`, or is empty")
        curves = []
        for curve in raw.get("curves", ()):
            if curve["show"] not in steps:
                self._fault("formula", self._at(curve, "show"), f"there is no output or step `{curve['show']}`")
            given = self._given(curve["given"], fields) if "given" in curve else {}
            curves.append(Curve(curve["say"], curve["show"], given))
        return Plot(raw["say"], across, low, high, tuple(curves), tuple(raw.get("levels", ())), place)

    # ------------------------------------------------------------------ places

    def _keys(self, part: str) -> Iterator[str]:
        yield from self.raw.get(part, ())

    def _place(self, spot: tuple[int, int]) -> Place:
        return Place(self.calculator.file, *spot)

    def _at(self, raw: Map, key: str) -> Place:
        return self._place(raw.value_at.get(key, raw.at))

    def _inside(self, place: Place, offset: int) -> Place:
        """The place of a character of a text that begins at a place; the beginning where the text is folded."""
        line = self.lines[place.line - 1] if 0 < place.line <= len(self.lines) else ""
        begin = place.column - 1
        if line[begin : begin + 1] in ("|", ">"):
            return place
        column = begin + offset + (line[begin : begin + 1] in _QUOTES if line[begin : begin + 1] else 0)
        return Place(place.file, place.line, column + 1) if column <= len(line) else place

    def _fault(self, rule: str, place: Place, message: str) -> None:
        self.faults.append(Fault(rule, place, message))
