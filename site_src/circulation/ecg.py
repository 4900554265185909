"""An ECG as a sum of waves, each a bell curve at its place in the beat (form McSharry 2003, from memory).

It is drawn, not reckoned: of the heart's electricity the model knows nothing. Places and widths are those of textbooks,
heights are chosen.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import exp, pi, sin

from .rhythm import Wave, intervals_before

QRS_BEGINS = 0.04
"""From the beginning of a narrow QRS to the R wave, s; the whole takes 0.09 (textbook: less than 0.12)."""

Bell = tuple[float, float, float]
"""Middle in s, width (one standard deviation) in s, height in mV."""

_NARROW: tuple[Bell, ...] = ((-0.027, 0.009, -0.1), (0.0, 0.011, 1.1), (0.028, 0.010, -0.22))
_WIDE: tuple[Bell, ...] = ((0.0, 0.033, 1.0), (0.075, 0.030, -0.3))
_FAR = 6.0
"""Beyond so many widths a bell is nothing."""


def qt(interval: float) -> float:
    """From the beginning of QRS to the end of T in s, after an interval in s (Fridericia 1920, with 0.40 s at 60 a
    minute: textbook).

    >>> round(qt(1.0), 2), round(qt(60 / 90), 2)
    (0.4, 0.35)
    """
    return float(0.40 * min(max(interval, 0.4), 1.5) ** (1.0 / 3.0))


def bells(beats: Sequence[Wave]) -> Iterator[Bell]:
    """All waves of some beats."""
    for beat, interval in zip(beats, intervals_before([beat.r for beat in beats]), strict=True):
        if beat.p is not None:
            yield beat.p, 0.022, 0.13
        if beat.spike is not None:
            yield beat.spike, 0.0015, 0.7
        for middle, width, height in _WIDE if beat.wide else _NARROW:
            yield beat.r + middle, width, height
        end = beat.r - QRS_BEGINS + qt(interval)
        if beat.wide:
            yield end - 0.05, 0.055, -0.3
        else:
            yield end - 0.085, 0.042, 0.28


def ecg(beats: Sequence[Wave], begin: float, sample: float, count: int, flutters: bool = False) -> list[float]:
    """The ECG in mV at evenly spaced moments.

    Args:
        beats: the heartbeats, in order.
        begin, sample: the first moment, and the distance of moments, s.
        count: how many.
        flutters: whether the atria fibrillate: small uneven waves in place of P.
    """
    line = [0.0] * count
    if flutters:
        times = (begin + at * sample for at in range(count))
        line = [0.06 * sin(2.0 * pi * 6.1 * time) + 0.04 * sin(2.0 * pi * 7.9 * time + 1.0) for time in times]
    for middle, width, height in bells(beats):
        first, last = ((middle + side * _FAR * width - begin) / sample for side in (-1.0, 1.0))
        for at in range(max(int(first), 0), min(int(last) + 1, count)):
            line[at] += height * exp(-(((begin + at * sample - middle) / width) ** 2) / 2.0)
    return line
