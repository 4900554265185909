"""What every part of a calculator's file is read with: names, numbers, units, expressions, places and faults."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from ..model import Calculator, Map, Setting
from ..model.finding import Place
from .expression import RESERVED, ExpressionError, Node, Number, names, parse
from .formula import Fault
from .units import Unit, UnitError, unit

_UNKNOWN = Number(float("nan"))
_QUOTES = "'\""

NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?")
"""A number in digits, with a point."""


class Reader:
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
        if not NUMBER.fullmatch(text):
            self._fault("formula", place, f"“{text[:30]}” is no number; write it in digits, with a point")
            return 1.0
        return float(text)

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
