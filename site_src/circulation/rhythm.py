"""When the heart beats and when the balloon is told to move."""

from __future__ import annotations

from collections.abc import Sequence

from .balloon import Stroke

UNEVEN = (0.68, 0.60, 0.88, 0.57, 0.74, 0.63, 0.62, 0.84, 0.52, 0.71, 0.58, 0.93, 0.50, 0.66, 0.79, 0.55)
"""Intervals between beats in s as in atrial fibrillation; made up, with a mean of about 0.67."""


def even_beats(interval: float, until: float) -> list[float]:
    """R waves in s from 0 on, at one interval, and two more after the end."""
    return [interval * number for number in range(int(until / interval) + 3)]


def uneven_beats(until: float) -> list[float]:
    """R waves in s from 0 on, at intervals that vary and repeat only after a while, and two more after the end."""
    beats, number = [0.0], 0
    while len(beats) < 3 or beats[-3] <= until:
        beats.append(beats[-1] + UNEVEN[number % len(UNEVEN)])
        number += 1
    return beats


def strokes_for(beats: Sequence[float], every: int, fill: float, empty: float, gap: float = 0.02) -> list[Stroke]:
    """The balloon's strokes.

    Args:
        beats: the R waves in s.
        every: 1 for each beat, 2 for every second one, and so on.
        fill: from the R wave to the beginning of filling, s.
        empty: from the next R wave to the beginning of emptying, s; negative where it begins before.
        gap: the shortest stroke, s; a beat that leaves less than this gets none.

    Returns:
        Strokes in order; one that would run into the next is cut short.
    """
    strokes: list[Stroke] = []
    for number in range(0, len(beats) - 1, every):
        begin, end = beats[number] + fill, beats[number + 1] + empty
        following = number + every
        if following < len(beats):
            end = min(end, beats[following] + fill - gap)
        if end - begin >= gap:
            strokes.append(Stroke(begin, end))
    return strokes
