"""Reads what a calculator's file counts at fixed values: its checks, its table and its plot."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from ..model import Map
from ..model.finding import Place
from .entry import EntryError, read, short
from .formula import Case, Curve, Field, Fixed, Plot, Step, Table
from .reader import Reader


class CaseReader(Reader):
    """Reads cases, table and plot; every value has to fit its input."""

    def _entered(self, field: Field, entered: str, place: Place, what: str) -> None:
        try:
            read(entered, field)
        except EntryError as fault:
            self._fault("formula-range", place, f"{what} of `{field.id}` is “{entered[:30]}”. {fault}")

    def _given(self, raw: Map, fields: Mapping[str, Field], apart: Collection[str] = ()) -> dict[str, str]:
        given: dict[str, str] = {}
        for key, entered in raw.items():
            if key in apart:
                continue
            place = self._place(raw.value_at[key])
            if key not in fields:
                self._fault("formula", self._place(raw.key_at[key]), f"there is no input `{key}`")
                continue
            given[key] = entered
            self._entered(fields[key], entered, place, "the value")
        return given

    def _check(
        self, raw: Map, fields: Mapping[str, Field], fixed: Mapping[str, Fixed], steps: Mapping[str, Step]
    ) -> Case:
        """A check value. It gives the hospital's values itself: with another hospital's it would be another number."""
        given: Map = raw.get("given", Map((1, 1)))
        locals_ = {key: one for key, one in fixed.items() if key in self.raw.get("local", ())}
        case = self._case(raw, fields, steps, locals_)
        theirs = [*locals_, *(key for key, field in fields.items() if field.setting)]
        for key in (key for key in theirs if key not in given):
            message = f"the check leaves `{key}` to the hospital, whose value may be another; give one under `given`"
            self._fault("formula-check", case.place, message)
        counted = {key: self._counted(locals_[key], given, key) for key in given if key in locals_}
        return replace(case, local=counted)

    def _counted(self, fixed: Fixed, given: Map, key: str) -> float:
        """A value of the hospital's as a check gives it, in SI units."""
        place = self._place(given.value_at[key])
        value = self._number(given[key], place)
        low, high = map(float, self.raw["local"][key]["range"])
        if not low <= value <= high:
            told = f"`{key}` of the check is {given[key][:30]}; write {short(low)} to {short(high)} {fixed.unit.label}"
            self._fault("formula-range", place, told.rstrip())
        return fixed.unit.to_si(value)

    def _case(
        self, raw: Map, fields: Mapping[str, Field], steps: Mapping[str, Step], apart: Collection[str] = ()
    ) -> Case:
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
            given=self._given(raw["given"], fields, apart) if "given" in raw else {},
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
        for name in (raw["across"],) if "across" in raw else (*raw.get("levels", ()), *raw.get("beside", ())):
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
        return Plot(
            raw["say"],
            across,
            low,
            high,
            tuple(curves),
            tuple(raw.get("levels", ())),
            tuple(raw.get("beside", ())),
            place,
        )
