"""A scene: what is different from the usual patient and timing, and the trace that comes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from .balloon import Stroke
from .pressures import Five, Trace, beats_of, five_pressures
from .rhythm import even_beats, strokes_for, uneven_beats
from .solve import BALLOON, SAMPLE, STEP, Loop, Solution, solve
from .transducer import delay, seen_through
from .values import Body

SETTLES = 8.0
"""How long the loop runs before the trace begins, s; by then nothing of the start is seen."""

LASTS = 3.7
"""How long a trace is, s: two rounds of 1:3 at the usual rate."""

ROUND = 6
"""After so many beats 1:1, 1:2 and 1:3 are where they began."""

LEAD = 0.15
"""How long before an R wave a trace begins, s."""

FILL_AT = -0.025
"""Well timed: from the unassisted closure of the valve to the beginning of filling, s: the rise meets the notch."""

EMPTY_AT = -0.02
"""Well timed: from the R wave to the beginning of emptying, s: the end-diastolic pressure is lowest there."""

LEAK_AT = 100.0
"""Gas pressure at which a leak loses what is said of it, mmHg."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What differs from a well-timed 1:1 in the usual patient.

    Attributes:
        every: the balloon follows each beat (1), every second (2), every third (3); 0 for no balloon.
        rate: heartbeats a minute.
        uneven: beats as in atrial fibrillation; the balloon then empties at each R wave, which nothing foretells.
        fill: later filling, s; negative for earlier.
        empty: later emptying, s; negative for earlier.
        volume: of the balloon, mL; None for the usual one.
        passage: how freely gas passes, as a share of an open line.
        gas: how much of it is in the circuit, as a share of the usual.
        water: how far water in a bend of the line changes the passage, as a share.
        leak: share of the balloon's volume lost in each second at the usual top of the gas pressure.
        resistance: of the small vessels, as a share of the usual.
        stiffness: of the heart at the end of systole, as a share of the usual: how strong it is.
        frequency, damping: of the pressure line, Hz and a share of critical; 0 Hz for a perfect one.
    """

    every: int = 1
    rate: float = 90.0
    uneven: bool = False
    fill: float = 0.0
    empty: float = 0.0
    volume: float | None = None
    passage: float = 1.0
    gas: float = 1.0
    water: float = 0.0
    leak: float = 0.0
    resistance: float = 1.0
    stiffness: float = 1.0
    frequency: float = 0.0
    damping: float = 0.0

    @property
    def body(self) -> Body:
        """The patient and the balloon of this scene."""
        usual = Body()
        balloon = replace(
            usual.balloon,
            volume=self.volume or usual.balloon.volume,
            conductance=usual.balloon.conductance * self.passage,
            leak=self.leak * (self.volume or usual.balloon.volume) / LEAK_AT,
            gas=self.gas,
            water=self.water,
        )
        vessels = replace(usual.vessels, resistance=usual.vessels.resistance * self.resistance)
        heart = replace(usual.heart, stiffness=usual.heart.stiffness * self.stiffness)
        return replace(usual, balloon=balloon, vessels=vessels, heart=heart)


@dataclass(frozen=True, slots=True)
class Play:
    """A scene as played: its trace, the five pressures, and all that was solved."""

    scene: Scene
    trace: Trace
    five: Five
    solution: Solution
    loop: Loop


def play(scene: Scene, step: float = STEP, lasts: float = LASTS) -> Play:
    """Solve a scene and read its trace.

    Args:
        scene: what differs from the usual.
        step: of the solver, s.
        lasts: how long the trace is, s.
    """
    beats = _beats(scene, SETTLES + ROUND * 60.0 / scene.rate + lasts)
    loop = Loop(scene.body, beats, _strokes(scene, beats), leaks_from=SETTLES)
    begin = _begin(beats)
    solution = solve(loop, begin, begin + lasts, step)
    trace = _trace(scene, loop, solution)
    return Play(scene, trace, five_pressures(trace), solution, loop)


def _beats(scene: Scene, until: float) -> list[float]:
    return uneven_beats(until) if scene.uneven else even_beats(60.0 / scene.rate, until)


def _begin(beats: Sequence[float]) -> float:
    """Just before an R wave that a stroke follows in 1:1, 1:2 and 1:3: all traces can be laid over one another."""
    return next(beats[at] for at in range(0, len(beats), ROUND) if beats[at] >= SETTLES) - LEAD


def _strokes(scene: Scene, beats: list[float]) -> list[Stroke]:
    if scene.every == 0:
        return []
    empty = (0.0 if scene.uneven else EMPTY_AT) + scene.empty
    return strokes_for(beats, scene.every, unassisted_closure(_patient(scene)) + FILL_AT + scene.fill, empty)


def _patient(scene: Scene) -> Scene:
    """The same patient without balloon, at an even rhythm."""
    return Scene(every=0, rate=scene.rate, resistance=scene.resistance, stiffness=scene.stiffness)


@lru_cache(maxsize=64)
def unassisted_closure(scene: Scene) -> float:
    """From the R wave to the closure of the valve without a balloon, s.

    Filling is timed by this one: a balloon that fills early shuts the valve earlier, and would pull its mark along.
    """
    beats = play(scene, lasts=LEAD + 2.2 * 60.0 / scene.rate).trace.beats
    return next(beat.shuts - beat.start for beat in beats if beat.shuts is not None)


def _trace(scene: Scene, loop: Loop, solution: Solution) -> Trace:
    begin, states = solution.times[0], solution.states
    true = [state.arch for state in states]
    slow = scene.frequency > 0.0
    seen = seen_through(true, SAMPLE, scene.frequency, scene.damping) if slow else true
    flow, ventricle = [state.out for state in states], [state.ventricle for state in states]
    beats = beats_of(loop.beats, loop.strokes, begin, SAMPLE, flow, ventricle)
    filled = [entries[BALLOON] for entries in solution.entries]
    return Trace(begin, SAMPLE, seen, filled, beats, delay(scene.frequency, scene.damping) if slow else 0.0)
