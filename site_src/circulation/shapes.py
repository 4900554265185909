"""Shapes of a drawn line, in numbers: where it stands, how late it is, how it swings, and each push of the gas."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from .strip import Line, Strip

STEP = 0.01
"""Distance of the moments at which lines are looked at, s."""

PUSHES = 45.0
"""Above this pressure the gas is being pushed in, mmHg."""


def value(line: Line, time: float) -> float:
    """Where a line stands at a moment, held at its ends."""
    at = min(max(bisect_right(line, (time, float("inf"))) - 1, 0), len(line) - 2)
    (x0, y0), (x1, y1) = line[at], line[at + 1]
    return y0 + (y1 - y0) * min(max((time - x0) / (x1 - x0), 0.0), 1.0)


def values(line: Line, begin: float, end: float, step: float = STEP) -> list[float]:
    """Where a line stands from one moment to another."""
    return [value(line, begin + step * number) for number in range(max(round((end - begin) / step), 0) + 1)]


def lateness(strip: Strip, usual: Strip) -> float:
    """By how much a trace is later than another of the same beats, s: where both run most alike."""
    own, other = values(strip.trace, 0.5, strip.lasts), values(usual.trace, 0.0, usual.lasts)
    begin = round(0.5 / STEP)

    def unlike(late: int) -> float:
        pairs = list(zip(own, other[begin - late :], strict=False))
        means = [sum(side) / len(pairs) for side in zip(*pairs, strict=True)]
        return sum((mine - means[0] - theirs + means[1]) ** 2 for mine, theirs in pairs) / len(pairs)

    return min(range(round(0.4 / STEP)), key=unlike) * STEP


def waves(found: Sequence[float], least: float) -> int:
    """How many peaks a course has that stand out by so much on both sides."""
    count, low, high, rising = 0, found[0], found[0], True
    for one in found:
        if rising:
            high = max(high, one)
            if one <= high - least:
                count += high - low >= least
                low, rising = one, False
        else:
            low = min(low, one)
            if one >= low + least:
                high, rising = one, True
    return count


def swings(strip: Strip, usual: Strip, begin: float, end: float, least: float) -> int:
    """How often a trace swings past another one and back between two moments, each time by so much at the least."""
    off = [mine - theirs for mine, theirs in zip(*(values(one.trace, begin, end) for one in (strip, usual)), strict=True)]
    sides = [side for one in off if (side := (one > least) - (one < -least))]
    return sum(1 for before, after in pairwise(sides) if before != after)


@dataclass(frozen=True, slots=True)
class Push:
    """One push of the gas: when it begins, the line below before it, its top in the middle, how long it lasts."""

    begin: float
    below: float
    top: float
    lasts: float


def pushes(strip: Strip) -> list[Push]:
    """The pushes of the gas that lie wholly in a strip; water may make a top tremble, but not end."""
    found: list[Push] = []
    begin: float | None = None
    last = 0.0
    for number, pressure in enumerate(values(strip.gas, 0.0, strip.lasts)):
        now = number * STEP
        if pressure > PUSHES:
            begin, last = now if begin is None else begin, now
        elif begin is not None and now - last > 0.05:
            middle = sorted(values(strip.gas, begin, last))
            below = value(strip.gas, max(begin - 0.06, 0.0))
            found.append(Push(begin, below, middle[len(middle) // 2], last - begin))
            begin = None
    return found


def strokes(strip: Strip) -> list[tuple[float, float]]:
    """From when to when the balloon is more than half full, as far as a strip shows it whole."""
    half = max(volume for _, volume in strip.balloon) / 2.0
    full = [volume > half for volume in values(strip.balloon, 0.0, strip.lasts)]
    turns = [at for at, (before, after) in enumerate(pairwise(full)) if before != after]
    if full[0]:
        turns = turns[1:]
    return [(begin * STEP, end * STEP) for begin, end in zip(turns[::2], turns[1::2], strict=False)]


def rise_time(strip: Strip) -> float:
    """From a tenth to nine tenths of the balloon's first filling, s."""
    top = max(volume for _, volume in strip.balloon)
    course = values(strip.balloon, 0.0, strip.lasts)
    first = _first(course, 0.1 * top)
    peak = max(course[first : first + round(0.6 / STEP)])
    return (_first(course, 0.9 * peak) - _first(course, 0.1 * peak)) * STEP


def _first(course: Iterable[float], level: float) -> int:
    return next((at for at, one in enumerate(course) if one >= level), 0)
