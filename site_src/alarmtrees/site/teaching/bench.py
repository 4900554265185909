"""The page on which timing is tried: a model of the circulation that answers beat by beat in the browser.

The equations in the browser are held to those of `circulation`. Their values, and what the traces of the library are
and say, reach the page from here, so that neither is written twice. Without a script the page says what it needs, and
leads to the pictures.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from circulation import ecg, pressures, rhythm, scene, signs, solve, transducer, trigger, values, valves
from circulation.scene import Scene

from ...model import Library, Waveform
from ...model.addresses import BENCH, LEARN
from ..knowledge.trace_figures import NAMES
from ..knowledge.trace_scenes import scene_of
from ..knowledge.traces import UNREAD
from ..markup import UNSEARCHED, Page, View, block, esc, items, script_json, whole

TITLE = "Try the timing"
ASSETS = ("bench.css", "spacing.js", "bench.js")

ARTICLES = ("timing", "moving-the-timing", "reading-the-trace", "what-imitates-mistiming")
"""Where the page leads to, where the library has them; the second one shows the same as pictures."""

_PICTURES = ARTICLES[1]
_MODEL = (
    "<b>A teaching model, not a patient.</b> No figure here is a target. Enter no patient’s values; nothing is kept or "
    "sent, and no pump moves."
)
MMHG_PER_CM = 0.736
"""What a column of water weighs, mmHg for each cm: so far off is a pressure whose transducer lies too high or low."""

ALSO = {"compliance": 1.0, "height": 0.0}
"""What can be turned here and differs in no trace: how elastic the arteries are, as a share of the usual; how high the
transducer lies above the heart, cm."""

_NO_FAULT = frozenset(("every", "rate", "rhythm", "trigger", "at"))
"""What may differ in a scene without anything being wrong in it."""


@dataclass(frozen=True, slots=True)
class Knob:
    """Something that can be turned by a slider.

    Attributes:
        name: the entry of a scene that it sets.
        label: what a reader sees.
        low, high, step: of the slider.
        usual: where it stands at first.
        told: how a value is told below, at and above the usual one; `{by}` is the distance from it, `{is}` the value.
        share: what one unit of the slider is in the scene.
        zero: where the slider stands when the scene's entry is 0.
    """

    name: str
    label: str
    low: int
    high: int
    step: int
    usual: int
    told: tuple[str, str, str]
    share: float = 0.01
    zero: int = 0


@dataclass(frozen=True, slots=True)
class Choice:
    """Something that is chosen from a list.

    Attributes:
        name: the entry of a scene that it sets.
        label: what a reader sees.
        values: what it can be, each with its name; the first is the usual one.
    """

    name: str
    label: str
    values: tuple[tuple[float | str, str], ...]


_MS, _ONE = 0.001, 1.0
_EMPTY_AT = round(scene.EMPTY_AT / _MS)

_FILL = ("{by} ms before the notch", "in the notch", "{by} ms after the notch")
_EMPTY = ("{by} ms before the R wave", "at the R wave", "{by} ms after the R wave")
_HEART = ("weaker: {is} %", "weak, as usual here", "stronger: {is} %")
_WIDTH = ("wide: {is} % of the usual resistance", "as usual", "narrow: {is} % of the usual resistance")
_ELASTIC = ("stiff: {is} % as elastic", "as usual", "soft: {is} % as elastic")
_HEIGHT = ("{by} cm below the heart", "level with the heart", "{by} cm above the heart")
_EVERY = ((2, "every second beat, 1:2"), (1, "each beat, 1:1"), (3, "every third beat, 1:3"), (0, "no beat"))
_RHYTHM = (
    ("even", "even"),
    ("fibrillation", "uneven: atrial fibrillation"),
    ("extra-beats", "with extra beats"),
    ("paced", "paced in the ventricles"),
    ("paced-atria", "paced in the atria"),
    ("paced-both", "paced in atria and ventricles"),
    ("paced-on-demand", "paced on demand, with beats of its own"),
    ("compressions", "none: chest compressions"),
)
_TRIGGER = (
    ("ecg", "R waves of the ECG"),
    ("ecg-and-t", "R waves and tall T waves"),
    ("pressure", "rise of the pressure"),
    ("pacing", "pacing spikes"),
    ("fixed", "fixed rate, not the heart"),
)
_AT = (("tip", "at the tip, by a sensor"), ("lumen", "at the tip, through fluid"), ("wrist", "at the wrist"))

_LINE = "Pressure line"
_FLUSH = '<p class="buttons"><button type="button" data-flush>Open the fast flush</button></p>'

GROUPS: dict[str, tuple[Knob | Choice, ...]] = {
    "Timing": (
        Knob("fill", "Filling begins", -160, 200, 10, 0, _FILL, _MS),
        Knob("empty", "Emptying begins", -220, 220, 10, 0, _EMPTY, _MS, _EMPTY_AT),
        Choice("every", "The balloon follows", _EVERY),
    ),
    "Heart": (
        Knob("rate", "Heart rate", 50, 140, 5, 90, ("{is} a minute",) * 3, _ONE),
        Choice("rhythm", "Rhythm", _RHYTHM),
        Knob("stiffness", "Strength", 60, 160, 5, 100, _HEART),
    ),
    "Vessels": (
        Knob("resistance", "Small vessels", 50, 160, 5, 100, _WIDTH),
        Knob("compliance", "Arteries", 50, 150, 5, 100, _ELASTIC),
    ),
    "Balloon and gas": (
        Knob("volume", "Volume of the balloon", 25, 50, 1, 40, ("{is} mL",) * 3, _ONE),
        Knob("passage", "Kink in the gas line", 5, 100, 5, 100, ("{is} % of the flow passes", "none: open", "")),
        Knob("gas", "Amount of gas", 70, 110, 1, 100, ("too little: {is} %", "right", "too much: {is} %")),
        Knob("water", "Water in the gas line", 0, 100, 5, 0, ("", "none", "moves the flow by {is} %")),
        Knob("leak", "Leak", 0, 25, 1, 0, ("", "none", "{is} % of the balloon a second")),
    ),
    "Trigger": (Choice("trigger", "The pump goes by", _TRIGGER),),
    _LINE: (
        Choice("at", "Read", _AT),
        Knob("height", "Transducer", -20, 20, 1, 0, _HEIGHT, _ONE),
        Knob("frequency", "Own frequency of the line", 4, 40, 1, 40, ("slow: {is} Hz", "fast: {is} Hz", ""), _ONE),
        Knob(
            "damping", "Damping", 10, 200, 5, 65, ("rings: {is} % of critical", "right", "damped: {is} % of critical")
        ),
    ),
}
"""What can be turned, in groups; the first is open at first."""

LINES = (
    ("ecg", "The ECG. Each stroke up is the R wave: the heart is about to beat. A triangle: the pump counts it."),
    ("pressure", "The pressure in the aorta. It rises as the heart ejects, and again as the balloon fills."),
    ("notch", "N, the notch: the aortic valve shuts. There the balloon is to fill."),
    ("five", "1 to 5 are the five pressures, in the order in which they come. The list below names them."),
    ("gas", "The pressure of the gas that drives the balloon."),
    ("balloon", "How full the balloon is. At the right it is drawn as it is now, with the heart above it."),
    ("timing", "Now move “Filling begins”. Wait for two beats, and see what becomes of the peak and the notch."),
)
"""A first look at the picture, for somebody who has never read a trace: which part of it, and what it is."""


def bench_page(library: Library) -> Page:
    """The page: a strip that runs, what can be turned, and three ways to use it."""
    view = View(library, BENCH)
    return Page(
        path=BENCH,
        title=TITLE,
        description="A model of heart, vessels and balloon that answers beat by beat when the timing is moved.",
        assets=ASSETS,
        body=whole(
            [
                f'<h1 id="_top">{TITLE}</h1>',
                f'<p class="bench__model" {UNSEARCHED}>{_MODEL}</p>',
                _without(view),
                block("div", _bench(view), **{"class": "bench", "id": "_bench", "hidden": "", **_UNSEARCHED}),
                _more(view),
                f'<script type="application/json" id="bench-data">{script_json(bench_data(library))}</script>',
            ]
        ),
    )


_UNSEARCHED = {"data-search-exclude": "yes"}


def bench_data(library: Library) -> dict[str, Any]:
    """What the scripts of the page are given: the model's values, what can be turned, and the library's traces."""
    view = View(library, BENCH)
    return {
        "values": numbers(),
        "usual": {**asdict(Scene(every=2)), **ALSO},
        "knobs": {one.name: asdict(one) for group in GROUPS.values() for one in group},
        "names": NAMES,
        "lines": LINES,
        "scenes": _scenes(view),
    }


def numbers() -> dict[str, Any]:
    """All values that the equations in the browser need, by the names that they have in Python."""
    return {
        **asdict(values.Body()),
        "density": values.BLOOD_DENSITY,
        "atmosphere": values.ATMOSPHERE,
        "almost_shut": valves.ALMOST_SHUT,
        "rhythm": {
            "uneven": rhythm.UNEVEN,
            "extra_every": rhythm.EXTRA_EVERY,
            "extra_place": rhythm.EXTRA_PLACE,
            "extra_early": rhythm.EXTRA_EARLY,
            "ventricle_spike": rhythm.VENTRICLE_SPIKE,
            "atrium_spike": rhythm.ATRIUM_SPIKE,
            "p_before": rhythm.P_BEFORE,
            "both_spikes": rhythm.BOTH_SPIKES,
            "demand": rhythm.DEMAND,
            "own_early": rhythm.OWN_EARLY,
            "spell": rhythm.SPELL,
            "pause": rhythm.PAUSE,
        },
        "ecg": {
            "qrs_begins": ecg.QRS_BEGINS,
            "narrow": ecg._NARROW,
            "wide": ecg._WIDE,
            "pressed": ecg._PRESSED,
            "tall_t": ecg.TALL_T,
            "flutters": ecg.FLUTTERS,
        },
        "trigger": {
            "fixed_rate": trigger.FIXED_RATE,
            "rise_seen": trigger.RISE_SEEN,
            "foretold_by": trigger.FORETOLD_BY,
            "gap": trigger.GAP,
        },
        "lines": {name: asdict(line) for name, line in transducer.LINES.items()},
        "flush": {
            "at": scene.FLUSH_AT,
            "pressure": transducer.FLUSH,
            "opens": transducer._OPENS,
            "shuts": transducer._SHUTS,
        },
        "mmhg_per_cm": MMHG_PER_CM,
        "start": solve.Loop(values.Body(), (0.0, 1.0)).start(),
        "fill_at": scene.FILL_AT,
        "empty_at": scene.EMPTY_AT,
        "leak_at": scene.LEAK_AT,
        "settles": scene.SETTLES,
        "lasts": scene.LASTS,
        "lead": scene.LEAD,
        "run_in": scene.RUN_IN,
        "round": scene.ROUND,
        "sample": solve.SAMPLE,
        "step": solve.STEP,
        "ejects": pressures.EJECTS,
        "before_beat": pressures.BEFORE_BEAT,
        "notch_reach": pressures.NOTCH_REACH,
        "hump_within": pressures.HUMP_WITHIN,
        "fall": pressures.FALL,
        "rise": pressures.RISE,
        "plain": signs.PLAIN,
        "unread": sorted(UNREAD),
    }


def _scenes(view: View) -> list[dict[str, Any]]:
    """The traces of the library. A fault is told from the others by what it turns, and which way: of several traces
    that show the same the first is the one to be named."""
    scenes = [_scene(view, waveform) for waveform in view.library.waveforms.values()]
    known = set[frozenset[tuple[str, bool]]]()
    sliders = {one.name: one.usual * one.share for group in GROUPS.values() for one in group if isinstance(one, Knob)}
    usual = {name: value or sliders.get(name, 0.0) for name, value in asdict(Scene()).items()}
    for one in scenes:
        turned = {name: value for name, value in one["differs"].items() if name not in _NO_FAULT}
        kind = frozenset((name, value > usual[name]) for name, value in turned.items())
        judged = one["differs"].get("rhythm", "even") == "even" and one["differs"]["every"] and "flush" not in turned
        one["fault"] = bool(judged and kind) and kind not in known
        known |= {kind} if one["fault"] else set()
    return scenes


def _scene(view: View, waveform: Waveform) -> dict[str, Any]:
    """A trace of the library: what differs in it, and what is said of it."""
    usual, own = asdict(Scene()), asdict(scene_of(waveform.raw))
    differs = {name: value for name, value in own.items() if value != usual[name]}
    return {
        "id": waveform.id,
        "title": view.plain(waveform.title),
        "say": view.plain(waveform.say),
        "why": view.plain(waveform.why or ""),
        "seen": [[view.plain(words), sign] for words, sign in waveform.seen],
        "differs": {"every": own["every"], **differs},
    }


def _without(view: View) -> str:
    """What a reader without scripts is told."""
    link = _link(view, _PICTURES)
    else_where = f" The same as pictures: {link}." if link else ""
    return f'<noscript><p class="notice">Trying the timing needs JavaScript.{else_where}</p></noscript>'


def _link(view: View, article: str) -> str:
    found = view.library.articles.get(article)
    return f'<a href="{view.to(found.id)}">{view.say(found.title)}</a>' if found else ""


def _bench(view: View) -> list[str]:
    return [_ways(view), _picture(), block("div", [_TASK, _turned(), _SEEN], class_="bench__side")]


def _ways(view: View) -> str:
    ways = [("free", "Try freely"), ("set", "Set it right")]
    if any(one["fault"] for one in _scenes(view)):
        ways.insert(1, ("find", "Find the fault"))
    buttons = (
        f'<button type="button" data-way="{way}" aria-pressed="{"true" if way == "free" else "false"}">{name}</button>'
        for way, name in ways
    )
    return block("div", buttons, **{"class": "bench__ways", "role": "group", "aria-label": "Ways to use it"})


def _picture() -> str:
    """The strip, which stays in sight while something is turned, and how it runs."""
    run = block(
        "div",
        [
            '<button type="button" data-run>Stop</button>',
            '<button type="button" data-slow aria-pressed="false">Slow</button>',
            '<button type="button" data-verdict disabled></button>',
        ],
        class_="bench__run",
    )
    canvas = (
        '<canvas role="img" aria-label="Strip of ECG, pressure, gas and balloon" aria-describedby="_seen"></canvas>'
    )
    return block("div", [canvas, run], class_="bench__picture")


_TASK = '<div class="bench__task" id="_task" tabindex="-1"></div>'
_SEEN = '<p class="bench__seen" id="_seen" role="status"></p>\n<div class="bench__why" id="_why"></div>'


def _turned() -> str:
    """All that can be turned, in groups that fold."""
    groups = (
        block(
            "details",
            [f"<summary>{name}</summary>", *(_control(one) for one in group), _FLUSH if name == _LINE else ""],
            **({"open": ""} if number == 0 else {}),
        )
        for number, (name, group) in enumerate(GROUPS.items())
    )
    shown = (
        '<p class="bench__also">'
        '<label class="pick"><input type="checkbox" data-beside checked> Right timing, dashed</label>'
        '<label class="pick"><input type="checkbox" data-ventricle> Pressure inside the heart, thin</label></p>'
    )
    reset = '<p class="buttons"><button type="button" data-usual>All as at first</button></p>'
    return block("form", [*groups, shown, reset], class_="bench__turned", autocomplete="off")


def _control(one: Knob | Choice) -> str:
    if isinstance(one, Choice):
        options = "".join(f'<option value="{at}">{esc(name)}</option>' for at, (_, name) in enumerate(one.values))
        field = f'<select id="_{one.name}" data-turns="{one.name}">{options}</select>'
        return f'<p class="turn" data-of="{one.name}"><label for="_{one.name}">{esc(one.label)}</label>{field}</p>'
    ends = f'min="{one.low}" max="{one.high}" step="{one.step}" value="{one.usual + one.zero}"'
    return (
        f'<p class="turn" data-of="{one.name}"><label for="_{one.name}">{esc(one.label)}: </label>'
        f'<output for="_{one.name}"></output>'
        f'<input type="range" id="_{one.name}" data-turns="{one.name}" {ends}></p>'
    )


def _more(view: View) -> str:
    """What the model is, and where to read on."""
    told = (
        "<p>The model is a weak heart with a balloon in the aorta: chambers, valves and elastic vessels, worked out "
        "about a thousand times a second in this browser. It shows in which direction a step works, not how far it "
        "works in a patient. Only those whom the hospital has named move the timing of a pump.</p>"
    )
    links = [link for name in ARTICLES if (link := _link(view, name))]
    links.append(f'<a href="{view.to(LEARN)}">Learn</a>')
    return block(
        "section", ["<h2>What it is, and what it is not</h2>", told, items("ul", links, "links")], class_="part"
    )
