"""The balloon and its closed gas: a drive shifts gas through the line into the balloon and back.

The gas is one portion, kept at one temperature: in a thin line helium gives its heat to the wall within a beat. It
lies in the console's side of the line, which the drive makes smaller and larger, and in the balloon, whose wall is
slack until it is full. So its pressure follows from volumes alone (Boyle).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sin

from .values import ATMOSPHERE, Balloon


@dataclass(frozen=True, slots=True)
class Stroke:
    """One beat of the balloon: when filling and when emptying begin, in s."""

    fill: float
    empty: float


class Drive:
    """What the drive is told over time, for strokes in order that do not overlap."""

    def __init__(self, balloon: Balloon, strokes: Sequence[Stroke]) -> None:
        self._push, self._pull = balloon.push, balloon.pull
        self.changes = [moment for stroke in strokes for moment in (stroke.fill, stroke.empty)]

    def __call__(self, time: float) -> float:
        """The pressure that it is to reach, mmHg: from filling to emptying it pushes, else it pulls."""
        return self._push if bisect_right(self.changes, time) % 2 else self._pull


def wall(balloon: Balloon, filled: float) -> float:
    """Pressure in mmHg by which the gas in the balloon is above the blood around it.

    None while the wall is slack; more as it is stretched; less as it lies on itself and lets no more gas out.
    """
    over, under = filled - balloon.slack * balloon.volume, balloon.folds - filled
    if over > 0.0:
        return balloon.stretch * over * over
    return -balloon.fold * under * under if under > 0.0 else 0.0


def passage(balloon: Balloon, time: float) -> float:
    """How easily gas passes line and catheter, mL/(s mmHg); water in a bend swings and lets it pass unevenly."""
    return balloon.conductance * (1.0 + balloon.water * sin(2.0 * pi * balloon.swing * time))


def beside(balloon: Balloon, shifted: float) -> float:
    """The gas volume outside of the balloon in mL, when the drive has shifted so much."""
    return balloon.dead + balloon.shift - shifted


def line_pressure(amount: float, room: float, filled: float, inside: float) -> float:
    """Pressure of the gas on the console's side, mmHg (Boyle).

    Args:
        amount: of all the gas, mL at the pressure of the atmosphere.
        room: what it has outside of the balloon, mL.
        filled: what it has inside, mL.
        inside: its pressure there, mmHg.
    """
    return (ATMOSPHERE * amount - (ATMOSPHERE + inside) * filled) / room - ATMOSPHERE


def shifting(balloon: Balloon, drive: float, line: float, shifted: float) -> float:
    """How fast the drive shifts gas, mL/s; it slows down before its stop at either end."""
    difference = drive - line
    left = balloon.shift - shifted if difference > 0.0 else shifted
    return balloon.force * difference * min(max(left / balloon.stop, 0.0), 1.0)
