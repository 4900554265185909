"""What a pressure line makes of the pressure: a spring and a mass with friction, as in textbooks of measurement."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi


def seen_through(pressures: Sequence[float], sample: float, frequency: float, damping: float) -> list[float]:
    """The trace that a line of second order shows.

    Args:
        pressures: true values in mmHg, `sample` s apart.
        sample: distance of the values, s.
        frequency: natural frequency of the line, Hz.
        damping: 1 is critical; a good line has about 0.6, a clotted or bubbly one more than 1.

    Returns:
        As many values; the first tells of a line that was at rest at the first true value.
    """
    from scipy.signal import cont2discrete, lfilter, lfilter_zi

    speed = 2.0 * pi * frequency
    system = ([speed**2], [1.0, 2.0 * damping * speed, speed**2])
    ahead, back, _ = cont2discrete(system, sample, method="bilinear")
    ahead = ahead.ravel()
    seen, _ = lfilter(ahead, back, pressures, zi=lfilter_zi(ahead, back) * pressures[0])
    return [float(value) for value in seen]


def delay(frequency: float, damping: float) -> float:
    """By how much a slow change comes later, s.

    >>> round(delay(8.0, 1.5), 3)
    0.06
    """
    return 2.0 * damping / (2.0 * pi * frequency)
