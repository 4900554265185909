"""Units as authors write them: how a number turns into SI units, and of which dimension it is.

Only the signs listed here are read, joined by blanks, one `/` and brackets: "J/(mol K)", "/min", "cm3/mol".
pint joins them, converts, and says what may be added to what; it is loaded when the first unit is met.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import Any

_SIGNS = {
    "mL": "milliliter",
    "L": "liter",
    "cm3": "centimeter**3",
    "m3": "meter**3",
    "Pa": "pascal",
    "hPa": "hectopascal",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "bar": "bar",
    "psi": "pound_force_per_square_inch",
    "mmHg": "millimeter_Hg",
    "ms": "millisecond",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "km": "kilometer",
    "ft": "foot",
    "K": "kelvin",
    "°C": "degree_Celsius",
    "°F": "degree_Fahrenheit",
    "mol": "mole",
    "g": "gram",
    "kg": "kilogram",
    "J": "joule",
    "W": "watt",
    "Wh": "watt_hour",
    "%": "percent",
    "times": "dimensionless",
    "none": "dimensionless",
    "10⁹": "billion",
}
_WRITTEN = {"mL/kg/h": "mL/(kg h)", "L/min/m²": "L/(min m2)"}
"""Units as they are written at every bedside, and what each stands for."""
# What each of them is, in pint's language; but for psi and mmHg they are exact (BIPM, The International System of
# Units, 2019). pint's own list of all units of the world takes longer to read than a library of trees; the tests hold
# each line to it.
_DEFINED = """
meter = [length]
second = [time]
kilogram = [mass]
kelvin = [temperature]; offset: 0
mole = [substance]
millimeter = 1e-3 * meter
centimeter = 1e-2 * meter
kilometer = 1e3 * meter
foot = 0.3048 * meter
millisecond = 1e-3 * second
minute = 60 * second
hour = 3600 * second
gram = 1e-3 * kilogram
milliliter = 1e-6 * meter ** 3
liter = 1e-3 * meter ** 3
pascal = kilogram / meter / second ** 2
hectopascal = 1e2 * pascal
kilopascal = 1e3 * pascal
megapascal = 1e6 * pascal
bar = 1e5 * pascal
pound_force_per_square_inch = 6894.7572931683635 * pascal
millimeter_Hg = 133.322387415 * pascal
degree_Celsius = kelvin; offset: 273.15
degree_Fahrenheit = 5 / 9 * kelvin; offset: 255.37222222222223
joule = kilogram * meter ** 2 / second ** 2
watt = joule / second
watt_hour = 3600 * joule
percent = 0.01
billion = 1e9
"""
_SHAPE = re.compile(r"[^/()]*(/([^/() ]+|\([^/()]+\)))?")


class UnitError(ValueError):
    """A unit that is not known; the text says which are."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit.

    Attributes:
        label: as readers see it; empty for a pure number.
        factor: what one of it is in SI units.
        offset: what zero of it is in SI units (other than 0 for °C and °F).
        dimension: pint's dimensionality; it multiplies, divides and compares.
    """

    label: str
    factor: float
    offset: float
    dimension: Any

    def to_si(self, number: float) -> float:
        """A number of this unit in SI units."""
        return number * self.factor + self.offset

    def from_si(self, number: float) -> float:
        """A number of SI units in this unit."""
        return (number - self.offset) / self.factor


@cache
def registry() -> Any:
    """pint with the units defined here, loaded once and only when a calculator is there."""
    import pint

    known: pint.UnitRegistry[float] = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=True)
    known.load_definitions(_DEFINED.strip().splitlines())
    return known


@cache
def unit(text: str) -> Unit:
    """The unit of a text.

    Raises:
        UnitError: a sign in it is not known, or degrees are joined to another unit.

    >>> unit("bar").factor
    100000.0
    >>> unit("°C").to_si(20)
    293.15
    """
    if "°" in text and text not in _SIGNS:
        raise UnitError(f"“{text[:30]}”: degrees count from another zero; join no other unit to them, write K")
    worth = registry().dimensionless
    plain = _WRITTEN.get(text, text)
    above, _, below = plain.partition("/")
    if not _SHAPE.fullmatch(plain) or not text.strip():
        raise UnitError(f"“{text[:30]}” is no unit; write it as `mL`, `/min` or `J/(mol K)`")
    for sign in above.split():
        worth = worth * _known(sign)
    for sign in below.strip("()").split():
        worth = worth / _known(sign)
    parsed = registry().Unit(worth)
    offset = float(registry().Quantity(0, parsed).to_base_units().magnitude)
    factor = float(registry().Quantity(1, parsed).to_base_units().magnitude) - offset
    label = "" if text in ("none", "times") else text
    return Unit(label, _clean(factor), _clean(offset), parsed.dimensionality)


def _known(sign: str) -> Any:
    if sign in _SIGNS:
        return registry().parse_units(_SIGNS[sign])
    if sign.endswith("2") and sign[:-1] in _SIGNS:
        return registry().parse_units(_SIGNS[sign[:-1]]) ** 2
    raise UnitError(f"“{sign[:20]}” is no unit here; there are {', '.join(_SIGNS)}")


def _clean(number: float) -> float:
    """Without the last bits that a row of multiplications has blurred: a millilitre is 1e-06 m³."""
    short = float(f"{number:.12g}")
    return short if abs(short - number) <= 1e-15 * abs(number) else number


@cache
def _spoken() -> tuple[tuple[Any, str], ...]:
    told = {"none": "a pure number", "Pa": "a pressure", "L": "a volume", "s": "a time", "m": "a length"}
    told |= {"mL/kg/h": "a flow by weight", "L/min/m²": "a flow by surface", "10⁹/L": "a count by volume"}
    told |= {"K": "a temperature", "mol": "an amount of gas", "/s": "a rate", "J": "an energy", "kg": "a mass"}
    return tuple((unit(sign).dimension, words) for sign, words in told.items())


def say(dimension: Any) -> str:
    """A dimension in words.

    >>> say(unit("mmHg").dimension)
    'a pressure'
    """
    return next((words for known, words in _spoken() if known == dimension), str(dimension).replace("**", "^"))
