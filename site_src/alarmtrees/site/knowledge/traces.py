"""Pressure traces as figures of a textbook: the drawing, what it is compared with, what is seen, and a table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from circulation.strip import Strip

from ...model import Article, Library, Tree, Waveform, WaveformSeries
from ...model.addresses import tree_path
from ...reading.articles import traces_in
from ..markup import UNSEARCHED, SiteFile, View, block, esc, items, script_json
from .trace_drawing import FIVE, Shown, drawing, is_cut
from .trace_figures import overview, shifted, told, trace_tables
from .trace_scenes import moved, scene_of, strip_for

MODEL = "From a model, not a patient: no figure here is a target."

_STILL = "Not moved"
_BURIED = 0.06
"""A balloon that fills by so much before the valve would shut leaves no notch, s."""
_BEATS = {
    "fibrillation": "uneven, about {rate} a minute",
    "paced": "paced, {rate} a minute",
    "paced-atria": "paced, {rate} a minute",
    "paced-both": "paced, {rate} a minute",
    "paced-on-demand": "paced on demand",
    "extra-beats": "with extra beats",
    "compressions": "pressed {rate} a minute",
}
_TRIGGERS = {
    "ecg": "ECG",
    "ecg-and-t": "ECG",
    "pressure": "pressure",
    "pacing": "pacing spike",
    "fixed": "fixed rate",
}
UNREAD = frozenset(("fibrillation", "extra-beats", "paced-on-demand", "compressions", "fixed", "ecg-and-t"))
"""Rhythms in which each beat is another, or none, and triggers by which the balloon falls elsewhere in each: the five
pressures cannot be read there."""


def trace_figure(library: Library, waveform: Waveform, path: str = "") -> str:
    """One trace with all that is said of it, as HTML without a blank line.

    On a wide screen the trace that it is compared with stands at its right; on paper and on a phone below it.

    Args:
        library: holds the trace it stands beside, and the folder in which it is kept.
        waveform: what to show.
        path: of the page on which it stands.
    """
    view = View(library, path)
    drawn, key, tables = trace_parts(library, waveform)
    other = library.waveforms.get(waveform.against or waveform.beside or "")
    said = [
        f"<h3>{view.say(waveform.title)}</h3>",
        f"<p>{view.say(waveform.say)}</p>",
        _pair(view, waveform, drawn, other),
        f'<p class="trace__key" {UNSEARCHED}>{key}</p>',
        items("ul", (view.say(words) for words, _ in waveform.seen), "trace__seen"),
        f"<p>{view.say(waveform.why)}</p>" if waveform.why else "",
        f"<p {UNSEARCHED}>{view.rests_on(waveform.sources)}</p>",
        block("details", ["<summary>In figures</summary>", *tables]) if tables else "",
    ]
    wide = {"data-pair": ""} if other else {}
    return block("figure", said, class_="trace", id=f"trace-{esc(waveform.id)}", **wide)


def _pair(view: View, waveform: Waveform, drawn: str, other: Waveform | None) -> str:
    if other is None:
        return drawn
    left = f'<div><p class="trace__name">Here</p>{drawn}</div>'
    right = f'<div><p class="trace__name">Beside it: {view.say(other.title)}</p>{_alone(view, other, waveform)}</div>'
    return block("div", [left, right], class_="trace__pair")


def _alone(view: View, waveform: Waveform, beside: Waveform) -> str:
    """What a trace is compared with, drawn as that one is."""
    strip = strip_for(view.library, scene_of(waveform.raw))
    shown = shown_of({**waveform.raw, "draws": beside.draws}, strip)
    return drawing(strip, None, _named(view, waveform.title, strip), shown)


def _named(view: View, title: str, strip: Strip) -> str:
    """What a drawing is to those who cannot see it."""
    return f"{view.say(title)}: ECG, pressure and balloon over {strip.lasts:.1f} seconds, told below"


def trace_parts(library: Library, waveform: Waveform) -> tuple[str, str, list[str]]:
    """The drawing of a trace, what its signs mean, and its figures in tables, as HTML."""
    view = View(library, "")
    strip = strip_for(library, scene_of(waveform.raw))
    beside = library.waveforms.get(waveform.beside or "")
    other = strip_for(library, scene_of(beside.raw)) if beside else None
    shown = shown_of(waveform.raw, strip)
    drawn = drawing(strip, other, _named(view, waveform.title, strip), shown)
    key = _key(strip, shown, view.say(beside.title) if beside else "")
    return drawn, key, trace_tables(view, waveform, strip, other) if shown.five else []


def unnamed_trace(library: Library, waveform: Waveform) -> str:
    """A trace alone, for those who have to say themselves what it shows; without its title, as HTML."""
    strip = strip_for(library, scene_of(waveform.raw))
    shown = shown_of(waveform.raw, strip)
    drawn = drawing(strip, None, "Trace of this case: ECG, pressure and balloon", shown)
    return f'{drawn}<p class="trace__key">{_key(strip, shown)}</p>'


def shown_of(raw: Mapping[str, Any], strip: Strip) -> Shown:
    """What a drawing says of a scene's beats and pump, and what it draws beside the pressure."""
    intervals = len(strip.beats) - 1
    rate = round(60.0 * intervals / (strip.beats[-1] - strip.beats[0])) if intervals > 0 else 0
    beats = _BEATS.get(raw.get("rhythm", ""), "{rate} a minute").format(rate=rate)
    ratio = raw.get("balloon", "no balloon")
    trigger = f"trigger: {_TRIGGERS[raw.get('trigger', 'ecg')]}" if "balloon" in raw else ""
    draws = raw.get("draws", ())
    return Shown(
        f"{beats}, {ratio}",
        trigger,
        "ventricle" in draws,
        "gas" in draws,
        five=_is_numbered(raw),
        notch=_is_numbered(raw) and not _is_buried(raw, strip),
    )


def _is_numbered(raw: Mapping[str, Any]) -> bool:
    """Whether the five pressures can be read: not where the gas alone is to be looked at, not while a line is flushed,
    and not where each beat is another, or the balloon falls elsewhere in it."""
    only_gas = raw.get("balloon") == "1:1" and "gas" in raw.get("draws", ())
    return not (only_gas or "flush" in raw.get("line", {}) or {raw.get("rhythm"), raw.get("trigger")} & UNREAD)


def _is_buried(raw: Mapping[str, Any], strip: Strip) -> bool:
    """Whether a dip is no notch to go by: a damped line leaves one, and a balloon that fills well before the notch."""
    damped = float(raw.get("line", {}).get("damping", "0")) >= 1.0
    return damped or (strip.notch_to_rise is not None and strip.notch_to_rise < -_BURIED)


def series_parts(library: Library, series: WaveformSeries) -> Iterable[tuple[str, str, str]]:
    """Each step of a row: how far it is moved, its drawing, and what is seen, as HTML."""
    view = View(library, "")
    raw = library.waveforms[series.of].raw
    usual = scene_of(raw)
    still = strip_for(library, usual)
    for step in series.steps:
        strip = strip_for(library, moved(usual, series.moves, step.by))
        by = esc(shifted(step.by))
        shown = shown_of({**raw, "draws": series.draws}, strip)
        name = f"{view.say(series.title)}: {by}, told below"
        drawn = drawing(strip, None if strip is still else still, name, shown)
        yield by.capitalize(), drawn, f"{view.say(step.say)} {told(strip.five)}"


def series_figures(library: Library, series: WaveformSeries) -> str:
    """A row of traces, each with what is seen, and all their figures in a table, as HTML without a blank line."""
    view = View(library, "")
    start = library.waveforms[series.of]
    usual = scene_of(start.raw)
    strips = [strip_for(library, moved(usual, series.moves, step.by)) for step in series.steps]
    alone = strip_for(library, replace(usual, every=0)).free
    parts = list(series_parts(library, series))
    key = _key(strips[0], shown_of({**start.raw, "draws": series.draws}, strips[0]), view.say(start.title))
    still = next((drawn for by, drawn, _ in parts if by == _STILL), "")
    said = [
        f"<p>{view.say(series.say)} {key}</p>",
        f'<ol class="moved__steps">\n{chr(10).join(_step(*part) for part in parts)}\n</ol>',
        f'<div class="moved__still trace" aria-hidden="true">{still}<p class="trace__name">{_STILL}</p></div>',
        overview(series.moves, [*zip(map(shifted, (step.by for step in series.steps)), strips, strict=True)], alone),
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


# On the page of an alarm


_FILE = "traces.js"
_PUT = """{
  const fold = document.querySelector("[data-traces]");
  fold.querySelector("ul").remove();
  fold.insertAdjacentHTML("beforeend", %s);
}
"""


def traces_of(view: View, tree: Tree) -> str:
    """The traces that belong to an alarm, folded up: their names, and where they stand, as HTML; nothing where there
    are none. The drawings weigh as much as the page and come, in the file that `tree_traces` makes, when the fold is
    opened."""
    shown = waveforms_of(view.library, tree)
    if not shown:
        return ""
    names = f"<summary>Traces, {len(shown)}: what it looks like, and right beside it</summary>"
    listed = items("ul", (_listed(view, waveform) for waveform in shown), "links")
    return block("details", [names, listed], **{"data-traces": _FILE})


def _listed(view: View, waveform: Waveform) -> str:
    title = view.say(waveform.title)
    page = next((key for key, one in view.library.articles.items() if _asks_for(one, waveform.id)), None)
    return f'<a href="{view.to(page, f"trace-{waveform.id}")}">{title}</a>' if page else title


def _asks_for(article: Article, name: str) -> bool:
    return any(kind == "trace" and asked == name for kind, asked, _, _ in traces_in(article))


def waveforms_of(library: Library, tree: Tree) -> list[Waveform]:
    """The traces that stand on the page of an alarm."""
    return [waveform for waveform in library.waveforms.values() if tree.id in waveform.trees]


def tree_traces(library: Library, tree: Tree) -> SiteFile:
    """The traces of an alarm with their look, as a script that puts them into the fold of its page."""
    path = tree_path(tree.id)
    look = f'<link rel="stylesheet" href="{"../" * path.count("/")}assets/traces.css">'
    figures = "\n".join(trace_figure(library, waveform, path) for waveform in waveforms_of(library, tree))
    return SiteFile(path.removesuffix("index") + _FILE, _PUT % script_json(look + figures))


# What is said of a drawing


def _key(strip: Strip, shown: Shown, beside: str = "") -> str:
    """What the signs in a drawing mean; of those alone that are in it."""
    has_five = shown.five and any(getattr(strip.five, name) for name in FIVE)
    told = [
        "Triangles: what the pump takes as a beat." if strip.marks else "",
        "Numbers: the five pressures." if has_five else "",
        "N: the notch." if strip.notch and shown.notch else "",
        "Thin line: pressure in the left ventricle." if shown.ventricle else "",
        f"Dashed: {beside}." if beside else "",
        "The square goes on above the picture." if is_cut(strip) else "",
        MODEL,
    ]
    return " ".join(words for words in told if words)
