"""The balloon: when it is told to fill and to empty, and how the gas follows."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, tanh

from .values import Balloon


@dataclass(frozen=True, slots=True)
class Stroke:
    """One beat of the balloon: when filling and when emptying begin, in s."""

    fill: float
    empty: float


class Drive:
    """The gas pressure over time, for strokes in order that do not overlap."""

    def __init__(self, balloon: Balloon, strokes: Sequence[Stroke]) -> None:
        self._middle = (balloon.push + balloon.pull) / 2.0
        self._half = (balloon.push - balloon.pull) / 2.0
        self._switch = balloon.switch
        self._changes = [moment for stroke in strokes for moment in (stroke.fill, stroke.empty)]

    def __call__(self, time: float) -> float:
        """Gas pressure in mmHg."""
        at = bisect_right(self._changes, time)
        # The changes next to this moment are seen in full; all before them are complete.
        level = 1.0 if at > 0 and at % 2 == 0 else -1.0
        for index in (at - 1, at):
            if 0 <= index < len(self._changes):
                step = 1.0 + tanh((time - self._changes[index]) / self._switch)
                level += step if index % 2 == 0 else -step
        return self._middle + self._half * level


def room(balloon: Balloon, time: float) -> float:
    """The volume in mL that the gas can fill; less with time where it leaks."""
    return balloon.volume * exp(-balloon.leak * max(time, 0.0))


def passage(balloon: Balloon, filled: float, room_now: float, filling: bool) -> float:
    """Conductance in mL/(s mmHg) at a filling in mL: it dies away as the balloon is full, or empty."""
    left = room_now - filled if filling else filled
    return balloon.conductance * min(max(left / balloon.softness, 0.0), 1.0)
