"""Figures of traces: what is drawn lies where it is to, and the words under a picture say what is in it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import cache
from itertools import combinations, pairwise
from math import dist
from typing import Any

import pytest

from alarmtrees.model import Library
from alarmtrees.reading.open import open_library
from alarmtrees.site.bedside.layout import text_width
from alarmtrees.site.knowledge.trace_drawing import FIVE, LEFT, RIGHT, WIDTH
from alarmtrees.site.knowledge.trace_figures import beat_of
from alarmtrees.site.knowledge.trace_scenes import moved, scene_of, strip_for
from alarmtrees.site.knowledge.traces import (
    series_figures,
    series_parts,
    trace_figure,
    trace_parts,
    traces_of,
    tree_traces,
    unnamed_trace,
    waveforms_of,
)
from alarmtrees.site.markup import View
from cases.bundle import REPO, write_library
from circulation.curve import height, slopes
from circulation.scene import Scene
from circulation.signs import SIGNS
from circulation.strip import Strip
from small_library import shipped_library


@cache
def the_library() -> Library:
    return shipped_library()


@pytest.fixture(name="library")
def _library() -> Library:
    return the_library()


@cache
def pictures() -> list[tuple[str, str, Strip, Strip, tuple[str, ...]]]:
    """Every picture of this library with its words: name, drawing, strip, the well-timed one, all that is said."""
    library = the_library()
    found = []
    for waveform in library.waveforms.values():
        scene = scene_of(waveform.raw)
        drawn, _, _ = trace_parts(library, waveform)
        said = (waveform.title, waveform.say, *(say for say, _ in waveform.seen), waveform.why or "")
        usual = strip_for(library, Scene(every=scene.every))
        found.append((waveform.id, drawn, strip_for(library, scene), usual, said))
    for series in library.waveform_series.values():
        usual = scene_of(library.waveforms[series.of].raw)
        for step, (_, drawn, _) in zip(series.steps, series_parts(library, series), strict=True):
            strip = strip_for(library, moved(usual, series.moves, step.by))
            found.append((f"{series.id} {step.by}", drawn, strip, strip_for(library, usual), (step.say,)))
    return found


# ---- what is drawn


def corners(path: str) -> list[tuple[float, float]]:
    """Where the pieces of a drawn line begin and end."""
    start, _, rest = path[1:].partition("c")
    x, y = (float(one) for one in start.split())
    numbers = [float(one) for one in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", rest)]
    found = [(x, y)]
    for at in range(4, len(numbers), 6):
        x, y = x + numbers[at], y + numbers[at + 1]
        found.append((x, y))
    return found


@pytest.mark.parametrize("picture", pictures(), ids=lambda picture: picture[0])
def test_all_lines_lie_in_their_picture_one_row_below_the_other(picture: Any) -> None:
    name, drawn, strip, _, _ = picture
    box = re.search(r'viewBox="0 0 (\d+) (\d+)"', drawn)
    assert box and int(box[1]) == WIDTH
    rows = []
    for kind in ("ecg", "line", "gas"):
        for path in re.findall(rf'class="trace__{kind}" d="([^"]+)"', drawn):
            points = corners(path)
            assert points[0][0] == LEFT and points[-1][0] == pytest.approx(RIGHT, abs=1.0)
            rows.append((min(y for _, y in points), max(y for _, y in points)))
    assert len(rows) >= 2, name
    assert all(high_end < low_begin for (_, high_end), (low_begin, _) in pairwise(rows)), (name, rows)
    assert rows[0][0] >= 22 and rows[-1][1] <= int(box[2]) - 22
    rings = re.findall(r'class="trace__ring" cx="(\d+)" cy="(\d+)"', drawn)
    assert all(LEFT <= int(x) <= RIGHT - 12 and 86 < int(y) < int(box[2]) - 60 for x, y in rings), name
    centres = [(int(x), int(y)) for x, y in rings]
    assert all(dist(one, other) >= 19.5 for one, other in combinations(centres, 2)), name
    marks = [float(x) for x in re.findall(r"M([\d.]+) 64l-4 8h8z", drawn)]
    assert marks == pytest.approx([LEFT + mark * (RIGHT - LEFT) / 3.7 for mark in strip.marks], abs=0.1)


@pytest.mark.parametrize("picture", pictures(), ids=lambda picture: picture[0])
def test_each_numbered_point_lies_on_the_line_and_says_its_pressure(picture: Any) -> None:
    name, drawn, strip, _, _ = picture
    zero, high = (float(re.search(rf'y="(\d+)"[^>]*>{at}</text>', drawn)[1]) for at in (0, 80))  # type: ignore[index]
    steep = slopes(strip.trace)
    for x, y, sign in re.findall(r'trace__dot" cx="(\d+)" cy="(\d+)".*?>([N1-5])</text>', drawn):
        point = strip.notch if sign == "N" else getattr(strip.five, FIVE[int(sign) - 1])
        assert point is not None, (name, sign)
        assert LEFT + point.time * (RIGHT - LEFT) / 3.7 == pytest.approx(int(x), abs=0.51)
        assert (zero - int(y)) * 80 / (zero - high) == pytest.approx(point.pressure, abs=1.5)
        assert height(strip.trace, steep, point.time) == pytest.approx(point.pressure, abs=1.0)


@pytest.mark.parametrize("picture", pictures(), ids=lambda picture: picture[0])
def test_the_words_in_a_picture_have_room_for_the_large_letters_of_a_phone(picture: Any) -> None:
    name, drawn, _, _, _ = picture
    lines: dict[str, list[tuple[float, float]]] = {}
    for attributes, words in re.findall(r"<text ([^>]+)>([^<]+)</text>", drawn):
        known = dict(re.findall(r'([\w-]+)="([^"]*)"', attributes))
        wide = text_width(words, 20)
        begin = float(known["x"]) - {"end": 1.0, "middle": 0.5}.get(known.get("text-anchor", ""), 0.0) * wide
        if len(words) > 1:
            assert begin >= -0.5 and begin + wide <= WIDTH + 0.5, (name, words)
            lines.setdefault(known["y"], []).append((begin, begin + wide))
    for there in lines.values():
        assert all(end < begin for (_, end), (begin, _) in pairwise(sorted(there))), (name, there)


def test_every_picture_says_how_fast_the_heart_is_what_the_pump_follows_and_how_long_it_lasts() -> None:
    for name, drawn, strip, _, _ in pictures():
        ratio = "no balloon" if not strip.fills else "1:"
        assert re.search(rf">[^<]*(\d a minute|extra beats|on demand), {ratio}", drawn), name
        assert ("trigger: " in drawn) == bool(strip.fills), name
        assert ">0</text>" in drawn and ">3 s</text>" in drawn, name


# ---- words and pictures agree

Holds = Callable[[Strip, Strip, str], bool]


def sign(*names: str) -> Holds:
    return lambda strip, usual, _: all(SIGNS[name](strip, usual) for name in names)


def lacks(name: str) -> Holds:
    return lambda strip, usual, _: not SIGNS[name](strip, usual)


def all_hold(*found: Holds) -> Holds:
    return lambda strip, usual, drawn: all(one(strip, usual, drawn) for one in found)


def names_notch(strip: Strip, usual: Strip, drawn: str) -> bool:
    return ">N</text>" in drawn


def hides_notch(strip: Strip, usual: Strip, drawn: str) -> bool:
    return ">N</text>" not in drawn


def ejects_as_usual(strip: Strip, usual: Strip, drawn: str) -> bool:
    own, other = beat_of(strip, "empty"), beat_of(usual, "empty")
    return bool(own and other) and abs(own.volume - other.volume) < 1.0  # type: ignore[union-attr]


def costs_more(strip: Strip, usual: Strip, drawn: str) -> bool:
    own, other = beat_of(strip, "empty"), beat_of(usual, "empty")
    return bool(own and other) and own.highest > other.highest + 2.0 and own.integral > other.integral + 0.5  # type: ignore[union-attr]


def loads_more(strip: Strip, usual: Strip, drawn: str) -> bool:
    return bool(strip.free and usual.free) and strip.free.integral > usual.free.integral + 0.5  # type: ignore[union-attr]


SAYINGS: list[tuple[str, Holds]] = [
    (r"notch (is|has) (hidden|gone)|No notch is seen|notch is gone", all_hold(sign("notch-hidden"), hides_notch)),
    (r"it is no notch to go by", hides_notch),
    (r"notch (stands free|is plain|begins to show)", names_notch),
    (r"notch (stands free|is plain)", sign("notch-free")),
    (r"a sharp V|begins in the notch", all_hold(sign("notch-v"), names_notch)),
    (
        r"no V\b|V is gone",
        all_hold(lacks("peak-not-highest"), lambda s, u, d: not (sign("notch-v")(s, u, d) and ">N<" in d)),
    ),
    (r"starts late", sign("opens-late")),
    (r"rises slowly", sign("slow-upstroke")),
    (r"valve opens (later and )?at a higher pressure|lift its pressure further", sign("opens-higher")),
    (r"wide hollow", sign("hollow")),
    (r"hump is broad", sign("hump-broad")),
    (r"peak is the highest of the five|augmented peak is higher than the assisted", sign("peak-highest")),
    (r"peak is lower(?! than the one)|[Pp]eak is lost|peak begins to fall|hump is low\b", sign("peak-lower")),
    (r"end-diastolic pressure is higher than the unassisted|above the unassisted one", sign("end-higher")),
    (r"end-diastolic pressure is lower than the unassisted", sign("end-lower")),
    (r"ejects less|heart works against the balloon", sign("ejects-less")),
    (
        r"own pressure climbs|inside the heart is (plainly )?higher|pressure in the heart is higher",
        sign("heart-higher"),
    ),
    (r"still ejects as much", ejects_as_usual),
    (r"highest pressure and its load are higher than with right timing", costs_more),
    (r"and its load is higher", loads_more),
    (r"no number here", lambda strip, _, drawn: strip.five.unassisted_systole is None and ">1</text>" not in drawn),
    (r"still full\b", sign("starts-full")),
    (r"thin line", lambda _, __, drawn: "trace__ventricle" in drawn),
    (r"^The top|\b(line below|curve of the gas|gas below)\b", lambda _, __, drawn: "trace__gas" in drawn),
    (r"triangles stand late", all_hold(sign("marks-late"), lambda strip, _, drawn: "trace__mark" in drawn)),
    (r"two triangles,", sign("counted-twice")),
    (r"(has|have) (its|one) triangle", sign("counted-once")),
    (r"have no triangle", sign("beats-missed")),
    (r"into the ejection|now while the heart ejects|fills while the heart ejects", sign("fills-in-ejection")),
    (r"pause the balloon stands still", sign("still-in-pause")),
    (r"pause the (waves go on|balloon goes on)", sign("moves-in-pause")),
    (r"many swings", sign("swings-many")),
    (r"one or two small swings", sign("swings-few")),
    (r"without a swing", sign("swings-none")),
    (r"come much later", sign("much-late")),
    (r"trembles? (behind|\.)|beats tremble", sign("trembles")),
    (r"lower than the one before", sign("peaks-fall")),
    (r"Peaks and valleys differ", sign("peaks-vary")),
    (r"cut short\.", sign("cut-short")),
    (r"starts slowly|slow start", sign("slow-upstroke")),
]
"""What words claim of a picture, whoever wrote them and whatever sign stands beside."""

UNUSED = {r"starts slowly|slow start"}
"""Words that nobody uses today, and that would claim something."""


def claims() -> Iterator[tuple[str, str, str, bool]]:
    for name, drawn, strip, usual, said in pictures():
        for words in said:
            for saying, holds in SAYINGS:
                if re.search(saying, words):
                    yield name, saying, words, holds(strip, usual, drawn)


def test_what_the_words_claim_is_in_the_picture() -> None:
    found = list(claims())
    assert [(name, words) for name, _, words, true in found if not true] == []
    assert {saying for saying, _ in SAYINGS} - {saying for _, saying, _, _ in found} == UNUSED


def test_words_that_lie_are_found() -> None:
    """The same words under the wrong picture: each saying must tell some picture from another."""
    for saying, holds in SAYINGS:
        verdicts = {holds(strip, usual, drawn) for _, drawn, strip, usual, _ in pictures()}
        assert verdicts == {True, False}, saying


MEASURED = {"74", "23", "117", "175", "100", "233", "11"}
"""Figures of a study that the words cite; its entry in the sources has them."""


def test_numbers_in_words_are_those_of_the_scene(library: Library) -> None:
    """Figures of the model stand in tables alone: words that have one would outlive it."""
    for waveform in library.waveforms.values():
        said = (waveform.title, waveform.say, *(say for say, _ in waveform.seen), waveform.why or "")
        settings = {key: value for key, value in waveform.raw.items() if key not in ("title", "say", "seen", "why")}
        own = set(re.findall(r"\d+", str(settings)))
        for number in re.findall(r"(?<!1:)\b\d+(?!:)", " ".join(said)):
            assert number in own | MEASURED, (waveform.id, number)
    for series in library.waveform_series.values():
        assert not any(re.search(r"\d", step.say) for step in series.steps)


# ---- what late emptying shows, and what it does not


def test_the_row_says_of_late_emptying_what_the_model_shows(library: Library) -> None:
    """As `kb/moving-the-timing.md` tells it: opening first, highest pressure and load much later, volume never."""
    series = library.waveform_series["emptying"]
    usual = scene_of(library.waveforms[series.of].raw)
    beats = {step.by: strip_for(library, moved(usual, series.moves, step.by)).helped for step in series.steps}
    alone = strip_for(library, Scene(every=0)).free
    right, late, much_later = beats["0 ms"], beats["80 ms later"], beats["200 ms later"]
    assert alone and right and late and much_later
    assert late.opens_at > alone.opens_at > right.opens_at and late.waits > alone.waits > right.waits
    assert late.highest <= alone.highest and late.integral < alone.integral
    assert much_later.highest > alone.highest and much_later.integral == pytest.approx(alone.integral, abs=0.2)
    assert much_later.integral > late.integral + 1.0
    assert all(beat and beat.volume > alone.volume for beat in beats.values())
    table = series_figures(library, series).partition("<table>")[2]
    for by, beat in (("80 ms later", late), ("no balloon", alone)):
        row = re.search(rf">{by}</th>(.*?)</tr>", table)
        heart = (beat.opens_at, beat.waits * 1000.0, beat.highest, beat.volume)
        cells = re.findall(r"<td>([\d.–]+)</td>", row[1])[-5:] if row else []
        assert [*cells[:3], cells[4]] == [f"{value:.0f}" for value in heart] and cells[3] == f"{beat.integral:.1f}"


def test_the_row_says_that_early_filling_loads_the_heart_more_and_gives_less(library: Library) -> None:
    """Load up and stroke volume down (Schreuder 2005, the abstract); a sum up to the early closure would show less."""
    series = library.waveform_series["filling"]
    usual = scene_of(library.waveforms[series.of].raw)
    beats = [strip_for(library, moved(usual, series.moves, step.by)).free for step in series.steps[:4]]
    assert [step.by for step in series.steps[:4]][-1] == "0 ms"
    assert all(one and two and one.integral > two.integral and one.volume < two.volume for one, two in pairwise(beats))


# ---- figures on their pages


def test_a_figure_says_in_words_and_figures_what_it_shows(library: Library) -> None:
    waveform = library.waveforms["late-deflation"]
    figure, strip = trace_figure(library, waveform), strip_for(library, scene_of(waveform.raw))
    assert 'role="img" aria-label="Empties too late: ECG, pressure and balloon over 3.7 seconds, told below"' in figure
    for say, _ in waveform.seen:
        assert f"<li>{say}</li>" in figure
    assert strip.five.assisted_end is not None and strip.helped is not None
    row = re.search(r"3</span> Assisted end-diastolic pressure</th><td>(\d+)</td><td>(\d+)</td>", figure)
    assert row and int(row[1]) == round(strip.five.assisted_end.pressure) > int(row[2])
    opens = re.search(r"Pressure at which its valve opens, mmHg</th><td>(\d+)</td><td>(\d+)</td>", figure)
    assert opens and int(opens[1]) == round(strip.helped.opens_at) > int(opens[2])
    assert "no figure here is a target" in figure
    assert "Rests on: " in figure and 'href="sources/index.html#schreuder-2005"' in figure
    assert "\n\n" not in figure


def test_what_a_trace_is_compared_with_stands_at_its_right_and_the_table_is_folded(library: Library) -> None:
    figure = trace_figure(library, library.waveforms["damped"])
    assert figure.count("<svg") == 2 and "data-pair" in figure
    assert "Beside it: Empties too late" in figure and "Dashed: Well timed, 1:2." in figure
    assert figure.index("</svg>") < figure.index("Beside it") < figure.index("<details>") < figure.index("<table")
    alone = trace_figure(library, library.waveforms["unassisted"])
    assert alone.count("<svg") == 1 and "data-pair" not in alone


def test_a_picture_of_a_case_gives_its_title_away_nowhere(library: Library) -> None:
    for waveform in library.waveforms.values():
        shown = unnamed_trace(library, waveform)
        assert waveform.title not in shown and "Dashed" not in shown, waveform.id
        for say, _ in waveform.seen:
            assert say not in shown


def test_a_row_of_figures_begins_where_nothing_is_moved(library: Library) -> None:
    row = series_figures(library, library.waveform_series["filling"])
    # Each step, and once more the one in which nothing is moved, which stays beside them on a wide screen.
    assert row.count("<svg") == len(library.waveform_series["filling"].steps) + 1
    assert row.count(' data-start=""') == 1
    begins = row.index('data-start=""')
    assert "<b>Not moved.</b>" in row[begins : row.index("</li>", begins)]
    assert "<b>40 ms earlier.</b>" in row
    assert "\n\n" not in row


def test_traces_of_an_alarm_lie_beside_its_page_which_names_them_and_where_they_stand(library: Library) -> None:
    tree = library.trees["timing-suspect"]
    shown = waveforms_of(library, tree)
    folded = traces_of(View(library, "alarms/timing-suspect/index"), tree)
    assert "<svg" not in folded and folded.count("<li>") == len(shown) >= 5
    assert 'href="../../reading-the-trace.html#trace-late-deflation">Empties too late</a>' in folded
    file = tree_traces(library, tree)
    assert file.path == "alarms/timing-suspect/traces.js" and "../../assets/traces.css" in file.text
    assert all(f'id=\\"trace-{waveform.id}\\"' in file.text for waveform in shown)
    assert "../../sources/index.html#" in file.text
    assert traces_of(View(library, "alarms/power-low/index"), library.trees["power-low"]) == ""


def test_every_trace_of_an_alarm_stands_in_an_article_too(library: Library) -> None:
    """Who has no script follows its link there."""
    for tree in library.trees.values():
        folded = traces_of(View(library, f"alarms/{tree.id}/index"), tree)
        assert folded.count("<li>") == folded.count("<a "), tree.id


@pytest.mark.parametrize(
    ("raw", "scene"),
    [
        ({}, Scene(every=0)),
        ({"balloon": "1:3", "fill": "100 ms earlier", "empty": "40 ms later"}, Scene(every=3, fill=-0.1, empty=0.04)),
        ({"balloon": "1:1", "size": "25 mL", "leak": "25 %"}, Scene(every=1, volume=25.0, leak=0.25)),
        ({"rhythm": "fibrillation", "passage": "33 %"}, Scene(every=0, rhythm="fibrillation", passage=0.33)),
        ({"resistance": "50 %", "rate": "55 a minute"}, Scene(every=0, resistance=0.5, rate=55.0)),
        ({"strength": "160 %"}, Scene(every=0, stiffness=1.6)),
        ({"rhythm": "paced", "trigger": "pacing"}, Scene(every=0, rhythm="paced", trigger="pacing")),
        ({"gas": "106 %", "water": "95 %"}, Scene(every=0, gas=1.06, water=0.95)),
        ({"line": {"frequency": "8 Hz", "damping": "1.5"}}, Scene(every=0, frequency=8.0, damping=1.5)),
        ({"line": {"at": "wrist", "flush": "once"}}, Scene(every=0, at="wrist", flush=True)),
    ],
)
def test_how_a_scene_is_written(raw: dict[str, Any], scene: Scene) -> None:
    assert scene_of(raw) == scene  # type: ignore[arg-type]


def test_words_of_a_library_are_never_mark_up(tmp_path: Any) -> None:
    case = (REPO / "tests/cases/unknown-trace/good/there.txt").read_text("utf-8")
    files = dict(re.findall(r"^-- (\S+) --\n(.*?)(?=^-- )", case, re.MULTILINE | re.DOTALL))
    text = files["kb/waveforms.yml"].replace("title: Late", 'title: "<b>\\"x"').replace("It empties late.", "<i>late")
    library = open_library(write_library(tmp_path, {**files, "kb/waveforms.yml": text}))
    figure = trace_figure(library, library.waveforms["late"])
    assert "<i>" not in figure and "<b>" not in figure
    assert "&lt;b&gt;&quot;x" in figure
