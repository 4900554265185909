"""What lies between the aorta and the trace: the way of the wave, and a line of fluid with its transducer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, pi


@dataclass(frozen=True, slots=True)
class Line:
    """Where and through what a pressure is read.

    Attributes:
        travel: how long the wave takes along an artery, s; 0 where it is read in the aorta.
        returned: the share of it that comes back from the artery's end.
        late: what else delays it, s.
        frequency: natural frequency of the line, Hz; 0 for one that shows all as it is.
        damping: 1 is critical; a good line has about 0.6, a clotted or bubbly one more than 1.
    """

    travel: float = 0.0
    returned: float = 0.0
    late: float = 0.0
    frequency: float = 0.0
    damping: float = 0.0

    @property
    def delay(self) -> float:
        """By how much a slow change comes later, s."""
        return self.travel + self.late + (delay(self.frequency, self.damping) if self.frequency else 0.0)


LINES = {
    "tip": Line(),
    "lumen": Line(late=0.058, frequency=10.0, damping=0.5),
    "wrist": Line(travel=0.08, returned=0.15, late=0.079, frequency=10.0, damping=0.5),
}
"""By where it is read: at the tip of the catheter; through its fluid; at the wrist. In sum the delays are the means
that were measured (Pantalos 2011: 74 and 175 ms); how they come about is chosen."""


def seen_by(
    line: Line, pressures: Sequence[float], sample: float, flush: tuple[float, float] | None = None
) -> list[float]:
    """The trace that a line shows of the pressure in the aorta; as many values.

    Args:
        line: where it is read.
        pressures: in the aorta in mmHg, `sample` s apart. As much as the delay is spent before the first is right.
        sample: distance of the values, s.
        flush: when the fast flush opens and shuts, s from the first value; None for never.
    """
    seen = at_end(pressures, round(line.travel / sample), line.returned) if line.travel else list(pressures)
    seen = [*[seen[0]] * round(line.late / sample), *seen][: len(pressures)]
    if flush:
        seen = flushed(seen, sample, *flush)
    return seen_through(seen, sample, line.frequency, line.damping) if line.frequency else seen


def at_end(pressures: Sequence[float], steps: int, returned: float) -> list[float]:
    """The pressure at the end of a tube without friction, at which a share of the wave turns back.

    What arrives meets what turned back there, went home and returned, two ways before.

    Args:
        pressures: at its beginning, evenly spaced.
        steps: how long the wave takes one way, in samples.
        returned: the share that turns back.
    """
    end: list[float] = []
    for at in range(len(pressures)):
        arrives = pressures[max(at - steps, 0)]
        again = end[at - 2 * steps] if at >= 2 * steps else pressures[0]
        end.append((1.0 + returned) * arrives - returned * again)
    return end


def seen_through(pressures: Sequence[float], sample: float, frequency: float, damping: float) -> list[float]:
    """The trace that a line of second order shows: a spring and a mass with friction, as in textbooks of measurement.

    Args:
        pressures: true values in mmHg, `sample` s apart.
        sample: distance of the values, s.
        frequency: natural frequency of the line, Hz.
        damping: as in `Line`.

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
    """By how much a line of second order makes a slow change later, s.

    >>> round(delay(8.0, 1.5), 3)
    0.06
    """
    return 2.0 * damping / (2.0 * pi * frequency)


FLUSH = 300.0
"""Pressure of the bag behind a fast flush, mmHg. Common practice."""

_OPENS, _SHUTS = 0.08, 0.004
"""How long the flush takes to open, and to snap shut, s. Chosen: it is the shutting that is looked at."""


def flushed(pressures: Sequence[float], sample: float, opens: float, shuts: float) -> list[float]:
    """What reaches the line while the fast flush is open for a moment.

    Args:
        pressures: without a flush, mmHg, `sample` s apart.
        sample: distance of the values, s.
        opens, shuts: when, in s from the first value.
    """
    given = []
    for at, pressure in enumerate(pressures):
        time = at * sample
        share = 1.0 - exp(-(time - opens) / _OPENS) if time > opens else 0.0
        if time > shuts:
            share *= max(1.0 - (time - shuts) / _SHUTS, 0.0)
        given.append(pressure + (FLUSH - pressure) * share)
    return given
