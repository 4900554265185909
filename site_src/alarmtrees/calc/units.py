"""Units as authors write them: how a number turns into SI units, and of which dimension it is.

Only the signs listed here are read, joined by blanks, one `/` and brackets: "J/(mol K)", "/min", "cm3/mol".
The list is short and closed, so it stands here; the tests hold each sign, and each two of them joined, to pint.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache


@dataclass(frozen=True, slots=True)
class Dimension:
    """The powers of the basic quantities, each under its name, in the order of the names; none of power zero.

    >>> unit("J").dimension / unit("s").dimension == unit("W").dimension
    True
    """

    powers: tuple[tuple[str, float], ...] = ()

    def __mul__(self, other: Dimension) -> Dimension:
        total = dict(self.powers)
        for name, power in other.powers:
            total[name] = total.get(name, 0) + power
        return Dimension(tuple(sorted((name, power) for name, power in total.items() if power)))

    def __truediv__(self, other: Dimension) -> Dimension:
        return self * other**-1

    def __pow__(self, power: float) -> Dimension:
        return Dimension(tuple((name, own * power) for name, own in self.powers) if power else ())

    def __str__(self) -> str:
        def told(powers: list[tuple[str, float]]) -> list[str]:
            return [f"[{name}]" if power == 1 else f"[{name}] ^ {power:g}" for name, power in powers]

        above = told([(name, power) for name, power in self.powers if power > 0])
        below = told([(name, -power) for name, power in self.powers if power < 0])
        return " / ".join([" * ".join(above) or "1", *below])


_PURE = Dimension()
_LENGTH, _TIME, _MASS, _HEAT, _AMOUNT = (
    Dimension(((name, 1),)) for name in ("length", "time", "mass", "temperature", "substance")
)
_VOLUME = _LENGTH**3
_ENERGY = _MASS * _LENGTH**2 / _TIME**2
_PRESSURE = _ENERGY / _VOLUME

_SIGNS: dict[str, tuple[float, Dimension]] = {
    "mL": (1e-6, _VOLUME),
    "L": (1e-3, _VOLUME),
    "cm3": (1e-6, _VOLUME),
    "m3": (1, _VOLUME),
    "Pa": (1, _PRESSURE),
    "hPa": (1e2, _PRESSURE),
    "kPa": (1e3, _PRESSURE),
    "MPa": (1e6, _PRESSURE),
    "bar": (1e5, _PRESSURE),
    "psi": (6894.7572931683635, _PRESSURE),
    "mmHg": (133.322387415, _PRESSURE),
    "ms": (1e-3, _TIME),
    "s": (1, _TIME),
    "min": (60, _TIME),
    "h": (3600, _TIME),
    "mm": (1e-3, _LENGTH),
    "cm": (1e-2, _LENGTH),
    "m": (1, _LENGTH),
    "km": (1e3, _LENGTH),
    "ft": (0.3048, _LENGTH),
    "K": (1, _HEAT),
    "°C": (1, _HEAT),
    "°F": (5 / 9, _HEAT),
    "mol": (1, _AMOUNT),
    "g": (1e-3, _MASS),
    "kg": (1, _MASS),
    "J": (1, _ENERGY),
    "W": (1, _ENERGY / _TIME),
    "Wh": (3600, _ENERGY),
    "%": (0.01, _PURE),
    "times": (1, _PURE),
    "none": (1, _PURE),
}
"""What one of each is in SI units, and its dimension."""

_ZEROS = {"°C": 273.15, "°F": 459.67 * 5 / 9}
"""What zero is in SI units, where it is not zero."""

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
        dimension: it multiplies, divides and compares.
    """

    label: str
    factor: float
    offset: float
    dimension: Dimension

    def to_si(self, number: float) -> float:
        """A number of this unit in SI units."""
        return number * self.factor + self.offset

    def from_si(self, number: float) -> float:
        """A number of SI units in this unit."""
        return (number - self.offset) / self.factor


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
    factor, dimension = 1.0, _PURE
    above, _, below = text.partition("/")
    if not _SHAPE.fullmatch(text) or not text.strip():
        raise UnitError(f"“{text[:30]}” is no unit; write it as `mL`, `/min` or `J/(mol K)`")
    for sign in above.split():
        worth, kind = _known(sign)
        factor, dimension = factor * worth, dimension * kind
    for sign in below.strip("()").split():
        worth, kind = _known(sign)
        factor, dimension = factor / worth, dimension / kind
    label = "" if text in ("none", "times") else text
    return Unit(label, _clean(factor), _ZEROS.get(text, 0.0), dimension)


def _known(sign: str) -> tuple[float, Dimension]:
    if sign in _SIGNS:
        return _SIGNS[sign]
    if sign.endswith("2") and sign[:-1] in _SIGNS:
        factor, dimension = _SIGNS[sign[:-1]]
        return factor**2, dimension**2
    raise UnitError(f"“{sign[:20]}” is no unit here; there are {', '.join(_SIGNS)}")


def _clean(number: float) -> float:
    """Without the last bits that a row of multiplications has blurred: a millilitre is 1e-06 m³."""
    short = float(f"{number:.12g}")
    return short if abs(short - number) <= 1e-15 * abs(number) else number


@cache
def _spoken() -> tuple[tuple[Dimension, str], ...]:
    told = {"none": "a pure number", "Pa": "a pressure", "L": "a volume", "s": "a time", "m": "a length"}
    told |= {"K": "a temperature", "mol": "an amount of gas", "/s": "a rate", "J": "an energy", "kg": "a mass"}
    return tuple((unit(sign).dimension, words) for sign, words in told.items())


def say(dimension: Dimension) -> str:
    """A dimension in words.

    >>> say(unit("mmHg").dimension)
    'a pressure'
    """
    return next((words for known, words in _spoken() if known == dimension), str(dimension))
