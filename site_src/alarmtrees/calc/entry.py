"""What a person types, turned into a number or into words that say what is wrong; and numbers as they are shown.

The page does the same: it is given these words and shapes, and calc.js holds no second copy of them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

from .compute import DAY
from .formula import Field, Formula, Step
from .units import Unit

NUMBER = r"[+-]?[0-9]{1,12}(\.[0-9]{1,12})?"
"""The shape of a number, the same for Python and JavaScript."""

CLOCK = r"(?=.{4,5}$)([01]?[0-9]|2[0-3]):?([0-5][0-9])"
"""The shape of a time of day: 08:30, 8:30 or 0830. Three digits could be read in two ways."""

WORDS = {
    "empty": "Nothing is filled in. Write {wanted}.",
    "choose": "Nothing is chosen. Choose one.",
    "comma": "Write a point, not a comma: a comma can be read in two ways. Write {wanted}.",
    "number": "This is no number. Write {wanted}, in digits, without a unit.",
    "negative": "A value below zero is not possible here. Write {wanted}.",
    "below": "This is too low. Write {wanted}.",
    "above": "This is too high. Write {wanted}.",
    "clock": "This is no time of day. Write hours and minutes, as 08:30 or 0830.",
    "nothing": "With these values nothing can be worked out. Look at them again.",
}
"""What is said of an entry that gives no number. `{wanted}` is the range in words."""

_NUMBER = re.compile(NUMBER)
_CLOCK = re.compile(CLOCK)
# An edge of the range, turned into another unit and back, must not fall outside by the last bit.
_EDGE = 1e-9
_TIMES = ("s", "min", "h")


class EntryError(ValueError):
    """An entry gives no number; the text says what to write."""


def read(entered: str, field: Field, unit: Unit | None = None) -> float | str | bool:
    """An entry as the formula takes it: a number in SI units, a choice, true or false, or minutes after midnight.

    Args:
        entered: as typed.
        field: what it was typed for.
        unit: the unit it was typed in; the first of the field unless given.

    Raises:
        EntryError: it is empty, out of range, or cannot be read.

    >>> wanted(0, 10, "bar")
    'a number from 0 to 10 bar'
    """
    text = entered.strip()
    if field.kind == "clock":
        return _clock(text)
    if field.kind in ("choice", "yes-no"):
        return _chosen(text, field)
    return _number(text, field, unit or field.units[0])


def _number(text: str, field: Field, unit: Unit) -> float:
    low, high = (bound(field, unit, edge) for edge in (field.low, field.high))
    asked = wanted(low, high, unit.label)
    fault = ""
    if not text:
        fault = "empty"
    elif "," in text:
        fault = "comma"
    elif not _NUMBER.fullmatch(text.replace("\u2212", "-")):
        fault = "number"
    if fault:
        raise EntryError(WORDS[fault].format(wanted=asked))
    number = float(text.replace("\u2212", "-"))
    room = _EDGE * max(abs(low), abs(high))
    if number < low - room:
        raise EntryError(WORDS["negative" if number < 0 <= low else "below"].format(wanted=asked))
    if number > high + room:
        raise EntryError(WORDS["above"].format(wanted=asked))
    return unit.to_si(number)


def _clock(text: str) -> float:
    shape = _CLOCK.fullmatch(text)
    if shape is None:
        raise EntryError(WORDS["clock"])
    return float(int(shape.group(1)) * 60 + int(shape.group(2)))


def _chosen(text: str, field: Field) -> str | bool:
    if not text:
        raise EntryError(WORDS["choose"])
    key = text.lower()
    if key not in field.choices:
        raise EntryError(f"“{text[:30]}” is none of {', '.join(field.choices)}.")
    return key == "yes" if field.kind == "yes-no" else key


def bound(field: Field, unit: Unit, edge: float) -> float:
    """An edge of a field's range, in another of its units."""
    return edge if unit is field.units[0] else unit.from_si(field.units[0].to_si(edge))


def wanted(low: float, high: float, label: str) -> str:
    """A range in words."""
    behind = f" {label}" if label else ""
    return f"a number from {short(low)} to {short(high)}{behind}"


def short(number: float) -> str:
    """A number without more digits than it needs, four at most that count, and never in powers of ten.

    >>> short(2900.7), short(0.1), short(8000.0)
    ('2901', '0.1', '8000')
    """
    if number == int(number):
        return str(int(number))
    places = max(0, 3 - math.floor(math.log10(abs(number))))
    text = f"{number:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def rounded(step: Step, value: float) -> float:
    """A result in its unit, rounded as it is shown: half up, or always down where the author says so.

    The last bits of a floating number must not turn 24 into 23.
    """
    scale = 10.0**step.digits
    shown = step.unit.from_si(value) * scale
    return math.floor(shown + (1e-9 if step.down else 0.5 + 1e-9)) / scale


def shown(step: Step, value: float) -> str:
    """A result as readers see it, with its unit behind a no-break space."""
    text = f"{rounded(step, value):.{step.digits}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    text = text.replace("-", "\u2212")
    return f"{text}\u00a0{step.unit.label}" if step.unit.label else text


def in_unit(step: Step, other: Unit) -> Step:
    """A result as it is shown in another unit, as fine as in its first: one digit of bar are two of megapascal."""
    return replace(step, unit=other, digits=max(0, step.digits + round(math.log10(other.factor / step.unit.factor))))


def in_all_units(text: str, formula: Formula, told: Callable[[str], str] = str) -> str:
    """A text with each of the hospital's values also in the other units that such a value may be typed in; times
    stay as they are.

    Args:
        text: words in which the values stand already.
        formula: the calculator that says them.
        told: how the name of a unit is shown.
    """
    known = {}
    for one in formula.fixed.values():
        if one.setting is None or one.value is None or one.unit.label in _TIMES:
            continue
        fields = [field for field in formula.fields.values() if one.unit in field.units]
        alike = {other.label: other for field in fields for other in field.units}
        others = [
            f"{short(float(f'{other.from_si(one.value):.3g}'))}\u00a0{told(label)}"
            for label, other in alike.items()
            if not one.shown.endswith(label)
        ]
        if others:
            known[one.shown] = f"{one.shown} ({', '.join(others)})"
    # Not the 20 bar of 120 bar.
    for shown_, all_ in known.items():
        text = re.sub(rf"(?<![\d.]){re.escape(shown_)}", all_, text)
    return text


def clock(start: float, after: float) -> str:
    """A time of day, some seconds after another that is in minutes after midnight; with the day from the second on.
    Rounded down, for it may be a deadline.

    >>> clock(23 * 60, 7200), clock(14 * 60 + 20, 894)
    ('01:00 (day 2)', '14:34')
    """
    minute = math.floor(start + after / 60 + _EDGE)
    day = f" (day {minute // DAY + 1})" if minute >= DAY else ""
    return f"{minute // 60 % 24:02d}:{minute % 60:02d}{day}"


def duration(after: float) -> str:
    r"""Seconds as hours and minutes, rounded down.

    >>> duration(5400)
    '1\xa0h 30\xa0min'
    """
    hours, minutes = divmod(math.floor(after / 60 + _EDGE), 60)
    parts = [f"{hours}\u00a0h" if hours else "", f"{minutes}\u00a0min" if minutes or not hours else ""]
    return " ".join(part for part in parts if part)
