"""What the pump takes as a beat, and when it fills and empties by that.

A pump knows only what has been. It fills some time after a beat that it saw; when the next one will come it foretells
from the beats before. A beat that comes sooner makes it empty at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from .balloon import Stroke
from .ecg import t_top
from .rhythm import VENTRICLE_SPIKE, Wave, intervals_before

TRIGGERS = ("ecg", "ecg-and-t", "fixed", "pacing", "pressure")
"""The R waves of the ECG; these and the T waves of a lead in which T is tall; a clock of the pump's own; the spikes of
a pacemaker; the rise of the pressure."""

FIXED_RATE = 80.0
"""Beats a minute of the pump's own clock. Chosen."""

RISE_SEEN = 0.02
"""How long after the valve has opened the rise of the pressure is plain, s. Chosen."""

FORETOLD_BY = 3
"""The middle one of so many last intervals is the one foretold: a single extra beat does not change it. Chosen."""

GAP = 0.02
"""The shortest stroke, s; a beat that leaves less than this gets none."""


def marks(trigger: str, beats: Sequence[Wave], rises: Sequence[float], until: float) -> list[float]:
    """The moments that the pump takes as beats, s.

    Args:
        trigger: one of `TRIGGERS`.
        beats: the heartbeats.
        rises: when the valve opened, s, for those beats that opened it.
        until: where the pump's own clock may end, s.

    Raises:
        ValueError: there is no such trigger.
    """
    if trigger == "ecg":
        return [beat.r for beat in beats if not beat.pressed]
    if trigger == "ecg-and-t":
        r = [beat.r for beat in beats]
        return sorted([*r, *(t_top(one, interval) for one, interval in zip(r, intervals_before(r), strict=True))])
    if trigger == "pacing":
        return [spike for beat in beats for spike in (beat.atrial, beat.spike) if spike is not None]
    if trigger == "pressure":
        return [rise + RISE_SEEN for rise in rises]
    if trigger == "fixed":
        return [number * 60.0 / FIXED_RATE for number in range(int(until * FIXED_RATE / 60.0))]
    raise ValueError(f"trigger: {trigger!r} is none of {', '.join(TRIGGERS)}")


def counts_twice(trigger: str, rhythm: str) -> bool:
    """Whether each beat is taken for two. The pump then takes the heart to be twice as fast, and waits half as long."""
    return trigger == "ecg-and-t" or (trigger == "pacing" and rhythm == "paced-both")


def lag(trigger: str, opens: float) -> float:
    """By how much a mark is later than the R wave in the rhythm by which the timing was set, s.

    Spikes are taken to be those for the ventricles: with any other the timing is wrong, and that is to be seen.

    Args:
        trigger: one of `TRIGGERS`.
        opens: from the R wave to the opening of the valve, s.
    """
    return {"pacing": -VENTRICLE_SPIKE, "pressure": opens + RISE_SEEN}.get(trigger, 0.0)


def strokes_for(
    seen: Sequence[float], every: int, fill: float, empty: float, foretells: bool = True, twice: bool = False
) -> list[Stroke]:
    """The balloon's strokes.

    Args:
        seen: the moments taken as beats, s, in order.
        every: 1 for each of them, 2 for every second one, and so on.
        fill: from such a moment to the beginning of filling, s.
        empty: from the next one, as foretold, to the beginning of emptying, s; negative where it begins before.
        foretells: whether the pump foretells the next one; else it empties when that has come.
        twice: whether each beat is counted twice: what is foretold is half of two intervals, and the waits are halved.

    Returns:
        Strokes in order; one that would run into the next is cut short.
    """
    if twice:
        fill, empty = fill / 2.0, empty / 2.0
    strokes: list[Stroke] = []
    before = list(intervals_before(seen))
    for number in range(0, len(seen) - 1, every):
        begin, end = seen[number] + fill, seen[number + 1] + max(empty, 0.0)
        if foretells:
            last = before[max(number + 1 - (2 if twice else FORETOLD_BY), 0) : number + 1]
            end = min(end, seen[number] + median(last) + empty)
        following = number + every
        if following < len(seen):
            end = min(end, seen[following] + fill - GAP)
        if end - begin >= GAP:
            strokes.append(Stroke(begin, end))
    return strokes
