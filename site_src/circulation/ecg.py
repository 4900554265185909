"""An ECG as a sum of waves, each a bell curve at its place in the beat (form McSharry 2003, from memory).

It is drawn, not reckoned: of the heart's electricity the model knows nothing. Places and widths are those of textbooks,
heights are chosen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import exp, pi, sin

from .rhythm import Wave, intervals_before

QRS_BEGINS = 0.04
"""From the beginning of a narrow QRS to the R wave, s; the whole takes 0.09 (textbook: less than 0.12)."""

Bell = tuple[float, float, float]
"""Middle in s, width (one standard deviation) in s, height in mV."""

_NARROW: tuple[Bell, ...] = ((-0.027, 0.009, -0.1), (0.0, 0.011, 1.1), (0.028, 0.010, -0.22))
_WIDE: tuple[Bell, ...] = ((0.0, 0.033, 1.0), (0.075, 0.030, -0.3))
_PRESSED: Bell = (0.12, 0.07, 0.6)
"""What compressing the chest leaves on an ECG: a broad wave. Chosen."""

TALL_T = (0.45, 0.75)
"""Heights of R and T in a lead in which T is the taller, as a share of R's and in mV. Chosen."""

FLUTTERS: Mapping[str, tuple[Bell, ...]] = {
    "fibrillation": ((6.1, 0.0, 0.06), (7.9, 1.0, 0.04)),
    "compressions": ((4.7, 0.0, 0.14), (6.3, 1.0, 0.10)),
}
"""Small uneven waves of atria that fibrillate, and larger ones of ventricles that do: how often in a second, where they
begin, height in mV. Chosen."""

_FAR = 6.0
"""Beyond so many widths a bell is nothing."""


def qt(interval: float) -> float:
    """From the beginning of QRS to the end of T in s, after an interval in s (Fridericia 1920, with 0.40 s at 60 a
    minute: textbook).

    >>> round(qt(1.0), 2), round(qt(60 / 90), 2)
    (0.4, 0.35)
    """
    return float(0.40 * min(max(interval, 0.4), 1.5) ** (1.0 / 3.0))


def t_top(r: float, interval: float) -> float:
    """The top of the T wave of a narrow beat, after an interval in s."""
    return r - QRS_BEGINS + qt(interval) - 0.085


def bells(beats: Sequence[Wave], tall_t: bool = False) -> Iterator[Bell]:
    """All waves of some beats."""
    share, tall = TALL_T if tall_t else (1.0, 0.28)
    for beat, interval in zip(beats, intervals_before([beat.r for beat in beats]), strict=True):
        if beat.pressed:
            yield beat.r + _PRESSED[0], *_PRESSED[1:]
            continue
        if beat.p is not None:
            yield beat.p, 0.022, 0.13
        for spike in (beat.atrial, beat.spike):
            if spike is not None:
                yield spike, 0.0015, 0.7
        for middle, width, height in _WIDE if beat.wide else _NARROW:
            yield beat.r + middle, width, height * share
        if beat.wide:
            yield beat.r - QRS_BEGINS + qt(interval) - 0.05, 0.055, -0.3
        else:
            yield t_top(beat.r, interval), 0.042, tall


def ecg(
    beats: Sequence[Wave], begin: float, sample: float, count: int, rhythm: str = "even", tall_t: bool = False
) -> list[float]:
    """The ECG in mV at evenly spaced moments.

    Args:
        beats: the heartbeats, in order.
        begin, sample: the first moment, and the distance of moments, s.
        count: how many.
        rhythm: one of `RHYTHMS`; in some there are uneven waves all the time.
        tall_t: whether the lead shows small R waves and tall T waves.
    """
    line = [0.0] * count
    for often, starts, height in FLUTTERS.get(rhythm, ()):
        line = [
            value + height * sin(2.0 * pi * often * (begin + at * sample) + starts) for at, value in enumerate(line)
        ]
    for middle, width, height in bells(beats, tall_t):
        first, last = ((middle + side * _FAR * width - begin) / sample for side in (-1.0, 1.0))
        for at in range(max(int(first), 0), min(int(last) + 1, count)):
            line[at] += height * exp(-(((begin + at * sample - middle) / width) ** 2) / 2.0)
    return line
