"""A trace as a drawing: the ECG with what the pump takes as a beat, the pressure, the balloon's fill, the gas, and one
axis of time under all. Ink on paper, in the page's own colours; words are text, and keep to their places in any font.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

from circulation.curve import thinned
from circulation.pressures import Point
from circulation.strip import Line, Strip

from ..markup import esc
from .curve import path

WIDTH, LEFT, RIGHT = 480, 46, 474
FIVE = ("unassisted_systole", "augmented", "assisted_end", "assisted_systole", "unassisted_end")
"""The five pressures in the order in which they follow each other in 1:2; a figure numbers them so."""

_BELOW = ("assisted_end", "unassisted_end")
_LONGEST = 3.7
_SECOND = (RIGHT - LEFT) / _LONGEST
_ECG, _MILLIVOLT, _MARKS = 56.0, 26.0, 64.0
_TOP, _ONE, _ROOM = 106.0, 1.6, 120
"""Where the highest pressure of most traces lies, how high one mmHg is, and how many of them there is room for."""
_HIGH = (120, 140, 160)
_FLUSHED = (-40, 200)
"""A fast flush goes far beyond all pressures of a patient: there a line is cut off at the edges of the picture."""
_WORDS, _FILL, _FULL = 22.0, 32.0, 40.0
_GAS_LOW, _GAS_HIGH, _GAS_ONE = -110, 210, 0.3
_AWAY, _RINGS_APART = 18, 21.0
_NEAR = {"trace": 0.4, "ventricle": 1.5, "ecg": 0.03, "gas": 2.0, "balloon": 0.5}
"""How far a drawn line may lie beside the one of its strip, mmHg, mV and mL: less than a pixel."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What a drawing shows of a strip, beside the pressure.

    Attributes:
        beats: how fast and how even the heart beats, and which beats the balloon follows.
        trigger: what the pump is timed by; nothing without a balloon.
        ventricle, gas: whether their lines are drawn.
        five, notch: whether the five pressures are numbered, and the notch is named.
    """

    beats: str
    trigger: str = ""
    ventricle: bool = False
    gas: bool = False
    five: bool = True
    notch: bool = True


def drawing(strip: Strip, beside: Strip | None, name: str, shown: Shown) -> str:
    """A trace as SVG, over the one it is compared with.

    Args:
        strip: what to draw.
        beside: its pressure, and its gas where that is drawn, thin and dashed; None for nothing.
        name: says what it is to those who cannot see it; HTML.
        shown: what else is drawn.
    """
    scale = _Scale.of(strip, shown)
    parts = [
        *_head(strip, shown),
        *_grid(scale),
        f'<path class="trace__ventricle" d="{_path(strip.ventricle, "ventricle", scale)}"></path>'
        if shown.ventricle
        else "",
        _beside(beside.trace, "trace", scale) if beside else "",
        f'<path class="trace__line" d="{_path(strip.trace, "trace", scale)}"></path>',
        *_points(strip, shown, scale),
        *_fill(strip, scale),
        *(_gas(strip, beside, scale) if shown.gas else ()),
        *_seconds(strip, scale),
    ]
    box = f'viewBox="0 0 {WIDTH} {scale.end:.0f}" width="{WIDTH}" height="{scale.end:.0f}"'
    return f'<svg {box} role="img" aria-label="{name}">{"".join(parts)}</svg>'


def is_cut(strip: Strip) -> bool:
    """Whether a trace leaves the picture, as one that is flushed does."""
    return max(value for _, value in strip.trace) > _HIGH[-1]


@dataclass(frozen=True, slots=True)
class _Scale:
    """Where things stand: lowest and highest pressure, how high one mmHg is, and the lower rows from above."""

    lowest: int
    highest: int
    one: float
    gas: bool

    @staticmethod
    def of(strip: Strip, shown: Shown) -> _Scale:
        """As in all pictures; a line that goes further up gets more room, one that is flushed less for each mmHg."""
        peak = max(value for _, value in strip.trace)
        if is_cut(strip):
            low, high = _FLUSHED
            return _Scale(low, high, _ONE / 2.0, shown.gas)
        return _Scale(0, next(most for most in _HIGH if peak <= most), _ONE, shown.gas)

    @property
    def bottom(self) -> float:
        """The line of the lowest pressure."""
        return _TOP + (self.highest - self.lowest) * self.one

    @property
    def empty(self) -> float:
        """The line on which the balloon is empty."""
        return self.bottom + _WORDS + _FILL

    @property
    def axis(self) -> float:
        """The axis of time."""
        return (self.up("gas", _GAS_LOW) if self.gas else self.empty) + 5.0

    @property
    def end(self) -> float:
        """The lower edge."""
        return self.axis + 27.0

    def up(self, row: str, value: float) -> float:
        """How far down a value of a row stands."""
        if row == "balloon":
            return self.empty - value * _FILL / _FULL
        if row == "gas":
            return self.empty + _WORDS + (_GAS_HIGH - value) * _GAS_ONE
        return self.bottom - (min(max(value, self.lowest), self.highest) - self.lowest) * self.one


def _x(time: float) -> float:
    return LEFT + time * _SECOND


def _path(line: Line, row: str, scale: _Scale) -> str:
    return path(_fewer(line, _NEAR[row]), _x, lambda value: scale.up(row, value))


@lru_cache(maxsize=512)
def _fewer(line: Line, close: float) -> Line:
    """The points without which a drawing would look another; a line stands on several pages, and is looked at once."""
    return tuple(thinned(line, close))


def _beside(line: Line, row: str, scale: _Scale) -> str:
    return f'<path class="trace__beside" d="{_path(line, row, scale)}"></path>'


def _head(strip: Strip, shown: Shown) -> Iterable[str]:
    """What is said of beats and pump, the ECG, and below it the moments that the pump takes as beats."""
    yield f'<text x="{LEFT}" y="12" dy=".36em">{esc(shown.beats)}</text>'
    if shown.trigger:
        yield f'<text x="{RIGHT}" y="12" dy=".36em" text-anchor="end">{esc(shown.trigger)}</text>'
    yield f'<text x="1" y="{_ECG - 8:.0f}" dy=".36em">ECG</text>'
    drawn = path(_fewer(strip.ecg, _NEAR["ecg"]), _x, lambda value: _ECG - value * _MILLIVOLT)
    yield f'<path class="trace__ecg" d="{drawn}"></path>'
    marks = "".join(f"M{_x(time):.1f} {_MARKS:.0f}l-4 8h8z" for time in strip.marks)
    if marks:
        yield f'<path class="trace__mark" d="{marks}"></path>'


def _grid(scale: _Scale) -> Iterable[str]:
    step = 20 if scale.lowest == 0 else 40
    heights = range(scale.lowest, scale.highest + 1, step)
    lines = "".join(f"M{LEFT} {scale.up('trace', at):.1f}H{RIGHT}" for at in heights)
    yield f'<path class="trace__grid" d="{lines}"></path>'
    for at in heights:
        if at % (2 * step) == 0:
            yield _number(at, scale.up("trace", at))
    yield '<text x="1" y="86" dy=".36em">mmHg</text>'


def _number(value: int, y: float) -> str:
    return f'<text x="{LEFT - 5}" y="{y:.0f}" dy=".36em" text-anchor="end">{value}</text>'


def _points(strip: Strip, shown: Shown, scale: _Scale) -> Iterable[str]:
    apart = _apart(strip, scale)
    for number, name in enumerate(FIVE, start=1):
        point: Point | None = getattr(strip.five, name)
        if point and shown.five:
            away = _AWAY if name in _BELOW else -_AWAY
            yield _point(point, scale, str(number), away, "five", {1: -apart, 2: apart}.get(number, 0.0))
    if strip.notch and shown.notch:
        yield _point(strip.notch, scale, "N", _AWAY, "notch")


def _apart(strip: Strip, scale: _Scale) -> float:
    """By how much the rings of 1 and 2 each give way, where a low peak follows a systole closely."""
    first, second = strip.five.unassisted_systole, strip.five.augmented
    if first is None or second is None:
        return 0.0
    across = _x(second.time) - _x(first.time)
    up = scale.up("trace", first.pressure) - scale.up("trace", second.pressure)
    needed = sqrt(max(_RINGS_APART**2 - up**2, 0.0))
    return max(needed - across, 0.0) / 2.0


def _point(point: Point, scale: _Scale, sign: str, away: int, kind: str, aside: float = 0.0) -> str:
    x, y = _x(point.time), scale.up("trace", point.pressure)
    dot = f'<circle class="trace__dot" cx="{x:.0f}" cy="{y:.0f}" r="2.5"></circle>'
    at = f'x="{x + aside:.0f}" y="{y + away:.0f}"'
    ring = f'<circle class="trace__ring" c{at.replace(" y", " cy")} r="9"></circle>' if kind == "five" else ""
    return f'<g class="trace__{kind}">{dot}{ring}<text {at} dy=".36em">{sign}</text></g>'


def _fill(strip: Strip, scale: _Scale) -> Iterable[str]:
    """How full the balloon is. Where there is none its room stays, so that pictures side by side stay level."""
    words = "How full the balloon is" if strip.fills else "No balloon"
    yield f'<text x="{LEFT}" y="{scale.bottom + _WORDS / 2 + 1:.0f}" dy=".36em">{words}</text>'
    if not strip.fills:
        return
    drawn = _path(strip.balloon, "balloon", scale)
    yield f'<path class="trace__balloon" d="{drawn}V{scale.empty:.1f}H{LEFT}z"></path>'


def _gas(strip: Strip, beside: Strip | None, scale: _Scale) -> Iterable[str]:
    yield f'<text x="{LEFT}" y="{scale.empty + _WORDS / 2 + 1:.0f}" dy=".36em">Gas at the console, mmHg</text>'
    heights = [(at, scale.up("gas", at)) for at in (-100, 0, 100, 200)]
    yield f'<path class="trace__grid" d="{"".join(f"M{LEFT} {y:.1f}H{RIGHT}" for _, y in heights)}"></path>'
    yield from (_number(at, y) for at, y in heights)
    yield _beside(beside.gas, "gas", scale) if beside else ""
    yield f'<path class="trace__gas" d="{_path(strip.gas, "gas", scale)}"></path>'


def _seconds(strip: Strip, scale: _Scale) -> Iterable[str]:
    """The axis of time: a stroke each half second, a number each whole one."""
    halves = range(int(strip.lasts * 2.0) + 1)
    strokes = "".join(f"M{_x(half / 2.0):.1f} {scale.axis:.1f}v{6 if half % 2 == 0 else 3}" for half in halves)
    yield f'<path class="trace__axis" d="M{LEFT} {scale.axis:.1f}H{RIGHT}{strokes}"></path>'
    for half in halves:
        if half % 2 == 0:
            words = f"{half // 2} s" if half else "0"
            at = f'x="{_x(half / 2.0):.0f}" y="{scale.axis + 16:.0f}"'
            yield f'<text {at} dy=".36em" text-anchor="middle">{words}</text>'
