"""The model's small parts, what is kept of it, and the traces of this library."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from dataclasses import asdict, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import calculators
from alarmtrees.model import Library
from alarmtrees.site.knowledge import trace_scenes
from alarmtrees.site.knowledge.trace_scenes import Played, scene_of, scenes_of, seconds
from cases.bundle import REPO
from circulation.balloon import Drive, Stroke
from circulation.curve import height, slopes, thinned
from circulation.heart import Activation
from circulation.pressures import Beat, Trace, end_before, five_pressures, notch_in, systole_of
from circulation.rhythm import UNEVEN, even_beats, uneven_beats
from circulation.scene import Scene, play
from circulation.shipped import FILE, as_text, code_hash, shipped
from circulation.signs import SIGNS
from circulation.solve import Loop
from circulation.strip import CLOSE, Strip, strip_of
from circulation.trigger import strokes_for
from circulation.values import Balloon, Body, Heart, Vessels
from circulation.vessels import joined, lagging
from small_library import shipped_library

PACKAGE = REPO / "site_src" / "circulation"


@pytest.fixture(scope="module")
def library() -> Library:
    return shipped_library()


@pytest.fixture(scope="module")
def kept() -> Played:
    """The traces of this library; played only where code or scene has changed since the last time."""
    return Played(REPO / trace_scenes.CACHE)


# ---- the package


def is_foreign(node: Any) -> bool:
    """Whether a statement takes something from another package."""
    return isinstance(node, ast.ImportFrom) and node.module is not None and node.level == 0


@pytest.mark.parametrize("path", sorted(PACKAGE.glob("*.py")), ids=lambda path: path.stem)
def test_the_package_knows_only_itself_and_loads_the_solver_late(path: Path) -> None:
    tree = ast.parse(path.read_text("utf-8"))
    names = {name.name.split(".")[0] for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names}
    names |= {
        n.module.split(".")[0] for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module and not n.level
    }
    assert names - set(sys.stdlib_module_names) <= {"numpy", "scipy"}
    at_once = {name.name for node in tree.body if isinstance(node, ast.Import) for name in node.names}
    at_once |= {node.module for node in tree.body if is_foreign(node)}
    assert not {name for name in at_once if name.startswith(("numpy", "scipy"))}


def test_a_library_without_traces_never_loads_the_solver(small_library: Path) -> None:
    told = (
        "import sys; from pathlib import Path; from alarmtrees.check.run import check_library; "
        "from alarmtrees.site.build import build_pages; library = check_library(Path(sys.argv[1])).library; "
        "build_pages(library, []); print('scipy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", told, small_library], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
    assert not (small_library / ".cache").exists()


# ---- small parts


def test_the_muscle_is_slack_before_the_beat_tense_once_and_slack_after_it() -> None:
    tension = Activation(Heart())
    course = [tension(step / 1000, 0.357) for step in range(700)]
    assert course[0] == course[30] == 0.0
    assert max(course) == pytest.approx(1.0, abs=1e-3)
    assert course[-1] < 0.01
    peak = course.index(max(course))
    assert course[30:peak] == sorted(course[30:peak])
    assert course[peak:] == sorted(course[peak:], reverse=True)


def test_an_early_beat_finds_the_muscle_still_tensed() -> None:
    loop = Loop(Body(), [0.0, 0.667, 1.0, 1.667])
    before, after = loop.tension(0.9999), loop.tension(1.0001)
    assert before > 0.3
    assert after == pytest.approx(before, abs=0.01)


def test_the_gas_pushes_from_filling_to_emptying_and_pulls_else() -> None:
    balloon = Balloon()
    drive = Drive(balloon, [Stroke(1.0, 1.4), Stroke(2.0, 2.4)])
    for time, pressure in (
        (0.5, balloon.pull),
        (1.2, balloon.push),
        (1.7, balloon.pull),
        (2.2, balloon.push),
        (3.0, balloon.pull),
    ):
        assert drive(time) == pytest.approx(pressure, abs=0.01)
    assert drive.changes == [1.0, 1.4, 2.0, 2.4]


def test_lagging_walls_obey_what_they_were_solved_from() -> None:
    v = Vessels()
    pressure, out = lagging(v, 0.3, 20.0, 50.0, 1.2, 8.0)
    assert out == pytest.approx((pressure - 8.0) / 1.2)
    assert pressure == pytest.approx(20.0 / 0.3 + v.viscous / 0.3 * (50.0 - out))
    arch, head = joined(v, 14.0, 60.0, 8.0, 9.0)
    branch, small = (arch - head) / v.branch, (head - 9.0) / v.head_resistance
    assert arch == pytest.approx(14.0 / v.arch + v.viscous / v.arch * (60.0 - branch))
    assert head == pytest.approx(8.0 / v.head + v.viscous / v.head * (branch - small))


def test_beats_cover_the_time_and_strokes_follow_every_second() -> None:
    beats = even_beats(0.5, 2.0)
    assert beats == [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0]
    strokes = strokes_for(beats, 2, 0.2, -0.1)
    assert [(s.fill, s.empty) for s in strokes] == [(0.2, 0.4), (1.2, 1.4), (2.2, 2.4)]
    assert strokes_for(beats, 1, 0.45, -0.1) == []  # no time between filling and emptying
    uneven = uneven_beats(20.0)
    assert uneven[-3] > 20.0
    assert sum(UNEVEN) / len(UNEVEN) == pytest.approx(0.67, abs=0.01)


def test_one_extra_beat_does_not_change_what_is_foretold() -> None:
    """It empties the balloon at once; behind it, and behind its pause, the usual interval is expected."""
    strokes = strokes_for([0.0, 1.0, 2.0, 3.0, 3.6, 5.0, 6.0], 1, 0.3, -0.1)
    assert [round(stroke.empty, 3) for stroke in strokes] == [0.9, 1.9, 2.9, 3.6, 4.5, 5.9]
    unforeseen = strokes_for([0.0, 1.0, 1.6, 3.0], 1, 0.3, 0.0, foretells=False)
    assert [round(stroke.empty, 3) for stroke in unforeseen] == [1.0, 1.6, 3.0]


@given(
    st.integers(1, 4),
    st.floats(0.0, 0.6),
    st.floats(-0.4, 0.6),
    st.lists(st.floats(0.3, 1.2), min_size=3, max_size=12),
)
def test_strokes_stay_apart_whatever_is_asked(every: int, fill: float, empty: float, intervals: list[float]) -> None:
    beats = [sum(intervals[:number]) for number in range(len(intervals) + 1)]
    changes = [moment for stroke in strokes_for(beats, every, fill, empty) for moment in (stroke.fill, stroke.empty)]
    assert changes == sorted(changes)
    assert all(late - early >= 0.0199 for early, late in pairwise(changes))


@given(st.lists(st.floats(-50, 200), min_size=2, max_size=80))
def test_a_thinned_line_lies_close_to_the_true_one(values: list[float]) -> None:
    points = list(enumerate(values))
    line = thinned(points, 0.5)
    steep = slopes(line)
    assert line[0] == points[0] and line[-1] == points[-1]
    assert all(abs(height(line, steep, x) - y) <= 0.5 for x, y in points)
    # Between two points it never leaves their range: it invents no peak and no dip.
    for (left, low), (right, high) in pairwise(line):
        between = height(line, steep, left + 0.3 * (right - left))
        assert min(low, high) - 1e-6 <= between <= max(low, high) + 1e-6


@pytest.mark.parametrize("differs", [{}, {"every": 1, "at": "wrist", "frequency": 10.0, "damping": 0.12}])
def test_the_points_of_a_strip_draw_the_true_line(differs: dict[str, Any]) -> None:
    done = play(replace(Scene(every=2), **differs))
    strip, trace = strip_of(done), done.trace
    for name, true in (("trace", trace.pressure), ("ventricle", trace.ventricle), ("gas", trace.gas)):
        line = getattr(strip, name)
        steep = slopes(line)
        off = max(abs(height(line, steep, at * trace.sample) - value) for at, value in enumerate(true))
        assert off <= CLOSE[name] + 0.3  # of a rounded moment, where it is steep


def test_end_diastolic_is_the_lowest_point_and_not_the_pressure_at_opening() -> None:
    pressure = [60.0, 55.0, 50.0, 45.0, 40.0, 44.0, 52.0, 80.0, 90.0, 85.0, 70.0]
    beat = Beat(0.04, 0.1, 0.06, 0.09, 40.0, 90.0)
    trace = Trace(0.0, 0.01, pressure, [0.0] * 11, [beat])
    lowest, peak = end_before(trace, beat), systole_of(trace, beat)
    assert lowest and (lowest.time, lowest.pressure) == (0.04, 40.0)
    assert peak and peak.pressure == 90.0


def test_a_beat_that_ejects_nothing_has_no_pressures() -> None:
    beat = Beat(0.0, 0.1, None, None, 0.0, 30.0)
    trace = Trace(0.0, 0.01, [50.0] * 11, [0.0] * 11, [beat])
    five = five_pressures(trace)
    assert end_before(trace, beat) is systole_of(trace, beat) is notch_in(trace, beat) is five.unassisted_end is None


# ---- what is kept


def test_a_strip_comes_back_from_a_file_as_it_was(
    tmp_path: Path, kept: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    strip = kept.strip(Scene(every=2))
    assert Strip.from_data(json.loads(json.dumps(strip.as_data()))) == strip
    played: list[Scene] = []
    monkeypatch.setattr(trace_scenes, "play", lambda scene: played.append(scene) or play(scene))
    monkeypatch.setattr(trace_scenes, "shipped", lambda scene: None)
    assert Played(tmp_path).strip(Scene(every=2)) == strip
    assert Played(tmp_path).strip(Scene(every=2)) == strip
    assert played == [Scene(every=2)]
    (file,) = tmp_path.iterdir()
    file.write_text(file.read_text()[:-9])  # cut short
    assert Played(tmp_path).strip(Scene(every=2)) == strip
    assert len(played) == 2
    monkeypatch.setattr(trace_scenes, "code_hash", lambda: "other")
    assert Played(tmp_path).find(Scene(every=2)) is None


def test_what_no_page_shows_is_cleared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kept: Played) -> None:
    monkeypatch.setattr(trace_scenes, "play", lambda scene: scene)
    monkeypatch.setattr(trace_scenes, "strip_of", lambda scene: kept.strip(Scene(every=2)))
    for scene in (Scene(every=5), Scene(every=5, fill=0.1)):
        Played(tmp_path).strip(scene)
    one = Played(tmp_path)
    assert one.find(Scene(every=5))
    one.clear()
    assert len(list(tmp_path.iterdir())) == 1
    assert Played(tmp_path).find(Scene(every=5))
    Played(None).clear()


def test_a_folder_that_cannot_be_written_is_no_fault(
    tmp_path: Path, kept: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(trace_scenes, "shipped", lambda scene: None)
    blocked = tmp_path / "file"
    blocked.write_text("")
    assert Played(blocked / "traces").strip(Scene(every=0)) == kept.strip(Scene(every=0))


def numbers(strip: Strip) -> list[float]:
    """All that was read from a strip, without its lines."""
    data = {name: value for name, value in strip.as_data().items() if name not in CLOSE}
    return [float(number) for number in re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", json.dumps(data))]


SHIPPED = sorted(set(scenes_of(shipped_library())), key=repr)


def test_each_scene_of_this_library_comes_with_the_program() -> None:
    missing = [scene for scene in SHIPPED if shipped(scene) is None]
    assert not missing, "run .venv/bin/python -m alarmtrees.site.knowledge.ship_traces"


@pytest.mark.parametrize("scene", SHIPPED[::7], ids=repr)
def test_what_comes_with_the_program_is_what_the_model_gives(scene: Scene) -> None:
    known = shipped(scene)
    assert known
    now = strip_of(play(scene))
    # Another machine's arithmetic may differ a little.
    assert numbers(known) == pytest.approx(numbers(now), abs=0.02)
    for name in CLOSE:
        old, new = getattr(known, name), getattr(now, name)
        steep = slopes(old) if old else []
        drawn = [height(old, steep, moment) for moment, _ in new]
        assert drawn == pytest.approx([value for _, value in new], abs=2 * CLOSE[name] + 0.1)


def test_what_comes_with_the_program_holds_for_this_code_and_unchanged_alone(
    tmp_path: Path, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    scene, text = scenes_of(library)[0], FILE.read_text("utf-8")
    place = text.index("[0.")
    for number, broken in enumerate((text[: len(text) // 2], text[:place] + "[1." + text[place + 3 :], "", "[]")):
        file = tmp_path / f"{number}.json"
        file.write_text(broken)
        assert shipped(scene, file) is None
    whole = tmp_path / "whole.json"
    whole.write_text(text)
    assert shipped(scene, whole) == shipped(scene)
    monkeypatch.setattr("circulation.shipped.code_hash", lambda: "other")
    other = tmp_path / "other.json"
    other.write_text(text)
    assert shipped(scene, other) is None


def test_the_file_is_written_as_it_is_read(tmp_path: Path) -> None:
    file = tmp_path / "shipped.json"
    file.write_text(as_text([Scene(every=0)]))
    assert shipped(Scene(every=0), file) == strip_of(play(Scene(every=0)))
    assert shipped(Scene(every=3), file) is None
    assert len(code_hash()) == 64


# ---- the traces of this library


def test_the_schema_names_the_models_signs() -> None:
    schema = json.loads((REPO / "schema" / "waveforms.schema.json").read_text("utf-8"))
    scene = schema["properties"]["scenes"]["additionalProperties"]["properties"]
    step = schema["properties"]["series"]["additionalProperties"]["properties"]["steps"]["items"]["properties"]
    assert scene["seen"]["items"]["properties"]["sign"]["enum"] == sorted(SIGNS)
    assert step["signs"]["items"]["enum"] == sorted(SIGNS)


def test_all_that_is_said_of_a_trace_can_be_seen_in_it(library: Library, kept: Played) -> None:
    wrong = []
    for waveform in library.waveforms.values():
        scene = scene_of(waveform.raw)
        strip, usual = kept.strip(scene), kept.strip(Scene(every=scene.every))
        wrong += [(waveform.id, sign) for _, sign in waveform.seen if not SIGNS[sign](strip, usual)]
    for series in library.waveform_series.values():
        usual_scene = scene_of(library.waveforms[series.of].raw)
        for step in series.steps:
            strip = kept.strip(trace_scenes.moved(usual_scene, series.moves, step.by))
            wrong += [(step.by, sign) for sign in step.signs if not SIGNS[sign](strip, kept.strip(usual_scene))]
    assert wrong == []


def test_the_scenes_that_teaching_needs_are_there(library: Library) -> None:
    assert {
        *("unassisted", "well-timed-each", "well-timed", "well-timed-third", "atrial-fibrillation", "low-resistance"),
        *("early-inflation", "late-inflation", "early-deflation", "late-deflation"),
        *("small-balloon", "kink", "slow-leak", "damped"),
    } <= set(library.waveforms)
    steps = [seconds(step.by) for step in library.waveform_series["emptying"].steps]
    assert steps == sorted(steps) and 0.0 in steps


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("trace", [[0.0, "15"], [1.0, 15.0]]),
        ("trace", [[0.0, 15.0]]),
        ("trace", [[1.0, 15.0], [0.0, 15.0]]),
        ("trace", [[0.0, 1500.0], [1.0, 15.0]]),
        ("trace", "flat"),
        ("trace", None),
        ("balloon", [[0.0, True], [1.0, 0.0]]),
        ("five", {"augmented": {"time": -1.0, "pressure": 90.0}}),
        ("five", []),
        ("notch", {"time": 0.1}),
        ("beats", [[]]),
        ("peaks", ["high"]),
        ("marks", [99.0]),
        ("gas", [[0.0, 10.0]]),
        ("ecg", []),
        ("ecg", [[0.0, 0.0], [1.0, 50.0]]),
        ("helped", [60.0]),
        ("helped", [60.0, 90.0, 60.0, 99.0, 20.0]),
        ("lasts", float("nan")),
        ("hollow", "soon"),
    ],
)
def test_kept_file_that_is_no_strip_is_played_anew(kept: Played, tmp_path: Path, name: str, value: object) -> None:
    scene = Scene(every=2, fill=0.001)  # none that came with the program
    strip = kept.strip(Scene(every=2))
    Played(tmp_path)._store.put("trace", asdict(scene), {**strip.as_data(), name: value})
    assert Played(tmp_path).find(scene) is None
    Played(tmp_path)._store.put("trace", asdict(scene), strip.as_data())
    assert Played(tmp_path).find(scene) == strip


def test_every_sign_is_said_of_some_trace_or_step(library: Library) -> None:
    """A sign that nothing uses would be held to nothing. `no-balloon` tells that there is none to look for."""
    said = {sign for waveform in library.waveforms.values() for _, sign in waveform.seen}
    said |= {sign for series in library.waveform_series.values() for step in series.steps for sign in step.signs}
    assert set(SIGNS) - said <= {"no-balloon"}


SHAPES: dict[str, dict[str, str]] = {
    "well-timed": {},
    "early-inflation": {"begins": "before"},
    "late-inflation": {"begins": "after"},
    "early-deflation": {"valley": "wide"},
    "late-deflation": {"valley": "broad"},
    "kink": {"valley": "broad"},
    "damped": {"corners": "round"},
}
"""What the caption of each scene says of its shape."""


@pytest.mark.parametrize("scene", SHAPES)
def test_the_calculator_of_five_pressures_knows_the_pictures(library: Library, kept: Played, scene: str) -> None:
    strip = kept.strip(scene_of(library.waveforms[scene].raw))
    five = strip.five
    points = {
        "own_peak": five.unassisted_systole,
        "augmented": five.augmented,
        "helped_low": five.assisted_end,
        "helped_peak": five.assisted_systole,
        "own_low": five.unassisted_end,
    }
    typed = {key: round(point.pressure) for key, point in points.items() if point}
    assert ("own_peak" in typed) == (scene != "early-inflation")
    # Where the balloon cuts the peak off, a reader may take what stands where its rise begins.
    typed.setdefault("own_peak", round(height(strip.trace, slopes(strip.trace), strip.fills[0])))
    assert len(typed) == 5
    lines = calculators.shipped()["five-pressures"].reads
    always = {len(lines) - 1} | {index for index, line in enumerate(lines) if "No earlier fall" in line.say}
    told = calculators.worked("five-pressures", **typed, **SHAPES[scene]).reads
    assert (set(told) <= always) == (scene == "well-timed"), [lines[index].say for index in told]
    unsure = calculators.worked("five-pressures", **typed, begins="unclear", valley="unclear", corners="unclear").reads
    assert set(unsure) - always
