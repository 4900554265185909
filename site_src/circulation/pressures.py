"""Reads a trace as a person would: the five pressures, the notch, and what the heart did meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from .balloon import Stroke

EJECTS = 5.0
"""Flow in mL/s from which on a valve counts as open."""

BEFORE_BEAT = 0.06
"""How long before the R wave the lowest point is looked for, s. Longer, and the hollow that a balloon leaves when it
empties far too early would be taken for the pressure before the beat."""

NOTCH_REACH = (-0.06, 0.10)
"""Where around the closure of the valve its notch is looked for, s."""

HUMP_WITHIN = 0.12
"""How long after the beginning of filling the hump begins to rise at the latest, s. Chosen."""

FALL, RISE = 4.0, 0.4
"""How far the pressure falls into a notch, and rises out of it, so that it is seen, mmHg."""


@dataclass(frozen=True, slots=True)
class Point:
    """A point of a trace: s, mmHg."""

    time: float
    pressure: float


@dataclass(frozen=True, slots=True)
class Beat:
    """One heartbeat. Moments in s.

    Attributes:
        start, end: its R wave and the next.
        opens, shuts: what the aortic valve did; None where nothing was ejected.
        volume: ejected, mL.
        ventricle: the highest pressure in it, mmHg.
        opens_at: pressure in the ventricle at which the valve opens, mmHg; 0 where nothing was ejected.
        integral: of the ventricle's pressure from the R wave until it has fallen to half of its highest, mmHg s; 0 as
            above. Not to the closure of the valve: a balloon that fills early shuts it, and would cut the sum short.
        helped: whether the balloon moved in the beat before.
        stroke: when the balloon began to fill and to empty in this one; None where it did not.
    """

    start: float
    end: float
    opens: float | None
    shuts: float | None
    volume: float
    ventricle: float
    helped: bool = False
    stroke: tuple[float, float] | None = None
    opens_at: float = 0.0
    integral: float = 0.0


@dataclass(frozen=True, slots=True)
class Five:
    """The five pressures that are named on a trace; None where a trace has no such point."""

    unassisted_systole: Point | None = None
    augmented: Point | None = None
    assisted_end: Point | None = None
    assisted_systole: Point | None = None
    unassisted_end: Point | None = None


@dataclass(frozen=True, slots=True)
class Trace:
    """A pressure over time, and what heart and balloon did meanwhile.

    Attributes:
        begin, sample: the first moment, and the distance of moments, s.
        pressure: as the trace shows it, mmHg.
        filled: the balloon's volume, mL.
        beats: the heartbeats that lie wholly in it.
        lag: by how much the trace is late, s.
        ventricle: pressure in it, mmHg.
        gas: pressure of the balloon's gas at the console, mmHg; empty without a balloon.
    """

    begin: float
    sample: float
    pressure: Sequence[float]
    filled: Sequence[float]
    beats: Sequence[Beat]
    lag: float = 0.0
    ventricle: Sequence[float] = ()
    gas: Sequence[float] = ()

    @property
    def end(self) -> float:
        """The last moment, s."""
        return self.begin + self.sample * (len(self.pressure) - 1)

    def index(self, time: float) -> int:
        """The place of a moment in the lists, held within them."""
        return min(max(round((time - self.begin) / self.sample), 0), len(self.pressure) - 1)

    def highest(self, begin: float, end: float) -> Point:
        """The highest point between two moments of the heart."""
        return self.at(max(self._places(begin, end), key=self.pressure.__getitem__))

    def lowest(self, begin: float, end: float) -> Point:
        """The lowest point between two moments of the heart."""
        return self.at(min(self._places(begin, end), key=self.pressure.__getitem__))

    def at(self, index: int) -> Point:
        """The point at a place in the lists."""
        return Point(self.begin + index * self.sample, self.pressure[index])

    def _places(self, begin: float, end: float) -> range:
        first = self.index(begin + self.lag)
        return range(first, max(self.index(end + self.lag), first) + 1)


def beats_of(
    beats: Sequence[float],
    strokes: Sequence[Stroke],
    begin: float,
    sample: float,
    flow: Sequence[float],
    ventricle: Sequence[float],
) -> list[Beat]:
    """The heartbeats that lie wholly in what was kept.

    Args:
        beats: R waves, s.
        strokes: of the balloon.
        begin, sample: the first moment kept, and the distance of moments, s.
        flow: through the aortic valve, mL/s.
        ventricle: pressure in it, mmHg.
    """
    found: list[Beat] = []
    helped = False
    for start, end in pairwise(beats):
        stroke = next(((s.fill, s.empty) for s in strokes if start <= s.fill < end), None)
        first, last = round((start - begin) / sample), round((end - begin) / sample)
        if first >= 0 and last < len(flow):
            opens = next((at for at in range(first, last) if flow[at] > EJECTS), None)
            shuts = None if opens is None else next((at for at in range(opens, last) if flow[at] <= 0.0), last)
            found.append(
                Beat(
                    start=start,
                    end=end,
                    opens=None if opens is None else begin + opens * sample,
                    shuts=None if shuts is None else begin + shuts * sample,
                    volume=sum(flow[first:last]) * sample,
                    ventricle=max(ventricle[first:last]),
                    helped=helped,
                    stroke=stroke,
                    opens_at=0.0 if opens is None else ventricle[opens],
                    integral=0.0 if opens is None else sum(ventricle[first : _slack(ventricle, first, last)]) * sample,
                )
            )
        helped = stroke is not None
    return found


def _slack(ventricle: Sequence[float], first: int, last: int) -> int:
    """The place from which on the muscle counts as relaxed: behind its highest pressure, below half of that."""
    top = max(range(first, last), key=ventricle.__getitem__)
    return next((at for at in range(top, last) if ventricle[at] < ventricle[top] / 2.0), last)


def systole_of(trace: Trace, beat: Beat) -> Point | None:
    """The peak that the heart itself makes; what the balloon adds in the same beat is left out.

    None where there is no such peak: nothing was ejected, or the pressure still rises when the balloon fills.
    """
    if beat.opens is None or beat.shuts is None:
        return None
    if beat.stroke is None or beat.stroke[0] >= beat.shuts:
        return trace.highest(beat.opens, beat.shuts)
    peak = trace.highest(beat.opens, max(beat.stroke[0], beat.opens))
    after = trace.index(peak.time) + 1
    return None if trace.pressure[min(after, len(trace.pressure) - 1)] > peak.pressure else peak


def augmented_in(trace: Trace, beat: Beat) -> Point | None:
    """The highest point of the balloon's hump: what is left of systole as filling begins is none of it."""
    if beat.stroke is None:
        return None
    begin, end = beat.stroke
    turns = trace.lowest(begin, min(begin + HUMP_WITHIN, end)).time - trace.lag
    return trace.highest(turns, end)


def end_before(trace: Trace, beat: Beat) -> Point | None:
    """The lowest point before a beat's upstroke: not the pressure at which its valve opens, which may lie higher, nor
    what comes before a balloon that is still emptying as the valve opens."""
    if beat.opens is None or beat.shuts is None:
        return None
    peak = trace.highest(beat.opens, beat.shuts if beat.stroke is None else min(beat.shuts, beat.stroke[0]))
    return trace.lowest(beat.start - BEFORE_BEAT, max(peak.time - trace.lag, beat.opens + trace.sample))


def five_pressures(trace: Trace) -> Five:
    """The five pressures, on the first beats that show them, as far as the trace has them."""
    beats = trace.beats
    at = first_balloon_beat(trace)
    if at is None:
        ejecting = [beat for beat in beats if beat.opens is not None][:2]
        if not ejecting:
            return Five()
        return Five(unassisted_systole=systole_of(trace, ejecting[0]), unassisted_end=end_before(trace, ejecting[-1]))
    free = next((beat for beat in beats[at + 2 :] if not beat.helped), None)
    own = (systole_of(trace, beat) for beat in beats[at:] if not beat.helped)
    return Five(
        unassisted_systole=next((peak for peak in own if peak is not None), None),
        augmented=augmented_in(trace, beats[at]),
        assisted_end=end_before(trace, beats[at + 1]),
        assisted_systole=systole_of(trace, beats[at + 1]),
        unassisted_end=None if free is None else end_before(trace, free),
    )


def first_balloon_beat(trace: Trace) -> int | None:
    """The place of the first beat with a stroke whose next beat ejects; None without any."""
    pairs = enumerate(pairwise(trace.beats))
    return next((at for at, (beat, after) in pairs if beat.stroke and after.opens is not None), None)


def notch_in(trace: Trace, beat: Beat) -> Point | None:
    """The notch of a beat: the lowest point of a dip near the valve's closure. None where there is no dip to see."""
    if beat.shuts is None:
        return None
    values = trace.pressure
    near = range(
        trace.index(beat.shuts + trace.lag + NOTCH_REACH[0]), trace.index(beat.shuts + trace.lag + NOTCH_REACH[1])
    )
    before, after = round(0.15 / trace.sample), round(0.08 / trace.sample)
    for at in near:
        if 0 < at < len(values) - 1 and values[at - 1] > values[at] <= values[at + 1]:
            fall = max(values[max(at - before, 0) : at + 1]) - values[at]
            rise = max(values[at : at + after + 1]) - values[at]
            if fall >= FALL and rise >= RISE:
                return trace.at(at)
    return None
