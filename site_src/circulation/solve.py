"""The equations of the whole loop, and their solution over time."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from .balloon import Drive, Stroke, passage, room
from .heart import Activation, systole, ventricular_pressure
from .values import Body
from .valves import flow_rate, one_way, opening_rate
from .vessels import joined, lagging

TOLERANCE = 1e-6
"""Relative tolerance of the solver."""

STEP = 0.02
"""The longest step in s: a stroke of the balloon must not be stepped over."""

OPENING, BALLOON = 10, 11
"""Where the valve's opening and the balloon's filling stand in what is integrated."""

SAMPLE = 0.002
"""Distance in s of the moments that are kept."""


@dataclass(frozen=True, slots=True)
class State:
    """The loop at one moment: pressures in mmHg, flows and stretches (of walls, by volume) in mL/s.

    Attributes:
        out, inflow: through the aortic and the mitral valve.
        along, down: from the arch to the descending aorta, and on to the lower body.
        to_head, from_head, from_lower, home: to and from the small vessels, and from the veins to the atrium.
        filling: how fast the balloon fills; `gas` is the pressure behind it.
    """

    ventricle: float
    atrium: float
    veins: float
    arch: float
    descending: float
    lower: float
    head: float
    out: float
    inflow: float
    along: float
    down: float
    to_head: float
    from_head: float
    from_lower: float
    home: float
    gas: float
    filling: float

    @property
    def arch_stretch(self) -> float:
        """Of the wall of the arch."""
        return self.out - self.along - self.to_head

    @property
    def descending_stretch(self) -> float:
        """Of the wall of the descending aorta: blood and balloon stretch it together."""
        return self.along - self.down + self.filling

    @property
    def lower_stretch(self) -> float:
        """Of the walls in the lower body."""
        return self.down - self.from_lower

    @property
    def head_stretch(self) -> float:
        """Of the walls in the head."""
        return self.to_head - self.from_head


class Loop:
    """The equations of one body, under given heartbeats and strokes of the balloon.

    What is integrated, in this order: blood in ventricle, arch, descending aorta, lower body, head, veins, atrium
    (mL); flow through the aortic valve, along the aorta, down (mL/s); the valve's opening (0 to 1); the balloon's
    filling (mL).
    """

    def __init__(self, body: Body, beats: Sequence[float], strokes: Sequence[Stroke] = (), leaks_from: float = 0.0):
        """Set up the loop.

        Args:
            body: its values.
            beats: the R waves in s, at least two, in order.
            strokes: of the balloon, in order and apart.
            leaks_from: when the gas begins to leak, if it does.
        """
        self.body = body
        self.beats = tuple(beats)
        self.strokes = tuple(strokes)
        self._leaks_from = leaks_from
        self._activation = Activation(body.heart)
        first = beats[1] - beats[0]
        before = (first, *(late - early for early, late in pairwise(beats)))
        self._systoles = tuple(systole(interval) for interval in before)
        self._drive = Drive(body.balloon, strokes) if strokes else None

    def start(self) -> list[float]:
        """A state to begin from; after some beats nothing of it is seen any more."""
        vessels, arteries = self.body.vessels, 65.0
        chambers = (vessels.arch, vessels.descending, vessels.lower, vessels.head)
        atrium = (vessels.veins_start + vessels.lift) * vessels.atrium
        volumes = [130.0, *(arteries * chamber for chamber in chambers), vessels.veins_start * vessels.veins, atrium]
        return [*volumes, 0.0, 60.0, 40.0, 0.0, 0.0]

    def tension(self, time: float) -> float:
        """How far the ventricle's muscle is tensed, 0 to 1."""
        at = max(bisect_right(self.beats, time) - 1, 0)
        return self._activation(time - self.beats[at], self._systoles[at])

    def state(self, time: float, y: Sequence[float]) -> State:
        """All pressures and flows that follow from what is integrated."""
        vessels = self.body.vessels
        blood, arch_v, descending_v, lower_v, head_v, veins_v, atrium_v, out, along, down, _, balloon = y
        ventricle = ventricular_pressure(self.body.heart, self.tension(time), blood, out)
        veins, atrium = veins_v / vessels.veins, atrium_v / vessels.atrium
        lower, from_lower = lagging(vessels, vessels.lower, lower_v, down, vessels.lower_resistance, veins)
        arch, head = joined(vessels, arch_v, out - along, head_v, veins)
        descending, gas, filling = self._around_balloon(time, descending_v, along - down, balloon)
        return State(
            ventricle=ventricle,
            atrium=atrium,
            veins=veins,
            arch=arch,
            descending=descending,
            lower=lower,
            head=head,
            out=out,
            inflow=one_way(atrium - ventricle, self.body.valves.mitral),
            along=along,
            down=down,
            to_head=(arch - head) / vessels.branch,
            from_head=(head - veins) / vessels.head_resistance,
            from_lower=from_lower,
            home=(veins + vessels.lift - atrium) / vessels.return_resistance,
            gas=gas,
            filling=filling,
        )

    def _around_balloon(self, time: float, blood: float, net: float, filled: float) -> tuple[float, float, float]:
        """Pressure in the descending aorta, gas pressure, and how fast the balloon fills.

        The gas is driven by the difference to the pressure around, and that depends on the filling: solved at once.
        """
        vessels, balloon = self.body.vessels, self.body.balloon
        lag = vessels.viscous / vessels.descending
        at_rest = (blood + filled) / vessels.descending + lag * net
        if self._drive is None:
            return at_rest, 0.0, 0.0
        gas = self._drive(time)
        open_for = passage(balloon, filled, room(balloon, time - self._leaks_from), gas > at_rest)
        filling = open_for * (gas - at_rest) / (1.0 + open_for * lag)
        return at_rest + lag * filling, gas, filling

    def rates(self, time: float, y: Any) -> list[float]:
        """How fast each entry of what is integrated changes, per s."""
        entries = y.tolist()
        vessels, valves, s = self.body.vessels, self.body.valves, self.state(time, entries)
        opening, difference = entries[OPENING], s.ventricle - s.arch
        return [
            s.inflow - s.out,
            s.arch_stretch,
            s.along - s.down,
            s.lower_stretch,
            s.head_stretch,
            s.from_head + s.from_lower - s.home,
            s.home - s.inflow,
            flow_rate(valves, opening, difference, s.out),
            (s.arch - s.descending - vessels.between * s.along) / vessels.arch_mass,
            (s.descending - s.lower - vessels.between * s.down) / vessels.descending_mass,
            opening_rate(valves, opening, difference),
            s.filling,
        ]


@dataclass(frozen=True, slots=True)
class Solution:
    """What was kept of a solved loop: the moments in s, what is integrated at each, and all that follows from it."""

    times: list[float]
    entries: list[list[float]]
    states: list[State]


def solve(loop: Loop, begin: float, end: float, tolerance: float = TOLERANCE, sample: float = SAMPLE) -> Solution:
    """Integrate a loop from 0 and keep what lies between two moments.

    LSODA changes between a method for stiff and one for plain stretches by itself; explicit methods overflow where
    the valve shuts.

    Args:
        loop: the equations.
        begin, end: what to keep, in s.
        tolerance: the relative one; the absolute one is a tenth of it.
        sample: distance in s of the moments kept.

    Raises:
        ArithmeticError: the solver gave up.
    """
    # Imported late: a page without a trace has no need of it, and it is slow to load.
    import numpy as np
    from scipy.integrate import solve_ivp

    moments = begin + sample * np.arange(round((end - begin) / sample) + 1)
    done = solve_ivp(
        loop.rates,
        (0.0, float(moments[-1])),
        loop.start(),
        method="LSODA",
        t_eval=moments,
        rtol=tolerance,
        atol=tolerance / 10.0,
        max_step=STEP,
    )
    if not done.success:
        raise ArithmeticError(f"the circulation could not be solved: {done.message}")
    times, entries = done.t.tolist(), done.y.T.tolist()
    return Solution(times, entries, [loop.state(*at) for at in zip(times, entries, strict=True)])
