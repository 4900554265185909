"""The model on the bench is the model of the traces, and what it calls right is what the library calls right."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest

from alarmtrees.model import Library
from alarmtrees.site.knowledge.trace_scenes import moved, scene_of
from alarmtrees.site.teaching.bench import ALSO, GROUPS, MMHG_PER_CM, Choice, Knob, bench_data, bench_page
from circulation.ecg import ecg
from circulation.rhythm import RHYTHMS, waves
from circulation.scene import Scene, _marks, _strokes, patient_of, play, unassisted
from circulation.solve import BALLOON, SAMPLE, STEP, Loop, Solution, solve
from circulation.strip import strip_of
from circulation.trigger import GAP
from outside.energy import energy
from small_library import REPOSITORY, shipped_library
from tools import missing

ASSETS = REPOSITORY / "site_src" / "theme" / "assets"
SCRIPTS = ("page.js", "spacing.js", "circulation-signals.js", "circulation.js", "circulation-read.js", "bench-judge.js")
CLOSE = 0.5
"""How far the browser's pressures may lie beside those of the traces, mmHg."""

LASTS = 2.6
PATIENTS = ({}, {"rate": 70.0, "stiffness": 1.3}, {"rate": 120.0, "resistance": 0.7})
SECOND = Scene(every=1, rate=110, empty=0.08, gas=1.05, at="wrist", flush=True)
Ask = Callable[..., Any]


@pytest.fixture(scope="module")
def library() -> Library:
    return shipped_library()


@pytest.fixture(scope="module")
def ask(library: Library) -> Iterator[Ask]:
    """Asks the scripts of the page."""
    program = shutil.which("node")
    if program is None:
        missing("node is not installed: the model in the browser was not run")
    scripts = [str(ASSETS / name) for name in SCRIPTS]
    command = [str(program), str(Path(__file__).with_name("circulating.js")), *scripts]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8") as node:

        def asked(*call: Any) -> Any:
            assert node.stdin and node.stdout
            node.stdin.write(json.dumps(call) + "\n")
            node.stdin.flush()
            return json.loads(node.stdout.readline())

        asked("data", bench_data(library))
        yield asked
        assert node.stdin
        node.stdin.close()


def some_settings(count: int) -> list[tuple[Scene, float]]:
    """Settings over all that can be turned, each with how elastic the arteries are."""
    drawn = random.Random(20261130)
    return [drawn_setting(drawn) for _ in range(count)]


def drawn_setting(drawn: random.Random) -> tuple[Scene, float]:
    """One value for each slider and list of the page."""
    turned: dict[str, Any] = {}
    for one in (one for group in GROUPS.values() for one in group):
        if isinstance(one, Choice):
            turned[one.name] = drawn.choice(one.values)[0]
        else:
            turned[one.name] = (drawn.randrange(one.low, one.high + 1, one.step) - one.zero) * one.share
    # A patient costs a second to time by: few of them, many settings.
    patient = drawn.choice(PATIENTS)
    elastic = turned.pop("compliance") if turned["trigger"] != "pressure" else 1.0
    scene = {name: value for name, value in turned.items() if name not in ALSO}
    return replace(Scene(), **{**scene, **patient}), elastic


def given(scene: Scene, elastic: float = 1.0) -> dict[str, Any]:
    usual = unassisted(patient_of(scene))
    assert usual.opens is not None and usual.shuts is not None
    return {
        **asdict(scene),
        **ALSO,
        "compliance": elastic,
        "opens": usual.opens - usual.start,
        "closure": usual.shuts - usual.start,
    }


def loop_of(scene: Scene, elastic: float = 1.0) -> Loop:
    """The scene from rest, as `scene.play` sets it up."""
    until = LASTS + 6.0
    beats = waves(scene.rhythm, 60.0 / scene.rate, until)
    seen = _marks(scene, beats, until) if scene.every else []
    usual = scene.body.vessels
    arteries = {name: getattr(usual, name) * elastic for name in ("arch", "descending", "lower", "head")}
    body = replace(scene.body, vessels=replace(usual, **arteries))
    return Loop(body, [beat.r for beat in beats], _strokes(scene, seen))


def farthest(one: list[float], other: list[float]) -> float:
    assert len(one) == len(other)
    return max(abs(a - b) for a, b in zip(one, other, strict=True))


# ---- the equations


def settled_alike(ask: Ask, scene: Scene) -> None:
    """The traces look at all beats at once: a stroke that begins before the rise that it goes by has no like in the
    browser, and after the last rise but one they have no stroke."""
    played = play(scene)
    strokes = played.loop.strokes
    if scene.every and (not strokes or strokes[0].fill - played.marks[0] < GAP):
        return
    known = round((played.marks[-2] - played.trace.begin) / SAMPLE) if scene.every else None
    browser = ask("played", {**asdict(scene), **ALSO}, STEP)["pressure"][:known]
    # A rise that comes at the very edge of a sample is read there or one sample, 2 ms, beside it, and so is its stroke:
    # of one stroke in a strip that much is let pass, and no more.
    python = list(played.trace.pressure)[:known]
    aside = [place for place, one in enumerate(browser) if abs(one - python[place]) >= CLOSE]
    assert len(browser) > 500 and len(aside) <= 0.02 * len(browser)
    assert all(
        min(abs(browser[place] - one) for one in python[max(0, place - 1) : place + 2]) < CLOSE for place in aside
    )


BEATS_COUNTED = (
    Scene(trigger="ecg-and-t"),
    Scene(rhythm="fibrillation", trigger="ecg-and-t", empty=0.06),
    Scene(rhythm="paced-both", trigger="pacing"),
    Scene(rhythm="paced-on-demand", trigger="pacing"),
    Scene(rhythm="compressions", trigger="fixed", rate=110, stiffness=0.5),
)
"""What a thousand draws may miss: beats that are counted twice, not at all, or are none."""

DRAWN = (*some_settings(1000 if os.environ.get("EVERY") else 6), *((scene, 1.0) for scene in BEATS_COUNTED))


@pytest.mark.parametrize(("scene", "elastic"), DRAWN)
def test_the_browser_draws_what_the_traces_draw(ask: Ask, scene: Scene, elastic: float) -> None:
    """From rest, where no two lines lie on each other by chance. What a pump that goes by the pressure would have
    foretold of the first beat of all it cannot know yet: there the settled lines are compared."""
    if scene.trigger == "pressure":
        settled_alike(ask, scene)
        return
    loop = loop_of(scene, elastic)
    if scene.every and not loop.strokes:
        # A balloon that is never told to fill: the traces leave it out, here its gas waits.
        assert ask("turned", given(scene), given(scene), 1.0, LASTS) == []
        return
    browser = ask("ran", given(scene, elastic), LASTS, STEP)
    python = solve(loop, 0.0, LASTS)
    for name in ("arch", "ventricle", "gas"):
        assert farthest(browser[name], [getattr(state, name) for state in python.states]) < CLOSE, name
    filled = [[entries[BALLOON] for entries in found] for found in (browser["entries"], python.entries)]
    assert farthest(*filled) < CLOSE


@pytest.mark.parametrize(("rhythm", "tall_t"), [*((rhythm, False) for rhythm in RHYTHMS), ("even", True)])
def test_the_ecg_in_the_browser_is_that_of_the_traces(ask: Ask, rhythm: str, tall_t: bool) -> None:
    scene = Scene(rhythm=rhythm, trigger="ecg-and-t" if tall_t else "ecg")
    browser = ask("ran", given(scene), LASTS, STEP)["ecg"]
    beats = waves(rhythm, 60.0 / Scene().rate, LASTS + 2.0)
    assert max(browser) > 0.5
    assert farthest(browser, ecg(beats, 0.0, SAMPLE, len(browser), rhythm, tall_t)) < 0.01


@pytest.mark.parametrize("scene", [Scene(every=2, fill=0.06), SECOND], ids=str)
def test_a_settled_strip_is_read_as_the_traces_are(ask: Ask, scene: Scene) -> None:
    played = play(scene)
    python, browser = strip_of(played), ask("played", {**asdict(scene), **ALSO}, STEP)
    assert browser["begin"] == pytest.approx(played.trace.begin, abs=SAMPLE)
    assert farthest(browser["pressure"], list(played.trace.pressure)) < CLOSE
    for name, point in asdict(python.five).items():
        read = browser["strip"]["five"][name]
        assert (read is None) == (point is None), name
        if point:
            assert read["pressure"] == pytest.approx(point["pressure"], abs=CLOSE), name
            assert read["time"] - browser["begin"] == pytest.approx(point["time"], abs=2 * SAMPLE), name
    assert (browser["strip"]["notch"] is None) == (python.notch is None)
    for name in ("hollow", "isovolumic"):
        assert browser["strip"][name] == pytest.approx(getattr(python, name), abs=2 * SAMPLE), name
    for name in ("helped", "free"):
        if getattr(python, name):
            assert browser["strip"][name] == pytest.approx(getattr(python, name), abs=CLOSE), name


def test_filling_is_timed_by_the_same_closure(ask: Ask) -> None:
    patient = Scene(every=0, rate=105, stiffness=1.2, resistance=0.8)
    beat = unassisted(patient)
    assert beat.shuts and ask("usual", {**asdict(patient), **ALSO})["closure"] == pytest.approx(
        beat.shuts - beat.start, abs=1e-9
    )


def test_a_transducer_above_the_heart_shows_too_little(ask: Ask) -> None:
    """A column of water of 10 cm weighs 7.36 mmHg (density, from the gravity of the earth)."""
    scene = {**asdict(Scene(every=2)), **ALSO}
    level, above = (ask("played", {**scene, "height": height}, STEP)["pressure"] for height in (0.0, 10.0))
    assert {round(low - high, 6) for low, high in zip(level, above, strict=True)} == {round(10 * MMHG_PER_CM, 6)}
    assert pytest.approx(0.999972e-3 * 980.665 / 1.333224, abs=1e-3) == MMHG_PER_CM


@pytest.mark.parametrize("differs", [{"every": 0}, {"every": 1, "empty": 0.06}, {"every": 2, "passage": 0.1}], ids=str)
def test_energy_and_volume_are_kept(ask: Ask, differs: dict[str, Any]) -> None:
    """Conservation: what heart, balloon and lift put in is lost or stored, and no blood comes or goes."""
    scene = replace(Scene(), **differs)
    entries = ask("ran", given(scene), 4.0, STEP)["entries"][500:]
    loop = loop_of(scene)
    times = [1.0 + at * SAMPLE for at in range(len(entries))]
    states = [loop.state(*moment) for moment in zip(times, entries, strict=True)]
    balance = energy(loop, Solution(times, entries, states))
    assert abs(balance.unexplained) < 1e-3 * balance.ventricle
    blood = [sum(at[:7]) for at in entries]
    assert max(blood) - min(blood) < 1e-3 * max(blood)


def test_all_has_settled_and_a_step_of_half_the_length_changes_nothing(ask: Ask) -> None:
    scene = {**asdict(Scene(every=2, empty=0.06)), **ALSO}
    whole, half = ask("played", scene, STEP), ask("played", scene, STEP / 2)
    assert 0.0 < farthest(whole["pressure"], half["pressure"]) < 0.2
    first, third = whole["beats"][0], whole["beats"][2]
    assert first["volume"] == pytest.approx(third["volume"], rel=1e-3)
    assert first["ventricle"] == pytest.approx(third["ventricle"], rel=1e-3)


# ---- what is called right

TOLD = {
    "fill": {"notch-v": "right", "notch-hidden": "early", "notch-free": "late"},
    "empty": {"end-lower": "right", "hollow": "early", "opens-late": "late"},
}
"""What the signs that the library names at a step say of it."""


def test_the_judge_says_of_each_step_of_the_library_what_the_library_says(ask: Ask, library: Library) -> None:
    judged = 0
    for series in library.waveform_series.values():
        usual = scene_of(library.waveforms[series.of].raw)
        for step in series.steps:
            said = {TOLD[series.moves][sign] for sign in step.signs if sign in TOLD[series.moves]}
            if len(said) == 1:
                found = ask("judged", {**asdict(moved(usual, series.moves, step.by)), **ALSO})
                kind = "filling" if series.moves == "fill" else "emptying"
                assert {found[kind]} == said, (series.id, step.by)
                judged += 1
    assert judged > 12


@pytest.mark.parametrize("wrong", [-0.12, -0.08, 0.1, 0.16])
def test_one_end_of_the_stroke_is_judged_by_itself(ask: Ask, wrong: float) -> None:
    filled, emptied = (ask("judged", {**asdict(Scene(every=2, **{name: wrong})), **ALSO}) for name in ("fill", "empty"))
    told = "early" if wrong < 0 else "late"
    assert (filled["filling"], filled["emptying"]) == (told, "right")
    assert (emptied["filling"], emptied["emptying"]) == ("right", told)


OTHER_FAULTS = (
    *({"frequency": 8.0, "damping": 1.5}, {"frequency": 8.0, "damping": 0.15}, {"at": "wrist"}),
    *({"passage": 0.1}, {"leak": 30.0}, {"gas": 1.06}),
)


@pytest.mark.parametrize("other", OTHER_FAULTS, ids=str)
def test_a_bad_line_or_gas_is_no_fault_of_the_timing(ask: Ask, other: dict[str, Any]) -> None:
    found = ask("judged", {**asdict(Scene(every=2, **other)), **ALSO})
    assert (found["filling"], found["emptying"]) == ("right", "right")


def test_another_trigger_goes_on_at_once(ask: Ask) -> None:
    """While it runs: of eight beats after the change every second one has its stroke, and none lasts beyond a beat."""
    usual = given(Scene(every=2))
    for trigger in ("pressure", "fixed", "ecg"):
        strokes = ask("turned", usual, {**usual, "trigger": trigger}, 4.0, 5.4)
        after = [stroke for stroke in strokes if stroke[0] > 4.0]
        assert 3 <= len(after) <= 4, (trigger, after)
        assert all(0.1 < end - begin < 0.7 for begin, end in strokes)


@pytest.mark.parametrize(("empty", "school"), [(0.0, "before"), (0.03, "with")])
def test_both_schools_of_emptying_are_right(ask: Ask, empty: float, school: str) -> None:
    found = ask("judged", {**asdict(Scene(every=2, empty=empty)), **ALSO})
    assert (found["filling"], found["emptying"], found["school"]) == ("right", "right", school)


def test_each_task_can_be_set_right_and_its_least_moves_are_needed(ask: Ask) -> None:
    for seed in range(12):
        task = ask("setTask", seed)
        wrong = ask("judged", task["scene"])
        assert task["least"] == (wrong["filling"] != "right") + (wrong["emptying"] != "right") > 0
        right = ask("judged", {**task["scene"], "fill": 0.0, "empty": 0.0})
        assert (right["filling"], right["emptying"]) == ("right", "right"), task


def test_faults_that_are_to_be_found_come_from_the_library_and_can_be_told_apart(ask: Ask, library: Library) -> None:
    scenes = {one["id"]: one for one in bench_data(library)["scenes"]}
    drawn = [ask("findTask", seed) for seed in range(24)]
    assert {len(task["faults"]) for task in drawn} == {0, 1, 2}
    turned = [{*one["differs"]} - {"every"} for one in scenes.values() if one["fault"]]
    assert not [one for one in turned if one <= {"rate", "rhythm", "trigger", "at"} or "flush" in one]
    named = {name for task in drawn for name in task["faults"]}
    assert len(named) > 6 and all(scenes[name]["fault"] for name in named)
    for task in drawn:
        differs = [scenes[name]["differs"] for name in task["faults"]]
        for name, value in task["scene"].items():
            wanted = {one[name] for one in differs if name in one} - {value}
            assert not wanted or name == "every", (task, name)


def test_an_answer_is_compared_fault_by_fault(ask: Ask) -> None:
    told = ask("compared", ["kink", "damped"], ["kink", "late-deflation"])
    assert told == {"found": ["kink"], "missed": ["late-deflation"], "wrong": ["damped"]}


# ---- the page


def test_all_that_is_turned_is_an_entry_of_a_scene_and_has_words(library: Library) -> None:
    entries = {**asdict(Scene()), **ALSO}
    for one in (one for group in GROUPS.values() for one in group):
        assert one.name in entries
        if isinstance(one, Knob):
            assert (one.usual - one.low) % one.step == 0 == (one.high - one.low) % one.step
            sides = (one.low < one.usual, True, one.usual < one.high)
            assert all(bool(words) == there for words, there in zip(one.told, sides, strict=True)), one.name
            assert f'for="_{one.name}"' in bench_page(library).body


def test_a_library_without_traces_has_a_bench_without_faults(library: Library) -> None:
    page = bench_page(replace(library, waveforms={}, waveform_series={}, articles={}))
    assert 'data-way="set"' in page.body and 'data-way="find"' not in page.body
