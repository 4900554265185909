"""A played scene in short: what a figure and a text about it need, small enough to be kept in a file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any, NamedTuple

from .curve import thinned
from .ecg import ecg
from .pressures import Beat, Five, Point, Trace, augmented_in, first_balloon_beat, notch_in
from .scene import Play, Scene, patient_of, unassisted

CLOSE = {"trace": 0.25, "ventricle": 0.5, "gas": 0.8, "balloon": 0.2, "ecg": 0.012}
"""How far the smooth line through a strip's points (`curve.py`) may lie beside the true one, mmHg, mL or mV."""

_DIGITS = {"trace": 1, "ventricle": 1, "gas": 1, "balloon": 1, "ecg": 3}

Line = tuple[tuple[float, float], ...]

# What no strip goes beyond: s, mmHg and mL. Chosen wide; they tell a strip from what is none.
_LONGEST, _PRESSURES, _VOLUMES = 60.0, (-300.0, 600.0), (-10.0, 300.0)
_RANGES = {"trace": _PRESSURES, "ventricle": _PRESSURES, "gas": _PRESSURES, "balloon": _VOLUMES, "ecg": (-5.0, 5.0)}
_GAVE = ((-10.0, 300.0), _PRESSURES, _PRESSURES, (-1.0, 10.0), (-100.0, 600.0))
_MOMENTS = ("beats", "marks", "fills", "empties")
_SPANS = ("notch_to_rise", "hollow", "isovolumic")


class Gave(NamedTuple):
    """What one heartbeat gave, and what it cost.

    Attributes:
        volume: ejected, mL.
        highest: pressure in the ventricle, mmHg.
        opens_at: pressure in it at which the valve opened, mmHg.
        waits: from the R wave until it opened, s.
        integral: of the ventricle's pressure from the R wave until it has fallen to half of its highest, mmHg s.
    """

    volume: float
    highest: float
    opens_at: float
    waits: float
    integral: float


@dataclass(frozen=True, slots=True)
class Strip:
    """A trace and what was read from it. Moments in s from its beginning, pressures in mmHg, volumes in mL.

    Attributes:
        lasts: its length.
        trace, balloon: the pressure and the balloon's volume, as few points as draw them; so are the next three.
        ecg: in mV.
        ventricle: pressure in it.
        gas: pressure of the balloon's gas at the console; no points without a balloon.
        beats: the R waves.
        marks: the moments that the pump took as beats; none without a balloon.
        fills, empties: when the balloon is told to fill, and to empty.
        five: the five pressures.
        notch: of the first beat with a balloon beat, else of the first beat; None where none can be seen.
        notch_to_rise: from that beat's closure without a balloon to the beginning of filling; None without balloon.
        hollow: from the end of the fall that emptying makes to the opening of the valve; None without balloon.
        isovolumic: from the R wave to the opening of the valve in the helped beat; in the free one without balloon.
        helped, free: the beat behind a balloon beat, and the beat before it; None where there is none.
        peaks: the highest point of each hump, in order.
    """

    lasts: float
    trace: Line
    balloon: Line
    ecg: Line
    ventricle: Line
    gas: Line
    beats: tuple[float, ...]
    marks: tuple[float, ...]
    fills: tuple[float, ...]
    empties: tuple[float, ...]
    five: Five
    notch: Point | None
    notch_to_rise: float | None
    hollow: float | None
    isovolumic: float
    helped: Gave | None
    free: Gave | None
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
        lines = {name: tuple((time, value) for time, value in data[name]) for name in CLOSE}
        gave = {name: None if data[name] is None else Gave(*data[name]) for name in ("helped", "free")}
        lists = {name: tuple(data[name]) for name in (*_MOMENTS, "peaks")}
        return Strip(**{**data, **lines, **gave, **lists, "five": Five(**five), "notch": _point(data["notch"])})


def _refuse(data: dict[str, Any]) -> None:
    """Stop at what cannot be drawn: a moment outside of the strip, a pressure or volume that no model gives.

    Raises:
        ValueError: there is such a thing.
    """
    lasts = _within(data["lasts"], 0.0, _LONGEST)
    for name, (low, high) in _RANGES.items():
        moments = [(_within(time, 0.0, lasts), _within(value, low, high))[0] for time, value in data[name]]
        if name == "gas" and not moments:
            continue
        if len(moments) < 2 or any(late <= early for early, late in pairwise(moments)):
            raise ValueError(f"{name}: no line from left to right")
    for point in (*data["five"].values(), data["notch"]):
        if point is not None:
            _within(point["time"], 0.0, lasts)
            _within(point["pressure"], *_PRESSURES)
    for moment in (
        *(moment for name in _MOMENTS for moment in data[name]),
        *(data[name] for name in _SPANS if data[name] is not None),
    ):
        _within(moment, -lasts, lasts)
    for peak in data["peaks"]:
        _within(peak, *_PRESSURES)
    for gave in (data["helped"], data["free"]):
        for value, (low, high) in zip(gave or (), _GAVE, strict=gave is not None):
            _within(value, low, high)


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
    tall_t = play.scene.trigger == "ecg-and-t"
    return Strip(
        lasts=round(trace.end - trace.begin, 3),
        trace=drawn("trace", trace.pressure, trace.sample),
        balloon=drawn("balloon", trace.filled, trace.sample),
        ecg=drawn(
            "ecg",
            ecg(play.waves, trace.begin, trace.sample, len(trace.pressure), play.scene.rhythm, tall_t),
            trace.sample,
        ),
        ventricle=drawn("ventricle", trace.ventricle, trace.sample),
        gas=drawn("gas", trace.gas, trace.sample) if trace.gas else (),
        beats=_shown(play.loop.beats, trace),
        marks=_shown(play.marks, trace),
        fills=_shown([stroke.fill for stroke in play.loop.strokes], trace),
        empties=_shown([stroke.empty for stroke in play.loop.strokes], trace),
        five=Five(**{name: _moved(getattr(play.five, name), trace.begin) for name in Five.__slots__}),
        notch=_moved(notch_in(trace, own), trace.begin),
        notch_to_rise=_to_rise(play.scene, own),
        hollow=None if helped is None else _hollow(trace, own, helped),
        isovolumic=round((first.opens or first.end) - first.start, 3),
        helped=None if helped is None else _gave(helped),
        free=None if own.helped else _gave(own),
        peaks=tuple(round(p.pressure, 1) for beat in trace.beats if (p := augmented_in(trace, beat)) is not None),
    )


def _to_rise(scene: Scene, own: Beat) -> float | None:
    if own.stroke is None:
        return None
    usual = unassisted(patient_of(scene))
    return round(own.stroke[0] - own.start - ((usual.shuts or usual.start) - usual.start), 3)


def _moved(point: Point | None, begin: float) -> Point | None:
    return None if point is None else Point(round(point.time - begin, 3), round(point.pressure, 1))


def _shown(moments: Sequence[float], trace: Trace) -> tuple[float, ...]:
    return tuple(round(moment - trace.begin, 3) for moment in moments if trace.begin <= moment <= trace.end)


def _gave(beat: Beat) -> Gave:
    waits = (beat.opens or beat.end) - beat.start
    volume, highest, opens_at = (round(value, 1) for value in (beat.volume, beat.ventricle, beat.opens_at))
    return Gave(volume, highest, opens_at, round(waits, 3), round(beat.integral, 1))


def _hollow(trace: Trace, own: Beat, helped: Beat) -> float:
    """How long the pressure has stopped falling by the emptying when the valve opens, s; 0 where it still falls."""
    if own.stroke is None or helped.opens is None:
        return 0.0
    values, last = trace.pressure, trace.index(helped.opens + trace.lag)
    falls = range(trace.index(own.stroke[1] + 0.02 + trace.lag), last)
    bottom = next((at for at in falls if values[at + 1] > values[at]), last)
    return round(max(last - bottom, 0) * trace.sample, 3)


def drawn(name: str, values: Sequence[float], sample: float) -> Line:
    """As few points as draw the same smooth line.

    Args:
        name: which line it is, one of `CLOSE`.
        values: evenly spaced, two or more.
        sample: their distance, s.
    """
    points = [(at * sample, value) for at, value in enumerate(values)]
    return tuple((round(time, 3), round(value, _DIGITS[name])) for time, value in thinned(points, CLOSE[name]))
