"""A played scene in short: what a figure and a text about it need, small enough to be kept in a file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from .pressures import Beat, Five, Point, Trace, augmented_in, first_balloon_beat, notch_in
from .scene import FILL_AT, Play

CLOSE = 0.25
"""How far a drawn line may lie beside the true one, mmHg or mL."""

Line = tuple[tuple[float, float], ...]

# What no strip goes beyond: s, mmHg and mL. Chosen wide; they tell a strip from what is none.
_LONGEST, _PRESSURES, _VOLUMES = 60.0, (-100.0, 400.0), (-10.0, 300.0)
_SPANS = ("notch_to_rise", "hollow", "isovolumic")


@dataclass(frozen=True, slots=True)
class Strip:
    """A trace and what was read from it. Moments in s from its beginning, pressures in mmHg, volumes in mL.

    Attributes:
        lasts: its length.
        trace, balloon: the pressure and the balloon's volume, as few points as draw them.
        beats: the R waves.
        five: the five pressures.
        notch: of the first beat with a balloon beat, else of the first beat; None where none can be seen.
        notch_to_rise: from that beat's closure without a balloon to the beginning of filling; None without balloon.
        hollow: from the end of the fall that emptying makes to the opening of the valve; None without balloon.
        isovolumic: from the R wave to the opening of the valve in the helped beat; in the free one without balloon.
        helped, free: volume ejected, and the highest pressure in the ventricle, in the beat behind a balloon beat and
            in the beat before it; None where there is none.
        peaks: the highest point of each hump, in order.
    """

    lasts: float
    trace: Line
    balloon: Line
    beats: tuple[float, ...]
    five: Five
    notch: Point | None
    notch_to_rise: float | None
    hollow: float | None
    isovolumic: float
    helped: tuple[float, float] | None
    free: tuple[float, float] | None
    peaks: tuple[float, ...]

    def as_data(self) -> dict[str, Any]:
        """As mappings and lists that a file can hold."""
        return asdict(self)

    @staticmethod
    def from_data(data: dict[str, Any]) -> Strip:
        """Back from a file.

        Raises:
            KeyError, TypeError, ValueError, AttributeError: that was no strip, or none that this model can draw.
        """
        _refuse(data)
        five = {name: _point(value) for name, value in data["five"].items()}
        lines = {name: tuple((time, value) for time, value in data[name]) for name in ("trace", "balloon")}
        pairs = {name: None if data[name] is None else tuple(data[name]) for name in ("helped", "free")}
        lists = {name: tuple(data[name]) for name in ("beats", "peaks")}
        return Strip(**{**data, **lines, **pairs, **lists, "five": Five(**five), "notch": _point(data["notch"])})


def _refuse(data: dict[str, Any]) -> None:
    """Stop at what cannot be drawn: a moment outside of the strip, a pressure or volume that no model gives.

    Raises:
        ValueError: there is such a thing.
    """
    lasts = _within(data["lasts"], 0.0, _LONGEST)
    for name, low, high in (("trace", *_PRESSURES), ("balloon", *_VOLUMES)):
        moments = [(_within(time, 0.0, lasts), _within(value, low, high))[0] for time, value in data[name]]
        if len(moments) < 2 or moments != sorted(moments):
            raise ValueError(f"{name}: no line from left to right")
    for point in (*data["five"].values(), data["notch"]):
        if point is not None:
            _within(point["time"], 0.0, lasts)
            _within(point["pressure"], *_PRESSURES)
    for moment in (*data["beats"], *(data[name] for name in _SPANS if data[name] is not None)):
        _within(moment, -lasts, lasts)
    for peak in data["peaks"]:
        _within(peak, *_PRESSURES)
    for pair in (data["helped"], data["free"]):
        if pair is not None:
            volume, pressure = pair
            _within(volume, *_VOLUMES)
            _within(pressure, *_PRESSURES)


def _within(value: Any, low: float, high: float) -> float:
    if not isinstance(value, (int, float)) or isinstance(value, bool) or not low <= value <= high:
        raise ValueError(f"{value!r} is no number from {low:g} to {high:g}")
    return float(value)


def _point(value: dict[str, float] | None) -> Point | None:
    return None if value is None else Point(**value)


def strip_of(play: Play) -> Strip:
    """The strip of a played scene, read on the same beats as its five pressures."""
    trace = play.trace
    at = first_balloon_beat(trace)
    own = trace.beats[at or 0]
    helped = None if at is None else trace.beats[at + 1]
    first = own if helped is None else helped
    return Strip(
        lasts=round(trace.end - trace.begin, 3),
        trace=drawn(trace.pressure, trace.sample),
        balloon=drawn(trace.filled, trace.sample),
        beats=tuple(round(beat - trace.begin, 3) for beat in play.loop.beats if trace.begin <= beat <= trace.end),
        five=Five(**{name: _moved(getattr(play.five, name), trace.begin) for name in Five.__slots__}),
        notch=_moved(notch_in(trace, own), trace.begin),
        notch_to_rise=None if at is None else round(FILL_AT + play.scene.fill, 3),
        hollow=None if helped is None else _hollow(trace, own, helped),
        isovolumic=round((first.opens or first.end) - first.start, 3),
        helped=None if helped is None else _gave(helped),
        free=None if own.helped else _gave(own),
        peaks=tuple(round(p.pressure, 1) for beat in trace.beats if (p := augmented_in(trace, beat)) is not None),
    )


def _moved(point: Point | None, begin: float) -> Point | None:
    return None if point is None else Point(round(point.time - begin, 3), round(point.pressure, 1))


def _gave(beat: Beat) -> tuple[float, float]:
    return round(beat.volume, 1), round(beat.ventricle, 1)


def _hollow(trace: Trace, own: Beat, helped: Beat) -> float:
    """How long the pressure has stopped falling by the emptying when the valve opens, s; 0 where it still falls."""
    if own.stroke is None or helped.opens is None:
        return 0.0
    values, last = trace.pressure, trace.index(helped.opens + trace.lag)
    falls = range(trace.index(own.stroke[1] + 0.02 + trace.lag), last)
    bottom = next((at for at in falls if values[at + 1] > values[at]), last)
    return round(max(last - bottom, 0) * trace.sample, 3)


def drawn(values: Sequence[float], sample: float, close: float = CLOSE) -> Line:
    """As few points as draw the same line: of a stretch, the point farthest from its chord is kept (Ramer 1972).

    >>> drawn([0.0, 1.0, 2.0, 3.0, 2.0], 0.1)
    ((0.0, 0.0), (0.3, 3.0), (0.4, 2.0))
    """
    kept, stretches = {0, len(values) - 1}, [(0, len(values) - 1)]
    while stretches:
        first, last = stretches.pop()
        slope = (values[last] - values[first]) / max(last - first, 1)
        off = [abs(values[at] - values[first] - slope * (at - first)) for at in range(first, last + 1)]
        farthest = max(range(len(off)), key=off.__getitem__)
        if off[farthest] > close:
            kept.add(first + farthest)
            stretches += [(first, first + farthest), (first + farthest, last)]
    return tuple((round(at * sample, 3), round(values[at], 1)) for at in sorted(kept))
