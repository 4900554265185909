"""Whether a value of the hospital's can be meant: a number inside its range, and on the right side of others."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ..model import Setting
from .entry import short
from .reader import NUMBER
from .units import UnitError, unit


class ImplausibleError(ValueError):
    """A value that cannot be counted; the text says what to write."""


def implausible(setting: Setting) -> str | None:
    """What is wrong with a value by itself, in words; None where nothing is, or nothing is known of it.

    Args:
        setting: a local value; its range is in the unit of the shipped one.
    """
    if setting.value is None or setting.range is None:
        return None
    low, high = setting.range
    if low >= high:
        return None  # the range is the fault
    wanted = f"{short(low)} to {short(high)} {setting.range_unit}"
    try:
        value = _in(setting, setting.range_unit)
    except ImplausibleError as fault:
        return f"`{setting.id}` is {fault}; write {wanted}"
    if _room(low) + value < low or value > high + _room(high):
        told = setting.shown.replace("\u00a0", " ")
        return f"`{setting.id}` is {told}, outside its range of {wanted} ({setting.range_from}); is it a slip?"
    return None


def crossed(settings: Mapping[str, Setting]) -> Iterator[tuple[Setting, Setting, str]]:
    """Pairs of values that stand on the wrong side of each other: the one, the other, and what is wrong in words.

    A pair of which one is implausible by itself, or not set, is left out.
    """
    sound = {key: one for key, one in settings.items() if one.value is not None and implausible(one) is None}
    for one in sound.values():
        for other in (sound[name] for name in (*one.below, *one.at_most) if name in sound):
            strictly = other.id in one.below
            try:
                left, right = _in(one, one.range_unit), _in(other, one.range_unit)
            except ImplausibleError:
                continue
            if left > right + _room(right) or (strictly and left > right - _room(right)):
                asked = "below" if strictly else "at or below"
                told = ", ".join(f"`{each.id}` is {each.shown}".replace("\u00a0", " ") for each in (one, other))
                yield one, other, f"{told}, and the first has to be {asked} the second; change one of them"


def _room(edge: float) -> float:
    """What is turned into another unit must not fall outside by the last bit."""
    return 1e-9 * max(1.0, abs(edge))


def _in(setting: Setting, wanted: str) -> float:
    """A value as a number in a unit.

    Raises:
        ImplausibleError: it is no number, or not in a unit of this kind.
    """
    value, own = setting.value or "", setting.unit or ""
    if not NUMBER.fullmatch(value):
        raise ImplausibleError(f"“{value[:30]}”, which is no number in digits, with a point")
    if own == wanted:
        return float(value)
    try:
        given, asked = unit(own or "none"), unit(wanted or "none")
    except UnitError:
        raise ImplausibleError(f"in “{own[:30]}”, which cannot be told in {wanted}") from None
    if given.dimension != asked.dimension:
        raise ImplausibleError(f"in {own[:30]}, which cannot be told in {wanted}")
    return asked.from_si(given.to_si(float(value)))
