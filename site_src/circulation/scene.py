"""A scene: what is different from the usual patient and timing, and the trace that comes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from .balloon import Stroke
from .pressures import Beat, Five, Trace, beats_of, five_pressures
from .rhythm import PAUSE, Wave, waves
from .solve import BALLOON, SAMPLE, STEP, Loop, Solution, solve
from .transducer import LINES, Line, seen_by
from .trigger import counts_twice, lag, marks, strokes_for
from .values import Body

SETTLES = 8.0
"""How long the loop runs before the trace begins, s; by then nothing of the start is seen."""

LASTS = 3.7
"""How long a trace is, s: two rounds of 1:3 at the usual rate."""

ROUND = 6
"""After so many beats 1:1, 1:2 and 1:3 are where they began."""

RUN_IN = 0.6
"""How long before a trace a line begins to see the pressure, s: by then its delay is over and its swings have died."""

FLUSH_AT = (1.15, 2.05)
"""When a fast flush opens and shuts, s from the beginning of a trace. Chosen: it shuts in the pause of a beat."""

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
        rhythm: one of `RHYTHMS`. In atrial fibrillation nothing foretells a beat: the balloon empties when it comes.
        trigger: one of `TRIGGERS`: what the pump takes as a beat.
        fill: later filling, s; negative for earlier.
        empty: later emptying, s; negative for earlier.
        volume: of the balloon, mL; None for the usual one.
        passage: how freely gas passes, as a share of an open line.
        gas: how much of it is in the circuit, as a share of the usual.
        water: how far water in a bend of the line changes the passage, as a share.
        leak: share of the balloon's volume lost in each second at the usual top of the gas pressure.
        resistance: of the small vessels, as a share of the usual.
        stiffness: of the heart at the end of systole, as a share of the usual: how strong it is.
        at: where the pressure is read, one of `LINES`.
        frequency, damping: of the pressure line, Hz and a share of critical; 0 Hz for the usual one of that place.
        flush: whether the fast flush is opened for a moment.
    """

    every: int = 1
    rate: float = 90.0
    rhythm: str = "even"
    trigger: str = "ecg"
    fill: float = 0.0
    empty: float = 0.0
    volume: float | None = None
    passage: float = 1.0
    gas: float = 1.0
    water: float = 0.0
    leak: float = 0.0
    resistance: float = 1.0
    stiffness: float = 1.0
    at: str = "tip"
    frequency: float = 0.0
    damping: float = 0.0
    flush: bool = False

    @property
    def line(self) -> Line:
        """The pressure line of this scene."""
        usual = LINES[self.at]
        return replace(usual, frequency=self.frequency, damping=self.damping) if self.frequency else usual

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
    """A scene as played.

    Attributes:
        scene: what was played.
        trace: the pressure as the line shows it, and what heart and balloon did meanwhile.
        five: the five pressures.
        solution: all that was solved; it begins `RUN_IN` before the trace.
        loop: the equations.
        waves: the heartbeats on the ECG.
        marks: what the pump took as beats, s.
    """

    scene: Scene
    trace: Trace
    five: Five
    solution: Solution
    loop: Loop
    waves: list[Wave]
    marks: list[float]


def play(scene: Scene, step: float = STEP, lasts: float = LASTS) -> Play:
    """Solve a scene and read its trace.

    Args:
        scene: what differs from the usual.
        step: of the solver, s.
        lasts: how long the trace is, s.

    Raises:
        ValueError: there is no such rhythm or trigger.
    """
    until = SETTLES + ROUND * 60.0 / scene.rate + lasts + (PAUSE if scene.rhythm == "compressions" else 0.0)
    beats = waves(scene.rhythm, 60.0 / scene.rate, until)
    seen = _marks(scene, beats, until) if scene.every else []
    loop = Loop(scene.body, [beat.r for beat in beats], _strokes(scene, seen), leaks_from=SETTLES)
    begin = round(_begin(loop.beats) / SAMPLE) * SAMPLE
    solution = solve(loop, begin - RUN_IN, begin + lasts, step)
    trace = _trace(scene, loop, solution)
    return Play(scene, trace, five_pressures(trace), solution, loop, beats, seen)


def _begin(beats: Sequence[float]) -> float:
    """Just before an R wave that a stroke follows in 1:1, 1:2 and 1:3: all traces can be laid over one another."""
    return next(beats[at] for at in range(0, len(beats), ROUND) if beats[at] >= SETTLES) - LEAD


def _marks(scene: Scene, beats: Sequence[Wave], until: float) -> list[float]:
    rises = _rises(scene, beats, until) if scene.trigger == "pressure" else []
    return marks(scene.trigger, beats, rises, until)


def _rises(scene: Scene, beats: Sequence[Wave], until: float) -> list[float]:
    """When each beat opens the valve, as it would without a balloon; those that do not open it are left out."""
    loop = Loop(scene.body, [beat.r for beat in beats])
    flow = [state.out for state in solve(loop, 0.0, until).states]
    found = beats_of(loop.beats, (), 0.0, SAMPLE, flow, flow)
    return [beat.opens for beat in found if beat.opens is not None]


def _strokes(scene: Scene, seen: Sequence[float]) -> list[Stroke]:
    if scene.every == 0:
        return []
    usual = unassisted(patient_of(scene))
    assert usual.opens is not None and usual.shuts is not None
    late = lag(scene.trigger, usual.opens - usual.start)
    fill = usual.shuts - usual.start + FILL_AT + scene.fill - late
    twice = counts_twice(scene.trigger, scene.rhythm)
    if scene.rhythm == "fibrillation":
        return strokes_for(seen, scene.every, fill, scene.empty, foretells=False, twice=twice)
    return strokes_for(seen, scene.every, fill, EMPTY_AT + scene.empty - late, twice=twice)


def patient_of(scene: Scene) -> Scene:
    """The same patient without balloon, at an even rhythm."""
    return Scene(every=0, rate=scene.rate, resistance=scene.resistance, stiffness=scene.stiffness)


@lru_cache(maxsize=64)
def unassisted(scene: Scene) -> Beat:
    """A beat of a patient without a balloon.

    Filling is timed by its closure: a balloon that fills early shuts the valve earlier, and would pull its mark along.
    """
    beats = play(scene, lasts=LEAD + 2.2 * 60.0 / scene.rate).trace.beats
    return next(beat for beat in beats if beat.opens is not None and beat.shuts is not None)


def _trace(scene: Scene, loop: Loop, solution: Solution) -> Trace:
    skip = round(RUN_IN / SAMPLE)
    true = [state.arch for state in solution.states]
    flush = (RUN_IN + FLUSH_AT[0], RUN_IN + FLUSH_AT[1]) if scene.flush else None
    seen = seen_by(scene.line, true, SAMPLE, flush)[skip:]
    begin, states, entries = solution.times[skip], solution.states[skip:], solution.entries[skip:]
    ventricle = [state.ventricle for state in states]
    beats = beats_of(loop.beats, loop.strokes, begin, SAMPLE, [state.out for state in states], ventricle)
    return Trace(
        begin=begin,
        sample=SAMPLE,
        pressure=seen,
        filled=[entry[BALLOON] for entry in entries],
        beats=beats,
        lag=scene.line.delay,
        ventricle=ventricle,
        gas=[state.gas for state in states] if loop.strokes else [],
    )
