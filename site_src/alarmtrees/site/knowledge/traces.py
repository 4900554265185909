"""Pressure traces as figures of a textbook: the line, its five pressures, what is seen, and the same in a table.

The model that draws them knows nothing of the library. It is asked only where a page shows a trace that neither came
with the program nor was played before; what it answers is kept in the library's `.cache/`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import asdict, replace
from functools import lru_cache
from pathlib import Path

from circulation.pressures import Five, Point
from circulation.scene import Scene, play
from circulation.shipped import code_hash, shipped
from circulation.strip import Line, Strip, strip_of

from ...model import Library, Map, Tree, Waveform, WaveformSeries
from ...reading.keep import Store
from ..markup import UNSEARCHED, View, block, esc, items

CACHE = ".cache/traces"
"""Where played traces are kept, below the library's folder; git ignores it."""

NAMES = {
    "unassisted_systole": "Unassisted systolic pressure",
    "augmented": "Augmented peak",
    "assisted_end": "Assisted end-diastolic pressure",
    "assisted_systole": "Assisted systolic pressure",
    "unassisted_end": "Unassisted end-diastolic pressure",
}
"""The five pressures in the order in which they follow each other in 1:2; a figure numbers them so."""

MODEL = "From a model, not a patient: no figure here is a target."

_KEY = (
    "Line: pressure in the aorta. Shape at the bottom: how full the balloon is. Strokes: the R waves. "
    "1 to 5: the five pressures; N: the notch."
)
_STILL = "Not moved"
_WIDTH, _HEIGHT = 480, 288
_LEFT, _RIGHT = 38, 474
_TOP, _BOTTOM, _HIGHEST = 30, 224, 120
_BALLOON, _FULL, _LARGEST = 274, 32, 40.0
_AWAY = 18
_LOW = ("assisted_end", "unassisted_end")


def trace_figure(library: Library, waveform: Waveform, level: int = 3) -> str:
    """One trace with all that is said of it, as HTML without a blank line.

    Args:
        library: holds the trace it stands beside, and the folder in which it is kept.
        waveform: what to show.
        level: of its heading.
    """
    view = View(library, "")
    drawn, key, table = trace_parts(library, waveform)
    said = [
        f"<h{level}>{view.say(waveform.title)}</h{level}>",
        f"<p>{view.say(waveform.say)}</p>",
        drawn,
        f'<p class="trace__key" {UNSEARCHED}>{key}</p>',
        items("ul", (view.say(words) for words, _ in waveform.seen), "trace__seen"),
        f"<p>{view.say(waveform.why)}</p>" if waveform.why else "",
        table,
    ]
    return block("figure", said, class_="trace", id=f"trace-{esc(waveform.id)}")


def trace_parts(library: Library, waveform: Waveform) -> tuple[str, str, str]:
    """The drawing of a trace, what its signs mean, and its five pressures in a table, as HTML."""
    view = View(library, "")
    strip = _strip(library, scene_of(waveform.raw))
    beside = library.waveforms.get(waveform.beside or "")
    other = _strip(library, scene_of(beside.raw)) if beside else None
    drawn = drawing(strip, other, f"{view.say(waveform.title)}: pressure over {strip.lasts:.1f} seconds, told below")
    return drawn, _key(view, beside), _table(view, strip.five, other.five if other else None, beside)


def unnamed_trace(library: Library, waveform: Waveform) -> str:
    """A trace alone, for those who have to say themselves what it shows; without its title, as HTML."""
    drawn = drawing(_strip(library, scene_of(waveform.raw)), None, "Pressure trace of this case")
    return f'{drawn}<p class="trace__key">{_KEY} {MODEL}</p>'


def series_parts(library: Library, series: WaveformSeries) -> Iterable[tuple[str, str, str]]:
    """Each step of a row: how far it is moved, its drawing, and what is seen, as HTML."""
    view = View(library, "")
    usual = scene_of(library.waveforms[series.of].raw)
    still = _strip(library, usual)
    for step in series.steps:
        strip = _strip(library, moved(usual, series.moves, step.by))
        by = esc(_shown(step.by))
        drawn = drawing(strip, None if strip is still else still, f"{view.say(series.title)}: {by}, told below")
        yield by.capitalize(), drawn, f"{view.say(step.say)} {_sentence(strip.five)}"


def series_figures(library: Library, series: WaveformSeries) -> str:
    """A row of traces, each with what is seen, and all their figures in a table, as HTML without a blank line."""
    view = View(library, "")
    start = library.waveforms[series.of]
    usual = scene_of(start.raw)
    strips = [_strip(library, moved(usual, series.moves, step.by)) for step in series.steps]
    figures = (_step(*part) for part in series_parts(library, series))
    said = [
        f"<p>{view.say(series.say)} Dashed: {view.say(start.title)}. {_KEY} {MODEL}</p>",
        f'<ol class="moved__steps">\n{chr(10).join(figures)}\n</ol>',
        _overview(series.moves, [(_shown(step.by), strip) for step, strip in zip(series.steps, strips, strict=True)]),
    ]
    return block("section", said, class_="moved", id=f"steps-{esc(series.id)}", **{"data-moved": ""})


def _step(by: str, drawn: str, said: str) -> str:
    """One picture of a row, over the one in which nothing is moved; that one is where a reader begins."""
    parts = [drawn, f"<figcaption><b>{by}.</b> {said}</figcaption>"]
    begins = ' data-start=""' if by == _STILL else ""
    return f"<li{begins}>{block('figure', parts, class_='trace')}</li>"


def asked_for(library: Library, kind: str, name: str) -> str:
    """What an article shows at a place that asks for a trace ("trace") or a row of them ("steps"); nothing of an
    unknown one."""
    if kind == "trace":
        return trace_figure(library, library.waveforms[name]) if name in library.waveforms else ""
    return series_figures(library, library.waveform_series[name]) if name in library.waveform_series else ""


def traces_of(library: Library, tree: Tree) -> str:
    """The traces that belong to an alarm, folded up, as HTML; nothing where there are none."""
    shown = [waveform for waveform in library.waveforms.values() if tree.id in waveform.trees]
    if not shown:
        return ""
    names = f"<summary>Traces, {len(shown)}: right timing, and what differs</summary>"
    return block("details", [names, *(trace_figure(library, waveform) for waveform in shown)])


def tidy(library: Library) -> None:
    """Remove kept traces that no page of the library can show any more."""
    unplayed(library)
    _played(library.root).clear()


def unplayed(library: Library) -> int:
    """How many traces have yet to be played, half a second each."""
    return sum(1 for scene in set(scenes_of(library)) if _played(library.root).find(scene) is None)


def scenes_of(library: Library) -> list[Scene]:
    """All scenes that the library's pages can show."""
    scenes = [scene_of(waveform.raw) for waveform in library.waveforms.values()]
    for series in library.waveform_series.values():
        usual = scene_of(library.waveforms[series.of].raw)
        scenes += [moved(usual, series.moves, step.by) for step in series.steps]
    return scenes


def scene_of(raw: Map) -> Scene:
    """The scene that an entry of `kb/waveforms.yml` describes."""
    line = raw.get("line", {})
    return Scene(
        every=int(raw["balloon"].rpartition(":")[2]) if "balloon" in raw else 0,
        rhythm="fibrillation" if "rhythm" in raw else "even",
        fill=seconds(raw.get("fill", "0 ms")),
        empty=seconds(raw.get("empty", "0 ms")),
        volume=_number(raw["size"]) if "size" in raw else None,
        passage=_number(raw.get("passage", "100 %")) / 100.0,
        leak=_number(raw.get("leak", "0 %")) / 100.0,
        resistance=_number(raw.get("resistance", "100 %")) / 100.0,
        frequency=_number(line.get("frequency", "0 Hz")),
        damping=_number(line.get("damping", "0")),
    )


def moved(scene: Scene, what: str, by: str) -> Scene:
    """The scene with filling ("fill") or emptying ("empty") moved."""
    return replace(scene, fill=seconds(by)) if what == "fill" else replace(scene, empty=seconds(by))


def seconds(shift: str) -> float:
    """How far something is moved, in s; earlier is negative.

    >>> seconds("40 ms earlier"), seconds("120 ms later"), seconds("0 ms")
    (-0.04, 0.12, 0.0)
    """
    size = _number(shift) / 1000.0
    return -size if shift.endswith("earlier") else size


def _number(text: str) -> float:
    return float(text.split()[0])


def _shown(by: str) -> str:
    return by if seconds(by) else "not moved"


class Played:
    """Strips by scene: those that came with the program, then those kept in a folder; else they are played."""

    def __init__(self, folder: Path | None) -> None:
        """Keep strips in a folder; None keeps them in memory alone."""
        self._store = Store(folder, code_hash())
        self._known: dict[Scene, Strip] = {}

    def strip(self, scene: Scene) -> Strip:
        """The strip of a scene.

        Raises:
            ArithmeticError: the solver gave up.
        """
        return self.find(scene) or self._play(scene)

    def find(self, scene: Scene) -> Strip | None:
        """The strip of a scene where it need not be played."""
        if scene not in self._known:
            found = shipped(scene)
            if found is None and (kept := self._store.find("trace", asdict(scene))):
                with suppress(KeyError, TypeError, ValueError, AttributeError):  # no strip: it is played anew
                    found = Strip.from_data(kept[0])
            if found is None:
                return None
            self._known[scene] = found
        return self._known[scene]

    def clear(self) -> None:
        """Remove what nobody has asked for."""
        self._store.clear()

    def _play(self, scene: Scene) -> Strip:
        strip = strip_of(play(scene))
        self._store.put("trace", asdict(scene), strip.as_data())
        self._known[scene] = strip
        return strip


@lru_cache(maxsize=8)
def _played(root: str) -> Played:
    return Played(Path(root) / CACHE)


def _strip(library: Library, scene: Scene) -> Strip:
    return _played(library.root).strip(scene)


def drawing(strip: Strip, beside: Strip | None, name: str) -> str:
    """A trace as SVG, over the one it is compared with.

    Args:
        strip: what to draw.
        beside: drawn thin and dashed below it; None for nothing.
        name: says what it is to those who cannot see it; HTML.
    """
    parts = [
        *_scale(),
        f'<path class="trace__balloon" d="{_shape(strip.balloon)}"></path>',
        *(f'<path class="trace__beat" d="M{_x(beat):.0f} 230v8"></path>' for beat in strip.beats),
        f'<path class="trace__beside" d="{_line(beside.trace)}"></path>' if beside else "",
        f'<path class="trace__line" d="{_line(strip.trace)}"></path>',
        *_marks(strip),
    ]
    box = f'viewBox="0 0 {_WIDTH} {_HEIGHT}" width="{_WIDTH}" height="{_HEIGHT}"'
    return f'<svg {box} role="img" aria-label="{name}">{"".join(parts)}</svg>'


def _scale() -> Iterable[str]:
    for pressure in range(0, _HIGHEST + 1, 20):
        yield f'<path class="trace__grid" d="M{_LEFT} {_y(pressure):.0f}H{_RIGHT}"></path>'
        if pressure % 40 == 0:
            yield f'<text x="{_LEFT - 5}" y="{_y(pressure):.0f}" dy=".36em" text-anchor="end">{pressure}</text>'
    yield '<text x="1" y="18">mmHg</text>'


def _marks(strip: Strip) -> Iterable[str]:
    for number, name in enumerate(NAMES, start=1):
        point: Point | None = getattr(strip.five, name)
        if point:
            yield _mark(point, str(number), _AWAY if name in _LOW else -_AWAY, "five")
    if strip.notch:
        yield _mark(strip.notch, "N", _AWAY, "notch")


def _mark(point: Point, sign: str, away: int, kind: str) -> str:
    x, y = _x(point.time), _y(point.pressure)
    dot = f'<circle class="trace__dot" cx="{x:.0f}" cy="{y:.0f}" r="2.5"></circle>'
    ring = f'<circle class="trace__ring" cx="{x:.0f}" cy="{y + away:.0f}" r="9"></circle>' if kind == "five" else ""
    return f'<g class="trace__{kind}">{dot}{ring}<text x="{x:.0f}" y="{y + away:.0f}" dy=".36em">{sign}</text></g>'


def _x(time: float) -> float:
    return _LEFT + time * 118.0


def _y(pressure: float) -> float:
    return _BOTTOM - pressure * (_BOTTOM - _TOP) / _HIGHEST


def _line(points: Line) -> str:
    return "M" + " ".join(f"{_x(time):.1f} {_y(pressure):.1f}" for time, pressure in points)


def _shape(points: Line) -> str:
    tops = " ".join(f"{_x(time):.1f} {_BALLOON - volume * _FULL / _LARGEST:.1f}" for time, volume in points)
    return f"M{_x(points[0][0]):.1f} {_BALLOON}L{tops} {_x(points[-1][0]):.1f} {_BALLOON}Z"


def _key(view: View, beside: Waveform | None) -> str:
    dashed = f" Dashed: {view.say(beside.title)}." if beside else ""
    return f"{_KEY}{dashed} {MODEL}"


def _table(view: View, five: Five, other: Five | None, beside: Waveform | None) -> str:
    """The five pressures in mmHg, beside those of the trace it is compared with."""
    also = f'<th scope="col">{view.say(beside.title)}</th>' if beside and other else ""
    rows = [f'<tr><th scope="col">Pressure, mmHg</th><th scope="col">Here</th>{also}</tr>']
    for number, (name, words) in enumerate(NAMES.items(), start=1):
        here, there = getattr(five, name), getattr(other, name) if other else None
        if here or there:
            cells = f"<td>{_whole(here)}</td>" + (f"<td>{_whole(there)}</td>" if also else "")
            rows.append(f'<tr><th scope="row"><span class="trace__number">{number}</span> {words}</th>{cells}</tr>')
    return block("table", rows, **{"data-search-exclude": "yes"})


def _whole(point: Point | None) -> str:
    return "–" if point is None else f"{point.pressure:.0f}"


def _sentence(five: Five) -> str:
    named = [(words, getattr(five, name)) for name, words in NAMES.items()]
    told = [f"{words[0].lower()}{words[1:]} {point.pressure:.0f}" for words, point in named if point]
    return f'<span class="quiet">In mmHg: {", ".join(told)}.</span>'


_BEAT = {"fill": "the beat in which the balloon fills", "empty": "the beat behind the balloon"}
"""Which heartbeat an error meets, by what is moved."""


def _overview(moves: str, strips: Sequence[tuple[str, Strip]]) -> str:
    """What each step does to the trace, and to the heart in the beat that it meets."""
    heads = ("Moved by", "2", "3", "4", "Heart", "mL")
    rows = ["<tr>" + "".join(f'<th scope="col">{head}</th>' for head in heads) + "</tr>"]
    for by, strip in strips:
        figures = (strip.five.augmented, strip.five.assisted_end, strip.five.assisted_systole)
        cells = "".join(f"<td>{_whole(point)}</td>" for point in figures)
        ejected, highest = ((strip.free if moves == "fill" else strip.helped) or (0.0, 0.0))[:2]
        cells += f"<td>{highest:.0f}</td><td>{ejected:.0f}</td>"
        rows.append(f'<tr><th scope="row">{esc(by)}</th>{cells}</tr>')
    named = ", ".join(f"{number} {NAMES[name].lower()}" for number, name in ((2, "augmented"), (3, "assisted_end")))
    told = (
        f"All steps in figures, mmHg and mL: {named}, 4 {NAMES['assisted_systole'].lower()}. “Heart” is the highest "
        f"pressure in the left ventricle, “mL” what it ejects, both in {_BEAT[moves]}."
    )
    return block("div", [f"<p>{told}</p>", block("table", rows)], class_="moved__all")
